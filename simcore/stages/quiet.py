"""Time filters of one line: quiet time, lockout, and the one-shot of the 555 type.

Each has one time, drawn per built unit and line within its tolerance.  None of them ticks: the
only wake-up is the end of a time that can change the output.  An input edge at the very tick at
which a time ends still falls into that time, because input edges come before wake-ups.
"""

from __future__ import annotations

from typing import NamedTuple

from simcore.base.compiling import member
from simcore.base.draws import Part, toleranced
from simcore.base.records import NO_CAUSE, cause_transition
from simcore.base.ticks import NEVER, ticks
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

LONG_AGO = -4_000_000_000_000_000_000
"""A tick before everything."""


class QuietTime(NamedTuple):
    """The output follows once the input has stayed put for ``time`` (s); retriggerable.

    A change of the output bears the cause of the latest input edge that a movement caused, among
    the edges since the input last rested: a pulse of pick-up that falls into the chatter of a
    crossing does not take the crossing's change away from it.
    """

    time: Part


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


class Lockout(NamedTuple):
    """The output follows the input at once, then ignores it for ``time`` (s).

    At the end of that time it looks at the input: if the level differs from the output's, the
    output follows then, which begins another lockout.  The choice is ours; without the look, a line
    that came to rest within the lockout would stay wrong until its next change.  A change at the
    end bears the cause of the latest input edge, as any other.
    """

    time: Part


class LockoutUnit(NamedTuple):
    """One built unit: ticks for which the input is ignored."""

    ticks: int


class LockoutState(NamedTuple):
    """The input's ``level``, the level ``shown``, and the tick ``until`` which the input is ignored."""

    level: int
    shown: int
    until: int


@member(stage_build, Lockout)
def lockout_build(spec: Lockout, seed: int, run: int, address: int) -> LockoutUnit:
    """One draw for the time."""
    return LockoutUnit(ticks(toleranced(spec.time, stage_draws(seed, run, address, 0)[0])))


@member(stage_start, LockoutUnit)
def lockout_start(params: LockoutUnit, level: int) -> LockoutState:
    """At rest for ever, nothing ignored."""
    return LockoutState(level, level, LONG_AGO)


@member(stage_edge, LockoutUnit)
def lockout_edge(params: LockoutUnit, state: LockoutState, time: int, level: int) -> LockoutState:
    """Followed at once, or ignored until the lockout ends."""
    if time > state.until:
        return LockoutState(level, level, time + params.ticks)
    return LockoutState(level, state.shown, state.until)


@member(stage_wake, LockoutUnit)
def lockout_wake(params: LockoutUnit, state: LockoutState, limit: int) -> int:
    """The end of the lockout, if it finds another level."""
    return state.until if state.level != state.shown else NEVER


@member(stage_expire, LockoutUnit)
def lockout_expire(params: LockoutUnit, state: LockoutState, time: int) -> LockoutState:
    """The output follows late, and another lockout begins."""
    return LockoutState(state.level, state.level, time + params.ticks)


@member(stage_level, LockoutUnit)
def lockout_level(params: LockoutUnit, state: LockoutState) -> int:
    """What is shown."""
    return state.shown


class OneShot(NamedTuple):
    """One output pulse of length ``factor`` x R x C for each edge of the input to level ``trigger``
    (0: the falling edge).  The output is at level ``active`` during the pulse.  A trigger during
    the pulse is ignored, or, where ``retriggerable`` is 1, lets the pulse last its full length from
    there on.  The end of a pulse bears the cause of the trigger that set it.

    For a timer of the 555 type the factor is ln 3, the capacitor's way from empty to two thirds of
    the supply.
    """

    resistor: Part
    capacitor: Part
    factor: float
    trigger: int
    active: int
    retriggerable: int


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
    """One draw each for resistor and capacitor."""
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
    """A trigger starts the pulse, prolongs it, or is ignored."""
    if level != params.trigger or (state.running and not params.retriggerable):
        return OneShotState(state.running, state.until, state.cause, 0)
    return OneShotState(1, time + params.ticks, state.cause, 1)


@member(stage_note, OneShotUnit)
def shot_note(params: OneShotUnit, state: OneShotState, cause: int) -> OneShotState:
    """Keep the trigger's cause."""
    return OneShotState(state.running, state.until, cause if state.taken else state.cause, state.taken)


@member(stage_wake, OneShotUnit)
def shot_wake(params: OneShotUnit, state: OneShotState, limit: int) -> int:
    """The end of the pulse."""
    return state.until if state.running else NEVER


@member(stage_expire, OneShotUnit)
def shot_expire(params: OneShotUnit, state: OneShotState, time: int) -> OneShotState:
    """The pulse ends."""
    return OneShotState(0, state.until, state.cause, 0)


@member(stage_level, OneShotUnit)
def shot_level(params: OneShotUnit, state: OneShotState) -> int:
    """Active during the pulse."""
    return params.active if state.running else 1 - params.active


@member(stage_cause, OneShotUnit)
def shot_cause(params: OneShotUnit, state: OneShotState, cause: int) -> int:
    """The trigger's."""
    return state.cause
