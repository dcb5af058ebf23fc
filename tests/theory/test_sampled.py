"""Sampled filters: what they let pass, and when.

Let T be the period of the clock and a line change at tick t.  The first sample that sees the new
level comes at s with t <= s < t + T, so the one that is numbered m from there (the first is 1) comes
(m - 1) T + (s - t) after the change, which lies in [m - 1, m) periods; over a random phase, uniform.

* `Agree` over N samples and `Integrate` up to N turn over at sample N of an unbroken level: latency
  in [N - 1, N) periods.  (Practice writes (N - 1, N]: the ends do not matter to a random phase.)
* A pulse of w periods is seen by floor(w) or floor(w) + 1 samples, the latter with probability
  w - floor(w); so it passes with probability clip(w - (N - 1), 0, 1), and never if w <= N - 1.
* A majority of N in N is Agree over N; a majority of one, Agree over one and Integrate up to one
  are the plain sampled line.
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.ticks import NEVER
from simcore.stages.base import (
    stage_build,
    stage_edge,
    stage_expire,
    stage_level,
    stage_start,
    stage_wake,
)
from simcore.stages.sampled import Agree, Integrate, Majority, Sampled
from simcore.stages.synchroniser import Synchroniser
from tests.theory.sampling import by_hand, clock, edge_times, levels, passed, samples_of, seeds, tick_by_tick

MOST_BITS = 62


@st.composite
def rules(draw: st.DrawFn) -> Any:
    """One of the three filters, short ones more often."""
    size = draw(st.one_of(st.integers(1, 6), st.integers(1, MOST_BITS)))
    kind = draw(st.sampled_from([Agree, Integrate, Majority]))
    if kind is Majority:
        return Majority(size, draw(st.integers(size // 2 + 1, size)))
    return kind(size)


@settings(max_examples=400, deadline=None)
@given(rules(), st.integers(1, 30), levels, edge_times, seeds)
def test_skipping_filters_equal_those_that_take_every_sample(
    rule: Any, period: int, first: int, times: list[int], seed: int
) -> None:
    spec = Sampled(clock(period), rule)
    end = times[-1] + (MOST_BITS + 2) * period
    expected = tick_by_tick(by_hand(spec, first), samples_of(spec, seed), first, times, end)
    assert passed(spec, first, times, seed=seed) == expected


long_rules = st.one_of(
    st.builds(Agree, st.integers(1, 64)),
    st.builds(Integrate, st.integers(1, 5000)),
    st.integers(1, MOST_BITS).map(lambda size: Majority(size, size)),
)


@settings(max_examples=100, deadline=None)
@given(long_rules, st.integers(1, 10**7), levels, st.integers(0, 10**15), seeds)
def test_one_wake_up_serves_a_change_and_none_comes_at_rest(
    rule: Any, period: int, first: int, time: int, seed: int
) -> None:
    """However fast the clock and however long the rest."""
    for spec in (Sampled(clock(period), rule), Synchroniser(clock(period), 5, 0.0)):
        unit = stage_build(spec, seed, 0, 0)
        rest = stage_start(unit, first)
        assert stage_wake(unit, rest, NEVER) == NEVER
        changed = stage_edge(unit, rest, time, 1 - first)
        wake = stage_wake(unit, changed, NEVER)
        assert time <= wake < NEVER
        done = stage_expire(unit, changed, wake)
        assert stage_level(unit, done) == 1 - first
        assert stage_wake(unit, done, NEVER) == NEVER


@settings(max_examples=100, deadline=None)
@given(long_rules, st.integers(1, 10**7), levels, st.integers(0, 10**9), seeds)
def test_latency_of_a_lasting_change(rule: Any, period: int, first: int, time: int, seed: int) -> None:
    """Of the size N in [N - 1, N) periods, and at a sample."""
    spec = Sampled(clock(period), rule)
    (at,) = passed(spec, first, [time], seed=seed)
    assert (rule[0] - 1) * period <= at - time < rule[0] * period
    assert (at - samples_of(spec, seed).phase) % period == 0


@settings(max_examples=100, deadline=None)
@given(long_rules, st.integers(2, 10**6), levels, seeds, st.floats(0.0, 1.0))
def test_no_pulse_shorter_than_all_periods_but_one_passes(
    rule: Any, period: int, first: int, seed: int, share: float
) -> None:
    """Nor do any number of them, as long as a filter has time to forget each."""
    width = math.floor(share * (rule[0] - 1) * period)
    starts = [10**9 + k * (width + 2 * rule[0] * period) for k in range(3)]
    times = [time for start in starts for time in (start, start + width)]
    assert passed(Sampled(clock(period), rule), first, times, seed=seed) == []


@settings(max_examples=50, deadline=None)
@given(long_rules, st.integers(2, 10**6), levels, seeds, st.integers(0, 2**40))
def test_every_pulse_of_the_full_length_passes(
    rule: Any, period: int, first: int, seed: int, start: int
) -> None:
    width = rule[0] * period
    assert len(passed(Sampled(clock(period), rule), first, [start, start + width], seed=seed)) == 2


@pytest.mark.parametrize("rule", [Agree(1), Agree(3), Agree(8), Integrate(3), Majority(4, 4)])
@pytest.mark.parametrize("excess", [-0.5, 0.0, 0.125, 0.5, 0.9, 1.0, 1.7])
def test_a_pulse_passes_with_the_probability_of_one_more_sample(rule: Any, excess: float) -> None:
    """Of one pulse at every tick of a period, the exact share passes (a phase is a whole tick)."""
    period = 400
    spec = Sampled(clock(period), rule)
    width = max(round((rule[0] - 1 + excess) * period), 0)
    passing = sum(bool(passed(spec, 0, [start, start + width])) for start in range(1000, 1000 + period))
    assert passing / period == min(max(excess, 0.0), 1.0)


@settings(max_examples=100, deadline=None)
@given(st.integers(1, MOST_BITS), st.integers(1, 30), levels, edge_times, seeds)
def test_a_majority_of_all_is_agreement(
    size: int, period: int, first: int, times: list[int], seed: int
) -> None:
    everyone, agree = (Sampled(clock(period), rule) for rule in (Majority(size, size), Agree(size)))
    assert passed(everyone, first, times, seed=seed) == passed(agree, first, times, seed=seed)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 30), levels, edge_times, seeds)
def test_filters_of_one_sample_are_the_sampled_line(
    period: int, first: int, times: list[int], seed: int
) -> None:
    specs = [Sampled(clock(period), rule) for rule in (Majority(1, 1), Agree(1), Integrate(1))]
    found = [passed(spec, first, times, seed=seed) for spec in (*specs, Synchroniser(clock(period), 1, 0.0))]
    assert found == found[:1] * 4


@settings(max_examples=60, deadline=None)
@given(rules(), st.integers(1, 30), edge_times, seeds)
def test_filters_do_not_care_which_level_is_which(
    rule: Any, period: int, times: list[int], seed: int
) -> None:
    spec = Sampled(clock(period), rule)
    assert passed(spec, 0, times, seed=seed) == passed(spec, 1, times, seed=seed)


@settings(max_examples=60, deadline=None)
@given(st.integers(2, 50), st.integers(0, 49), st.integers(1, 30), seeds)
def test_an_integrator_remembers_where_agreement_forgets(
    top: int, stray: int, period: int, seed: int
) -> None:
    """One stray sample, as the line rises, costs an integrator two samples and agreement all it had."""
    stray = stray % (top - 1) + 1
    begin = samples_of(Sampled(clock(period), Agree(top)), seed).phase + 10 * period
    times = [begin, begin + stray * period, begin + (stray + 1) * period]
    (agreed,) = passed(Sampled(clock(period), Agree(top)), 0, times, seed=seed)
    (added,) = passed(Sampled(clock(period), Integrate(top)), 0, times, seed=seed)
    assert agreed == begin + (stray + top) * period
    assert added == begin + (top + 1) * period


@settings(max_examples=100, deadline=None)
@given(seeds, st.integers(0, 10**6), st.integers(0, 60), st.floats(0.0, 0.5))
def test_both_lines_of_a_stage_share_a_clock_unless_told_otherwise(
    seed: int, run: int, place: int, tolerance: float
) -> None:
    for kind in (lambda timing: Sampled(timing, Agree(2)), lambda timing: Synchroniser(timing, 2, 0.0)):
        shared, own = (kind(clock(10**9, shared=shared, tolerance=tolerance)) for shared in (1, 0))
        a, b, a_alone, b_alone = (
            samples_of(spec, seed, run, 2 * place + line) for spec in (shared, own) for line in (0, 1)
        )
        assert a == b == a_alone
        assert b_alone.phase != a.phase
        assert abs(a.period - 10**9) <= tolerance * 10**9 + 1
        assert 0 <= a.phase < a.period
        assert samples_of(shared, seed, run, 2 * place + 2).phase != a.phase
