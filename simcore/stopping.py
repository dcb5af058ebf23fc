"""When a campaign ends, and what its ending does to its estimate.

A rule looks at whole blocks of a fixed size only, in run order, so what it decides depends neither
on who computes the blocks nor on what was computed before.

Stopping on the number of errors bends the plain rate: the block that ended the campaign is likelier to
hold many.  With blocks alike and independent of each other, the mean over one block given all that was
seen (the set of blocks, and that the campaign ended where it did) has no bias, whatever the law of a
block is.  That is the mean of all blocks but the last, averaged over the blocks that might have come
last: `without_last`.  For blocks of a single trial it is Haldane's (m - 1) / (N - 1) (Biometrika 33
(1945) 222); the argument is that of Girshick, Mosteller and Savage (Ann. Math. Stat. 17 (1946) 13).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from simcore.estimates import LEVEL, Interval, rate_interval
from simcore.tally import Cluster, Tally

ALL_RUNS = "all runs done"
INTERRUPTED = "interrupted"
ENOUGH_ERRORS = "enough wrong steps seen"
PRECISE = "precise enough"
TIME_UP = "time is up"
BETTER = "shown to meet the target"
WORSE = "shown to miss the target"

FEWEST_ERRORS = 10
"""Wrong steps before which no precision is believed: the interval itself is too uncertain."""


@dataclass(frozen=True)
class Target:
    """A rate of wrong steps that must not be exceeded, to be decided one way or the other.

    ``confidence`` is that of the decision over all looks together: of designs just at the target,
    at most 1 - confidence are called better, and as many worse.
    """

    rate: float
    confidence: float = LEVEL


@dataclass(frozen=True)
class Stop:
    """Ends a campaign at ``runs`` runs at the latest; earlier once ``errors`` wrong steps were seen,
    once the interval of their rate is within ``precision`` (a share of the rate, to either side),
    after ``seconds``, or once ``target`` is decided.  None: that rule is not used.
    """

    runs: int
    errors: int | None = None
    precision: float | None = None
    seconds: float | None = None
    target: Target | None = None


def looks(size: int, runs: int) -> list[int]:
    """Runs after which a target is looked at: one block, then twice as many each time, then all.

    Few looks, because each takes its part of the chance of a false decision.
    """
    found, at = [], size
    while at < runs:
        found.append(at)
        at *= 2
    return [*found, runs]


def look_level(target: Target, count: int) -> float:
    """The level of a two-sided interval for each of ``count`` looks, so that all of them together err to
    either side with no more than 1 - confidence (Bonferroni's inequality).
    """
    return 1.0 - 2.0 * (1.0 - target.confidence) / count


def decided(cluster: Cluster, target: Target, level: float) -> str | None:
    """BETTER or WORSE, None while the interval holds the target."""
    if cluster.x == 0:
        return None
    interval = rate_interval(cluster, level)
    if interval.high <= target.rate:
        return BETTER
    return WORSE if interval.low > target.rate else None


def precise(interval: Interval, errors: int, precision: float) -> bool:
    """Whether an interval is within ``precision`` of its estimate, to either side."""
    if errors < FEWEST_ERRORS or not interval.estimate > 0:
        return False
    widest = max(interval.high - interval.estimate, interval.estimate - interval.low)
    return bool(widest <= precision * interval.estimate)


@dataclass(frozen=True)
class Part:
    """Steps and wrong steps of one block."""

    runs: int
    steps: int
    wrong: int


class Watch:
    """Looks at a campaign as its blocks of ``size`` runs come in, in run order."""

    def __init__(self, stop: Stop, size: int) -> None:
        self.stop = stop
        self.size = size
        self.parts: list[Part] = []
        self.looks = looks(size, stop.runs)

    def look(self, before: Tally, tally: Tally, seconds: float) -> str | None:
        """What ends the campaign, None if it goes on; ``before`` is the tally without the last block."""
        stop = self.stop
        if stop.errors is not None:
            part = Part(tally.runs - before.runs, tally.steps - before.steps, tally.wrong - before.wrong)
            self.parts.append(part)
        verdict = self._target(tally)
        if verdict is not None:
            return verdict
        if tally.runs >= stop.runs:
            return ALL_RUNS
        if stop.errors is not None and tally.wrong >= stop.errors:
            return ENOUGH_ERRORS
        if stop.precision is not None and self._precise(tally, stop.precision):
            return PRECISE
        return TIME_UP if stop.seconds is not None and seconds >= stop.seconds else None

    def _target(self, tally: Tally) -> str | None:
        target = self.stop.target
        if target is None or tally.runs not in self.looks:
            return None
        return decided(tally.cluster("wrong"), target, look_level(target, len(self.looks)))

    @staticmethod
    def _precise(tally: Tally, precision: float) -> bool:
        if tally.wrong < FEWEST_ERRORS:
            return False
        return precise(rate_interval(tally.cluster("wrong")), tally.wrong, precision)

    def rate(self) -> float | None:
        """The rate of wrong steps without the bias of an ending by errors; None where there is none."""
        if self.stop.errors is None or not self.parts:
            return None
        return without_last(self.parts, self.size, self.stop.errors)


def without_last(parts: Sequence[Part], size: int, errors: int) -> float | None:
    """Wrong over all steps, of all blocks but the last, averaged over those that might have come last.

    ``parts`` are in run order, full blocks of ``size`` runs but perhaps the last.  None where the
    plain rate has no bias: a single block, or too few errors to end a campaign.
    """
    wrong, steps = sum(part.wrong for part in parts), sum(part.steps for part in parts)
    if len(parts) < 2 or wrong < errors:
        return None
    full = parts[-1].runs == size
    last = [part for part in parts if wrong - part.wrong < errors] if full else [parts[-1]]
    kept = sum(steps - part.steps for part in last)
    return sum(wrong - part.wrong for part in last) / kept if kept else math.nan
