"""A counter that counts every rise of one line, and never down."""

from __future__ import annotations

from typing import NamedTuple

from simcore.base.compiling import member
from simcore.base.description import CounterDescription, Key, Word
from simcore.base.ticks import NEVER
from simcore.counters.base import (
    Coin,
    counter_edge,
    counter_expire,
    counter_ideal,
    counter_rate,
    counter_start,
    counter_wake,
)


class Rises(NamedTuple):
    """The line whose rises are counted: 0 A, 1 B."""

    line: int


EVENT_COUNTER = CounterDescription(
    name="event counter",
    meaning="Counts every rise of one line, upward whichever way the knob is turned.",
    keys=(Key("line", Word(("A", "B")), "the line whose rises are counted", "A"),),
    build=lambda values: Rises("AB".index(values.line)),
)


class RisesState(NamedTuple):
    """The pulse handed over."""

    emit: int
    pulse: int
    pulse_time: int
    pulse_cause: int
    pulse_flags: int


@member(counter_start, Rises)
def start(spec: Rises, a: int, b: int) -> RisesState:
    """Nothing to remember."""
    return RisesState(0, 0, 0, 0, 0)


@member(counter_edge, Rises)
def edge(
    spec: Rises, state: RisesState, time: int, line: int, level: int, cause: int, truth: int, coin: Coin
) -> RisesState:
    """A rise of the line counts."""
    if line == spec.line and level == 1:
        return RisesState(1, 1, time, cause, 0)
    return RisesState(0, 0, 0, 0, 0)


@member(counter_wake, Rises)
def wake(spec: Rises, state: RisesState, limit: int) -> int:
    """It never waits."""
    return NEVER


@member(counter_expire, Rises)
def expire(spec: Rises, state: RisesState, time: int, coin: Coin) -> RisesState:
    """It never waits."""
    return RisesState(0, 0, 0, 0, 0)


@member(counter_ideal, Rises)
def ideal(spec: Rises) -> Rises:
    """It has no timing limits."""
    return spec


@member(counter_rate, Rises)
def rate(spec: Rises) -> int:
    """One rise in a cycle."""
    return 1
