"""Rates with intervals.

Steps of one run are alike (one unit, one hand), so an interval must not treat them as
independent.  The rate of wrong steps is a ratio of two sums over runs; its variance is the
between-run variance of the ratio estimator (Cochran, Sampling Techniques, 3rd ed. 1977,
sections 2.11 and 6.3).  The number of independent steps that would give that variance is
put into the exact binomial interval of Clopper and Pearson (Biometrika 26 (1934) 404), as
Korn and Graubard propose (Survey Methodology 24 (1998) 193).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from simcore.tally import Cluster

LEVEL = 0.95


@dataclass(frozen=True)
class Interval:
    """A rate between ``low`` and ``high`` at confidence ``level``, by ``method``.

    ``estimate`` lies between the two, or all are NaN where there is no data.
    """

    low: float
    estimate: float
    high: float
    level: float
    method: str


NO_DATA = "no data"


def clopper_pearson(hits: float, trials: float, level: float = LEVEL) -> Interval:
    """Exact binomial interval; ``hits`` and ``trials`` need not be whole numbers.

    Raises ValueError unless 0 <= hits <= trials.
    """
    from scipy.special import betaincinv

    if not 0 <= hits <= trials:
        raise ValueError(f"{hits} hits in {trials} trials")
    if trials == 0:
        return Interval(math.nan, math.nan, math.nan, level, NO_DATA)
    tail = 0.5 * (1.0 - level)
    low = float(betaincinv(hits, trials - hits + 1.0, tail)) if hits > 0 else 0.0
    high = float(betaincinv(hits + 1.0, trials - hits, 1.0 - tail)) if hits < trials else 1.0
    return Interval(low, hits / trials, high, level, "exact binomial")


def wilson(hits: float, trials: float, level: float = LEVEL) -> Interval:
    """Score interval (Wilson, J. Am. Stat. Assoc. 22 (1927) 209), for independent trials."""
    from scipy.special import ndtri

    if not 0 <= hits <= trials:
        raise ValueError(f"{hits} hits in {trials} trials")
    if trials == 0:
        return Interval(math.nan, math.nan, math.nan, level, NO_DATA)
    z = float(ndtri(0.5 * (1.0 + level)))
    p = hits / trials
    middle = (p + z * z / (2 * trials)) / (1 + z * z / trials)
    half = z / (1 + z * z / trials) * math.sqrt(p * (1 - p) / trials + z * z / (4 * trials**2))
    return Interval(max(0.0, middle - half), p, min(1.0, middle + half), level, "score")


def ratio_variance(cluster: Cluster) -> float:
    """Variance of y / x summed over runs: n/(n-1) sum (y_i - R x_i)^2 / (sum x)^2.

    NaN for fewer than two runs.
    """
    n = cluster.runs
    if n < 2 or cluster.x == 0:
        return math.nan
    # Whole numbers as long as possible: the three terms nearly cancel.
    scaled = cluster.yy * cluster.x**2 - 2 * cluster.xy * cluster.x * cluster.y + cluster.xx * cluster.y**2
    return n / (n - 1) * (scaled / cluster.x**4)


def effective_steps(cluster: Cluster, level: float = LEVEL) -> float:
    """How many independent steps would tell as much as these.

    With no hit, or nothing but hits, the data say nothing about how alike the steps of a run
    are; then a run counts as one.  Otherwise steps over the design effect, never more than
    the steps there are, and less for the few degrees of freedom of few runs.
    """
    from scipy.special import ndtri, stdtrit

    if cluster.y in (0, cluster.x) or cluster.runs < 2:
        return float(cluster.runs)
    p = cluster.y / cluster.x
    variance = ratio_variance(cluster)
    steps = float(cluster.x)
    if variance > 0:
        steps = min(steps, p * (1 - p) / variance)
    tail = 0.5 * (1.0 + level)
    return steps * float(ndtri(tail) / stdtrit(cluster.runs - 1, tail)) ** 2


def rate_interval(cluster: Cluster, level: float = LEVEL) -> Interval:
    """The rate y / x with an interval that allows for steps of one run being alike."""
    if cluster.x == 0:
        return Interval(math.nan, math.nan, math.nan, level, NO_DATA)
    trials = effective_steps(cluster, level)
    p = cluster.y / cluster.x
    exact = clopper_pearson(trials * p, trials, level)
    if cluster.y in (0, cluster.x):
        return Interval(exact.low, p, exact.high, level, "exact binomial on runs")
    return Interval(exact.low, p, exact.high, level, "exact binomial on effective steps")


def share_interval(hits: int, runs: int, level: float = LEVEL) -> Interval:
    """A share of runs: runs are independent, so the plain exact interval holds."""
    return clopper_pearson(hits, runs, level)


def count_interval(total: int, squared: int, runs: int, level: float = LEVEL) -> Interval:
    """Mean of a count per run, exact Poisson (Garwood, Biometrika 28 (1936) 437) on a count
    that is scaled down where runs vary more than Poisson counts do.
    """
    from scipy.special import gammaincinv

    if runs == 0:
        return Interval(math.nan, math.nan, math.nan, level, NO_DATA)
    mean = total / runs
    spread = 1.0
    if total > 0 and runs > 1:
        spread = max(1.0, (squared - total * mean) / (runs - 1) / mean)
    count = total / spread
    tail = 0.5 * (1.0 - level)
    low = float(gammaincinv(count, tail)) if total else 0.0
    high = float(gammaincinv(count + 1.0, 1.0 - tail))
    return Interval(low * spread / runs, mean, high * spread / runs, level, "exact Poisson")
