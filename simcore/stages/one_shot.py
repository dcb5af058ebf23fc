"""The one-shot of the 555 type: a pulse for each trigger edge.

Resistor and capacitor are drawn per built unit and line within their tolerances.  It has
no clock: its only wake-up is the end of a time that can change the output.  An input edge at the very tick
at which the time ends still falls into that time, because input edges come before wake-ups.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from simcore.base.check import AT_LEAST, AT_MOST, FARAD, OHM, Check, Surroundings
from simcore.base.compiling import member
from simcore.base.description import (
    CAPACITOR,
    RESISTOR,
    Key,
    PlainNumber,
    StageDescription,
    Switch,
    Word,
    part_of,
    tolerance,
)
from simcore.base.draws import Part, toleranced
from simcore.base.records import NO_CAUSE
from simcore.base.ticks import LONG_AGO, NEVER, ticks
from simcore.stages.base import (
    stage_build,
    stage_cause,
    stage_draws,
    stage_edge,
    stage_expire,
    stage_level,
    stage_note,
    stage_start,
    stage_turns,
    stage_wake,
)
from simcore.stages.facts import (
    Component,
    Times,
    Variation,
    bridges_openings,
    components,
    filter_bounds,
    makes_pulses,
    parts_list,
    preferred_between,
    stage_checks,
    values_to_vary,
)
from simcore.stages.filter_checks import against_chatter, against_hand, with_window


class OneShot(NamedTuple):
    """One output pulse of length ``factor`` x R x C for each edge of the input to level ``trigger``
    (0: the falling edge).  The output is at level ``active`` during the pulse.  A trigger during
    the pulse is ignored, or, where ``retriggerable`` is 1, lets the pulse last its full length from
    there on.  The end of a pulse has the cause of the trigger that set it.

    For a timer of the 555 type the factor is ln 3, the capacitor's way from empty to two thirds of
    the supply.
    """

    resistor: Part
    capacitor: Part
    factor: float
    trigger: int
    active: int
    retriggerable: int


TRIGGERS = ("falling", "rising")
LEVELS = ("low", "high")

ONE_SHOT = StageDescription(
    name="one-shot",
    meaning="A one-shot that gives a pulse of factor x R x C for each trigger edge of its input.",
    keys=(
        Key("resistor", RESISTOR, "the timing resistor"),
        Key("capacitor", CAPACITOR, "the timing capacitor"),
        Key(
            "factor",
            PlainNumber(0.0, 100.0),
            "pulse length over R x C; ln 3 for a timer that charges to two thirds of its supply",
            math.log(3.0),
        ),
        Key("trigger", Word(TRIGGERS), "edge of the input that starts it", "falling"),
        Key("output", Word(LEVELS), "level of the output during the pulse", "low"),
        Key(
            "retriggerable", Switch(), "whether a trigger during the pulse prolongs it or is ignored", False
        ),
        tolerance(resistor="of the timing resistor", capacitor="of the timing capacitor"),
    ),
    build=lambda values: OneShot(
        part_of(values, "resistor"), part_of(values, "capacitor"), values.factor,
        TRIGGERS.index(values.trigger), LEVELS.index(values.output), int(values.retriggerable),
    ),
)  # fmt: skip


class OneShotUnit(NamedTuple):
    """One built unit: the pulse in ticks, and the choices."""

    ticks: int
    trigger: int
    active: int
    retriggerable: int


class OneShotState(NamedTuple):
    """1 in ``running`` during a pulse, which lasts to the tick ``until``, set by a trigger with
    ``cause``; 1 in ``taken`` if the latest input edge was that trigger.
    """

    running: int
    until: int
    cause: int
    taken: int


@member(stage_build, OneShot)
def shot_build(spec: OneShot, seed: int, run: int, address: int) -> OneShotUnit:
    u = stage_draws(seed, run, address, 0)
    seconds = spec.factor * toleranced(spec.resistor, u[0]) * toleranced(spec.capacitor, u[1])
    return OneShotUnit(ticks(seconds), spec.trigger, spec.active, spec.retriggerable)


@member(stage_turns, OneShot)
def shot_turns(spec: OneShot) -> int:
    """A pulse stands for the level that its trigger leads to."""
    return 1 if spec.trigger != spec.active else 0


@member(stage_start, OneShotUnit)
def shot_start(params: OneShotUnit, level: int) -> OneShotState:
    """No pulse, whatever the level."""
    return OneShotState(0, LONG_AGO, NO_CAUSE, 0)


@member(stage_edge, OneShotUnit)
def shot_edge(params: OneShotUnit, state: OneShotState, time: int, level: int) -> OneShotState:
    if level != params.trigger or (state.running and not params.retriggerable):
        return OneShotState(state.running, state.until, state.cause, 0)
    return OneShotState(1, time + params.ticks, state.cause, 1)


@member(stage_note, OneShotUnit)
def shot_note(params: OneShotUnit, state: OneShotState, cause: int) -> OneShotState:
    """Keep the trigger's cause."""
    return OneShotState(state.running, state.until, cause if state.taken else state.cause, state.taken)


