"""How often intervals hold the truth: the counting, the table, and what is demanded of it.

A cell is one kind of interval on one kind of data, at one rate and number of runs.  It is demanded
that each holds the truth in 94 to 96.5 of 100 campaigns where ten runs or more with a hit are
expected, and in 94 or more elsewhere: there whole numbers and the bound for no hit at all decide.
"""

from __future__ import annotations

import itertools
import math
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import NamedTuple

import numpy as np
from scipy import stats
from scipy.optimize import brentq

from simcore.judging.tally import Cluster
from simcore.statistics.estimates import count_interval, misses, rate_interval, ratio_variance, share_interval
from simcore.statistics.exact import Interval, clopper_pearson
from simcore.statistics.paired import Pair, difference_interval
from tests.outside.clustered import (
    COUNT_LAWS,
    LAWS,
    PAIR_LAWS,
    STEPS,
    Rows,
    campaigns,
    counts_of,
    paired_campaigns,
)

RATES = (1e-1, 1e-2, 1e-3, 1e-4)
"""Wrong steps, spurious counts or discordant steps, per step."""
RUNS = (500, 5_000, 50_000)
LOW, HIGH = 94.0, 96.5
FIRST, SECOND = 2_000, 10_000
"""Campaigns of a first look at a cell, and of a second one."""
DOUBT = 0.5
"""How near to a limit of what is demanded a second look is taken."""
FEW = (1, 3, 5, 7, 10, 14, 20, 28)
"""Expected runs with a hit, for a closer look at few of them."""
ENOUGH = 10.0
"""Expected runs with a hit from which the upper bound of coverage is demanded as well."""

Row = list[int]
Make = Callable[[Row], Interval]
"""An interval from a row of sums."""


class Case(NamedTuple):
    """Campaigns, the truth, how many runs with a hit each may expect, and the two methods."""

    rows: Rows
    truth: float
    expected: float
    ours: Make
    plain: Make


class Cell(NamedTuple):
    """What was covered in 100 campaigns, in how many the truth lay below or above the interval, and
    what the plain method, without allowances, would have covered.
    """

    kind: str
    data: str
    rate: float
    runs: int
    expected: float
    times: int
    plain: float
    covered: float
    below: float
    above: float

    def good(self, slack: float = 0.0, high: float = HIGH) -> bool:
        """Whether it covers from 94 to ``high`` of 100, give or take ``slack``."""
        most = high if self.expected >= ENOUGH else 100.0
        return LOW - slack <= self.covered <= most + slack

    def line(self) -> str:
        """A line of the table."""
        times = f"{self.times:>6}" if self.times else " exact"
        return (
            f"{self.kind:<13} {self.data:<23} {self.rate:<9.3g} {self.runs:>6} {self.expected:>10.1f} "
            f"{times} {self.plain:>6.1f} {self.covered:>6.1f} {self.below:>6.1f} {self.above:>6.1f}"
        )


HEADING = (
    f"{'interval of':<13} {'data':<23} {'rate':<9} {'runs':>6} {'wrong runs':>10} {'times':>6} "
    f"{'plain':>6} {'covers':>6} {'below':>6} {'above':>6}"
)


def outside(rows: Rows, truth: float, make: Make) -> tuple[float, float]:
    """In how many of 100 campaigns the truth lies below the interval, and above it."""
    below = above = 0.0
    for row, times in zip(rows.sums.tolist(), rows.times.tolist(), strict=True):
        interval = make(row)
        below += times * (truth < interval.low)
        above += times * (truth > interval.high)
    share = 100.0 / float(rows.times.sum())
    return below * share, above * share


def seed_of(*parts: object) -> int:
    """A seed for each cell, the same in every process."""
    return zlib.crc32(repr(parts).encode())


def on_effective_steps(cluster: Cluster) -> Interval:
    """Exact interval on effective steps, on runs where nothing or everything was hit; no allowance."""
    p, trials = cluster.y / cluster.x, float(cluster.runs)
    if 0 < cluster.y < cluster.x:
        trials = min(float(cluster.x), p * (1.0 - p) / ratio_variance(cluster))
    return clopper_pearson(trials * p, trials)


def wrong_steps(data: str, rate: float, runs: int, times: int) -> Case:
    """The rate of wrong steps."""
    law = LAWS[data](rate)
    rows = campaigns(law, runs, times, seed_of("wrong", data, rate, runs, times))
    return Case(
        rows, law.rate, runs * law.wrong,
        lambda row: rate_interval(Cluster(*row)),
        lambda row: on_effective_steps(Cluster(*row)),
    )  # fmt: skip


def right_steps(data: str, rate: float, runs: int, times: int) -> Case:
    """The rate of right steps, where wrong ones have this rate."""
    law = LAWS[data](rate)
    rows = campaigns(law, runs, times, seed_of("right", data, rate, runs, times))
    return Case(
        rows, 1.0 - law.rate, runs * law.wrong,
        lambda row: rate_interval(misses(Cluster(*row))),
        lambda row: on_effective_steps(misses(Cluster(*row))),
    )  # fmt: skip


def shares(_: str, rate: float, runs: int, times: int) -> Case:
    """The share of runs that end somewhere, every outcome with its probability instead of draws."""
    hits = np.arange(runs + 1)
    chance = stats.binom.pmf(hits, runs, rate)
    likely = chance > 1e-12
    rows = Rows(hits[likely, None], chance[likely])
    return Case(
        rows, rate, runs * rate,
        lambda row: share_interval(row[0], runs),
        lambda row: clopper_pearson(row[0], runs),
    )  # fmt: skip


