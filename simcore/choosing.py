"""Which of many candidates meet a rate of wrong steps, and how surely.

A candidate is searched, with looks that share the chance of a false decision: good, bad or undecided as
simcore.stopping.joint_verdict has it.  Of many candidates the best-looking is in part a lucky one, so a
few of those called good are tried again, on runs that no search has seen: a fixed number of them, looked at
once, at a level that the few share.  The search chose them without knowing these runs, so the chance that
any of them is confirmed and yet does not meet the target is at most 1 - confidence, however many were
searched.  Knows no words for people.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from simcore.estimates import Interval, rate_interval
from simcore.stopping import BETTER, WORSE, Target, enough_runs, joint_verdict, look_level, looks
from simcore.tally import Cluster, Tally

GOOD, BAD, UNDECIDED = "good", "bad", "undecided"
VERDICTS = {BETTER: GOOD, WORSE: BAD}
"""Verdicts by what ended a search; anything else leaves a candidate undecided."""
CONFIRMED = 5
"""Candidates tried again at most; their number is fixed before any of the new runs is seen."""
AMPLE = 2
"""Runs that are simulated unless the user says otherwise, over the fewest that can show the target."""
MOST_LOOKED = 1 << 40
"""More runs than anybody will simulate."""


def shared(target: Target, count: int) -> Target:
    """The target for each of ``count`` candidates that share its chance of a false decision (Bonferroni)."""
    return Target(target.rate, 1.0 - (1.0 - target.confidence) / max(count, 1), target.each, target.joint)


def confirming_level(target: Target, count: int) -> float:
    """The level of the two-sided interval by which each of ``count`` candidates is confirmed, at one look."""
    return look_level(shared(target, count), 1)


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
        searched = look_level(target, len(looks(block, runs)))
        levels = (searched, confirming_level(target, CONFIRMED))
        return all(enough_runs(runs, target, level) for level in levels)

    high = block
    while not enough(high) and high < MOST_LOOKED:
        high *= 2
    return _first(enough, high // 2 if high > block else 0, high)


def _first(enough: Callable[[int], bool], low: int, high: int) -> int:
    """The smallest number above ``low``, up to ``high``, that is enough, by halving."""
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


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
