"""Stopping rules: looks at whole blocks, what ends a campaign, estimates without the bias of an ending."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import comb

from simcore.campaigns.campaign import run_campaign, runs_per_block
from simcore.statistics.estimates import rate_interval
from simcore.statistics.exact import Interval
from simcore.statistics.stopping import (
    ALL_RUNS,
    BETTER,
    ENOUGH_ERRORS,
    PRECISE,
    TIME_UP,
    WORSE,
    Blocks,
    BlockTotals,
    Stop,
    Target,
    analysis_level,
    interim_analyses,
    precise,
)
from tests.simcore.builders import design, filtered

NOISY = filtered(22.0)


def part(runs: int, steps: int, wrong: int) -> BlockTotals:
    """A block in which all wrong steps are of one group, of one quantity."""
    return BlockTotals(runs, (wrong,), np.array([steps]), np.array([[wrong]]))


def without_last(parts: list[BlockTotals], size: int, errors: int) -> float | None:
    """The rate of that one group."""
    blocks = Blocks(size)
    for each in parts:
        blocks.add(each)
    found = blocks.without_last(errors)
    return None if found is None else float(found[0, 0])


def inverse_binomial(errors: int, p: float, most: int) -> list[tuple[int, float]]:
    """(trials, chance) of reaching so many errors: the negative binomial law."""
    return [
        (n, comb(n - 1, errors - 1, exact=True) * p**errors * (1 - p) ** (n - errors))
        for n in range(errors, most)
    ]


@pytest.mark.parametrize(
    ("errors", "p", "plain"), [(2, 0.1, 0.165368), (5, 0.1, 0.121175), (10, 0.01, 0.01109726)]
)
def test_blocks_of_one_trial_give_haldane_s_estimate(errors: int, p: float, plain: float) -> None:
    """Haldane, Biometrika 33 (1945) 222: (m - 1) / (N - 1) has no bias, m / N has the bias shown."""
    law = inverse_binomial(errors, p, 12_000)
    assert sum(chance * errors / n for n, chance in law) == pytest.approx(plain, abs=1e-6)
    for n, _ in law[:50]:
        if n > 1:
            parts = [part(1, 1, 0)] * (n - errors) + [part(1, 1, 1)] * errors
            found = without_last(parts, 1, errors)
            assert found == pytest.approx((errors - 1) / (n - 1))
    assert sum(chance * (errors - 1) / (n - 1) for n, chance in law) == pytest.approx(p, rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.integers(1, 9), min_size=2, max_size=4),
    st.integers(1, 8),
    st.integers(2, 6),
)
def test_no_bias_whatever_the_law_of_a_block(weights: list[int], errors: int, most: int) -> None:
    """All sequences of up to ``most`` blocks of 10 steps, each holding 0, 1, 2 ... wrong steps with the
    given weights, enumerated: the expected estimate is the expected rate, to rounding.
    """
    chances = [weight / sum(weights) for weight in weights]
    rate = sum(wrong * chance for wrong, chance in enumerate(chances)) / 10

    def expected(parts: list[BlockTotals], chance: float) -> float:
        wrong = sum(each.wrong[0] for each in parts)
        if parts and (wrong >= errors or len(parts) == most):
            found = without_last(parts, 4, errors)
            return chance * (wrong / (10 * len(parts)) if found is None else found)
        return sum(
            expected([*parts, part(4, 10, wrong)], chance * each) for wrong, each in enumerate(chances)
        )

    assert expected([], 1.0) == pytest.approx(rate, rel=1e-9)


def test_looks_double_and_end_with_all_runs() -> None:
    assert interim_analyses(100, 1000) == [100, 200, 400, 800, 1000]
    assert interim_analyses(100, 100) == [100]
    assert interim_analyses(100, 30) == [30]


def test_the_looks_share_the_chance_of_a_false_decision() -> None:
    target = Target(1e-3, 0.95)
    assert analysis_level(target, 1) == pytest.approx(0.90)
    assert 1 - analysis_level(target, 5) == pytest.approx(2 * 0.05 / 5)


def test_precision_needs_ten_errors_and_both_sides() -> None:
    interval = Interval(0.9, 1.0, 1.2, 0.95, "")
    assert precise(interval, 10, 0.2001)
    assert not precise(interval, 10, 0.19)
    assert not precise(interval, 9, 0.3)
    assert not precise(replace(interval, estimate=math.nan), 10, 0.3)


def ended(stop: Stop, **options: object) -> tuple[str, int, int]:
    outcome = run_campaign(design(NOISY), seed=5, runs=0, stop=stop, **options)  # type: ignore[arg-type]
    return outcome.ended_by, outcome.tally.runs, outcome.tally.wrong


def test_each_rule_ends_a_campaign_at_the_end_of_a_block() -> None:
    size = runs_per_block(design(NOISY))
    most = 8 * size
    assert ended(Stop(most)) == (ALL_RUNS, most, ended(Stop(most))[2])
    why, runs, wrong = ended(Stop(most, errors=30))
    assert (why, runs % size) == (ENOUGH_ERRORS, 0)
    assert wrong >= 30
    assert runs < most
    before = run_campaign(design(NOISY), seed=5, runs=runs - size).tally.wrong if runs > size else 0
    assert before < 30
    assert ended(Stop(most, precision=0.5))[0] == PRECISE
    assert ended(Stop(most, seconds=0.0))[:2] == (TIME_UP, size)
    assert ended(Stop(most, target=Target(0.9)))[:2] == (BETTER, size)
    assert ended(Stop(most, target=Target(1e-6)))[0] == WORSE


@settings(max_examples=12, deadline=None)
@given(st.integers(1, 3), st.integers(1, 400), st.integers(1, 200))
def test_what_ends_a_campaign_depends_on_neither_threads_nor_blocks(
    threads: int, block: int, errors: int
) -> None:
    stop = Stop(5 * runs_per_block(design(NOISY)) + 7, errors=errors)
    assert ended(stop, threads=threads, block=block) == ended(stop)


def test_an_estimate_ended_by_errors_has_no_bias_in_the_simulator() -> None:
    """Campaigns of other runs of one design, about one wrong step a block, each ended by its third: the
    mean estimate lies within four standard errors of the rate in as many other runs (false alarm 1 in
    16,000).
    """
    made = design(filtered(150.0))
    size = runs_per_block(made)

    def estimate(number: int) -> float:
        stop = Stop(50 * size, errors=3)
        out = run_campaign(made, seed=9, runs=0, first_run=50 * size * number, stop=stop)
        return out.tally.wrong / out.tally.steps if out.rate is None else out.rate

    rates = np.array([estimate(number) for number in range(60)])
    whole = run_campaign(made, seed=10, runs=150 * size).tally
    interval = rate_interval(whole.cluster("wrong"))
    spread = math.hypot(rates.std(ddof=1) / math.sqrt(rates.size), (interval.high - interval.low) / 3.92)
    assert abs(rates.mean() - interval.estimate) < 4 * spread
