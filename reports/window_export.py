"""The windows of a sweep over one key, as plain data: for all steps, and for each gesture of the hand."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from reports.cells import MEETS, main_cause
from simcore.campaigns.choosing import Border, Standing, Window, against_lowest, lowest, window
from simcore.statistics.exact import Interval

if TYPE_CHECKING:
    from scenarios.loading.ranges import Axis

Export = dict[str, Any]
STANDINGS = {word: standing for standing, word in MEETS.items()}


def windows_of(axes: Sequence[Axis], cells: Sequence[Export], goal: float | None) -> list[Export]:
    """A window for all steps and, of a hand of several gestures, one for each; none unless a single key
    is varied and takes numbers.
    """
    if len(axes) != 1 or axes[0].numbers is None or not cells:
        return []
    by_number = {cell["number"]: cell for cell in cells}
    found = [_window(axes[0], by_number, goal, None)]
    names = [group["name"] for group in cells[0]["by_gesture"]]
    if len(names) > 1:
        found += [_window(axes[0], by_number, goal, number) for number in range(len(names))]
    return found


def group_of(cell: Export, gesture: int | None) -> Export:
    """All steps of a cell, or those of one gesture."""
    return cell if gesture is None else cell["by_gesture"][gesture]


def interval_of(rate: Export) -> Interval:
    """The interval that was written as a rate."""
    low, estimate, high = (
        math.nan if rate[key] is None else float(rate[key]) for key in ("low", "estimate", "high")
    )
    return Interval(low, estimate, high, rate["level"], rate["method"])


def _window(axis: Axis, by_number: Mapping[int, Export], goal: float | None, gesture: int | None) -> Export:
    """One window; a value whose cell was not finished is open."""
    groups = {number: group_of(cell, gesture) for number, cell in by_number.items()}
    numbers = sorted(groups)
    intervals = [interval_of(groups[number]["wrong_rate"]) for number in numbers]
    if goal is None:
        standings, rate = against_lowest(intervals)
    else:
        standings, rate = [_stated(groups[number]) for number in numbers], goal
    known = dict(zip(numbers, standings, strict=True))
    every = [known.get(number, Standing.OPEN) for number in range(len(axis.values))]
    best = lowest(intervals)
    first = next(iter(by_number.values()))
    return {
        "gesture": None if gesture is None else first["by_gesture"][gesture]["name"],
        "rate": rate if math.isfinite(rate) else None,
        "standings": [standing.value for standing in every],
        **_ends(axis, window(every), groups),
        "lowest": None if best is None else _lowest(axis, numbers[best], groups),
    }


def _stated(group: Export) -> Standing:
    """How its own steps stand to the target; of a candidate, ``meets_target`` is of every gesture."""
    return STANDINGS[group["all_steps_meet" if "all_steps_meet" in group else "meets_target"]]


def _ends(axis: Axis, found: Window | None, groups: Mapping[int, Export]) -> Export:
    """Its ends as values, and what binds there; all None or empty where there is no window."""
    if found is None:
        return {
            "ends": None,
            "from": None,
            "to": None,
            "below": None,
            "above": None,
            "gaps": [],
            "elsewhere": [],
        }
    values = axis.values
    return {
        "ends": [found.first, found.last],
        "from": values[found.first],
        "to": values[found.last],
        "below": _border(axis, found.below, groups),
        "above": _border(axis, found.above, groups),
        "gaps": [values[i] for i in found.gaps],
        "elsewhere": [values[i] for i in found.elsewhere],
    }


def _border(axis: Axis, border: Border, groups: Mapping[int, Export]) -> Export:
    """One end: the first value outside with its main root cause, and the open ones before it."""
    outside = border.outside
    cause = None if outside is None else main_cause(groups[outside])
    return {
        "outside": None if outside is None else axis.values[outside],
        "open": [axis.values[i] for i in border.open],
        "cause": None if cause is None else cause[0],
        "of_wrong": None if cause is None or outside is None else cause[1] / groups[outside]["wrong"],
    }


def _lowest(axis: Axis, number: int, groups: Mapping[int, Export]) -> Export:
    """Where the lowest wrong rate is, by the upper bound of its interval."""
    group = groups[number]
    cause = main_cause(group)
    return {
        "value": axis.values[number],
        "wrong_rate": group["wrong_rate"],
        "cause": None if cause is None else cause[0],
    }
