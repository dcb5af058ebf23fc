"""Quiet time: the output follows once the input has been stable for long enough.

The time is drawn per built unit and line within its tolerance.  It has
no clock: its only wake-up is the end of a time that can change the output.  An input edge at the very tick
at which the time ends still falls into that time, because input edges come before wake-ups.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

from simcore.base.check import AT_LEAST, AT_MOST, SECOND, Check, Number, Surroundings, not_applicable
from simcore.base.compiling import member
from simcore.base.description import TIMING, TOLERANCE, Key, StageDescription
from simcore.base.draws import Part, toleranced
from simcore.base.records import NO_CAUSE, cause_transition
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
    stage_wake,
)
from simcore.stages.facts import (
    Delays,
    Times,
    Variation,
    bridges_openings,
    filter_bounds,
    part_delay,
    preferred_between,
    stage_checks,
    stage_delay,
    values_to_vary,
)
from simcore.stages.filter_checks import UNKNOWN, against_chatter, against_hand, time_ends, with_window


class QuietTime(NamedTuple):
    """The output follows once the input has been stable for ``time`` (s); retriggerable.

    A change of the output has the cause of the latest input edge that a movement caused, among
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
    """One built unit: ticks for which the input must be stable."""

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
    return QuietUnit(ticks(toleranced(spec.time, stage_draws(seed, run, address, 0)[0])))


@member(stage_start, QuietUnit)
def quiet_start(params: QuietUnit, level: int) -> QuietState:
    return QuietState(LONG_AGO, level, level, NO_CAUSE, 1)


@member(stage_edge, QuietUnit)
def quiet_edge(params: QuietUnit, state: QuietState, time: int, level: int) -> QuietState:
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
    """When the input has been stable for long enough, if the output differs from it."""
    return state.time + params.ticks if state.level != state.shown else NEVER


@member(stage_expire, QuietUnit)
def quiet_expire(params: QuietUnit, state: QuietState, time: int) -> QuietState:
    return QuietState(state.time, state.level, state.level, state.cause, state.rested)


@member(stage_level, QuietUnit)
def quiet_level(params: QuietUnit, state: QuietState) -> int:
    return state.shown


@member(stage_cause, QuietUnit)
def quiet_cause(params: QuietUnit, state: QuietState, cause: int) -> int:
    return state.cause


@stage_checks.register
def quiet_checks(item: QuietTime, around: Surroundings) -> Iterator[Check]:
    """A quiet time passes chatter only if the line is stable for it twice: once in the new state, then back
    in the old one.  So it need be longer than the longest return to the old state, or than half the longest
    burst, whichever is less.  A straggler, long after the others and short, is no part of the burst that a
    change waits for: by then the change is out.
    """
    shortest, longest = time_ends(item.time)
    chatter, limit, dense = around.chatter, None, 0.0
    least = Check(
        "quiet time against chatter", around.subject,
        "Chatter passes only if the line stays put for the quiet time twice, in the new state and back in "
        "the old one; so the time exceeds the longest return, or half the longest burst.",
        "T >= min(longest return to the old state, longest burst / 2)",
        relation=AT_LEAST, corner="the time at its least", advice="a longer quiet time",
    )  # fmt: skip
    if chatter is not None:
        dense = chatter.dense
        limit = min(chatter.back, 0.5 * chatter.burst)
        least = replace(
            least,
            numbers=(
                Number("longest return to the old state", chatter.back, SECOND),
                Number("longest burst", chatter.burst, SECOND),
            ),
        )
    least = against_chatter(least, around, shortest, limit)
    most = Check(
        "quiet time against the hand", around.subject,
        "The line stays put for the quiet time once its chatter is over and before its next edge.",
        "longest burst + T <= shortest level of the line",
        numbers=(
            Number("longest burst", dense, SECOND), Number("quiet time at its most", longest, SECOND),
        ),
        relation=AT_MOST, corner="the time at its most", advice="a shorter quiet time",
    )  # fmt: skip
    most = against_hand(most, around, dense + longest, around.shortest_level)
    yield from with_window(around, least, most, longest, dense)
    yield burst_order(around)


def burst_order(around: Surroundings) -> Check:
    """Whether a burst is over before the other line's edge, where both lines wait for quiet: a change comes
    out that long after its burst has ended, so a longer one loses the order of the two, whatever the time.
    """
    check = Check(
        "bursts against the other line's edge", around.subject,
        "A quiet time begins anew with each change, so an edge comes out by as much later as its burst "
        "lasts; a burst that outlasts the way to the other line's edge loses the order of the two, whatever "
        "the time.",
        "longest burst <= closest edges of A and B", relation=AT_MOST, corner="",
        advice="contacts with shorter bursts, or a slower hand: no other time helps",
    )  # fmt: skip
    if around.chatter is None:
        return not_applicable(check, UNKNOWN)
    if len(around.lines) < 2:
        return not_applicable(check, "only one line is filtered")
    return against_hand(check, around, around.chatter.dense, around.closest_edges)


@stage_delay.register
def quiet_delay(item: QuietTime) -> Delays:
    return part_delay(item.time)


@bridges_openings.register
def quiet_bridges(item: QuietTime) -> bool:
    return True


@values_to_vary.register
def quiet_values(item: QuietTime, times: Times) -> Iterator[Variation]:
    stated = item.time.nominal
    yield Variation(0, "time", preferred_between(stated, filter_bounds(stated, times)), SECOND)
