"""A counter with an up clock and a down clock, fed through steering gates.

One line is the clock, the other steers.  Exactly:

* *Former.*  The active edge of the clock line starts a pulse that ends ``pulse`` later, whatever
  the clock line does meanwhile; a further active edge before that end, or at its very tick,
  prolongs it, to ``pulse`` after the later edge (a retriggerable former, such as an RC
  differentiator with a gate behind it).
* *Gates.*  While the former's pulse lasts, the up clock is active if the steering line is at its
  ``up`` level, else the down clock; the two gates are complementary, so the other clock is idle.
* *Steering within the pulse.*  The pulse on the one clock is cut short and the remainder, up to
  the former's end, appears on the other.  At equal ticks line A comes before line B.
* *Counting.*  Each pulse on a clock counts at its end (the chips of this kind count as a clock
  returns to its idle level), by one, up or down by the clock it was on.  A pulse shorter than
  ``minimum`` is not taken: a pulse of 0 with the flag SHORT.  A pulse of no length is none.
* *Flags.*  Pieces of a pulse that was cut by the steering line have the flag HOLD: with a single
  step line that change would have come within the hold time.
* *Cause.*  All pieces bear the cause of the latest active edge.

Every edge ends one pulse at most, and so does the one wake-up of the former's end.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.compiling import member, rule
from simcore.base.description import CLOCK_PERIOD, TIMING, Conflict, CounterDescription, Key, Word
from simcore.base.ticks import NEVER, ticks
from simcore.counters.base import (
    CLOCK_EDGES,
    HIGH_LOW,
    HOLD,
    IGNORED,
    RANDOM,
    SHORT,
    Coin,
    counter_edge,
    counter_expire,
    counter_ideal,
    counter_rate,
    counter_start,
    counter_wake,
)
from simcore.counters.facts import Clocking, clocking
from simcore.counters.step_direction import StepDirection


class TwoClock(NamedTuple):
    """``clock``: line (0 A, 1 B); ``active``: level after its active edge (1 rising, 0 falling);
    ``up``: steering level that opens the up gate; ``pulse``: ticks of the former, 1 or more;
    ``minimum``: shortest pulse in ticks that the counter takes.
    """

    clock: int
    active: int
    up: int
    pulse: int
    minimum: int


def pulse_too_short(values: Any) -> Conflict | None:
    """A pulse that the counter never takes counts nothing."""
    if values.minimum <= values.pulse:
        return None
    return Conflict("minimum", "expected at most the pulse, which is {pulse}; otherwise nothing ever counts")


TWO_CLOCK = CounterDescription(
    name="two-clock",
    meaning="Counts pulses that gates form from one line's edge and steer to an up or a down clock by the "
    "other.",
    keys=(
        Key("clock", Word(tuple(CLOCK_EDGES)), "the line and the edge that form a pulse", "A falling"),
        Key("up_when", HIGH_LOW, "level of the other line that steers to the up clock", "high"),
        Key("pulse", CLOCK_PERIOD, "length of the pulse; it counts at its end", 5.0e-6),
        Key("minimum", TIMING, "shortest pulse on either clock that is taken", 0.0),
    ),
    build=lambda values: TwoClock(
        *CLOCK_EDGES[values.clock], int(values.up_when == "high"), ticks(values.pulse), ticks(values.minimum)
    ),
    check=pulse_too_short,
)


class TwoClockState(NamedTuple):
    """The steering level, whether the former is ``open``, since when the present clock is active
    (``began``), when the former ends, its cause and flags, and the pulse handed over.
    """

    steering: int
    open: int
    began: int
    ends: int
    cause: int
    flags: int
    emit: int
    pulse: int
    pulse_time: int
    pulse_cause: int
    pulse_flags: int


@member(counter_start, TwoClock)
def start(spec: TwoClock, a: int, b: int) -> TwoClockState:
    return TwoClockState(a if spec.clock else b, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)


@rule
def ended(
    spec: TwoClock, state: TwoClockState, time: int, steering: int, going: int, flags: int
) -> TwoClockState:
    """The pulse on the present clock ends; from now on the lines steer to ``steering``, and the
    former is still ``going`` or not.
    """
    length = time - state.began
    emit = 1 if length > 0 else 0
    count = 1 if state.steering == spec.up else -1
    pulse_flags = flags
    if length < spec.minimum:
        count = 0
        pulse_flags |= SHORT
    return TwoClockState(
        steering, going, time, state.ends, state.cause, flags,
        emit, count * emit, time, state.cause, pulse_flags,
    )  # fmt: skip


@member(counter_edge, TwoClock)
def edge(
    spec: TwoClock, state: TwoClockState, time: int, line: int, level: int, cause: int, truth: int, coin: Coin
) -> TwoClockState:
    """Start or prolong the pulse, or steer it to the other clock."""
    if line != spec.clock:
        if state.open:
            return ended(spec, state, time, level, 1, state.flags | HOLD)
        return TwoClockState(level, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
    if level != spec.active:
        return TwoClockState(
            state.steering, state.open, state.began, state.ends, state.cause, state.flags, 0, 0, 0, 0, 0
        )
    began = state.began if state.open else time
    flags = state.flags if state.open else 0
    return TwoClockState(state.steering, 1, began, time + spec.pulse, cause, flags, 0, 0, 0, 0, 0)


@member(counter_wake, TwoClock)
def wake(spec: TwoClock, state: TwoClockState, limit: int) -> int:
    return state.ends if state.open else NEVER


@member(counter_expire, TwoClock)
def expire(spec: TwoClock, state: TwoClockState, time: int, coin: Coin) -> TwoClockState:
    return ended(spec, state, time, state.steering, 0, state.flags)


@member(counter_ideal, TwoClock)
def ideal(spec: TwoClock) -> StepDirection:
    """Pulses that take no time: the steering line is the direction at the active edge."""
    return StepDirection(spec.clock, spec.active, spec.up, 0, 0, 0, 0, RANDOM, IGNORED)


@member(counter_rate, TwoClock)
def rate(spec: TwoClock) -> int:
    """One active edge to a cycle."""
    return 1


@clocking.register
def two_clock_clocking(counter: TwoClock) -> Clocking:
    """The steering line must stay put for as long as the pulse lasts."""
    shortest = counter.minimum
    return Clocking(counter.clock, counter.active, 0, counter.pulse, shortest, shortest, gated=True)
