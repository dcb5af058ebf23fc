"""Quadrature decoders without a clock: x1, x2 and x4 by the table of sixteen transitions.

States are (A, B) as logic levels; turning up, A leads B:
(1,1) (0,1) (0,0) (1,0) and again.  Four of the sixteen transitions change nothing, four
count up, four count down, and four change both lines at once, which without a clock no
sequence of single edges can do.
"""

from __future__ import annotations

from typing import NamedTuple

from simcore.base.compiling import member, rule
from simcore.base.description import CounterDescription
from simcore.base.ticks import NEVER
from simcore.counters.base import (
    DECODING,
    DECODINGS,
    ILLEGAL,
    LEADS,
    UP_WHEN,
    Coin,
    counter_edge,
    counter_expire,
    counter_ideal,
    counter_rate,
    counter_start,
    counter_wake,
)
from simcore.counters.facts import needs_order


class Quadrature(NamedTuple):
    """``counts`` per cycle: 4 counts every change, 2 those of line A, 1 those of line A while
    B is low; ``sign`` is +1, or -1 to count down where A leads.
    """

    counts: int
    sign: int


QUADRATURE = CounterDescription(
    name="quadrature",
    meaning="Counts one, two or four of the edges of a cycle.",
    keys=(DECODING, UP_WHEN),
    build=lambda values: Quadrature(DECODINGS[values.decoding], LEADS[values.up_when]),
)


class QuadratureState(NamedTuple):
    """Both levels and the pulse handed over."""

    a: int
    b: int
    emit: int
    pulse: int
    pulse_time: int
    pulse_cause: int
    pulse_flags: int


@rule
def quarter(a: int, b: int) -> int:
    """Place of a state in the upward order: (1,1) 0, (0,1) 1, (0,0) 2, (1,0) 3."""
    return 2 * (1 - b) + (a ^ b)


@rule
def transition_count(a: int, b: int, next_a: int, next_b: int) -> int:
    """+1, -1 or 0 for one of the sixteen transitions, or 2 where both lines change."""
    turn = (quarter(next_a, next_b) - quarter(a, b)) & 3
    if turn == 1:
        return 1
    if turn == 3:
        return -1
    return turn


@rule
def counts_here(spec: Quadrature, line: int, b: int) -> bool:
    """Whether a change of ``line``, with B at ``b``, is one that this decoder counts."""
    if spec.counts == 4:
        return True
    return line == 0 and (spec.counts == 2 or b == 0)


@member(counter_start, Quadrature)
def start(spec: Quadrature, a: int, b: int) -> QuadratureState:
    return QuadratureState(a, b, 0, 0, 0, 0, 0)


@member(counter_edge, Quadrature)
def edge(
    spec: Quadrature,
    state: QuadratureState,
    time: int,
    line: int,
    level: int,
    cause: int,
    truth: int,
    coin: Coin,
) -> QuadratureState:
    a = level if line == 0 else state.a
    b = level if line == 1 else state.b
    turn = transition_count(state.a, state.b, a, b)
    if turn == 0 or not counts_here(spec, line, b):
        return QuadratureState(a, b, 0, 0, 0, 0, 0)
    if turn == 2:
        return QuadratureState(a, b, 1, 0, time, cause, ILLEGAL)
    return QuadratureState(a, b, 1, turn * spec.sign, time, cause, 0)


@member(counter_wake, Quadrature)
def wake(spec: Quadrature, state: QuadratureState, limit: int) -> int:
    return NEVER


@member(counter_expire, Quadrature)
def expire(spec: Quadrature, state: QuadratureState, time: int, coin: Coin) -> QuadratureState:
    return QuadratureState(state.a, state.b, 0, 0, 0, 0, 0)


@member(counter_ideal, Quadrature)
def ideal(spec: Quadrature) -> Quadrature:
    return spec


@member(counter_rate, Quadrature)
def rate(spec: Quadrature) -> int:
    return spec.counts


@needs_order.register
def quadrature_needs_order(counter: Quadrature) -> bool:
    return True
