"""Binomial and Poisson limits against published examples, R's results and scipy."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from simcore.statistics.exact import (
    Interval,
    binomial_interval,
    clopper_pearson,
    exact_high_count,
    mid_low_count,
    mid_p,
    tail_of,
)

# Exact intervals: hits, trials, level, low, high, tolerance, source.
EXACT = [
    # NIST/SEMATECH e-Handbook 7.2.4.1: four defective of twenty, 90 % (data read, printed result
    # from memory, recomputed).
    (4, 20, 0.90, 0.0713539, 0.4010281, 2e-6),
    # Newcombe, Stat. Med. 17 (1998) 857, Table I (data read, limits from memory, recomputed).
    (81, 263, 0.95, 0.2527, 0.3676, 5e-5),
    (15, 148, 0.95, 0.0578, 0.1617, 5e-5),
    (0, 20, 0.95, 0.0, 0.1684, 5e-5),
    (1, 29, 0.95, 0.0009, 0.1776, 5e-5),
    # Fagerland, Lydersen and Laake, Statistical Analysis of Contingency Tables (2017), ch. 2, as
    # asserted in the book's R package (read).
    (13, 16, 0.95, 0.5435, 0.9595, 5e-5),
    # Example of an R package's exact interval (read).
    (12, 100, 0.95, 0.0635689, 0.2002357, 1e-6),
    # SciPy's documentation of binomtest (read).
    (7, 50, 0.95, 0.05819170, 0.26739600, 1e-8),
]

MID_P = [
    # Newcombe, Stat. Med. 17 (1998) 857, Table I (data read, limits from memory, recomputed).
    (81, 263, 0.95, 0.2544, 0.3658, 5e-5),
    (15, 148, 0.95, 0.0601, 0.1581, 5e-5),
    (0, 20, 0.95, 0.0, 0.1391, 5e-5),
    (1, 29, 0.95, 0.0017, 0.1585, 5e-5),
]


@pytest.mark.parametrize(("hits", "trials", "level", "low", "high", "tolerance"), EXACT)
def test_clopper_pearson(
    hits: int, trials: int, level: float, low: float, high: float, tolerance: float
) -> None:
    interval = clopper_pearson(hits, trials, level)
    assert (interval.low, interval.high) == pytest.approx((low, high), abs=tolerance)
    assert interval.estimate == hits / trials
    assert interval.level == level


@pytest.mark.parametrize(("hits", "trials", "level", "low", "high", "tolerance"), MID_P)
def test_mid_p(hits: int, trials: int, level: float, low: float, high: float, tolerance: float) -> None:
    interval = mid_p(hits, trials, level)
    assert (interval.low, interval.high) == pytest.approx((low, high), abs=tolerance)


pairs = st.integers(1, 3000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
levels = st.floats(0.5, 0.999)


@settings(max_examples=300, deadline=None)
@given(pairs, levels)
def test_against_scipy(pair: tuple[int, int], level: float) -> None:
    test = stats.binomtest(*pair)
    theirs, ours = test.proportion_ci(level, method="exact"), clopper_pearson(*pair, level)
    assert ours.low == pytest.approx(theirs.low, abs=1e-9)
    assert ours.high == pytest.approx(theirs.high, abs=1e-9)


@settings(max_examples=200, deadline=None)
@given(pairs, levels)
def test_defining_property_of_the_exact_interval(pair: tuple[int, int], level: float) -> None:
    """At each limit, data as far out or further have just half of what the level leaves."""
    hits, trials = pair
    interval = clopper_pearson(hits, trials, level)
    tail = 0.5 * (1.0 - level)
    if hits > 0:
        assert stats.binom.sf(hits - 1, trials, interval.low) == pytest.approx(tail, rel=1e-6)
    if hits < trials:
        assert stats.binom.cdf(hits, trials, interval.high) == pytest.approx(tail, rel=1e-6)


@settings(max_examples=200, deadline=None)
@given(pairs, levels)
def test_defining_property_of_the_mid_p_interval(pair: tuple[int, int], level: float) -> None:
    """At each limit, data further out and half of the data at hand have what the level leaves on a
    side (Lancaster, J. Am. Stat. Assoc. 56 (1961) 223).
    """
    hits, trials = pair
    interval = mid_p(hits, trials, level)
    law, tail = stats.binom, tail_of(level)
    if hits > 0:
        below = law.sf(hits, trials, interval.low) + 0.5 * law.pmf(hits, trials, interval.low)
        assert below == pytest.approx(tail, rel=1e-6)
    if hits < trials:
        above = law.cdf(hits - 1, trials, interval.high) + 0.5 * law.pmf(hits, trials, interval.high)
        assert above == pytest.approx(tail, rel=1e-6)


@settings(max_examples=200, deadline=None)
@given(pairs, levels)
def test_limits_of_the_rarer_outcome(pair: tuple[int, int], level: float) -> None:
    """Mid-P towards none of it, exact towards many, and the same for hits and misses exchanged."""
    hits, trials = pair
    found, other = binomial_interval(hits, trials, level), binomial_interval(trials - hits, trials, level)
    exact, middle = clopper_pearson(hits, trials, level), mid_p(hits, trials, level)
    assert found.low <= found.estimate <= found.high
    if 2 * hits == trials:
        return
    chosen = (middle.low, exact.high) if 2 * hits < trials else (exact.low, middle.high)
    assert (found.low, found.high) == pytest.approx(chosen, abs=1e-12)
    assert (1.0 - other.high, 1.0 - other.low) == pytest.approx(chosen, abs=1e-12)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 5000), levels)
def test_limits_of_counts(count: int, level: float) -> None:
    """Above, Garwood, Biometrika 28 (1936) 437, in its chi-square form: half a quantile with 2k + 2
    degrees of freedom.  Below, more counts and half of just so many have what is left on a side.
    """
    tail = tail_of(level)
    high = 0.5 * float(stats.chi2.ppf(1.0 - tail, 2 * count + 2))
    assert exact_high_count(count, tail) == pytest.approx(high, rel=1e-9)
    low = mid_low_count(count, tail)
    if count == 0:
        assert low == 0.0
        return
    assert stats.poisson.sf(count, low) + 0.5 * stats.poisson.pmf(count, low) == pytest.approx(tail, rel=1e-6)


@pytest.mark.parametrize("make", [clopper_pearson, mid_p, binomial_interval])
def test_what_cannot_be(make: Callable[[float, float, float], Interval]) -> None:
    for hits, trials in ((-1, 5), (6, 5)):
        with pytest.raises(ValueError, match=f"{hits} hits in {trials} trials"):
            make(hits, trials, 0.95)
    assert math.isnan(make(0, 0, 0.95).high)


# Nothing in n: 95 % one-sided, 1 - 0.05^(1/n).  Hanley and Lippman-Hand, JAMA 249 (1983) 1743;
# Jovanovic and Levy, Am. Stat. 51 (1997) 137 (read, recomputed).
NOTHING = [
    (10, 0.258866), (30, 0.095034), (59, 0.0495076), (100, 0.0295130), (300, 0.00993608),
    (1000, 0.00299125),
]  # fmt: skip


@pytest.mark.parametrize(("trials", "bound"), NOTHING)
def test_zero_events_one_sided(trials: int, bound: float) -> None:
    """A two-sided 90 % interval has 5 % above it.  Three over n lies above every bound."""
    upper = clopper_pearson(0, trials, 0.90).high
    assert upper == pytest.approx(bound, rel=5e-6)
    assert upper == pytest.approx(1.0 - 0.05 ** (1.0 / trials), rel=1e-10)
    assert upper < 3.0 / trials
