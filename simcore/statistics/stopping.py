"""When a campaign ends, and what its ending does to its estimate.

A rule is applied to whole blocks of a fixed size only, in run order, so its decision does not depend on
what computes the blocks, or what was computed before.

Stopping on the number of errors biases plain rates: the block that ended the campaign is likelier to
hold many.  With blocks of one law, independent of each other, the mean over one block given all that was
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
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simcore.base.records import Floats, Ints
from simcore.judging.tally import Cluster, Tally
from simcore.statistics import paired as deciding
from simcore.statistics.estimates import rate_interval
from simcore.statistics.exact import LEVEL, Interval, clopper_pearson
from simcore.statistics.paired import difference_interval

if TYPE_CHECKING:
    from simcore.campaigns.pairing import BlockSums


class BlockTotals(NamedTuple):
    """One block: its ``runs``, the ``wrong`` steps of each design, and for each group of each design its
    ``steps`` (designs, groups) and the ``hits`` (designs, groups, quantities) among them.
    """

    runs: int
    wrong: tuple[int, ...]
    steps: Ints
    hits: Ints

    @classmethod
    def between(cls, before: BlockSums, after: BlockSums) -> BlockTotals:
        """What tallies have more than earlier ones, in the groups and quantities of simcore.judging.sums."""
        both = list(zip(before.tallies, after.tallies, strict=True))
        return cls(
            after.tallies[0].runs - before.tallies[0].runs,
            tuple(later.wrong - earlier.wrong for earlier, later in both),
            np.stack([later.sums.size - earlier.sums.size for earlier, later in both]),
            np.stack([later.sums.total - earlier.sums.total for earlier, later in both]),
        )


class BlockGroup(NamedTuple):
    """Full blocks with the same numbers of wrong steps, added up."""

    blocks: int
    steps: Ints
    hits: Ints


class Blocks:
    """The blocks of a campaign, ``size`` runs each but perhaps the last, in run order.

    They are kept added up by the numbers of their wrong steps, so for one design the room they take does not
    grow with the campaign.
    """

    def __init__(self, size: int) -> None:
        self.size = size
        self.count = 0
        self.wrong: tuple[int, ...] = ()
        self._groups: dict[tuple[int, ...], BlockGroup] = {}
        self._last: BlockTotals | None = None

    def add(self, part: BlockTotals) -> None:
        """One more; after one that is not full there is none."""
        self.count += 1
        self.wrong = tuple(map(sum, zip(self.wrong, part.wrong, strict=True))) if self.wrong else part.wrong
        self._last = part
        if part.runs == self.size:
            this, known = BlockGroup(1, part.steps, part.hits), self._groups.get(part.wrong)
            self._groups[part.wrong] = this if known is None else _added((known, this))

    def without_last(self, errors: int) -> Floats | None:
        """Rates (designs, groups, quantities) of all blocks but the last, averaged over those that might have
        come last; NaN for a group that no other block has.  None where plain rates have no bias: a
        single block, or too few ``errors`` of a design to end a campaign.
        """
        if self.count < 2 or min(self.wrong) < errors or self._last is None:
            return None
        all_full = _added(self._groups.values())
        steps, hits = all_full.steps, all_full.hits
        if self._last.runs == self.size:
            # The blocks without which a design would lack the errors that end a campaign.
            last = _added(
                group
                for wrong, group in self._groups.items()
                if any(have - less < errors for have, less in zip(self.wrong, wrong, strict=True))
            )
            steps = last.blocks * steps - last.steps
            hits = last.blocks * hits - last.hits
        with np.errstate(invalid="ignore", divide="ignore"):
            return hits.astype(np.float64) / steps[..., np.newaxis]


def _added(groups: Iterable[BlockGroup]) -> BlockGroup:
    """All of at least one, added up."""
    blocks, steps, hits = zip(*groups, strict=True)
    return BlockGroup(
        sum(blocks), np.sum(steps, axis=0, dtype=np.int64), np.sum(hits, axis=0, dtype=np.int64)
    )


ALL_RUNS = "all runs done"
INTERRUPTED = "interrupted"
ENOUGH_ERRORS = "enough wrong steps seen"
PRECISE = "precise enough"
TIME_UP = "time is up"
BETTER = "shown to meet the target"
WORSE = "shown to miss the target"
SETTLED = "every difference is settled"

FEWEST_ERRORS = 10
"""Wrong steps, or steps wrong in one of two designs only, before which no precision is accepted: the
interval itself is too uncertain.
"""


@dataclass(frozen=True)
class Target:
    """A rate of wrong steps that must not be exceeded, to be decided one way or the other.

    ``confidence`` is that of the decision over all interim analyses together: of designs just at the target,
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

    A comparison ends by ``errors`` once every design has so many, by ``precision`` once that holds of the
    difference of every other design from the first, and by ``settled``, a confidence, once every other design
    is decided to be better or worse than the first (see simcore.statistics.paired).
    """

    runs: int
    errors: int | None = None
    precision: float | None = None
    seconds: float | None = None
    target: Target | None = None
    settled: float | None = None

    def analyses(self, size: int) -> int:
        """How many interim analyses share the error allowance of ``settled`` if blocks have ``size`` runs."""
        return 1 if self.settled is None else len(interim_analyses(size, self.runs))


def interim_analyses(size: int, runs: int) -> list[int]:
    """Runs after which a target, or a comparison, is analysed: one block, then twice as many each time, then
    all.

    Few analyses, because each takes its part of the chance of a false decision.
    """
    found, at = [], size
    while at < runs:
        found.append(at)
        at *= 2
    return [*found, runs]


def analysis_level(target: Target, count: int) -> float:
    """The level of a two-sided interval for each of ``count`` interim analyses, so that all of them together
    err to either side with no more than 1 - confidence (Bonferroni's inequality).
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

    BETTER only if every part is shown to be, by as many runs as would show it of steps that are fully
    correlated within a run.  That needs no level of its own: whatever the rates, a design that has one part
    at the target is called better no more often than that part is (an intersection of tests: R. L. Berger,
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
    """Better, and on enough runs: a few wrong steps say nothing about those that are rare and come many to a
    run.
    """
    if part.y > target.rate * part.x or not enough_runs(part.runs, target, level):
        return False
    return decided(part, target, level) == BETTER


def precise(interval: Interval, errors: int, precision: float) -> bool:
    """Whether an interval is within ``precision`` of its estimate, to either side."""
    if errors < FEWEST_ERRORS:
        return False
    widest = max(interval.high - interval.estimate, interval.estimate - interval.low)
    return bool(0.0 < widest <= precision * abs(interval.estimate))


class Watch:
    """Applies a stopping rule as blocks of ``size`` runs are added, in run order."""

    def __init__(self, stop: Stop, size: int) -> None:
        self.stop = stop
        self.blocks = Blocks(size)
        self.looks = interim_analyses(size, stop.runs)

    def look(self, before: BlockSums, now: BlockSums, seconds: float) -> str | None:
        """What ends the campaign, None if it goes on; ``before`` are the sums without the last block."""
        stop, runs = self.stop, now.tallies[0].runs
        if stop.errors is not None:
            self.blocks.add(BlockTotals.between(before, now))
        verdict = self._decided(now) if runs in self.looks else None
        if verdict is not None:
            return verdict
        if runs >= stop.runs:
            return ALL_RUNS
        if stop.errors is not None and min(tally.wrong for tally in now.tallies) >= stop.errors:
            return ENOUGH_ERRORS
        if stop.precision is not None and _precise(now, stop.precision):
            return PRECISE
        return TIME_UP if stop.seconds is not None and seconds >= stop.seconds else None

    def may_end(self, runs: int) -> bool:
        """Whether the analysis after ``runs`` runs might end the campaign before its last run."""
        stop = self.stop
        if runs >= stop.runs:
            return False
        if any(rule is not None for rule in (stop.errors, stop.precision, stop.seconds)):
            return True
        return (stop.target is not None or stop.settled is not None) and runs in self.looks

    def _decided(self, now: BlockSums) -> str | None:
        stop = self.stop
        if stop.settled is not None:
            pairs = [pair.pair("wrong") for pair in now.pairs]
            return SETTLED if deciding.settled(pairs, stop.settled, len(self.looks)) else None
        return None if stop.target is None else _target_verdict(now.tallies[0], stop.target, len(self.looks))

    def rates(self) -> Floats | None:
        """Rates (designs, groups, quantities) without the bias of an ending by errors; None where there is
        none.
        """
        return None if self.stop.errors is None else self.blocks.without_last(self.stop.errors)


def _target_verdict(tally: Tally, target: Target, count: int) -> str | None:
    """BETTER or WORSE at one of ``count`` interim analyses, None if neither is shown."""
    level = analysis_level(target, count)
    groups = [tally.gesture_group(number) for number in range(len(tally.gestures)) if target.each]
    parts = [tally.cluster("wrong", group) for group in groups if tally.group_steps(group)]
    if target.joint:
        return joint_verdict([tally.cluster("wrong"), *parts], target, level)
    if any(decided(part, target, level) is None for part in parts):
        return None
    return decided(tally.cluster("wrong"), target, level)


def _precise(now: BlockSums, precision: float) -> bool:
    """Whether every difference, or of a single design its rate, is known precisely enough."""
    for pair in (each.pair("wrong") for each in now.pairs):
        errors = pair.p + pair.m
        if errors < FEWEST_ERRORS or not precise(difference_interval(pair), errors, precision):
            return False
    tally = now.tallies[0]
    return bool(now.pairs) or (
        tally.wrong >= FEWEST_ERRORS
        and precise(rate_interval(tally.cluster("wrong")), tally.wrong, precision)
    )
