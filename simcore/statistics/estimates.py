"""Rates with intervals.

Steps of one run are correlated (one unit, one hand), so an interval must not treat them as
independent.  The rate of wrong steps is a ratio of two sums over runs; its variance is the
between-run variance of the ratio estimator (Cochran, Sampling Techniques, 3rd ed. 1977,
sections 2.11 and 6.3).  The number of independent steps that would give that variance, the
effective number, is put into the limits of `exact.binomial_interval`, as Korn and Graubard
propose (Survey Methodology 24 (1998) 193).

That alone is too narrow where few runs had a wrong step: if the run with eight wrong ones did
not happen to occur, rate and variance come out small together.  Three allowances raise the upper
limit.

* *Skew.*  Runs with unequal numbers of hits make a sum that is more skewed than a count.  The
  Edgeworth term for the studentised mean (Hall, J. R. Stat. Soc. B 54 (1992) 221) moves a limit
  by (2 z^2 + 1) / 6 times c / (1 + c) effective hits beyond what a count has anyway; c is the
  squared coefficient of variation of the hits per run with a hit, which are taken to be as skewed
  as a gamma law.  Fay and Feuer (Stat. Med. 16 (1997) 791) likewise give the next hit more weight.
* *Degrees of freedom.*  The design effect is itself an estimate.  Its relative variance is, for a
  gamma law again, c (1 + 3 c) / (1 + c) over the number of runs with a hit; Satterthwaite's rule
  (Biometrics Bulletin 2 (1946) 110) makes degrees of freedom of it, and Student's t replaces z.
* *Correlation not yet observed.*  Without any hit the design effect is unknown, and a run counts as
  one.  Each effective hit halves what is left of that caution: after three an eighth of it, after ten
  a thousandth.

The coverage was measured: see tests/outside/coverage.py.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from simcore.judging.tally import Cluster
from simcore.statistics.exact import (
    BINOMIAL,
    LEVEL,
    Interval,
    binomial_interval,
    exact_high,
    exact_high_count,
    mid_high,
    mid_high_count,
    mid_low,
    mid_low_count,
    mirrored,
    no_data,
    tail_of,
)

ON_RUNS = "exact binomial limit on runs"
ON_STEPS = f"{BINOMIAL}, on effective steps; the upper one lifted where few or unlike runs had a hit"
COUNT_ON_RUNS = "exact Poisson limit on runs"
ON_COUNTS = (
    "mid-P lower and exact upper Poisson limit, on effective counts; the upper one lifted where few or "
    "unlike runs had one"
)
FEWEST = 2.0
"""Degrees of freedom from the design effect are never fewer: its relative variance is an
approximation that does not hold beyond one."""


class DesignEffect(NamedTuple):
    """How strongly the steps of a run are correlated, as observed.

    ``effect`` is the design effect (1: as good as independent), ``hits`` the effective number of
    hits, ``unequal`` the squared coefficient of variation of the hits per run with a hit, and
    ``seen`` the number of such runs.
    """

    effect: float
    hits: float
    unequal: float
    seen: float

    @property
    def relative_variance(self) -> float:
        """Relative variance of the design effect, for hits per run that follow a gamma law."""
        if self.unequal == 0.0:
            return 0.0
        return self.unequal * (1.0 + 3.0 * self.unequal) / (1.0 + self.unequal) / self.seen

    def expected_effect(self, assumed_effect: float, factor: float = 1.0) -> float:
        """The effect to allow for: ``assumed_effect`` as long as there is no hit; with ``factor`` times
        as many hits as observed.
        """
        return self.effect + max(0.0, assumed_effect - self.effect) * math.pow(0.5, self.hits * factor)


NOTHING = DesignEffect(1.0, 0.0, 0.0, 0.0)


class RateEvidence(NamedTuple):
    """All that a pair of limits is made from: a ``rate`` found on ``size`` steps of ``runs`` runs,
    and their design effect.  ``bounded`` if no step can have more than one hit.
    """

    rate: float
    size: float
    runs: float
    like: DesignEffect
    bounded: bool

    def grown(self, factor: float) -> RateEvidence:
        """What ``factor`` times as many runs would be expected to give."""
        like = self.like._replace(hits=self.like.hits * factor, seen=self.like.seen * factor)
        return self._replace(size=self.size * factor, runs=self.runs * factor, like=like)


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


def design_effect(cluster: Cluster) -> DesignEffect:
    """Design effect, never below one, and what goes with it.

    A run counts as one step where there is but one, or where all steps were hits.  Where
    ``runs_with`` is not known, hits per run with a hit are taken to be geometric.
    """
    if cluster.y == 0:
        return NOTHING
    p = cluster.y / cluster.x
    if cluster.runs < 2 or cluster.y == cluster.x:
        return DesignEffect(cluster.x / cluster.runs, p * cluster.runs, 0.0, float(cluster.runs))
    effect = max(1.0, ratio_variance(cluster) * cluster.x / (p * (1.0 - p)))
    if cluster.runs_with is None:
        return geometric(cluster.y, effect)
    unequal = max(0.0, cluster.runs_with * cluster.yy / cluster.y**2 - 1.0)
    return DesignEffect(effect, cluster.y / effect, unequal, float(cluster.runs_with))


def geometric(hits: float, effect: float) -> DesignEffect:
    """The design effect of runs whose hits, where there are any, are geometric: their mean is then half of
    one more than the design effect.
    """
    return DesignEffect(effect, hits / effect, (effect - 1.0) / (effect + 1.0), 2.0 * hits / (effect + 1.0))


def limits(
    found: RateEvidence, assumed_effect: float, level: float, *, middle: bool = False
) -> tuple[float, float]:
    """Low and high; ``assumed_effect`` is the design effect to allow for as long as there is no hit.

    The lower limit is mid-P, the upper one exact or, with ``middle``, mid-P as well.
    """
    from scipy.special import ndtri

    rate, size, runs, like, bounded = found
    tail = tail_of(level)
    z = float(ndtri(1.0 - tail))
    few = 1.0 / (runs - 1.0) if like.hits > 0 and runs > 1 else 0.0
    lower = size / like.effect / _wider(few, tail, z)
    upper = (
        size
        / like.expected_effect(assumed_effect)
        / _wider(few + min(0.5 * like.relative_variance, 1.0 / FEWEST), tail, z)
    )
    most = rate * upper + (2.0 * z * z + 1.0) / 6.0 * like.unequal / (1.0 + like.unequal)
    if bounded:
        high = mid_high if middle else exact_high
        return mid_low(rate * lower, lower, tail), high(most, upper, tail)
    high_count = mid_high_count if middle else exact_high_count
    return mid_low_count(rate * lower, tail) / lower, high_count(most, tail) / upper


def _wider(inverse: float, tail: float, z: float) -> float:
    """The factor on a variance for its degrees of freedom, of which the inverse is given."""
    from scipy.special import stdtrit

    return float(stdtrit(1.0 / inverse, 1.0 - tail) / z) ** 2 if inverse > 0.0 else 1.0


def misses(cluster: Cluster) -> Cluster:
    return Cluster(
        cluster.runs, cluster.runs_short, cluster.x, cluster.xx, cluster.x - cluster.y,
        cluster.xx - 2 * cluster.xy + cluster.yy, cluster.xx - cluster.xy, cluster.runs_with,
    )  # fmt: skip


def rate_evidence(cluster: Cluster) -> RateEvidence:
    """What a cluster says of its rate; it needs one step at least."""
    return RateEvidence(cluster.y / cluster.x, cluster.x, cluster.runs, design_effect(cluster), True)


def rate_interval(cluster: Cluster, level: float = LEVEL, assumed_effect: float | None = None) -> Interval:
    """The rate y / x with an interval that allows for steps that are correlated within a run.

    ``assumed_effect`` is the design effect to allow for as long as there is no hit; by default that of
    runs whose steps are fully correlated.
    """
    if cluster.x == 0:
        return no_data(level)
    p = cluster.y / cluster.x
    if 2 * cluster.y > cluster.x:
        return mirrored(rate_interval(misses(cluster), level, assumed_effect), p)
    expected_effect = cluster.x / cluster.runs if assumed_effect is None else assumed_effect
    low, high = limits(rate_evidence(cluster), expected_effect, level)
    return Interval(low, p, high, level, ON_STEPS if cluster.y else ON_RUNS)


def share_interval(hits: int, runs: int, level: float = LEVEL) -> Interval:
    """A share of runs: runs are independent, so a plain binomial interval holds."""
    return binomial_interval(hits, runs, level)


def count_evidence(total: int, squared: int, runs: int) -> RateEvidence:
    """What counts per run, with their sum and the sum of their squares, say of their mean."""
    mean = total / runs
    spread = (squared - total * mean) / (runs - 1) / mean if total > 0 and runs > 1 else 1.0
    like = geometric(total, max(1.0, spread)) if total else NOTHING
    return RateEvidence(mean, runs, runs, like, False)


def count_interval(
    total: int, squared: int, runs: int, level: float = LEVEL, assumed_effect: float = 1.0
) -> Interval:
    """Mean of a count per run, whose sum over ``runs`` is ``total`` and sum of squares ``squared``.

    Poisson limits on a count that is scaled down where runs vary more than Poisson counts do.
    ``assumed_effect`` is how many counts of one run may come together, as long as there is none.
    """
    if runs == 0:
        return no_data(level)
    low, high = limits(count_evidence(total, squared, runs), assumed_effect, level)
    return Interval(low, total / runs, high, level, ON_COUNTS if total else COUNT_ON_RUNS)
