"""Quiet time: the output follows once the input has stayed put for long enough.

The time is drawn per built unit and line within its tolerance.  It does
not tick: its only wake-up is the end of a time that can change the output.  An input edge at the very tick
at which the time ends still falls into that time, because input edges come before wake-ups.
"""

from __future__ import annotations

from typing import NamedTuple

from simcore.base.description import TIMING, TOLERANCE, Key, StageDescription
from simcore.compiling import member
from simcore.draws import Part, toleranced
from simcore.edges import NO_CAUSE, cause_transition
from simcore.stages.base import (
    stage_build,
    stage_cause,
    stage_draws,
    stage_edge,
    stage_expire,
    stage_level,
    stage_note,
    stage_start,
    stage_wake,
)
from simcore.ticks import LONG_AGO, NEVER, ticks


class QuietTime(NamedTuple):
    """The output follows once the input has stayed put for ``time`` (s); retriggerable.

    A change of the output bears the cause of the latest input edge that a movement caused, among
    the edges since the input last rested: a pulse of pick-up that falls into the chatter of a
    crossing does not take the crossing's change away from it.
    """

    time: Part


QUIET_TIME = StageDescription(
    name="quiet time",
    meaning="A filter whose output follows once the input has stayed put for a time.",
    keys=(
        Key("time", TIMING, "how long the input must stay put"),
        Key("tolerance", TOLERANCE, "of the time, part to part, both ways", 0.0),
    ),
    build=lambda values: QuietTime(Part(values.time, values.tolerance)),
)


class QuietUnit(NamedTuple):
    """One built unit: ticks that the input must stay put."""

    ticks: int


class QuietState(NamedTuple):
    """``time`` and ``level`` of the latest input edge, the level ``shown``, the ``cause`` that a
    change would bear, and 1 in ``rested`` if the input had rested before its latest edge.
    """

    time: int
    level: int
    shown: int
    cause: int
    rested: int


@member(stage_build, QuietTime)
def quiet_build(spec: QuietTime, seed: int, run: int, address: int) -> QuietUnit:
    """One draw for the time."""
    return QuietUnit(ticks(toleranced(spec.time, stage_draws(seed, run, address, 0)[0])))


@member(stage_start, QuietUnit)
def quiet_start(params: QuietUnit, level: int) -> QuietState:
    """At rest for ever."""
    return QuietState(LONG_AGO, level, level, NO_CAUSE, 1)


@member(stage_edge, QuietUnit)
def quiet_edge(params: QuietUnit, state: QuietState, time: int, level: int) -> QuietState:
    """The time begins anew."""
    return QuietState(time, level, state.shown, state.cause, 1 if time - state.time > params.ticks else 0)


@member(stage_note, QuietUnit)
def quiet_note(params: QuietUnit, state: QuietState, cause: int) -> QuietState:
    """Keep the latest cause, but one without a movement only after a rest or another such."""
    kept = cause
    if not state.rested and cause_transition(cause) < 0 and cause_transition(state.cause) >= 0:
        kept = state.cause
    return QuietState(state.time, state.level, state.shown, kept, state.rested)


@member(stage_wake, QuietUnit)
def quiet_wake(params: QuietUnit, state: QuietState, limit: int) -> int:
    """When the input has stayed put for long enough, if the output differs from it."""
    return state.time + params.ticks if state.level != state.shown else NEVER


@member(stage_expire, QuietUnit)
def quiet_expire(params: QuietUnit, state: QuietState, time: int) -> QuietState:
    """The output follows."""
    return QuietState(state.time, state.level, state.level, state.cause, state.rested)


@member(stage_level, QuietUnit)
def quiet_level(params: QuietUnit, state: QuietState) -> int:
    """What is shown."""
    return state.shown


@member(stage_cause, QuietUnit)
def quiet_cause(params: QuietUnit, state: QuietState, cause: int) -> int:
    """The cause kept."""
    return state.cause
