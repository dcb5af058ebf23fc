"""Intervals and ratio estimates against published examples, R's results and scipy."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from simcore.estimates import (
    clopper_pearson,
    count_interval,
    effective_steps,
    rate_interval,
    ratio_variance,
    share_interval,
    wilson,
)
from simcore.tally import Cluster

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

SCORE = [
    # NIST 7.2.4.1, draft of the revised page (formula read).
    (4, 20, 0.90, 0.0931180, 0.3783767, 1e-6),
    # Newcombe 1998, Table I (data read, limits from memory, recomputed).
    (81, 263, 0.95, 0.2553, 0.3662, 5e-5),
    (15, 148, 0.95, 0.0624, 0.1605, 5e-5),
    (0, 20, 0.95, 0.0, 0.1611, 5e-5),
    (1, 29, 0.95, 0.0061, 0.1718, 5e-5),
    # Fagerland, Lydersen and Laake (2017), ch. 2 (read).
    (13, 16, 0.95, 0.5699, 0.9341, 5e-5),
]


@pytest.mark.parametrize(("hits", "trials", "level", "low", "high", "tolerance"), EXACT)
def test_clopper_pearson(
    hits: int, trials: int, level: float, low: float, high: float, tolerance: float
) -> None:
    interval = clopper_pearson(hits, trials, level)
    assert (interval.low, interval.high) == pytest.approx((low, high), abs=tolerance)
    assert interval.estimate == hits / trials
    assert interval.level == level
    assert share_interval(hits, trials, level) == interval


@pytest.mark.parametrize(("hits", "trials", "level", "low", "high", "tolerance"), SCORE)
def test_wilson(hits: int, trials: int, level: float, low: float, high: float, tolerance: float) -> None:
    interval = wilson(hits, trials, level)
    assert (interval.low, interval.high) == pytest.approx((low, high), abs=tolerance)


pairs = st.integers(1, 3000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
levels = st.floats(0.5, 0.999)


@settings(max_examples=300, deadline=None)
@given(pairs, levels)
def test_against_scipy(pair: tuple[int, int], level: float) -> None:
    test = stats.binomtest(*pair)
    exact, score = test.proportion_ci(level, method="exact"), test.proportion_ci(level, method="wilson")
    for ours, theirs in ((clopper_pearson, exact), (wilson, score)):
        interval = ours(*pair, level)
        assert interval.low == pytest.approx(theirs.low, abs=1e-9)
        assert interval.high == pytest.approx(theirs.high, abs=1e-9)


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


@pytest.mark.parametrize("runs", [10, 30, 100, 1000])
def test_zero_events_two_sided(runs: int) -> None:
    """1 - 0.025^(1/n), 0.00368208 for n = 1000; without any hit a run counts as one."""
    cluster = Cluster(runs, 0, 20 * runs, 400 * runs, 0, 0, 0)
    interval = rate_interval(cluster)
    assert interval.low == interval.estimate == 0.0
    assert interval.high == pytest.approx(1.0 - 0.025 ** (1.0 / runs), rel=1e-10)
    if runs == 1000:
        assert interval.high == pytest.approx(0.00368208, abs=5e-9)


# Fifteen school districts of 757, drawn by R's survey package from its California data: schools,
# and the totals of the academic index, of pupils enrolled and of pupils tested (read).
DISTRICTS = [
    (13, 9372, 6777, 6047), (34, 22508, 15038, 12618), (4, 2077, 1668, 1461),
    (13, 8593, 6958, 5935), (16, 11369, 9025, 7573), (2, 1116, 683, 610), (1, 551, 274, 199),
    (4, 1888, 1436, 1184), (12, 9111, 7375, 6431), (21, 13761, 14968, 12292),
    (9, 6386, 2180, 1877), (11, 7359, 6081, 4895), (37, 20394, 25814, 22452),
    (2, 905, 680, 532), (4, 2493, 1641, 1373),
]  # fmt: skip
ALL_DISTRICTS = 757


def clusters(x: list[int], y: list[int]) -> Cluster:
    """Sums over clusters of y on x."""
    rows = list(zip(x, y, strict=True))
    return Cluster(
        len(rows), sum(v > 0 for v in y), sum(x), sum(u * u for u in x),
        sum(y), sum(v * v for v in y), sum(u * v for u, v in rows),
    )  # fmt: skip


def column(number: int) -> list[int]:
    """One column of the districts."""
    return [row[number] for row in DISTRICTS]


def test_mean_index_of_the_districts() -> None:
    """644.1694, standard error 23.77901, or 23.54224 for a sample of a finite population (R survey,
    printed as 644.17 and 23.542).  Cochran, Sampling Techniques, 3rd ed. 1977, 2.11 and 6.3.
    """
    schools = clusters(column(0), column(1))
    assert schools.y / schools.x == pytest.approx(644.1694, abs=5e-5)
    variance = ratio_variance(schools)
    assert math.sqrt(variance) == pytest.approx(23.77901, abs=5e-6)
    finite = variance * (1.0 - len(DISTRICTS) / ALL_DISTRICTS)
    assert math.sqrt(finite) == pytest.approx(23.54224, abs=5e-6)


def test_share_tested_in_the_districts() -> None:
    """0.8497087, standard error 0.008386297 for a sample of a finite population (R survey vignette)."""
    pupils = clusters(column(2), column(3))
    assert pupils.y / pupils.x == pytest.approx(0.8497087, abs=5e-8)
    finite = ratio_variance(pupils) * (1.0 - len(DISTRICTS) / ALL_DISTRICTS)
    assert math.sqrt(finite) == pytest.approx(0.008386297, abs=5e-10)


tables = st.lists(
    st.integers(1, 40).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n))), min_size=2, max_size=60
)


@settings(max_examples=300, deadline=None)
@given(tables)
def test_ratio_variance_by_its_definition(rows: list[tuple[int, int]]) -> None:
    """n/(n-1) sum (y_i - R x_i)^2 / (sum x)^2, straight off the page of Cochran (1977)."""
    x, y = [n for n, _ in rows], [k for _, k in rows]
    cluster = clusters(x, y)
    ratio = sum(y) / sum(x)
    squares = math.fsum((k - ratio * n) ** 2 for n, k in rows)
    expected = len(rows) / (len(rows) - 1) * squares / sum(x) ** 2
    assert ratio_variance(cluster) == pytest.approx(expected, rel=1e-9, abs=1e-18)


@settings(max_examples=300, deadline=None)
@given(tables, levels)
def test_rate_interval_is_sound(rows: list[tuple[int, int]], level: float) -> None:
    """It holds the estimate and is never narrower than that of independent steps."""
    cluster = clusters([n for n, _ in rows], [k for _, k in rows])
    interval = rate_interval(cluster, level)
    assert 0.0 <= interval.low <= interval.estimate <= interval.high <= 1.0
    assert effective_steps(cluster, level) <= cluster.x + 1e-9
    independent = clopper_pearson(cluster.y, cluster.x, level)
    assert interval.high - interval.low >= (independent.high - independent.low) * (1.0 - 1e-9)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 5000), st.integers(1, 2000), levels)
def test_count_interval_is_garwood(total: int, runs: int, level: float) -> None:
    """Garwood, Biometrika 28 (1936) 437, in its chi-square form: half the quantiles with 2k and
    2k + 2 degrees of freedom; here with counts that vary no more than Poisson counts do.
    """
    interval = count_interval(total, (total * total) // runs, runs, level)
    tail = 0.5 * (1.0 - level)
    low = 0.5 * float(stats.chi2.ppf(tail, 2 * total)) if total else 0.0
    high = 0.5 * float(stats.chi2.ppf(1.0 - tail, 2 * total + 2))
    assert interval.low * runs == pytest.approx(low, rel=1e-9)
    assert interval.high * runs == pytest.approx(high, rel=1e-9)
    assert interval.estimate == total / runs


def test_count_interval_widens_with_spread() -> None:
    """Counts four times as spread as Poisson counts: as if a quarter of them had been seen."""
    runs, total = 1000, 2000
    squared = round(8.0 * (runs - 1) + total * total / runs)
    interval = count_interval(total, squared, runs)
    low = 0.5 * float(stats.chi2.ppf(0.025, 2 * total / 4.0)) * 4.0 / runs
    high = 0.5 * float(stats.chi2.ppf(0.975, 2 * total / 4.0 + 2)) * 4.0 / runs
    assert (interval.low, interval.high) == pytest.approx((low, high), rel=1e-4)
