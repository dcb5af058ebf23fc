"""Ratio estimates and the intervals made of them, against published examples and R's results."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from simcore.judging.tally import Cluster
from simcore.statistics.estimates import (
    count_interval,
    design_effect,
    misses,
    rate_interval,
    ratio_variance,
    share_interval,
)
from simcore.statistics.exact import (
    Interval,
    clopper_pearson,
    exact_high_count,
    mid_low_count,
    mid_p,
    tail_of,
)

levels = st.floats(0.5, 0.999)


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


def holds(interval: Interval) -> None:
    """The estimate lies within, and nothing is said with certainty but of nothing."""
    assert 0.0 <= interval.low <= interval.estimate <= interval.high <= 1.0
    assert interval.estimate > 0.0 or (interval.low == 0.0 < interval.high)
    assert interval.estimate < 1.0 or (interval.low < 1.0 == interval.high)


@settings(max_examples=300, deadline=None)
@given(tables, levels)
def test_rate_interval_is_sound(rows: list[tuple[int, int]], level: float) -> None:
    """It holds the estimate and is never narrower than that of independent steps."""
    x, y = [n for n, _ in rows], [k for _, k in rows]
    cluster = clusters(x, y)
    interval = rate_interval(cluster, level)
    holds(interval)
    assert design_effect(cluster).effect >= 1.0
    independent = mid_p(cluster.y, cluster.x, level)
    assert interval.low <= independent.low * (1.0 + 1e-9)
    assert interval.high >= independent.high * (1.0 - 1e-9)


@settings(max_examples=300, deadline=None)
@given(tables, levels, levels)
def test_a_higher_level_gives_a_wider_interval(rows: list[tuple[int, int]], one: float, other: float) -> None:
    cluster = clusters([n for n, _ in rows], [k for _, k in rows])
    narrow, wide = (rate_interval(cluster, level) for level in sorted((one, other)))
    assert wide.low <= narrow.low * (1.0 + 1e-9)
    assert wide.high >= narrow.high * (1.0 - 1e-9)


@settings(max_examples=300, deadline=None)
@given(tables)
def test_misses_are_the_rest(rows: list[tuple[int, int]]) -> None:
    """The interval of misses is that of hits, turned round."""
    x, y = [n for n, _ in rows], [k for _, k in rows]
    hits, rest = clusters(x, y), clusters(x, [n - k for n, k in rows])
    hits, rest = replace(hits, runs_short=rest.runs_with), replace(rest, runs_short=hits.runs_with)
    assert misses(hits) == rest
    one, other = rate_interval(hits), rate_interval(rest)
    if 2 * hits.y != hits.x:
        assert (one.low, one.high) == pytest.approx((1.0 - other.high, 1.0 - other.low), abs=1e-12)


@pytest.mark.parametrize("hits", [50, 100, 500, 2000])
def test_independent_steps_lose_next_to_nothing(hits: int) -> None:
    """Single hits of 5000 runs of 18 steps: not wider than the exact interval that would hold if it
    were known that steps are independent (Clopper and Pearson).
    """
    runs, steps = 5000, 18
    cluster = Cluster(runs, hits, runs * steps, runs * steps**2, hits, hits, steps * hits)
    ours, exact = rate_interval(cluster), clopper_pearson(hits, runs * steps)
    assert ours.high - ours.low <= exact.high - exact.low
    assert ours.high == pytest.approx(exact.high, rel=1e-3)


def test_few_hits_make_no_claim_of_independence() -> None:
    """The upper limit of one to ten single hits lies above the exact one for independent steps, by
    less and less, and never above that of no hits at all.
    """
    runs, steps = 5000, 18
    excess = []
    for hits in range(1, 11):
        cluster = Cluster(runs, hits, runs * steps, runs * steps**2, hits, hits, steps * hits)
        high = rate_interval(cluster).high
        assert high < rate_interval(replace(cluster, runs_with=0, y=0, yy=0, xy=0)).high
        excess.append(high / clopper_pearson(hits, runs * steps).high - 1.0)
    assert excess == sorted(excess, reverse=True)
    assert excess[0] > 4.0
    assert 0.0 < excess[-1] < 0.01


def test_unlike_runs_lift_the_upper_limit() -> None:
    """Twenty runs with 18 hits are as good as twenty single hits of 18 times fewer steps; as many
    hits with the same variance but in unlike runs give more above, and nothing less below.
    """
    runs, steps = 5000, 18
    like = Cluster(runs, 20, runs * steps, runs * steps**2, 360, 360 * 18, steps * 360)
    unlike = replace(like, runs_with=60)
    alike, different = rate_interval(like), rate_interval(unlike)
    whole = clopper_pearson(20, runs)
    assert alike.high == pytest.approx(whole.high, rel=1e-3)
    assert different.high > 1.05 * alike.high
    assert different.low == alike.low


@settings(max_examples=200, deadline=None)
@given(st.integers(1, 5000), levels)
def test_shares_of_runs(runs: int, level: float) -> None:
    """None of them and all of them leave the exact bound."""
    none, every = share_interval(0, runs, level), share_interval(runs, runs, level)
    bound = tail_of(level) ** (1.0 / runs)
    assert (none.low, none.high) == pytest.approx((0.0, 1.0 - bound), abs=1e-12)
    assert (every.low, every.high) == pytest.approx((bound, 1.0), abs=1e-12)


@settings(max_examples=200, deadline=None)
@given(st.integers(20, 5000), st.integers(1, 20000), levels)
def test_count_interval_of_plain_counts(total: int, runs: int, level: float) -> None:
    """Counts that vary no more than Poisson counts do: the limits of their sum (Garwood, Biometrika
    28 (1936) 437, and mid-P), and a little more for few runs.
    """
    interval = count_interval(total, (total * total) // runs, runs, level)
    tail = tail_of(level)
    assert interval.estimate == total / runs
    low, high = mid_low_count(total, tail) / runs, exact_high_count(total, tail) / runs
    if runs > 1000:
        assert (interval.low, interval.high) == pytest.approx((low, high), rel=1e-3)
    assert interval.low <= low * (1.0 + 1e-9)
    assert interval.high >= high * (1.0 - 1e-9)


def test_count_interval_widens_with_spread() -> None:
    """Counts four times as spread as Poisson counts: as if a quarter of them had been seen, and one
    count more above, (2 z^2 + 1) / 6 times 3/8, for 600 such runs (Hall 1992, by hand).
    """
    runs, total = 1000, 2000
    squared = round(4.0 * 2.0 * (runs - 1) + total * total / runs)
    interval = count_interval(total, squared, runs)
    low = mid_low_count(500.0, 0.025) * 4.0 / runs
    skew = (2.0 * 1.959964**2 + 1.0) / 6.0 * (3.0 / 5.0) / (8.0 / 5.0)
    high = 0.5 * float(stats.chi2.ppf(0.975, 2 * (500.0 + skew) + 2)) * 4.0 / runs
    assert interval.low == pytest.approx(low, rel=1e-3)
    assert interval.high == pytest.approx(high, rel=1e-3)


@pytest.mark.parametrize("alike", [1.0, 18.0])
def test_no_counts_at_all(alike: float) -> None:
    """Minus the logarithm of 0.025, 3.688879, over the runs, times what may come together."""
    interval = count_interval(0, 0, 5000, assumed_effect=alike)
    assert (interval.low, interval.estimate) == (0.0, 0.0)
    assert interval.high == pytest.approx(3.688879454 * alike / 5000, rel=1e-9)
