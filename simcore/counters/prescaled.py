"""Any counter followed by an up/down prescaler.

The prescaler holds a number from 0 to ``divisor`` - 1, ``phase`` at the start, and follows the
counter in front up and down.  Where it wraps, from the top to 0 or from 0 to the top, the output
moves by one up or down.  So the output is always floor((phase + inner count) / divisor), whatever
the inner count did on its way.

A pulse has the cause of the inner pulse that wrapped.  Flags of an inner pulse that moved no
output are passed on with a count of 0, so that they are not lost.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.compiling import member, rule
from simcore.counters.base import (
    Coin,
    counter_clocked,
    counter_edge,
    counter_expire,
    counter_ideal,
    counter_rate,
    counter_rests,
    counter_start,
    counter_wake,
)
from simcore.counters.facts import clock_period, clock_ticks, clocking, counter_checks, needs_order, undivided

MOST_DIVISOR = 64


class Prescaled(NamedTuple):
    """``inner``: the specification of the counter in front; ``divisor``: 1 to MOST_DIVISOR;
    ``phase``: what the prescaler holds at the start, 0 to ``divisor`` - 1.
    """

    inner: Any
    divisor: int
    phase: int


class PrescaledState(NamedTuple):
    """The inner counter's state, what the prescaler holds, and the pulse handed over."""

    inner: Any
    held: int
    emit: int
    pulse: int
    pulse_time: int
    pulse_cause: int
    pulse_flags: int


@member(counter_start, Prescaled)
def start(spec: Prescaled, a: int, b: int) -> PrescaledState:
    return PrescaledState(counter_start(spec.inner, a, b), spec.phase, 0, 0, 0, 0, 0)


@rule
def followed(spec: Prescaled, held: int, inner: Any) -> PrescaledState:
    """The prescaler after whatever the inner counter hands over."""
    if not inner.emit:
        return PrescaledState(inner, held, 0, 0, 0, 0, 0)
    after = held + inner.pulse
    wraps = after // spec.divisor
    emit = 1 if wraps != 0 or inner.pulse_flags != 0 else 0
    return PrescaledState(
        inner, after - wraps * spec.divisor,
        emit, wraps, inner.pulse_time, inner.pulse_cause, inner.pulse_flags,
    )  # fmt: skip


@member(counter_edge, Prescaled)
def edge(
    spec: Prescaled,
    state: PrescaledState,
    time: int,
    line: int,
    level: int,
    cause: int,
    truth: int,
    coin: Coin,
) -> PrescaledState:
    inner = counter_edge(spec.inner, state.inner, time, line, level, cause, truth, coin)
    return followed(spec, state.held, inner)


@member(counter_wake, Prescaled)
def wake(spec: Prescaled, state: PrescaledState, limit: int) -> int:
    return counter_wake(spec.inner, state.inner, limit)


@member(counter_expire, Prescaled)
def expire(spec: Prescaled, state: PrescaledState, time: int, coin: Coin) -> PrescaledState:
    return followed(spec, state.held, counter_expire(spec.inner, state.inner, time, coin))


@member(counter_ideal, Prescaled)
def ideal(spec: Prescaled) -> Prescaled:
    return Prescaled(counter_ideal(spec.inner), spec.divisor, spec.phase)


@member(counter_rate, Prescaled)
def rate(spec: Prescaled) -> float:
    return counter_rate(spec.inner) / spec.divisor


@member(counter_clocked, Prescaled)
def clocked(spec: Prescaled) -> int:
    return counter_clocked(spec.inner)


@member(counter_rests, Prescaled)
def rests(spec: Prescaled, a: int, b: int) -> int:
    return counter_rests(spec.inner, a, b)


def _in_front(family: Any) -> None:
    """Let a prescaled counter answer as the counter in front of it."""
    family.register(Prescaled, lambda counter, *rest: family(counter.inner, *rest))


for _family in (clocking, needs_order, clock_period, clock_ticks, counter_checks):
    _in_front(_family)


@undivided.register
def without_prescalers(counter: Prescaled) -> tuple[Any, int]:
    inner, divisor = undivided(counter.inner)
    return inner, divisor * counter.divisor
