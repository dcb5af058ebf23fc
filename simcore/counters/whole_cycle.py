"""A decoder that counts whole cycles only, from rest to rest.

It follows the two lines through the four states of a cycle and keeps its place: how many
transitions it stands from the rest state, upward positive.  Back at rest after four in one
direction, it counts one and starts anew.  Chatter anywhere moves the place to and fro, and so
does a turn part of the way and back: neither counts.  The price: chatter cannot be told from a
turn that goes all the way round, but only such a turn moves the count.

Until the lines have been in the rest state once, the place is not known and nothing counts.
Where the detents lie at another state than the counter's rest state, every reversal thus costs
a count (`counter_rests` says so).
"""

from __future__ import annotations

from typing import NamedTuple

from simcore.base.compiling import member
from simcore.base.description import CounterDescription, Key
from simcore.base.ticks import NEVER
from simcore.counters.base import (
    HIGH_LOW,
    LEADS,
    UP_WHEN,
    Coin,
    counter_edge,
    counter_expire,
    counter_ideal,
    counter_rate,
    counter_rests,
    counter_start,
    counter_wake,
)
from simcore.counters.facts import needs_order
from simcore.counters.quadrature import transition_count

UNKNOWN = 8
"""The place before the rest state has been seen."""


class WholeCycle(NamedTuple):
    """``rest``: level of both lines at rest (1 high, 0 low); ``sign``: +1, or -1 to count down
    where A leads.
    """

    rest: int
    sign: int


WHOLE_CYCLE = CounterDescription(
    name="whole-cycle",
    meaning="Counts only when a cycle has been gone through all the way, from rest to rest.",
    keys=(
        Key("rest", HIGH_LOW, "level of both lines at rest, from where cycles are counted", "high"),
        UP_WHEN,
    ),
    build=lambda values: WholeCycle(int(values.rest == "high"), LEADS[values.up_when]),
)


class WholeCycleState(NamedTuple):
    """Both levels, the place within the cycle, and the pulse handed over."""

    a: int
    b: int
    place: int
    emit: int
    pulse: int
    pulse_time: int
    pulse_cause: int
    pulse_flags: int


@member(counter_start, WholeCycle)
def start(spec: WholeCycle, a: int, b: int) -> WholeCycleState:
    place = 0 if a == spec.rest and b == spec.rest else UNKNOWN
    return WholeCycleState(a, b, place, 0, 0, 0, 0, 0)


@member(counter_edge, WholeCycle)
def edge(
    spec: WholeCycle,
    state: WholeCycleState,
    time: int,
    line: int,
    level: int,
    cause: int,
    truth: int,
    coin: Coin,
) -> WholeCycleState:
    a = level if line == 0 else state.a
    b = level if line == 1 else state.b
    if state.place == UNKNOWN:
        place = 0 if a == spec.rest and b == spec.rest else UNKNOWN
        return WholeCycleState(a, b, place, 0, 0, 0, 0, 0)
    place = state.place + transition_count(state.a, state.b, a, b)
    if place == 4:
        return WholeCycleState(a, b, 0, 1, spec.sign, time, cause, 0)
    if place == -4:
        return WholeCycleState(a, b, 0, 1, -spec.sign, time, cause, 0)
    return WholeCycleState(a, b, place, 0, 0, 0, 0, 0)


@member(counter_wake, WholeCycle)
def wake(spec: WholeCycle, state: WholeCycleState, limit: int) -> int:
    return NEVER


@member(counter_expire, WholeCycle)
def expire(spec: WholeCycle, state: WholeCycleState, time: int, coin: Coin) -> WholeCycleState:
    return WholeCycleState(state.a, state.b, state.place, 0, 0, 0, 0, 0)


@member(counter_ideal, WholeCycle)
def ideal(spec: WholeCycle) -> WholeCycle:
    return spec


@member(counter_rate, WholeCycle)
def rate(spec: WholeCycle) -> int:
    return 1


@member(counter_rests, WholeCycle)
def rests(spec: WholeCycle, a: int, b: int) -> int:
    return 1 if a == spec.rest and b == spec.rest else 0


@needs_order.register
def whole_cycle_needs_order(counter: WholeCycle) -> bool:
    return True