def scaled_count(total: int, squared: int, runs: int) -> Interval:
    """Exact Poisson interval (Garwood 1936) of a count scaled down by its spread; no allowance."""
    mean = total / runs
    spread = max(1.0, (squared - total * mean) / (runs - 1) / mean) if total else 1.0
    low = 0.5 * float(stats.chi2.ppf(0.025, 2 * total / spread)) if total else 0.0
    high = 0.5 * float(stats.chi2.ppf(0.975, 2 * total / spread + 2))
    return Interval(low * spread / runs, mean, high * spread / runs, 0.95, "")


def spurious_counts(data: str, rate: float, runs: int, times: int) -> Case:
    """Counts per run, this rate times the steps of a run on the average."""
    law = counts_of(data, STEPS * rate)
    rows = campaigns(law, runs, times, seed_of("spurious", data, rate, runs, times))
    return Case(
        rows, law.rate, runs * law.wrong,
        lambda row: count_interval(row[4], row[5], runs, assumed_effect=STEPS),
        lambda row: scaled_count(row[4], row[5], runs),
    )  # fmt: skip


def difference_variance(pair: Pair) -> float:
    """Variance of the difference, n/(n-1) sum (p_i - m_i - D x_i)^2 / (sum x)^2 (Cochran, Sampling
    Techniques, 3rd ed. 1977, 6.3); two runs or more.
    """
    n, d = pair.runs, pair.p - pair.m
    squares, products = pair.pp - 2 * pair.pm + pair.mm, pair.xp - pair.xm
    scaled = squares * pair.x**2 - 2 * products * pair.x * d + pair.xx * d**2
    return n / (n - 1) * (scaled / pair.x**4)


def normal_difference(pair: Pair) -> Interval:
    """1.96 standard errors either way; no allowance."""
    half = 1.959964 * difference_variance(pair) ** 0.5
    return Interval(pair.difference - half, pair.difference, pair.difference + half, 0.95, "")


def differences(data: str, rate: float, runs: int, times: int) -> Case:
    """The paired difference of two designs, of which A has this rate."""
    law = PAIR_LAWS[data](rate)
    rows = paired_campaigns(law, runs, times, seed_of("paired", data, rate, runs, times))
    return Case(
        rows, law.difference, runs * law.wrong,
        lambda row: difference_interval(Pair(*row)),
        lambda row: normal_difference(Pair(*row)),
    )  # fmt: skip


class Kind(NamedTuple):
    """A kind of interval with the data that it is tried on."""

    data: Sequence[str]
    case: Callable[[str, float, int, int], Case]


SHARES: dict[str, Callable[[str, float], float]] = {
    "wrong steps": lambda data, rate: LAWS[data](rate).wrong,
    "right steps": lambda data, rate: LAWS[data](rate).wrong,
    "share of runs": lambda _, rate: rate,
    "spurious": lambda data, rate: counts_of(data, STEPS * rate).wrong,
    "difference": lambda data, rate: PAIR_LAWS[data](rate).wrong,
}
"""The share of runs with a hit for each kind."""

KINDS = {
    "wrong steps": Kind(tuple(LAWS), wrong_steps),
    "right steps": Kind(("independent", "alike 0.3", "bad units"), right_steps),
    "share of runs": Kind(("independent runs",), shares),
    "spurious": Kind(COUNT_LAWS, spurious_counts),
    "difference": Kind(tuple(PAIR_LAWS), differences),
}


class Place(NamedTuple):
    """Where a cell lies in the table."""

    kind: str
    data: str
    rate: float
    runs: int

    def case(self, times: int) -> Case:
        """So many campaigns of it."""
        return KINDS[self.kind].case(self.data, self.rate, self.runs, times)


def places() -> list[Place]:
    """The table: every kind and its data at every rate and number of runs."""
    return [
        Place(kind, data, rate, runs)
        for kind, (all_data, _) in KINDS.items()
        for data, rate, runs in itertools.product(all_data, RATES, RUNS)
    ]


def places_between(runs: int = 5_000) -> list[Place]:
    """Every kind and its data where few runs with a hit are expected."""
    return [
        Place(kind, data, rate_for(kind, data, runs, expected), runs)
        for kind, (all_data, _) in KINDS.items()
        for data, expected in itertools.product(all_data, FEW)
    ]


def rate_for(kind: str, data: str, runs: int, expected: float) -> float:
    """The rate at which so many runs with a hit are expected."""
    share = SHARES[kind]

    def beyond(power: float) -> float:
        return runs * share(data, math.exp(power)) - expected

    return math.exp(float(brentq(beyond, math.log(1e-9), math.log(0.09))))


def cell(place: Place, case: Case) -> Cell:
    """The cell of a case.  Where the rows are all there are, with their probabilities, it is exact."""
    below, above = outside(case.rows, case.truth, case.ours)
    plain = 100.0 - sum(outside(case.rows, case.truth, case.plain))
    times = int(case.rows.times.sum()) if case.rows.times.dtype.kind == "i" else 0
    return Cell(*place, case.expected, times, plain, 100.0 - below - above, below, above)


def looked_at(place: Place) -> Cell:
    """A first look, and where that is in doubt a second one with campaigns of its own.

    2,000 campaigns tell the coverage to 0.5 of 100, so that of some hundred cells a few would fall out
    by chance, and as many stay in.
    """
    first = cell(place, place.case(FIRST))
    sure = first.good(-DOUBT) or not first.times
    return first if sure else cell(place, place.case(SECOND))


def cells(where: Iterable[Place]) -> Iterator[Cell]:
    """One cell after the other, computed by as many processes as there are processors."""
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        yield from pool.map(looked_at, where)
