"""Synchronisers: they delay, and they neither lose nor add.

Let T be the period of the clock.  A lasting change reaches the last of n flip-flops n - 1 periods
after the sample that saw it first, hence [n - 1, n) periods after itself; if that sample was
caught by the change and settled at the old level, one period later.

Theorem.  Let each contact change once per boundary, let the decoder fit, and for every run let

1. each level of each contact last longer than the longest such delay, and than T;
2. neighbouring transitions of A and B, and the levels, outlast the most by which two delays can differ
   (T, or 2 T with a window) plus the counter's longest limit.

Then no step is wrong, none flickers, and each edge comes later by the delay above.

Proof.  As in test_clean_contacts.py: by 1 each transition sends exactly one edge, and it is out before
the line changes again, so it bears its own transition; by 2 the edges keep their order and their
distances exceed the limits.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, cast

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.design import Design, StageEntry
from simcore.judging.sums import RIGHT
from simcore.stages.base import stage_build
from simcore.stages.clock import Clock
from simcore.stages.synchroniser import Synchroniser, SynchroniserUnit, coin
from tests.theory import designs as make
from tests.theory.looking import Run, look
from tests.theory.sampling import (
    PICO,
    by_hand,
    clock,
    edge_times,
    levels,
    passed,
    samples_of,
    seeds,
    tick_by_tick,
)
from tests.theory.test_clean_contacts import closest, limit_of, shortest_levels

MOST_FLOPS = 62
RUNS = 4
WATCHED_SECONDS = 0.09


@settings(max_examples=300, deadline=None)
@given(
    st.integers(1, MOST_FLOPS), st.integers(1, 30), st.one_of(st.just(0), st.integers(0, 29)), levels,
    edge_times, seeds,
)  # fmt: skip
def test_a_skipping_synchroniser_equals_one_that_takes_every_sample(
    flops: int, period: int, window: int, first: int, times: list[int], seed: int
) -> None:
    window = min(window, period - 1)
    spec = Synchroniser(clock(period), flops, window * PICO)
    unit = cast(SynchroniserUnit, stage_build(spec, seed, 0, 0))
    end = times[-1] + (MOST_FLOPS + 2) * period
    expected = tick_by_tick(
        by_hand(spec, first), unit.samples, first, times, end, window, lambda tick: coin(unit, tick)
    )
    assert passed(spec, first, times, seed=seed) == expected


@settings(max_examples=100, deadline=None)
@given(st.integers(1, MOST_FLOPS), st.integers(1, 10**7), levels, st.integers(0, 10**9), seeds)
def test_latency_of_a_lasting_change(flops: int, period: int, first: int, time: int, seed: int) -> None:
    spec = Synchroniser(clock(period), flops, 0.0)
    (at,) = passed(spec, first, [time], seed=seed)
    assert (flops - 1) * period <= at - time < flops * period
    assert (at - samples_of(spec, seed).phase) % period == 0


@settings(max_examples=100, deadline=None)
@given(st.integers(2, MOST_FLOPS), st.integers(1, 30), levels, edge_times, seeds)
def test_each_further_flip_flop_is_a_period_of_delay(
    flops: int, period: int, first: int, times: list[int], seed: int
) -> None:
    """Nothing is lost or added behind the first one, whatever it sampled."""
    one, many = (passed(Synchroniser(clock(period), n, 0.0), first, times, seed=seed) for n in (1, flops))
    assert many == [time + (flops - 1) * period for time in one]


@pytest.mark.parametrize(
    ("distance", "caught"), [(0, True), (1, True), (399, True), (400, False), (999, False)]
)
def test_a_caught_sample_settles_either_way_and_never_stays_wrong(distance: int, caught: bool) -> None:
    """A change so many ticks before a sample comes out with it or with the next one: half and half
    within the window (4 standard errors), always with it outside.
    """
    period, window, changes = 1000, 400, 4000
    spec = Synchroniser(clock(period), 1, window * PICO)
    at = [samples_of(spec).phase + 5 * number * period for number in range(1, changes + 1)]
    late = [
        out - sample
        for out, sample in zip(passed(spec, 0, [time - distance for time in at]), at, strict=True)
    ]
    assert set(late) == ({0, period} if caught else {0})
    if caught:
        assert abs(late.count(0) - changes / 2) < 4 * math.sqrt(changes / 4)


@st.composite
def synchronised(draw: st.DrawFn) -> tuple[Synchroniser, float]:
    """A synchroniser whose period is yet to be found, with its window as a share of it."""
    tolerance, shared = draw(st.sampled_from([0.0, 0.05])), draw(st.integers(0, 1))
    share = draw(st.sampled_from([0.0, 0.0, 0.1, 0.8]))
    flops = draw(st.integers(1, 5))
    return Synchroniser(Clock(Part(1.0, tolerance), shared), flops, 0.0), share


def longest_period(design: Design, seed: int, flops: int, caught: int) -> float:
    """Seconds at which the first condition of the theorem fails; ``caught`` 1 with a window."""
    limit = limit_of(design.counter)
    found = WATCHED_SECONDS / (flops + caught)
    for run in look(replace(design, stages=()), seed, RUNS):
        shortest = min(min(shortest_levels(run, line)) for line in (0, 1))
        room = (min(shortest, closest(run)) - limit) / (1 + caught)
        found = min(found, PICO * room, PICO * shortest / (flops + caught))
    return found


def delayed(run: Run, line: int, low: float, high: float) -> bool:
    """Whether the counter sees each change of a contact once, in order, so many ticks later."""
    pairs = zip(run.contact[line], run.seen[line], strict=True)
    return all(
        before.transition == after.transition and low <= after.time - before.time < high
        for before, after in pairs
    )


@settings(max_examples=40, deadline=None)
@given(make.designs(), make.seeds, synchronised(), st.one_of(st.floats(0.9, 0.999), st.floats(0.01, 0.9)))
def test_a_synchroniser_adds_delay_and_no_count(
    design: Design, seed: int, wanted: tuple[Synchroniser, float], share: float
) -> None:
    spec, window = wanted
    caught = int(window > 0.0)
    bare: Any = replace(design, contact=make.CLEAN, sliding=make.NO_SLIDING, stages=())
    longest = longest_period(bare, seed, spec.flops, caught)
    assume(longest > 1e-9)
    tolerance = spec.clock.period.tolerance
    period = share * longest / (1.0 + tolerance)
    fitted = spec._replace(
        clock=Clock(Part(period, tolerance), spec.clock.shared), window=window * period * (1.0 - tolerance)
    )
    least = (spec.flops - 1) * period * (1.0 - tolerance) / PICO - spec.flops
    most = (spec.flops + caught) * period * (1.0 + tolerance) / PICO + spec.flops + 1
    for run in look(replace(bare, stages=(StageEntry("flops", fitted),)), seed, RUNS):
        assert set(run.verdicts) == {RIGHT}
        assert delayed(run, 0, least, most)
        assert delayed(run, 1, least, most)
