"""Intervals for independent trials and counts: exact and mid-P.

The *exact* limit (Clopper and Pearson, Biometrika 26 (1934) 404; for counts Garwood, Biometrika 28
(1936) 437) leaves out at most half of what the level leaves, on each side, whatever the rate.  It
counts the data seen wholly as evidence against itself and so is wider than it need be.  The *mid-P*
limit (Lancaster, J. Am. Stat. Assoc. 56 (1961) 223) counts them half; it leaves out half of what the
level leaves on the average over rates, but at some rates more.

`binomial_interval` takes the mid-P limit below and the exact one above.  Where one of them errs the
other has room, so that the two together cover about what they should at every rate, and the bound
where nothing was seen is the exact one.  (tests/outside/test_coverage.py sums the probabilities.)

Hits and trials need not be whole numbers, since estimates.py puts effective numbers in.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

LEVEL = 0.95
SMALLEST = 1e-300
"""A limit below is as good as none."""


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


def no_data(level: float) -> Interval:
    return Interval(math.nan, math.nan, math.nan, level, NO_DATA)


def checked(hits: float, trials: float) -> None:
    """Raises ValueError unless 0 <= hits <= trials."""
    if not 0 <= hits <= trials:
        raise ValueError(f"{hits} hits in {trials} trials")


def tail_of(level: float) -> float:
    """What a two-sided interval leaves on each side."""
    return 0.5 * (1.0 - level)


def exact_low(hits: float, trials: float, tail: float) -> float:
    """The rate at which so many hits or more have probability ``tail``."""
    from scipy.special import betaincinv

    return float(betaincinv(hits, trials - hits + 1.0, tail)) if hits > 0 else 0.0


def exact_high(hits: float, trials: float, tail: float) -> float:
    """The rate at which so many hits or fewer have probability ``tail``."""
    from scipy.special import betaincinv

    return float(betaincinv(hits + 1.0, trials - hits, 1.0 - tail)) if hits < trials else 1.0


def mid_low(hits: float, trials: float, tail: float) -> float:
    """The rate at which more hits, and half of just so many, have probability ``tail``."""
    from scipy.special import betainc

    if hits <= 0:
        return 0.0
    if hits >= trials:
        return float((2.0 * tail) ** (1.0 / trials))

    def above(rate: float) -> float:
        more = float(betainc(hits + 1.0, trials - hits, rate))
        return 0.5 * (more + float(betainc(hits, trials - hits + 1.0, rate)))

    return _root(above, tail, exact_low(hits, trials, tail), hits / trials)


def mid_high(hits: float, trials: float, tail: float) -> float:
    """The rate at which fewer hits, and half of just so many, have probability ``tail``."""
    from scipy.special import betaincc

    if hits >= trials:
        return 1.0
    if hits <= 0:
        return -math.expm1(math.log(2.0 * tail) / trials)

    def below(rate: float) -> float:
        fewer = float(betaincc(hits, trials - hits + 1.0, rate))
        return 0.5 * (fewer + float(betaincc(hits + 1.0, trials - hits, rate)))

    return _root(below, tail, exact_high(hits, trials, tail), hits / trials)


def mid_low_count(count: float, tail: float) -> float:
    """The mean at which a higher Poisson count, and half of just this one, have probability ``tail``."""
    from scipy.special import gammainc, gammaincinv

    if count <= 0:
        return 0.0

    def above(mean: float) -> float:
        return 0.5 * (float(gammainc(count + 1.0, mean)) + float(gammainc(count, mean)))

    return _root(above, tail, float(gammaincinv(count, tail)), count)


def mid_high_count(count: float, tail: float) -> float:
    """The mean at which a lower Poisson count, and half of just this one, have probability ``tail``."""
    from scipy.special import gammaincc

    if count <= 0:
        return -math.log(2.0 * tail)

    def below(mean: float) -> float:
        return 0.5 * (float(gammaincc(count, mean)) + float(gammaincc(count + 1.0, mean)))

    return _root(below, tail, exact_high_count(count, tail), count)


def exact_high_count(count: float, tail: float) -> float:
    """The mean at which a Poisson count of so many or lower has probability ``tail``."""
    from scipy.special import gammaincinv

    return float(gammaincinv(count + 1.0, 1.0 - tail))


def _root(chance: Callable[[float], float], tail: float, far: float, near: float) -> float:
    """Where a probability falls to ``tail`` on the way from ``near``, the estimate, to ``far``, the exact
    limit; to twelve digits.  Sought among logarithms, since few effective hits put it very far down.
    """
    from scipy.optimize import brentq

    if chance(near) <= tail:
        return near
    if far < SMALLEST:
        return 0.0

    def excess(power: float) -> float:
        return chance(math.exp(power)) - tail

    return math.exp(float(brentq(excess, math.log(far), math.log(near), xtol=1e-12)))


def clopper_pearson(hits: float, trials: float, level: float = LEVEL) -> Interval:
    """Exact binomial interval.  Raises ValueError unless 0 <= hits <= trials."""
    checked(hits, trials)
    if trials == 0:
        return no_data(level)
    tail = tail_of(level)
    low, high = exact_low(hits, trials, tail), exact_high(hits, trials, tail)
    return Interval(low, hits / trials, high, level, "exact binomial")


def mid_p(hits: float, trials: float, level: float = LEVEL) -> Interval:
    """Mid-P binomial interval.  Raises ValueError unless 0 <= hits <= trials."""
    checked(hits, trials)
    if trials == 0:
        return no_data(level)
    tail = tail_of(level)
    low, high = mid_low(hits, trials, tail), mid_high(hits, trials, tail)
    return Interval(low, hits / trials, high, level, "mid-P binomial")


BINOMIAL = "mid-P lower and exact upper binomial limit of the rarer outcome"


def binomial_interval(hits: float, trials: float, level: float = LEVEL) -> Interval:
    """Mid-P limit below and exact limit above for the rarer of hits and misses.

    Raises ValueError unless 0 <= hits <= trials.
    """
    checked(hits, trials)
    if trials == 0:
        return no_data(level)
    if 2 * hits > trials:
        return mirrored(binomial_interval(trials - hits, trials, level), hits / trials)
    tail = tail_of(level)
    low, high = mid_low(hits, trials, tail), exact_high(hits, trials, tail)
    return Interval(low, hits / trials, high, level, BINOMIAL)


def mirrored(interval: Interval, estimate: float) -> Interval:
    """The interval of what an interval of misses leaves to hits."""
    return Interval(1.0 - interval.high, estimate, 1.0 - interval.low, interval.level, interval.method)
