"""Which of many candidates meet a rate of wrong steps, and how surely; and which values along an axis do.

A candidate is searched, with interim analyses that share the chance of a false decision: good, bad or
undecided as simcore.statistics.stopping.joint_verdict has it.  The best of many candidates is in part so by
chance, so a few of those called good are tried again, on runs that no search has seen: a fixed number of
them, analysed once, at a level that the few share.  The search chose them without knowing these runs, so the
chance that any of them is confirmed and yet does not meet the target is at most 1 - confidence, however many
were searched.  That is as true as the intervals are (see simcore.statistics.estimates): where part of the
wrong steps come singly and the rest come many to a run, in runs so rare that few or none were met, it is
more.

A cell is one value with its tally.  It stands within when it is shown to meet a rate of wrong steps,
outside when it is shown to miss it, and open as long as neither is shown.  A window is a stretch of an
axis with no cell outside in it.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

from simcore.judging.tally import Cluster, Tally
from simcore.statistics.estimates import rate_interval
from simcore.statistics.exact import LEVEL, Interval
from simcore.statistics.stopping import (
    BETTER,
    WORSE,
    Stop,
    Target,
    analysis_level,
    decided,
    enough_runs,
    interim_analyses,
    joint_verdict,
)

GOOD, BAD, UNDECIDED = "good", "bad", "undecided"
VERDICTS = {BETTER: GOOD, WORSE: BAD}
"""Verdicts by what ended a search; anything else leaves a candidate undecided."""
CONFIRMED = 5
"""Candidates tried again at most; their number is fixed before any of the new runs is seen."""
AMPLE = 2
"""Runs that are simulated unless the user says otherwise, over the fewest that can show the target."""
MOST_RUNS = 1 << 40
"""More runs than can be simulated."""


def shared(target: Target, count: int) -> Target:
    """The target for each of ``count`` candidates that share its chance of a false decision (Bonferroni)."""
    return Target(target.rate, 1.0 - (1.0 - target.confidence) / max(count, 1), target.each, target.joint)


def confirming_level(target: Target, count: int) -> float:
    """The level of the two-sided interval by which each of ``count`` candidates is confirmed, in one
    analysis.
    """
    return analysis_level(shared(target, count), 1)


def confirmed(parts: Sequence[Cluster], target: Target, count: int) -> str:
    """GOOD, BAD or UNDECIDED by the steps of new runs, all and of each gesture."""
    verdict = joint_verdict(parts, target, confirming_level(target, count))
    return UNDECIDED if verdict is None else VERDICTS[verdict]


def parts_of(tally: Tally) -> list[Cluster]:
    """All steps, and those of each gesture that has any."""
    groups = [0, *(tally.gesture_group(number) for number in range(len(tally.gestures)))]
    return [tally.cluster("wrong", group) for group in groups if tally.group_steps(group)]


def fewest_runs(target: Target, block: int) -> int:
    """The fewest runs with which a candidate without any wrong step could be called good by a search in
    blocks of ``block`` runs, and be confirmed as one of CONFIRMED.
    """

    def enough(runs: int) -> bool:
        searched = analysis_level(target, len(interim_analyses(block, runs)))
        levels = (searched, confirming_level(target, CONFIRMED))
        return all(enough_runs(runs, target, level) for level in levels)

    high = block
    while not enough(high) and high < MOST_RUNS:
        high *= 2
    return bisect_left(range(high), True, lo=high // 2 + 1 if high > block else 1, key=enough)


def worst_high(parts: Sequence[Cluster], level: float) -> Interval:
    """The interval of the part whose upper bound is the highest."""
    return max((rate_interval(part, level) for part in parts), key=lambda interval: interval.high)


def decades_below(high: float, rate: float) -> float:
    """How far an upper bound lies below a rate, in decades; negative above it."""
    return math.log10(rate / high) if high > 0.0 else math.inf


Place = tuple[int, ...]


def sides(
    place: Place, axis: int, numbers: Sequence[float] | None, count: int, good: Callable[[Place], bool]
) -> Iterator[tuple[Place | None, float]]:
    """Below and above a candidate at ``place`` along an ``axis`` of ``count`` values: the place of the first
    that is not good, None where there is none, and its distance in decades (of the ratio of values).

    Beyond the end of an axis nothing is known: there the distance ends one step further on, as if the next
    value were not good.  NaN for an axis without numbers above 0.
    """
    at = place[axis]
    for step in (-1, 1):
        index = at + step
        while 0 <= index < count and good(_moved(place, axis, index)):
            index += step
        found = _moved(place, axis, index) if 0 <= index < count else None
        yield found, _distance(numbers, at, index)


def _moved(place: Place, axis: int, index: int) -> Place:
    return (*place[:axis], index, *place[axis + 1 :])


def _distance(numbers: Sequence[float] | None, at: int, index: int) -> float:
    if numbers is None or len(numbers) < 2 or numbers[0] <= 0.0:
        return math.nan
    last = len(numbers) - 1
    inner = min(max(index, 0), last)
    far = abs(math.log10(numbers[inner] / numbers[at]))
    if inner == index:
        return far
    end = (numbers[1] / numbers[0]) if index < 0 else numbers[last] / numbers[last - 1]
    return far + math.log10(end)


SLACK = 2.0
"""Without a target, what is at most so many times the lowest rate is good enough."""


class Standing(Enum):
    """How a cell stands to a rate."""

    WITHIN = "within"
    OUTSIDE = "outside"
    OPEN = "open"


@dataclass(frozen=True)
class Border:
    """One end of a window, as indices along the axis: the first cell ``outside``, None where the axis ends
    before there is one, and the cells between it and the window that are ``open``, from the window on.
    """

    outside: int | None
    open: tuple[int, ...]


@dataclass(frozen=True)
class Window:
    """A stretch from cell ``first`` to cell ``last``, both within, with its borders below and above;
    ``gaps`` are the open cells in it, ``elsewhere`` the cells within that lie beyond a cell outside.
    """

    first: int
    last: int
    below: Border
    above: Border
    gaps: tuple[int, ...]
    elsewhere: tuple[int, ...]


def goal_level(stop: Stop, block: int) -> float:
    """The level of the intervals that are held against a target.

    Of a campaign with blocks of ``block`` runs that its target ends: that of each of its analyses,
    so that all together err no more often than the target's confidence allows.  Of any other
    campaign: the usual one.
    """
    if stop.target is None:
        return LEVEL
    return analysis_level(stop.target, len(interim_analyses(block, stop.runs)))


def standing(cluster: Cluster, rate: float, level: float) -> Standing:
    """How some steps stand to a target, by their interval at ``level``."""
    verdict = decided(cluster, Target(rate), level)
    if verdict is None:
        return Standing.OPEN
    return Standing.WITHIN if verdict == BETTER else Standing.OUTSIDE


def lowest(intervals: Sequence[Interval]) -> int | None:
    """The cell with the lowest upper bound, the first of them; None where no cell has data."""
    known = [i for i, interval in enumerate(intervals) if math.isfinite(interval.high)]
    return min(known, key=lambda i: intervals[i].high, default=None)


def against_lowest(intervals: Sequence[Interval]) -> tuple[list[Standing], float]:
    """How cells stand to SLACK times the lowest upper bound found, and that rate (NaN without data).

    The upper bound, because the lowest of many estimates is too low by chance.  All are open where that
    is 1 or more: no rate could lie above it, so lying below it says nothing.
    """
    best = lowest(intervals)
    if best is None:
        return [Standing.OPEN] * len(intervals), math.nan
    rate = SLACK * intervals[best].high
    if rate >= 1.0:
        return [Standing.OPEN] * len(intervals), rate
    return [_against(interval, rate) for interval in intervals], rate


def _against(interval: Interval, rate: float) -> Standing:
    if interval.high <= rate:
        return Standing.WITHIN
    return Standing.OUTSIDE if interval.low > rate else Standing.OPEN


def window(standings: Sequence[Standing]) -> Window | None:
    """The window with the most cells within, the first of them; None where no cell is within."""
    found = [cells for cells in _stretches(standings) if cells]
    if not found:
        return None
    chosen = max(found, key=len)
    first, last = chosen[0], chosen[-1]
    return Window(
        first,
        last,
        _border(standings, range(first - 1, -1, -1)),
        _border(standings, range(last + 1, len(standings))),
        tuple(i for i in range(first, last) if standings[i] is Standing.OPEN),
        tuple(i for cells in found if cells is not chosen for i in cells),
    )


def _stretches(standings: Sequence[Standing]) -> Iterator[list[int]]:
    """The cells within of each stretch between cells outside."""
    cells: list[int] = []
    for i, each in enumerate(standings):
        if each is Standing.OUTSIDE:
            yield cells
            cells = []
        elif each is Standing.WITHIN:
            cells.append(i)
    yield cells


def _border(standings: Sequence[Standing], outward: Sequence[int]) -> Border:
    passed: list[int] = []
    for i in outward:
        if standings[i] is Standing.OUTSIDE:
            return Border(i, tuple(passed))
        passed.append(i)
    return Border(None, tuple(passed))
