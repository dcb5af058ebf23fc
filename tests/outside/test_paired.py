"""Paired differences and McNemar's test against published tables, and the laws they must keep."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from simcore.statistics.paired import (
    Pair,
    correlation,
    difference_interval,
    mcnemar,
    mover,
    runs_to_settle,
)
from tests.outside.coverage import difference_variance

# Discordant pairs b and c, exact P, mid-P, tolerance, source.
TABLES = [
    # Armitage and Berry, Statistical Methods in Medical Research, 3rd ed. 1994, p. 127 (read).
    (12, 2, 0.0129395, None, 5e-8),
    # Bronchial hyperresponsiveness before and after treatment, and a second table: Fagerland, Lydersen
    # and Laake, BMC Med. Res. Methodol. 13 (2013) 91 (read).
    (6, 16, 0.052479, 0.034690, 5e-7),
    (1, 7, 0.0703125, 0.0390625, 1e-12),
    # From memory, recomputed.
    (12, 5, 0.143463, None, 5e-7),
]


@pytest.mark.parametrize(("b", "c", "exact", "middle", "tolerance"), TABLES)
def test_mcnemar(b: int, c: int, exact: float, middle: float | None, tolerance: float) -> None:
    found = mcnemar(b, c)
    assert found.exact == pytest.approx(exact, abs=tolerance)
    if middle is not None:
        assert found.mid_p == pytest.approx(middle, abs=tolerance)
    assert mcnemar(c, b)[:2] == pytest.approx(found[:2], abs=1e-12)


def test_ratio_of_discordant_pairs() -> None:
    """6, exact interval 1.335744 to 55.197091: Liddell, J. Epidemiol. Community Health 37 (1983) 82, for
    the table of Armitage and Berry (read).
    """
    found = mcnemar(12, 2)
    assert (found.ratio, found.low, found.high) == pytest.approx((6.0, 1.335744, 55.197091), abs=5e-7)
    assert math.isinf(mcnemar(3, 0).high)
    assert mcnemar(0, 3).low == 0.0


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 60), st.integers(0, 60))
def test_mcnemar_by_its_definition(b: int, c: int) -> None:
    """Exact: all outcomes that are not more probable.  Mid-P: half of those just as probable."""
    found = mcnemar(b, c)
    if b + c == 0:
        assert found[:2] == (1.0, 1.0)
        return
    chances = stats.binom.pmf(np.arange(b + c + 1), b + c, 0.5)
    equal = np.isclose(chances, chances[b], rtol=1e-9, atol=0.0)
    rarer = float(chances[(chances < chances[b]) & ~equal].sum())
    assert found.exact == pytest.approx(rarer + float(chances[equal].sum()), abs=1e-12)
    assert found.mid_p == pytest.approx(rarer + 0.5 * float(chances[equal].sum()), abs=1e-12)


def pair_of(rows: list[tuple[int, int, int]]) -> Pair:
    """Sums over runs of (steps, wrong in B only, wrong in A only)."""

    def total(one: int, other: int) -> int:
        return sum(row[one] * row[other] for row in rows)

    return Pair(
        runs=len(rows),
        x=sum(row[0] for row in rows), xx=total(0, 0),
        p=sum(row[1] for row in rows), pp=total(1, 1), xp=total(0, 1),
        m=sum(row[2] for row in rows), mm=total(2, 2), xm=total(0, 2), pm=total(1, 2),
        both_right=sum(not row[1] and not row[2] for row in rows),
        b_wrong=sum(row[1] > 0 == row[2] for row in rows),
        a_wrong=sum(row[2] > 0 == row[1] for row in rows),
        both_wrong=sum(row[1] > 0 and row[2] > 0 for row in rows),
    )  # fmt: skip


def test_simple_pairs() -> None:
    """[[59, 6], [16, 80]]: difference -0.0621, Wald interval -0.1184 to -0.0058 (Fagerland, Lydersen and
    Laake 2013, read).  One step per run; their variance divides by n where ours divides by n - 1.
    """
    pair = pair_of([(1, 1, 0)] * 6 + [(1, 0, 1)] * 16 + [(1, 0, 0)] * 139)
    half = 1.959964 * math.sqrt(difference_variance(pair) * 160 / 161)
    assert pair.difference == pytest.approx(-0.0621, abs=5e-5)
    wald = (pair.difference - half, pair.difference + half)
    assert wald == pytest.approx((-0.1184, -0.0058), abs=5e-5)
    ours = difference_interval(pair)
    assert (ours.low, ours.high) == pytest.approx(wald, abs=0.01)


def score(hits: int, of: int) -> tuple[float, float, float]:
    """Low, estimate and high of the score interval."""
    found = stats.binomtest(hits, of).proportion_ci(method="wilson")
    return found.low, hits / of, found.high


# Newcombe, Stat. Med. 17 (1998) 873, Table II, method 10 (data read, limits from memory, recomputed).
NEWCOMBE = [(56, 70, 48, 80, 0.0524, 0.3339), (9, 10, 3, 10, 0.1705, 0.8090)]


@pytest.mark.parametrize(("hits", "of", "others", "of_others", "low", "high"), NEWCOMBE)
def test_joining_two_intervals(
    hits: int, of: int, others: int, of_others: int, low: float, high: float
) -> None:
    found = mover(score(hits, of), score(others, of_others))
    assert found == pytest.approx((low, high), abs=5e-5)


rows = st.lists(
    st.integers(1, 20).flatmap(
        lambda n: st.tuples(st.just(n), st.integers(0, n)).flatmap(
            lambda pair: st.tuples(st.just(pair[0]), st.just(pair[1]), st.integers(0, pair[0] - pair[1]))
        )
    ),
    min_size=2,
    max_size=50,
)
levels = st.floats(0.5, 0.999)


@settings(max_examples=300, deadline=None)
@given(rows)
def test_moments_by_their_definition(some: list[tuple[int, int, int]]) -> None:
    """Residuals of the ratio estimator, run by run (Cochran 1977, 6.3), and numpy's correlation."""
    pair = pair_of(some)
    x, p, m = np.array(some, float).T
    more, fewer = p - pair.p / pair.x * x, m - pair.m / pair.x * x
    n = len(some)
    variance = n / (n - 1) * float(((more - fewer) ** 2).sum()) / pair.x**2
    assert difference_variance(pair) == pytest.approx(variance, rel=1e-9, abs=1e-15)
    if min(abs(more).max(), abs(fewer).max()) > 1e-9:
        # Residuals add up to zero, so that numpy takes nothing off.
        assert correlation(pair) == pytest.approx(float(np.corrcoef(more, fewer)[0, 1]), abs=1e-7)
    else:
        assert correlation(pair) == 0.0


