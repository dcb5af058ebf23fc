"""The difference of rates between two designs that met the same runs.

Hand, bounce and parts are the same for both, so most steps end the same way in both and only those count in
which the designs differ: ``p`` of a run's steps went wrong in B only, ``m`` in A only, and B's rate
minus A's is the sum of p - m over the sum of steps.  Each of the two discordant rates has an
interval of its own (estimates.py), and the two are joined with their covariance over runs, as
Zou and Donner (Stat. Med. 27 (2008) 1693) do after Newcombe (Stat. Med. 17 (1998) 2635).  Such an
interval keeps its coverage with few discordant steps, and with none.  Both limits of both rates are mid-P:
with exact ones, which err on the safe side each, the joint interval would be wider than need be.

The design effect is estimated from both kinds of discordant steps together, as long as one kind has not
shown it: where only A ever went wrong, that speaks for B and not against it.

Where several designs are compared with the first, one of them may look decided by chance alone.  Holm
(Scandinavian J. Statist.  6 (1979) 65) keeps the chance of any false decision to that of one comparison,
however the comparisons depend on each other: the clearest must stand at a level for all of them, the next for
all but one, and so on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from simcore.judging.tally import Cluster
from simcore.statistics.estimates import (
    DesignEffect,
    RateEvidence,
    count_evidence,
    design_effect,
    limits,
    rate_evidence,
)
from simcore.statistics.exact import LEVEL, Interval, clopper_pearson, no_data

METHOD = "limits of both discordant rates, joined with their covariance over runs"
MOST = 1e6
"""A difference is not followed to more than so many times the runs there are."""


@dataclass(frozen=True)
class Pair:
    """Sums over the runs that two designs A and B share, run by run: whole numbers that add.

    x steps, p of them wrong in B only, m wrong in A only; ``xx``, ``xp``, ``pp`` and so on are sums
    of products.  For counts per run, x is 1, p how many more B has and m how many more A has.
    The last four are runs by whether any of their steps was wrong.
    """

    runs: int
    x: int
    xx: int
    p: int
    pp: int
    xp: int
    m: int
    mm: int
    xm: int
    pm: int
    both_right: int = 0
    b_wrong: int = 0
    a_wrong: int = 0
    both_wrong: int = 0

    @property
    def difference(self) -> float:
        """Rate of B minus rate of A; NaN without steps."""
        return (self.p - self.m) / self.x if self.x else math.nan

    @property
    def more(self) -> Cluster:
        """Steps wrong in B only."""
        return Cluster(self.runs, None, self.x, self.xx, self.p, self.pp, self.xp)

    @property
    def fewer(self) -> Cluster:
        """Steps wrong in A only."""
        return Cluster(self.runs, None, self.x, self.xx, self.m, self.mm, self.xm)

    @property
    def either(self) -> Cluster:
        """Steps wrong in just one of them."""
        squares = self.pp + 2 * self.pm + self.mm
        return Cluster(self.runs, None, self.x, self.xx, self.p + self.m, squares, self.xp + self.xm)


class _Joint(NamedTuple):
    """Both discordant rates and their correlation over runs; the design effect of all discordant steps, and
    the one to allow for as long as there is none.
    """

    more: RateEvidence
    fewer: RateEvidence
    correlation: float
    either: DesignEffect
    assumed_effect: float


def correlation(pair: Pair) -> float:
    """Correlation over runs of the two discordant rates, 0 where one of them does not vary."""
    x, p, m = pair.x, pair.p, pair.m

    def product(uv: int, xu: int, xv: int, u: int, v: int) -> int:
        return uv * x**2 - xu * x * v - xv * x * u + pair.xx * u * v

    own = product(pair.pp, pair.xp, pair.xp, p, p) * product(pair.mm, pair.xm, pair.xm, m, m)
    if own <= 0:
        return 0.0
    common = product(pair.pm, pair.xp, pair.xm, p, m)
    return max(-1.0, min(1.0, math.copysign(math.sqrt(common * common / own), common)))


def mover(
    more: tuple[float, float, float], fewer: tuple[float, float, float], correlated: float = 0.0
) -> tuple[float, float]:
    """Low and high of the difference of two estimates, each given as (low, estimate, high).

    Zou and Donner, Stat. Med. 27 (2008) 1693, equations for correlated estimates.
    """
    difference = more[1] - fewer[1]
    below = _joined(more[1] - more[0], fewer[2] - fewer[1], correlated)
    above = _joined(more[2] - more[1], fewer[1] - fewer[0], correlated)
    return difference - below, difference + above


def _joined(one: float, other: float, correlated: float) -> float:
    return math.sqrt(max(0.0, one * one + other * other - 2.0 * correlated * one * other))


def difference_interval(
    pair: Pair, level: float = LEVEL, *, counts: bool = False, assumed_effect: float | None = None
) -> Interval:
    """Rate of B minus rate of A, per step; with ``counts``, counts of B minus those of A, per run.

    ``assumed_effect`` is how many hits of one run may come together, as long as there is none; by
    default all steps of a run (for counts: one).
    """
    if pair.x == 0:
        return no_data(level)
    low, high = _limits(_joint(pair, counts, assumed_effect), level)
    if not counts:
        low, high = max(low, -1.0), min(high, 1.0)
    return Interval(low, pair.difference, high, level, METHOD)


def _joint(pair: Pair, counts: bool, assumed_effect: float | None) -> _Joint:
    either = pair.either
    if counts:
        more = count_evidence(pair.p, pair.pp, pair.runs)
        fewer = count_evidence(pair.m, pair.mm, pair.runs)
        like = count_evidence(either.y, either.yy, pair.runs).like
    else:
        more, fewer, like = rate_evidence(pair.more), rate_evidence(pair.fewer), design_effect(either)
    together = pair.x / pair.runs if assumed_effect is None else assumed_effect
    return _Joint(more, fewer, correlation(pair), like, together)


def _limits(joint: _Joint, level: float, factor: float = 1.0) -> tuple[float, float]:
    """Low and high of the difference, for ``factor`` times as many runs of the same make."""
    expected_effect = joint.either.expected_effect(joint.assumed_effect, factor)
    sides = []
    for found in (joint.more, joint.fewer):
        low, high = limits(found.grown(factor), expected_effect, level, middle=True)
        sides.append((low, found.rate, high))
    return mover(sides[0], sides[1], joint.correlation)


def runs_to_settle(
    pair: Pair, level: float = LEVEL, *, counts: bool = False, assumed_effect: float | None = None
) -> int | None:
    """How many runs in all would be expected to make the interval leave out zero, if the rates stay
    as they are; the runs there are where it does so already.

    None where the difference is zero so far, or would take a million times as many runs.
    """
    from scipy.optimize import brentq

    if pair.x == 0 or pair.p == pair.m:
        return None
    joint, up = _joint(pair, counts, assumed_effect), pair.p > pair.m

    def clear(factor: float) -> float:
        low, high = _limits(joint, level, factor)
        return low if up else -high

    if clear(1.0) > 0.0:
        return pair.runs
    if clear(MOST) <= 0.0:
        return None
    factor = brentq(lambda power: clear(math.exp(power)), 0.0, math.log(MOST), xtol=1e-6)
    return math.ceil(pair.runs * math.exp(factor) * (1.0 + 1e-5))


class McNemar(NamedTuple):
    """McNemar's test on ``b`` pairs against ``c``: P values, two-sided, and b / c with its exact
    interval (infinite where c is 0, NaN where both are).
    """

    exact: float
    mid_p: float
    ratio: float
    low: float
    high: float


def mcnemar(b: int, c: int, level: float = LEVEL) -> McNemar:
    """Whether b and c, of runs right in one design and wrong in the other, differ by more than chance.

    Exact: binomial test of b in b + c against one half.  Mid-P: less half of the probability of just
    this outcome and its mirror image (Fagerland, Lydersen and Laake, BMC Med. Res. Methodol. 13
    (2013) 91).  The interval of b / c follows from the exact one of b / (b + c) (Liddell, J.
    Epidemiol. Community Health 37 (1983) 82).  Both P values are 1 where there are no such runs.
    """
    from scipy.stats import binom, binomtest

    if b + c == 0:
        return McNemar(1.0, 1.0, math.nan, math.nan, math.nan)
    exact = float(binomtest(b, b + c, 0.5).pvalue)
    just_so = float(binom.pmf(b, b + c, 0.5))
    share = clopper_pearson(b, b + c, level)
    middle = exact - (0.5 * just_so if b == c else just_so)
    ratio = b / c if c else math.inf
    return McNemar(exact, middle, ratio, _odds(share.low), _odds(share.high))


def _odds(share: float) -> float:
    return share / (1.0 - share) if share < 1.0 else math.inf


BETTER, WORSE, UNSETTLED, SAME = "better", "worse", "unsettled", "same"


@dataclass(frozen=True)
class Decision:
    """What is known of one design against the first.

    ``interval`` is that of the difference of rates (this one's minus the first's), for this comparison
    alone, over all analyses; ``level`` the one at which the ``verdict`` was sought among all; ``more_runs``
    how many more would be expected to settle it, None where it is settled or nothing can be said.
    """

    verdict: str
    interval: Interval
    level: float
    more_runs: int | None


def decide(pairs: Sequence[Pair], level: float = LEVEL, analyses: int = 1) -> list[Decision]:
    """A decision for each of several designs, all of them together at confidence ``level``, at one of so
    many ``analyses`` that share its error allowance.

    SAME is a design that did not differ from the first in any step; whether it would in more runs, its
    interval says.
    """
    found = []
    for pair, (verdict, at) in zip(pairs, verdicts(pairs, level, analyses), strict=True):
        enough = runs_to_settle(pair, at) if verdict == UNSETTLED else None
        more_runs = None if enough is None else enough - pair.runs
        found.append(Decision(verdict, repeated_interval(pair, level, analyses), at, more_runs))
    return found


def repeated_interval(
    pair: Pair,
    level: float = LEVEL,
    analyses: int = 1,
    *,
    counts: bool = False,
    assumed_effect: float | None = None,
) -> Interval:
    """The interval of a difference that holds at ``level`` over so many analyses together; the rest is as
    simcore.statistics.paired.difference_interval has it.
    """
    once = difference_interval(pair, _once(level, analyses), counts=counts, assumed_effect=assumed_effect)
    return replace(once, level=level)


def settled(pairs: Sequence[Pair], level: float, analyses: int) -> bool:
    """Whether every design is decided to be better or worse at one of so many analyses."""
    return all(verdict in (BETTER, WORSE) for verdict, _ in verdicts(pairs, level, analyses))


def verdicts(pairs: Sequence[Pair], level: float, analyses: int) -> list[tuple[str, float]]:
    """The verdict of each of several designs, and the level at which it was sought."""
    once = _once(level, analyses)
    open_ones, at = list(range(len(pairs))), [level] * len(pairs)
    while open_ones:
        strict = 1.0 - (1.0 - once) / len(open_ones)
        for number in open_ones:
            at[number] = strict
        still = [number for number in open_ones if not _excludes_zero(pairs[number], strict)]
        if len(still) == len(open_ones):
            break
        open_ones = still
    return [(_verdict(pair, number in open_ones), at[number]) for number, pair in enumerate(pairs)]


def _once(level: float, analyses: int) -> float:
    return level if analyses == 1 else 1.0 - (1.0 - level) / analyses


def _excludes_zero(pair: Pair, level: float) -> bool:
    interval = difference_interval(pair, level)
    return interval.low > 0.0 or interval.high < 0.0


def _verdict(pair: Pair, is_open: bool) -> str:
    if pair.p == 0 and pair.m == 0:
        return SAME
    if is_open:
        return UNSETTLED
    return BETTER if pair.p < pair.m else WORSE


def holm(values: Sequence[float]) -> list[float]:
    """P values raised for being several (Holm): each may be read as if it were the only one."""
    order = sorted(range(len(values)), key=lambda number: values[number])
    raised, least = [0.0] * len(values), 0.0
    for done, number in enumerate(order):
        least = max(least, min(1.0, (len(values) - done) * values[number]))
        raised[number] = least
    return raised
