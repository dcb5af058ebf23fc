"""A counter with a clock (step) line and a direction line.

On the active edge of the clock the count moves by one; the level of the direction line
says which way.  The decision stays open until the hold time and the shortest clock level
after the edge have passed, because only then is it known whether the counter's timing was
met; the pulse has the tick of the clock edge.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.compiling import member, rule
from simcore.base.description import TIMING, Conflict, CounterDescription, Key, Word
from simcore.base.ticks import LONG_AGO, NEVER, ticks
from simcore.counters.base import (
    CLOCK_EDGES,
    HIGH_LOW,
    HOLD,
    NEW,
    OLD,
    RANDOM,
    SETUP,
    SHORT,
    SHORT_COIN,
    SHORT_POLICIES,
    VIOLATION_POLICIES,
    Coin,
    counter_edge,
    counter_expire,
    counter_ideal,
    counter_rate,
    counter_start,
    counter_wake,
    heads,
)
from simcore.counters.facts import Clocking, clocking


class StepDirection(NamedTuple):
    """``clock``: line (0 A, 1 B); ``active``: level after the active edge (1 rising, 0 falling);
    ``up``: direction level that counts up; ``setup``, ``hold``, ``low``, ``high``: ticks the
    direction must be steady before and after the edge, shortest clock low and high;
    ``doubt``: RANDOM, OLD, NEW or WORST; ``short``: IGNORED or SHORT_COIN.
    """

    clock: int
    active: int
    up: int
    setup: int
    hold: int
    low: int
    high: int
    doubt: int
    short: int


def other_line(values: Any) -> str:
    return "B" if values.clock[0] == "A" else "A"


def one_line_twice(values: Any) -> Conflict | None:
    if values.direction != values.clock[0]:
        return None
    return Conflict(
        "direction",
        f'the clock is "{values.clock}"; expected the other line as direction, "{other_line(values)}"',
        f'"{values.direction}"',
    )


STEP_DIRECTION = CounterDescription(
    name="step-direction",
    meaning="Counts on one edge of the clock line, up or down by the level of the direction line.",
    keys=(
        Key("clock", Word(tuple(CLOCK_EDGES)), "the line and the edge that count", "A falling"),
        Key("direction", Word(("A", "B")), "the other line, which says which way", None),
        Key("up_when", HIGH_LOW, "level of the direction line that counts up", "high"),
        Key("setup", TIMING, "how long the direction must be steady before the edge", 0.0),
        Key("hold", TIMING, "how long the direction must be steady after the edge", 0.0),
        Key("minimum_low", TIMING, "shortest low level of the clock that is taken", 0.0),
        Key("minimum_high", TIMING, "shortest high level of the clock that is taken", 0.0),
        Key(
            "undecided",
            Word(VIOLATION_POLICIES),
            "which way it counts if set-up or hold was not met",
            "coin",
        ),
        Key(
            "short_pulse", Word(SHORT_POLICIES), "what becomes of a clock level that was too short", "ignored"
        ),
    ),
    build=lambda values: StepDirection(
        *CLOCK_EDGES[values.clock], int(values.up_when == "high"),
        ticks(values.setup), ticks(values.hold), ticks(values.minimum_low), ticks(values.minimum_high),
        VIOLATION_POLICIES.index(values.undecided), SHORT_POLICIES.index(values.short_pulse),
    ),
    check=one_line_twice,
    settled=lambda values: {"direction": other_line(values)},
)  # fmt: skip


class StepState(NamedTuple):
    """Levels, the ticks of the last changes, the open decision and the pulse handed over."""

    clock: int
    direction: int
    clock_time: int
    direction_time: int
    open: int
    time: int
    level: int
    flags: int
    cause: int
    truth: int
    emit: int
    pulse: int
    pulse_time: int
    pulse_cause: int
    pulse_flags: int


@member(counter_start, StepDirection)
def start(spec: StepDirection, a: int, b: int) -> StepState:
    clock = b if spec.clock else a
    direction = a if spec.clock else b
    return StepState(clock, direction, LONG_AGO, LONG_AGO, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)


@rule
def decide(spec: StepDirection, state: StepState, coin: Coin) -> int:
    """The count of the open decision, by the policies where the timing was not met.

    ``state.level`` is the direction at the clock edge.  After a change within the set-up
    time that is the new level; before a change within the hold time it is the old one.
    """
    if state.flags & SHORT and not (spec.short == SHORT_COIN and heads(coin, state.time, 0)):
        return 0
    level = state.level
    if state.flags & (SETUP | HOLD):
        if spec.doubt == RANDOM:
            level = heads(coin, state.time, 1)
        elif spec.doubt == OLD:
            level = level ^ 1 if state.flags & SETUP else level
        elif spec.doubt == NEW:
            level = level ^ 1 if state.flags & HOLD else level
        elif state.truth != 0:
            return -state.truth
    return 1 if level == spec.up else -1


@rule
def settled(spec: StepDirection, state: StepState, coin: Coin) -> StepState:
    """Close the open decision and hand its pulse over."""
    return StepState(
        state.clock, state.direction, state.clock_time, state.direction_time,
        0, state.time, state.level, state.flags, state.cause, state.truth,
        1, decide(spec, state, coin), state.time, state.cause, state.flags,
    )  # fmt: skip


@rule
def quiet(state: StepState) -> StepState:
    """The same state with nothing handed over."""
    return StepState(
        state.clock, state.direction, state.clock_time, state.direction_time,
        state.open, state.time, state.level, state.flags, state.cause, state.truth,
        0, 0, 0, 0, 0,
    )  # fmt: skip


@rule
def direction_edge(spec: StepDirection, state: StepState, time: int, level: int) -> StepState:
    """The direction changes; within the hold time of an open decision that is a hold violation."""
    flags = state.flags
    if state.open and time - state.time < spec.hold:
        flags |= HOLD
    return StepState(
        state.clock, level, state.clock_time, time,
        state.open, state.time, state.level, flags, state.cause, state.truth,
        state.emit, state.pulse, state.pulse_time, state.pulse_cause, state.pulse_flags,
    )  # fmt: skip


@rule
def clock_edge(
    spec: StepDirection, state: StepState, time: int, level: int, cause: int, truth: int, coin: Coin
) -> StepState:
    """The clock changes; an active edge closes an older decision and opens its own."""
    shortest = spec.low if state.clock == 0 else spec.high
    too_short = time - state.clock_time < shortest
    if level != spec.active:
        flags = state.flags
        if state.open and too_short:
            flags |= SHORT
        return StepState(
            level, state.direction, time, state.direction_time,
            state.open, state.time, state.level, flags, state.cause, state.truth,
            state.emit, state.pulse, state.pulse_time, state.pulse_cause, state.pulse_flags,
        )  # fmt: skip
    if state.open:
        state = settled(spec, state, coin)
    flags = SHORT if too_short else 0
    if time - state.direction_time < spec.setup:
        flags |= SETUP
    return StepState(
        level, state.direction, time, state.direction_time,
        1, time, state.direction, flags, cause, truth,
        state.emit, state.pulse, state.pulse_time, state.pulse_cause, state.pulse_flags,
    )  # fmt: skip


@member(counter_edge, StepDirection)
def edge(
    spec: StepDirection,
    state: StepState,
    time: int,
    line: int,
    level: int,
    cause: int,
    truth: int,
    coin: Coin,
) -> StepState:
    state = quiet(state)
    if line == spec.clock:
        return clock_edge(spec, state, time, level, cause, truth, coin)
    return direction_edge(spec, state, time, level)


@member(counter_wake, StepDirection)
def wake(spec: StepDirection, state: StepState, limit: int) -> int:
    """An open decision closes when hold time and shortest level have passed."""
    if not state.open:
        return NEVER
    return state.time + max(spec.hold, spec.high if spec.active else spec.low)


@member(counter_expire, StepDirection)
def expire(spec: StepDirection, state: StepState, time: int, coin: Coin) -> StepState:
    return settled(spec, state, coin)


@member(counter_ideal, StepDirection)
def ideal(spec: StepDirection) -> StepDirection:
    return StepDirection(spec.clock, spec.active, spec.up, 0, 0, 0, 0, spec.doubt, spec.short)


@member(counter_rate, StepDirection)
def rate(spec: StepDirection) -> int:
    """One active edge to a cycle."""
    return 1


@clocking.register
def step_clocking(counter: StepDirection) -> Clocking:
    """The direction line is read at the clock edge."""
    return Clocking(
        counter.clock, counter.active, counter.setup, counter.hold, counter.low, counter.high,
        doubt=counter.doubt,
    )  # fmt: skip
