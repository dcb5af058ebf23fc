"""Quadrature decoders that look at both lines only at the ticks of a clock.

The levels at one sample and at the next are looked up in the table of sixteen transitions (see
quadrature).  What happens between two samples is not seen; where both lines have changed, the
direction is lost, and ``double`` says what the decoder makes of that: DOUBLE_IGNORED nothing,
DOUBLE_FLAGGED no count, but the flag ILLEGAL, DOUBLE_REPEATED the counts of two transitions in
the direction of the last counted transition, with that flag.

Samples are taken at ``phase + k * period`` ticks.  The period lies within the clock's tolerance
and the phase anywhere within a period; both belong to the unit (draws CLOCK_PHASE) and are drawn
at the run's first edge, before which there is nothing to sample.  The next sample is looked at only
if there has been an edge since the last.  An edge at the very tick of a sample is seen by it.

A count has the cause of the latest edge since the sample before of the line that changed, or
of the later of both where both did.
"""

from __future__ import annotations

from typing import NamedTuple

from simcore.base.compiling import member, rule
from simcore.base.description import CLOCK_PERIOD, CounterDescription, Key, Word, part_of, tolerance
from simcore.base.draws import CLOCK_PHASE, Part, four, purpose, toleranced
from simcore.base.ticks import NEVER, ticks
from simcore.counters.base import (
    DECODING,
    DECODINGS,
    ILLEGAL,
    LEADS,
    UP_WHEN,
    Coin,
    counter_clocked,
    counter_edge,
    counter_expire,
    counter_ideal,
    counter_rate,
    counter_start,
    counter_wake,
)
from simcore.counters.facts import clock_period, clock_ticks, needs_order
from simcore.counters.quadrature import Quadrature, quarter, transition_count

DOUBLE_IGNORED, DOUBLE_FLAGGED, DOUBLE_REPEATED = range(3)
DOUBLE_POLICIES = ("ignore", "flag", "repeat")


class ClockedQuadrature(NamedTuple):
    """``counts`` per cycle (4, 2 or 1) and ``sign`` as for Quadrature; ``period``: the clock's, in
    seconds, with its tolerance; ``double``: DOUBLE_IGNORED, DOUBLE_FLAGGED or DOUBLE_REPEATED.
    """

    counts: int
    sign: int
    period: Part
    double: int


CLOCKED_QUADRATURE = CounterDescription(
    name="clocked quadrature",
    meaning="Counts one, two or four of the edges of a cycle, looking at both lines at the ticks of a clock "
    "only.",
    keys=(
        Key("period", CLOCK_PERIOD, "from one sample to the next"),
        tolerance(period="of the clock's period"),
        DECODING,
        UP_WHEN,
        Key(
            "double_change",
            Word(DOUBLE_POLICIES),
            "what it makes of both lines changing between two samples",
            "ignore",
        ),
    ),
    build=lambda values: ClockedQuadrature(
        DECODINGS[values.decoding], LEADS[values.up_when], part_of(values, "period"),
        DOUBLE_POLICIES.index(values.double_change),
    ),
)  # fmt: skip


class ClockedState(NamedTuple):
    """The unit's ``period`` and ``phase`` (period 0: not drawn yet), the levels last sampled, those
    of the lines now with the causes of their latest edges and of the latest of all, the ``due``
    sample (NEVER: none), the ``last`` direction, and the pulse handed over.
    """

    period: int
    phase: int
    a: int
    b: int
    line_a: int
    line_b: int
    cause_a: int
    cause_b: int
    cause: int
    due: int
    last: int
    emit: int
    pulse: int
    pulse_time: int
    pulse_cause: int
    pulse_flags: int


@member(counter_start, ClockedQuadrature)
def start(spec: ClockedQuadrature, a: int, b: int) -> ClockedState:
    return ClockedState(0, 0, a, b, a, b, 0, 0, 0, NEVER, 0, 0, 0, 0, 0, 0)