@settings(max_examples=300, deadline=None)
@given(rows, levels, st.booleans())
def test_difference_is_sound(some: list[tuple[int, int, int]], level: float, counts: bool) -> None:
    """It holds its estimate, turns its sign with the order of the designs, and never claims that two
    designs are just the same.
    """
    if counts:
        some = [(1, p, m) for _, p, m in some]
    pair = pair_of(some)
    swapped = pair_of([(x, m, p) for x, p, m in some])
    found, turned = (difference_interval(each, level, counts=counts) for each in (pair, swapped))
    assert found.low <= found.estimate <= found.high
    assert found.low < found.high
    assert (turned.low, turned.high) == pytest.approx((-found.high, -found.low), abs=1e-12)
    assert turned.estimate == -found.estimate
    assert counts or (found.low >= -1.0 and found.high <= 1.0)


def test_no_step_at_all() -> None:
    nothing = Pair(0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
    assert math.isnan(difference_interval(nothing).estimate)
    assert runs_to_settle(nothing) is None


def test_no_discordant_step() -> None:
    """Alike throughout in 1000 runs: the mid-P bound of no run in 1000 either way, 1 - 0.05^(1/1000),
    which is also the one-sided bound of Jovanovic and Levy, Am. Stat. 51 (1997) 137 (read).
    """
    same = pair_of([(18, 0, 0)] * 1000)
    found = difference_interval(same)
    assert (found.low, found.high) == pytest.approx((-0.00299125, 0.00299125), abs=5e-9)
    assert runs_to_settle(same) is None


def test_one_kind_shows_what_the_other_may_be() -> None:
    """Where only A ever went wrong, in twenty single steps, B is better: those twenty tell how alike the
    steps of a run are.
    """
    pair = pair_of([(18, 0, 1)] * 20 + [(18, 0, 0)] * 980)
    found = difference_interval(pair)
    # What was not seen is bounded by 3.00 single steps, -ln(0.05); what was seen, from below, by 12.6
    # (mid-P limit of a Poisson count of 20, from scipy's sums); and the root of the sum of squares.
    limit = 12.56
    below = stats.poisson.sf(20, limit) + 0.5 * stats.poisson.pmf(20, limit)
    assert below == pytest.approx(0.025, abs=1e-4)
    assert found.high == pytest.approx((-20 + math.hypot(2.996, 20 - limit)) / 18000, rel=0.01)
    assert runs_to_settle(pair) == 1000


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 30), st.integers(0, 30), st.integers(1, 3), levels)
def test_runs_to_settle(p: int, m: int, size: int, level: float) -> None:
    """So many times as many runs of the same make just leave out zero, and a few less do not."""
    assume(p != m)
    some = [(6, size, 0)] * p + [(6, 0, size)] * m + [(6, 0, 0)] * 200
    pair = pair_of(some)
    runs = runs_to_settle(pair, level)
    assert runs is not None
    assert runs >= pair.runs
    times = math.ceil(runs / pair.runs)
    found = difference_interval(pair_of(some * times), level)
    assert found.low > 0.0 or found.high < 0.0
    if times > 2:
        less = difference_interval(pair_of(some * (times - 2)), level)
        assert less.low <= 0.0 <= less.high