@member(stage_wake, OneShotUnit)
def shot_wake(params: OneShotUnit, state: OneShotState, limit: int) -> int:
    return state.until if state.running else NEVER


@member(stage_expire, OneShotUnit)
def shot_expire(params: OneShotUnit, state: OneShotState, time: int) -> OneShotState:
    return OneShotState(0, state.until, state.cause, 0)


@member(stage_level, OneShotUnit)
def shot_level(params: OneShotUnit, state: OneShotState) -> int:
    return params.active if state.running else 1 - params.active


@member(stage_cause, OneShotUnit)
def shot_cause(params: OneShotUnit, state: OneShotState, cause: int) -> int:
    return state.cause


@stage_checks.register
def shot_checks(item: OneShot, around: Surroundings) -> tuple[Check, Check]:
    """A pulse must last as long as the longest burst, and be over before the next trigger."""
    middle = item.factor * item.resistor.nominal * item.capacitor.nominal
    shortest = middle * ((1.0 - item.resistor.tolerance) * (1.0 - item.capacitor.tolerance))
    longest = middle * (1.0 + item.resistor.tolerance) * (1.0 + item.capacitor.tolerance)
    burst = None if around.chatter is None else around.chatter.burst
    least = Check(
        "pulse against chatter", around.subject,
        "Chatter that goes on after the pulse starts another one, so the pulse outlasts the burst.",
        "factor x R x C >= longest burst", relation=AT_LEAST, corner="resistor and capacitor at their least",
        advice="a larger capacitor or resistor",
    )  # fmt: skip
    most = Check(
        "pulse against the hand", around.subject,
        "The pulse is over before the line's next edge of the kind that triggers it.",
        "factor x R x C <= shortest time from one edge to the next like it", relation=AT_MOST,
        corner="resistor and capacitor at their most", advice="a smaller capacitor or resistor",
    )  # fmt: skip
    least = against_chatter(least, around, shortest, burst)
    most = against_hand(most, around, longest, around.shortest_cycle)
    return with_window(around, least, most, longest, burst or 0.0, "cycle")


@bridges_openings.register
def shot_bridges(item: OneShot) -> bool:
    return True


@makes_pulses.register
def shot_makes_pulses(item: OneShot) -> bool:
    return True


@parts_list.register
def shot_parts(item: OneShot) -> tuple[Component, ...]:
    return Component("one-shot timer", 1), *components(item, resistor=OHM, capacitor=FARAD)


@values_to_vary.register
def shot_values(item: OneShot, times: Times) -> Iterator[Variation]:
    """The capacitor; the resistor stays."""
    stated, ohms = item.capacitor.nominal, item.resistor.nominal * item.factor
    yield Variation(0, "capacitor", preferred_between(stated, filter_bounds(stated, times, ohms)), FARAD)