@rule
def clock_of(spec: ClockedQuadrature, coin: Coin) -> tuple[int, int]:
    """Period and phase of the unit's clock in ticks."""
    u = four(coin.seed, coin.run, purpose(CLOCK_PHASE, 0), 0)
    period = max(1, ticks(toleranced(spec.period, u[0])))
    return period, int(u[1] * period)


@rule
def sample_from(period: int, phase: int, time: int) -> int:
    """The first sample at or after ``time``."""
    return time + (phase - time) % period


@rule
def counted_turns(spec: ClockedQuadrature, a: int, b: int, turn: int, turns: int) -> int:
    """Counts of ``turns`` transitions in one direction (``turn`` +1 or -1) from levels (a, b)."""
    if spec.counts == 4:
        return turns
    # Upward A changes out of the even quarters, downward out of the odd ones.
    a_first = (quarter(a, b) & 1) == (0 if turn > 0 else 1)
    if turns == 1 and not a_first:
        return 0
    if spec.counts == 2:
        return 1
    return 1 if (b if a_first else 1 - b) == 0 else 0


@rule
def sampled(
    state: ClockedState, last: int, emit: int, pulse: int, time: int, cause: int, flags: int
) -> ClockedState:
    """The lines as they are now have been seen."""
    return ClockedState(
        state.period, state.phase, state.line_a, state.line_b, state.line_a, state.line_b,
        state.cause_a, state.cause_b, state.cause, NEVER, last, emit, pulse, time, cause, flags,
    )  # fmt: skip


@member(counter_edge, ClockedQuadrature)
def edge(
    spec: ClockedQuadrature,
    state: ClockedState,
    time: int,
    line: int,
    level: int,
    cause: int,
    truth: int,
    coin: Coin,
) -> ClockedState:
    """Remember the level; the next sample may see it."""
    period, phase = state.period, state.phase
    if period == 0:
        period, phase = clock_of(spec, coin)
    return ClockedState(
        period, phase, state.a, state.b,
        level if line == 0 else state.line_a, level if line == 1 else state.line_b,
        cause if line == 0 else state.cause_a, cause if line == 1 else state.cause_b, cause,
        sample_from(period, phase, time), state.last, 0, 0, 0, 0, 0,
    )  # fmt: skip


@member(counter_wake, ClockedQuadrature)
def wake(spec: ClockedQuadrature, state: ClockedState, limit: int) -> int:
    return state.due


@member(counter_expire, ClockedQuadrature)
def expire(spec: ClockedQuadrature, state: ClockedState, time: int, coin: Coin) -> ClockedState:
    turn = transition_count(state.a, state.b, state.line_a, state.line_b)
    if turn == 0:
        return sampled(state, state.last, 0, 0, 0, 0, 0)
    if turn != 2:
        count = counted_turns(spec, state.a, state.b, turn, 1)
        cause = state.cause_a if state.a != state.line_a else state.cause_b
        return sampled(state, turn, count, count * turn * spec.sign, time, cause, 0)
    if spec.double == DOUBLE_IGNORED:
        return sampled(state, state.last, 0, 0, 0, 0, 0)
    count = 0
    if spec.double == DOUBLE_REPEATED and state.last != 0:
        count = counted_turns(spec, state.a, state.b, state.last, 2)
    return sampled(state, state.last, 1, count * state.last * spec.sign, time, state.cause, ILLEGAL)


@member(counter_ideal, ClockedQuadrature)
def ideal(spec: ClockedQuadrature) -> Quadrature:
    """A clock so fast that it skips nothing."""
    return Quadrature(spec.counts, spec.sign)


@member(counter_rate, ClockedQuadrature)
def rate(spec: ClockedQuadrature) -> int:
    return spec.counts


@member(counter_clocked, ClockedQuadrature)
def clocked(spec: ClockedQuadrature) -> int:
    return 1


@needs_order.register
def clocked_needs_order(counter: ClockedQuadrature) -> bool:
    return True


@clock_period.register
def period_of(counter: ClockedQuadrature) -> Part:
    return counter.period


clock_ticks.register(ClockedQuadrature, clock_of)
