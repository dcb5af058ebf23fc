"""When a campaign ends, and what its ending does to its estimate.

A rule looks at whole blocks of a fixed size only, in run order, so what it decides depends neither
on who computes the blocks nor on what was computed before.

Stopping on the number of errors bends plain rates: the block that ended the campaign is likelier to
hold many.  With blocks alike and independent of each other, the mean over one block given all that was
seen (the set of blocks, and that the campaign ended where it did) has no bias, whatever the law of a
block is.  That is the mean of all blocks but the last, averaged over the blocks that might have come
last: `Blocks.without_last`.  For blocks of a single trial it is Haldane's (m - 1) / (N - 1) (Biometrika
33 (1945) 222); the argument is that of Girshick, Mosteller and Savage (Ann. Math. Stat. 17 (1946) 13).
It holds for whatever is counted in a block, so one set of weights serves the rates of all groups.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from simcore.base.records import Floats, Ints
from simcore.judging.tally import Cluster, Tally
from simcore.statistics.estimates import rate_interval
from simcore.statistics.exact import LEVEL, Interval, clopper_pearson


class Part(NamedTuple):
    """One block: its ``runs`` and ``wrong`` steps, and for each group its ``steps`` (groups,) and the
    ``hits`` (groups, quantities) among them.
    """

    runs: int
    wrong: int
    steps: Ints
    hits: Ints

    @classmethod
    def between(cls, before: Tally, after: Tally) -> Part:
        """What a tally has more than an earlier one, in the groups and quantities of simcore.judging.sums."""
        return cls(
            after.runs - before.runs,
            after.wrong - before.wrong,
            after.sums.size - before.sums.size,
            after.sums.total - before.sums.total,
        )


class Alike(NamedTuple):
    """Full blocks with the same number of wrong steps, added up."""

    blocks: int
    steps: Ints
    hits: Ints


class Blocks:
    """The blocks of a campaign, ``size`` runs each but perhaps the last, in run order.

    They are kept added up by the number of their wrong steps, so the room they take does not grow with
    the campaign.
    """

    def __init__(self, size: int) -> None:
        self.size = size
        self.count = self.wrong = 0
        self._alike: dict[int, Alike] = {}
        self._last: Part | None = None

    def add(self, part: Part) -> None:
        """One more; after one that is not full there is none."""
        self.count += 1
        self.wrong += part.wrong
        self._last = part
        if part.runs == self.size:
            this, known = Alike(1, part.steps, part.hits), self._alike.get(part.wrong)
            self._alike[part.wrong] = this if known is None else _added((known, this))

    def without_last(self, errors: int) -> Floats | None:
        """Rates (groups, quantities) of all blocks but the last, averaged over those that might have
        come last; NaN for a group that no other block has.  None where plain rates have no bias: a
        single block, or too few ``errors`` to end a campaign.
        """
        if self.count < 2 or self.wrong < errors or self._last is None:
            return None
        all_full = _added(self._alike.values())
        steps, hits = all_full.steps, all_full.hits
        if self._last.runs == self.size:
            last = _added(alike for wrong, alike in self._alike.items() if self.wrong - wrong < errors)
            steps = last.blocks * steps - last.steps
            hits = last.blocks * hits - last.hits
        with np.errstate(invalid="ignore", divide="ignore"):
            return hits.astype(np.float64) / steps[:, np.newaxis]


def _added(groups: Iterable[Alike]) -> Alike:
    """All of at least one, added up."""
    blocks, steps, hits = zip(*groups, strict=True)
    return Alike(sum(blocks), np.sum(steps, axis=0, dtype=np.int64), np.sum(hits, axis=0, dtype=np.int64))


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
    at most 1 - confidence are called better, and as many worse, as far as the intervals hold (see
    simcore.campaigns.choosing).  With ``each``, it must be decided for
    the steps of each gesture as well as for all.  With ``joint``, all of these are held against it in one
    (see `joint_verdict`).
    """

    rate: float
    confidence: float = LEVEL
    each: bool = False
    joint: bool = False


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


def joint_verdict(parts: Sequence[Cluster], target: Target, level: float) -> str | None:
    """BETTER or WORSE for parts (all steps, and those of each gesture) in one, None if neither is shown.

    BETTER only if every part is shown to be, by as many runs as would show it of steps that are alike
    throughout a run.  That needs no level of its own: whatever the rates, a design that has one part at
    the target is called better no more often than that part is (an intersection of tests: R. L. Berger,
    Technometrics 24 (1982) 295; from memory).  WORSE as soon as one part is, at a level shared by the parts.
    """
    if all(_surely_better(part, target, level) for part in parts):
        return BETTER
    shared = 1.0 - (1.0 - level) / len(parts)
    above = (part for part in parts if part.y > target.rate * part.x)
    return WORSE if any(decided(part, target, shared) == WORSE for part in above) else None


@functools.cache
def enough_runs(runs: int, target: Target, level: float) -> bool:
    """Whether so many runs without a wrong step would show the target to be met, each taken as one trial."""
    return runs > 0 and clopper_pearson(0, runs, level).high <= target.rate


def _surely_better(part: Cluster, target: Target, level: float) -> bool:
    """Better, and not for want of runs: a few wrong steps tell nothing of those that are rare and come many
    to a run.
    """
    if part.y > target.rate * part.x or not enough_runs(part.runs, target, level):
        return False
    return decided(part, target, level) == BETTER


def precise(interval: Interval, errors: int, precision: float) -> bool:
    """Whether an interval is within ``precision`` of its estimate, to either side."""
    if errors < FEWEST_ERRORS or not interval.estimate > 0:
        return False
    widest = max(interval.high - interval.estimate, interval.estimate - interval.low)
    return bool(widest <= precision * interval.estimate)


class Watch:
    """Looks at a campaign as its blocks of ``size`` runs come in, in run order."""

    def __init__(self, stop: Stop, size: int) -> None:
        self.stop = stop
        self.size = size
        self.blocks = Blocks(size)
        self.looks = looks(size, stop.runs)

    def look(self, before: Tally, tally: Tally, seconds: float) -> str | None:
        """What ends the campaign, None if it goes on; ``before`` is the tally without the last block."""
        stop = self.stop
        if stop.errors is not None:
            self.blocks.add(Part.between(before, tally))
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

    def may_end(self, runs: int) -> bool:
        """Whether the look after ``runs`` runs might end the campaign before its last run."""
        stop = self.stop
        if runs >= stop.runs:
            return False
        if any(rule is not None for rule in (stop.errors, stop.precision, stop.seconds)):
            return True
        return stop.target is not None and runs in self.looks

    def _target(self, tally: Tally) -> str | None:
        target = self.stop.target
        if target is None or tally.runs not in self.looks:
            return None
        level = look_level(target, len(self.looks))
        groups = [tally.gesture_group(number) for number in range(len(tally.gestures)) if target.each]
        parts = [tally.cluster("wrong", group) for group in groups if tally.group_steps(group)]
        if target.joint:
            return joint_verdict([tally.cluster("wrong"), *parts], target, level)
        if any(decided(part, target, level) is None for part in parts):
            return None
        return decided(tally.cluster("wrong"), target, level)

    @staticmethod
    def _precise(tally: Tally, precision: float) -> bool:
        if tally.wrong < FEWEST_ERRORS:
            return False
        return precise(rate_interval(tally.cluster("wrong")), tally.wrong, precision)

    def rates(self) -> Floats | None:
        """Rates (groups, quantities) without the bias of an ending by errors; None where there is none."""
        return None if self.stop.errors is None else self.blocks.without_last(self.stop.errors)
