"""Windows: which values along an axis are good enough, and what bounds them on either side.

A cell is one value with its tally.  It stands within when it is shown to meet a rate of wrong steps,
outside when it is shown to miss it, and open as long as neither is shown.  A window is a stretch of an
axis with no cell outside in it.  Knows no words for people.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

from simcore.estimates import LEVEL, Interval
from simcore.stopping import BETTER, Stop, Target, decided, look_level, looks
from simcore.tally import Cluster

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

    Of a campaign with blocks of ``block`` runs that its target ends: that of each of its looks, so that
    whichever ended it, all together err no more often than the target's confidence allows.  Of any other
    campaign: the usual one.
    """
    if stop.target is None:
        return LEVEL
    return look_level(stop.target, len(looks(block, stop.runs)))


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
