"""A stage whose rules no compiler takes: it reckons its delay in fractions."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from simcore.base.compiling import member
from simcore.base.description import TIMING, Key, StageDescription
from simcore.base.ticks import NEVER
from simcore.stages.base import stage_build, stage_edge, stage_expire, stage_level, stage_start, stage_wake


class Exact(NamedTuple):
    """The specification and the unit in one: a delay (s)."""

    seconds: float


EXACT_DELAY = StageDescription(
    name="exact delay",
    meaning="Follows its input once that has stayed put for an exact time.",
    keys=(Key("delay", TIMING, "how long the input must have stayed put"),),
    build=lambda values: Exact(values.delay),
)


class ExactState(NamedTuple):
    """The tick of the input's latest edge, its level, and the output's."""

    time: int
    level: int
    shown: int


@member(stage_build, Exact)
def build(spec: Exact, seed: int, run: int, address: int) -> Exact:
    """No tolerance."""
    return spec


@member(stage_start, Exact)
def start(params: Exact, level: int) -> ExactState:
    """At rest."""
    return ExactState(0, level, level)


@member(stage_edge, Exact)
def edge(params: Exact, state: ExactState, time: int, level: int) -> ExactState:
    """The delay begins anew."""
    return ExactState(int(time), level, state.shown)


@member(stage_wake, Exact)
def wake(params: Exact, state: ExactState, limit: int) -> int:
    """The end of the delay."""
    if state.level == state.shown:
        return NEVER
    return state.time + round(Fraction(params.seconds) * 10**12)


@member(stage_expire, Exact)
def expire(params: Exact, state: ExactState, time: int) -> ExactState:
    """The output follows."""
    return ExactState(state.time, state.level, state.level)


@member(stage_level, Exact)
def level(params: Exact, state: ExactState) -> int:
    """The output."""
    return state.shown
