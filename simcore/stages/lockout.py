"""Lockout: the output follows at once and then ignores the input for a time.

The time is drawn per built unit and line within its tolerance.  It has
no clock: its only wake-up is the end of a time that can change the output.  An input edge at the very tick
at which the time ends still falls into that time, because input edges come before wake-ups.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from simcore.base.check import AT_LEAST, AT_MOST, SECOND, Check, Surroundings
from simcore.base.compiling import member
from simcore.base.description import TIMING, TOLERANCE, Key, StageDescription
from simcore.base.draws import Part, toleranced
from simcore.base.ticks import LONG_AGO, NEVER, ticks
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
    Delays,
    Times,
    Variation,
    bridges_openings,
    filter_bounds,
    preferred_between,
    stage_checks,
    stage_delay,
    values_to_vary,
)
from simcore.stages.filter_checks import against_chatter, against_hand, time_ends, with_window


class Lockout(NamedTuple):
    """The output follows the input at once, then ignores it for ``time`` (s).

    At the end of that time it looks at the input: if the level differs from the output's, the
    output follows then, which begins another lockout.  Our own choice: otherwise a line that came
    to rest within the lockout would stay wrong until its next change.  A change at the
    end has the cause of the latest input edge, as any other.
    """

    time: Part


LOCKOUT = StageDescription(
    name="lockout",
    meaning="A filter whose output follows at once and then ignores the input for a time.",
    keys=(
        Key("time", TIMING, "how long the input is ignored after each change of the output"),
        Key("tolerance", TOLERANCE, "of the time, part to part, both ways", 0.0),
    ),
    build=lambda values: Lockout(Part(values.time, values.tolerance)),
)


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
    return LockoutUnit(ticks(toleranced(spec.time, stage_draws(seed, run, address, 0)[0])))


@member(stage_start, LockoutUnit)
def lockout_start(params: LockoutUnit, level: int) -> LockoutState:
    return LockoutState(level, level, LONG_AGO)


@member(stage_edge, LockoutUnit)
def lockout_edge(params: LockoutUnit, state: LockoutState, time: int, level: int) -> LockoutState:
    if time > state.until:
        return LockoutState(level, level, time + params.ticks)
    return LockoutState(level, state.shown, state.until)


@member(stage_wake, LockoutUnit)
def lockout_wake(params: LockoutUnit, state: LockoutState, limit: int) -> int:
    return state.until if state.level != state.shown else NEVER


@member(stage_expire, LockoutUnit)
def lockout_expire(params: LockoutUnit, state: LockoutState, time: int) -> LockoutState:
    """The output follows late, and another lockout begins."""
    return LockoutState(state.level, state.level, time + params.ticks)


@member(stage_level, LockoutUnit)
def lockout_level(params: LockoutUnit, state: LockoutState) -> int:
    return state.shown


@stage_checks.register
def lockout_checks(item: Lockout, around: Surroundings) -> tuple[Check, Check]:
    """A lockout must last as long as the longest burst, and be over before the line's next edge."""
    shortest, longest = time_ends(item.time)
    burst = None if around.chatter is None else around.chatter.burst
    least = Check(
        "lockout against chatter", around.subject,
        "What chatter comes after the lockout has ended is taken for another edge, so it outlasts the burst.",
        "T >= longest burst", relation=AT_LEAST, corner="the time at its least", advice="a longer lockout",
    )  # fmt: skip
    most = Check(
        "lockout against the hand", around.subject,
        "The lockout is over before the same line's next edge, which would else come out late or not at all.",
        "T <= shortest level of the line", relation=AT_MOST, corner="the time at its most",
        advice="a shorter lockout",
    )  # fmt: skip
    least = against_chatter(least, around, shortest, burst)
    most = against_hand(most, around, longest, around.shortest_level)
    return with_window(around, least, most, longest, burst or 0.0)


@stage_delay.register
def lockout_delay(item: Lockout) -> Delays:
    """The first edge passes at once."""
    return Delays(0.0, 0.0)


@bridges_openings.register
def lockout_bridges(item: Lockout) -> bool:
    return True


@values_to_vary.register
def lockout_values(item: Lockout, times: Times) -> Iterator[Variation]:
    stated = item.time.nominal
    yield Variation(0, "time", preferred_between(stated, filter_bounds(stated, times)), SECOND)
