"""The clocked decoder against one that takes every single sample."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.base.ticks import NEVER
from simcore.counters.base import (
    ILLEGAL,
    Coin,
    counter_clocked,
    counter_edge,
    counter_expire,
    counter_ideal,
    counter_rate,
    counter_start,
    counter_wake,
)
from simcore.counters.clocked import (
    DOUBLE_FLAGGED,
    DOUBLE_IGNORED,
    DOUBLE_REPEATED,
    ClockedQuadrature,
    clock_of,
)
from simcore.counters.quadrature import Quadrature
from tests.simcore.counting import Change, Counted, counted, gaps_to_changes, net, turned

TICK = 1e-12
UPWARD = [(1, 1), (0, 1), (0, 0), (1, 0)]
COUNTED_UPWARD = {4: {0, 1, 2, 3}, 2: {0, 2}, 1: {2}}
"""For each decoding the quarters whose way up to the next counts: A changes out of 0 and 2, and
while B is low out of 2.
"""


def steps_between(before: int, turn: int, turns: int, counts: int) -> int:
    """Counts on the way through ``turns`` quarters."""
    total = 0
    for _ in range(turns):
        edge = before if turn > 0 else (before - 1) % 4
        total += edge in COUNTED_UPWARD[counts]
        before = (before + turn) % 4
    return total * turn


def every_sample(
    spec: ClockedQuadrature, changes: list[Change], first: tuple[int, int], coin: Coin
) -> list[Counted]:
    """Take each sample there is and compare it with the one before."""
    period, phase = clock_of(spec, coin)
    end = (changes[-1][0] if changes else 0) + period
    found, levels, seen, last, number = [], list(first), UPWARD.index(first), 0, 0
    for time in range(phase, end + 1, period):
        latest: dict[int, int] = {}
        while number < len(changes) and changes[number][0] <= time:
            line = changes[number][1]
            levels[line] ^= 1
            latest[line] = number
            number += 1
        now = UPWARD.index((levels[0], levels[1]))
        turn = (now - seen) % 4
        if turn in (1, 3):
            last = 1 if turn == 1 else -1
            count = spec.sign * steps_between(seen, last, 1, spec.counts)
            changed = 0 if UPWARD[now][0] != UPWARD[seen][0] else 1
            if count:
                found.append(Counted(time, count, count, latest[changed], 0))
        elif turn == 2 and spec.double != DOUBLE_IGNORED:
            twice = (
                steps_between(seen, last, 2, spec.counts) if spec.double == DOUBLE_REPEATED and last else 0
            )
            count = spec.sign * twice
            found.append(Counted(time, count, count, max(latest.values()), ILLEGAL))
        seen = now
    return found


@st.composite
def specs(draw: st.DrawFn) -> ClockedQuadrature:
    """Periods of a few ticks up to many, with tolerance and without."""
    period = Part(draw(st.integers(1, 60)) * TICK, draw(st.sampled_from([0.0, 0.0, 0.3])))
    return ClockedQuadrature(
        draw(st.sampled_from([1, 2, 4])), draw(st.sampled_from([1, -1])), period, draw(st.integers(0, 2))
    )


changes = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 1)), max_size=25).map(gaps_to_changes)
levels = st.sampled_from(UPWARD)
coins = st.builds(Coin, st.integers(0, 2**40), st.integers(0, 1000))


@settings(max_examples=500, deadline=None)
@given(specs(), changes, levels, coins)
def test_it_counts_as_if_it_took_every_sample(
    spec: ClockedQuadrature, edges: list[Change], first: tuple[int, int], coin: Coin
) -> None:
    assert counted(spec, edges, first, seed=coin.seed, run=coin.run) == every_sample(spec, edges, first, coin)


@settings(max_examples=100, deadline=None)
@given(specs(), st.integers(0, 10**15), coins)
def test_it_does_not_tick_while_idle(spec: ClockedQuadrature, time: int, coin: Coin) -> None:
    """One wake-up after an edge, at the first sample from then on, and none without an edge."""
    state = counter_start(spec, 1, 1)
    assert counter_wake(spec, state, NEVER) == NEVER
    state = counter_edge(spec, state, time, 0, 0, 0, 1, coin)
    period, phase = clock_of(spec, coin)
    due = counter_wake(spec, state, NEVER)
    assert time <= due < time + period
    assert (due - phase) % period == 0
    assert counter_wake(spec, counter_expire(spec, state, due, coin), NEVER) == NEVER


@settings(max_examples=100, deadline=None)
@given(st.lists(st.sampled_from([1, -1]), max_size=40), specs(), levels, coins)
def test_slower_than_its_clock_it_counts_as_without_one(
    walk: list[int], spec: ClockedQuadrature, first: tuple[int, int], coin: Coin
) -> None:
    spacing = 100
    edges = turned(walk, spacing, UPWARD.index(first))
    with_clock = counted(spec, edges, first, seed=coin.seed, run=coin.run)
    without = counted(Quadrature(spec.counts, spec.sign), edges, first)
    assert [(p.asked, p.edge, p.flags) for p in with_clock] == [(p.asked, p.edge, p.flags) for p in without]


def test_the_clock_belongs_to_the_unit() -> None:
    """Within its tolerance, any phase, and the same again under the same seed and run."""
    spec = ClockedQuadrature(4, 1, Part(1e-6, 0.1), DOUBLE_IGNORED)
    clocks = [clock_of(spec, Coin(5, run)) for run in range(400)]
    assert clocks == [clock_of(spec, Coin(5, run)) for run in range(400)]
    periods = [period for period, _ in clocks]
    assert 900_000 <= min(periods) < 905_000
    assert 1_095_000 < max(periods) <= 1_100_000
    shares = sorted(phase / period for period, phase in clocks)
    assert shares[0] < 0.01
    assert 0.99 < shares[-1] < 1.0
    # Kolmogorov and Smirnov's distance of 400 uniform numbers exceeds 0.1 once in 2,000 times.
    assert max(abs(share - (i + 0.5) / 400) for i, share in enumerate(shares)) < 0.1


TOGETHER: list[Change] = [(1000, 0), (1000, 1)]
"""Both lines change between two samples: half a cycle, one way or the other."""


@pytest.mark.parametrize(("counts", "twice"), [(4, 2), (2, 1), (1, 1)])
def test_what_becomes_of_a_double_change(counts: int, twice: int) -> None:
    """From both low, after a turn upward, on to both high: A changes while B is low on the way up."""

    def of(double: int, before: list[int]) -> list[tuple[int, int]]:
        spec = ClockedQuadrature(counts, 1, Part(10 * TICK, 0.0), double)
        edges = [*turned(before, 100, 1), *TOGETHER]
        later = [pulse for pulse in counted(spec, edges, (0, 1)) if pulse.time >= 1000]
        return [(pulse.asked, pulse.flags) for pulse in later]

    up, down = [1], [1, -1, -1, 1, 1, 1, -1]
    assert of(DOUBLE_IGNORED, up) == []
    assert of(DOUBLE_FLAGGED, up) == [(0, ILLEGAL)]
    assert of(DOUBLE_REPEATED, up) == [(twice, ILLEGAL)]
    assert of(DOUBLE_REPEATED, down) == [({4: -2, 2: -1, 1: 0}[counts], ILLEGAL)]


def test_with_no_direction_yet_there_is_nothing_to_repeat() -> None:
    spec = ClockedQuadrature(4, 1, Part(10 * TICK, 0.0), DOUBLE_REPEATED)
    (pulse,) = counted(spec, TOGETHER)
    assert (pulse.asked, pulse.flags) == (0, ILLEGAL)


def test_a_double_count_stops_at_the_end_stop() -> None:
    from simcore.counters.base import AT_STOP, Range

    spec = ClockedQuadrature(4, 1, Part(10 * TICK, 0.0), DOUBLE_REPEATED)
    edges = [*turned([1], 100, 1), *TOGETHER]
    pulses = counted(spec, edges, (0, 1), place=Range(3, 0, 0))
    assert [(p.asked, p.moved, p.flags & AT_STOP) for p in pulses] == [(1, 1, 0), (2, 1, AT_STOP)]


def test_what_it_says_of_itself() -> None:
    spec = ClockedQuadrature(2, -1, Part(1e-6, 0.1), DOUBLE_FLAGGED)
    assert counter_ideal(spec) == Quadrature(2, -1)
    assert counter_rate(spec) == 2
    assert counter_clocked(spec) == 1
    assert net(counted(counter_ideal(spec), turned([1] * 40, 10))) == -20
