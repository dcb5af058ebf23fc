"""A stage: a low pulse is stretched to a least length."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from simcore.base.check import AT_LEAST, AT_MOST, DOWN, SECOND, UP, Check, Remedy, Surroundings
from simcore.base.compiling import member
from simcore.base.description import TIMING, TOLERANCE, Key, StageDescription
from simcore.base.draws import Part, toleranced
from simcore.base.ticks import NEVER, ticks
from simcore.stages.base import (
    stage_build,
    stage_draws,
    stage_edge,
    stage_expire,
    stage_level,
    stage_start,
    stage_wake,
)
from simcore.stages.facts import (
    Component,
    StageDrawing,
    Times,
    Variation,
    bridges_openings,
    components,
    drawing,
    filter_bounds,
    parts_list,
    preferred_between,
    stage_checks,
    values_to_vary,
)
from simcore.stages.filter_checks import against_chatter, against_hand


class Stretch(NamedTuple):
    """The specification: a least length (s)."""

    least: Part


STRETCHER = StageDescription(
    name="pulse stretcher",
    meaning="Stretches every low pulse to a least length.",
    keys=(
        Key("least", TIMING, "shortest low level of the output"),
        Key("tolerance", TOLERANCE, "of the least length, part to part", 0.0),
    ),
    build=lambda values: Stretch(Part(values.least, values.tolerance)),
)


class StretchUnit(NamedTuple):
    """One built unit: the least length in ticks."""

    least: int


class StretchState(NamedTuple):
    """The input's level, the output's, and the tick until which the output must stay low."""

    level: int
    shown: int
    until: int


@member(stage_build, Stretch)
def build(spec: Stretch, seed: int, run: int, address: int) -> StretchUnit:
    """Draw the unit."""
    return StretchUnit(ticks(toleranced(spec.least, stage_draws(seed, run, address, 0)[0])))


@member(stage_start, StretchUnit)
def start(params: StretchUnit, level: int) -> StretchState:
    """At rest."""
    return StretchState(level, level, 0)


@member(stage_edge, StretchUnit)
def edge(params: StretchUnit, state: StretchState, time: int, level: int) -> StretchState:
    """A fall passes at once; a rise waits for the least length."""
    if level == 0 and state.shown == 1:
        return StretchState(0, 0, time + params.least)
    if level == 1 and time >= state.until:
        return StretchState(1, 1, state.until)
    return StretchState(level, state.shown, state.until)


@member(stage_wake, StretchUnit)
def wake(params: StretchUnit, state: StretchState, limit: int) -> int:
    """The end of the least length, if the input is high by then."""
    return state.until if state.level != state.shown else NEVER


@member(stage_expire, StretchUnit)
def expire(params: StretchUnit, state: StretchState, time: int) -> StretchState:
    """The output follows."""
    return StretchState(state.level, state.level, state.until)


@member(stage_level, StretchUnit)
def level(params: StretchUnit, state: StretchState) -> int:
    """The output."""
    return state.shown


@stage_checks.register
def stretch_checks(item: Stretch, around: Surroundings) -> Iterator[Check]:
    """The stretched level must outlast the contacts' bursts, and end before the line's next edge."""
    low, high = (item.least.nominal * (1.0 + sign * item.least.tolerance) for sign in (-1.0, 1.0))
    yield against_chatter(
        Check(
            "stretched pulse against chatter", around.subject,
            "A bounce after the stretched level has ended is another low level.",
            "T >= longest burst", relation=AT_LEAST, corner="the time at its least",
            advice="a longer least length", remedies=(Remedy(("least",), UP, SECOND),),
        ),
        around, low, None if around.chatter is None else around.chatter.burst,
    )  # fmt: skip
    yield against_hand(
        Check(
            "stretched pulse against the hand", around.subject,
            "The stretched level is over before the line's next edge.",
            "T <= shortest level of the line", relation=AT_MOST, corner="the time at its most",
            advice="a shorter least length", remedies=(Remedy(("least",), DOWN, SECOND),),
        ),
        around, high, around.shortest_level,
    )  # fmt: skip


@bridges_openings.register
def stretch_bridges(item: Stretch) -> bool:
    """A bounce during the stretched level does not show."""
    return True


@parts_list.register
def stretch_parts(item: Stretch) -> tuple[Component, ...]:
    """A gate, and what sets the time."""
    return Component("gate", 1), *components(item, least=SECOND)


@values_to_vary.register
def stretch_values(item: Stretch, times: Times) -> Iterator[Variation]:
    """The least length."""
    stated = item.least.nominal
    yield Variation(0, "least", preferred_between(stated, filter_bounds(stated, times)), SECOND)


@drawing.register
def stretch_drawing(item: Stretch) -> StageDrawing:
    """One box."""
    return StageDrawing((("input", "pulse stretcher", "output"),), note="low levels last {least} at least")
