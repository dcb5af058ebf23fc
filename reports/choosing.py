"""The work behind ``steptally choose``: all candidates searched, the best of the good ones tried again on
new runs, and where none is confirmed, other kinds of stage.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from reports.sweeping import Campaigns, Request, Swept, swept
from simcore.campaigns.choosing import (
    BAD,
    CONFIRMED,
    GOOD,
    UNDECIDED,
    VERDICTS,
    confirmed,
    confirming_level,
    decades_below,
    parts_of,
    shared,
    sides,
    worst_high,
)

if TYPE_CHECKING:
    from scenarios.loading.sweeps import Sweep
    from simcore.campaigns.choosing import Place
    from simcore.campaigns.course import Outcome
    from simcore.statistics.stopping import Target

Export = dict[str, Any]
Watched = Callable[[Campaigns, str], Swept]
MEETS = {GOOD: "yes", UNDECIDED: "undecided", BAD: "no"}
"""Whether a candidate meets the target, by its verdict, the best first."""
ORDER = {verdict: place for place, verdict in enumerate(MEETS)}
MOST_CHECKED = 24
"""Good candidates, those with most room first, of which the electrical checks are asked."""


@dataclass
class Found:
    """What became of a choice: the ``search``, the ``retried`` candidates in their final order with what
    they came to on new runs, the ``others`` (kinds of stage), and whether all of it is ``complete``.
    """

    search: Swept
    retried: list[Export] = field(default_factory=list)
    others: list[Export] = field(default_factory=list)
    refused: list[Export] = field(default_factory=list)
    complete: bool = True
    kept: int = 0
    seconds: float = 0.0

    @property
    def recommended(self) -> list[Export]:
        """Those confirmed, the best first."""
        return [each for each in self.retried if each["verdict"] == GOOD]

    def take(self, part: Swept) -> None:
        """Add up what a part of the work took."""
        self.complete = self.complete and part.complete
        self.kept += part.kept
        self.seconds += part.seconds


def searched(outcome: Outcome, cell: Export) -> Export:
    """The verdict of a search, by what ended it; and that of all steps together, as a window is drawn by."""
    verdict = VERDICTS.get(outcome.ended_by, UNDECIDED)
    return {"verdict": verdict, "meets_target": MEETS[verdict], "all_steps_meet": cell["meets_target"]}


def grid_of(sweep: Sweep) -> dict[int, Place]:
    """The place of each cell, by its number."""
    places = itertools.product(*(range(len(axis.values)) for axis in sweep.axes))
    return dict(enumerate(places))


@dataclass(frozen=True)
class Grid:
    """The cells of a search as a grid."""

    sweep: Sweep
    places: Mapping[int, Place]
    numbers: Mapping[Place, int]
    cells: Mapping[int, Export]

    @classmethod
    def of(cls, sweep: Sweep, cells: Sequence[Export]) -> Grid:
        """The grid of a sweep's finished cells."""
        places = grid_of(sweep)
        return cls(sweep, places, {p: n for n, p in places.items()}, {c["number"]: c for c in cells})

    def good(self, place: Place) -> bool:
        """Whether the cell there was called good."""
        cell = self.cells.get(self.numbers[place])
        return cell is not None and cell["verdict"] == GOOD

    def sides(self, number: int) -> list[Export]:
        """For each axis what lies below and above a cell."""
        found = []
        for axis, each in enumerate(self.sweep.axes):
            pair = sides(self.places[number], axis, each.numbers, len(each.values), self.good)
            below, above = (self._side(axis, place, distance) for place, distance in pair)
            found.append({"path": each.path, "below": below, "above": above})
        return found

    def _side(self, axis: int, place: Place | None, distance: float) -> Export:
        values = self.sweep.axes[axis].values
        decades = None if math.isnan(distance) else distance
        if place is None:
            return {"value": None, "decades": decades, "verdict": None, "spoiler": None}
        cell = self.cells.get(self.numbers[place])
        return {
            "value": values[place[axis]],
            "decades": decades,
            "verdict": None if cell is None else cell["verdict"],
            "spoiler": None if cell is None else spoiler(cell),
        }


def room_of(around: Sequence[Export]) -> float | None:
    """The smallest distance to what is not good, in decades; None where no axis has numbers."""
    found = [each[side]["decades"] for each in around for side in ("below", "above")]
    return min((decades for decades in found if decades is not None), default=None)


def spoiler(cell: Export) -> Export:
    """The gesture that is worst in a cell, its rate, and the root cause of most of its wrong steps."""
    from reports.cells import main_cause

    groups = [group for group in cell["by_gesture"] if group["steps"]] or [cell]
    key = "low" if cell["verdict"] == "bad" else "high"
    worst = max(groups, key=lambda group: group["wrong_rate"][key])
    cause = main_cause(worst)
    return {
        "gesture": worst.get("name"),
        "wrong_rate": worst["wrong_rate"],
        "cause": None if cause is None else cause[0],
    }


@dataclass(frozen=True)
class Choice:
    """What to do: the ``request`` of the search, and the ``target`` that its rule of ending holds."""

    request: Request
    target: Target
    watched: Watched

    @property
    def fresh(self) -> int:
        """The first run that no search has seen, whatever it needed."""
        return self.request.first_run + self.request.stop.runs

    def find(self) -> Found:
        """Search, confirm and, where nothing is recommended, try other kinds of stage."""
        campaigns = Campaigns(replace(self.request, judge=searched))
        search = self.watched(campaigns, "searching")
        found = Found(search)
        found.take(search)
        if found.complete:
            self._confirm(found)
        if found.complete and not found.recommended:
            self._try_others(found)
        return found

    def _confirm(self, found: Found) -> None:
        """Try the best of the good ones again, on new runs."""
        from scenarios.choices import picked

        sweep = self.request.sweep
        grid = Grid.of(sweep, found.search.cells)
        chosen = candidates(grid)
        if not chosen:
            return
        numbers = [each["number"] for each in chosen]
        request = replace(
            self.request, sweep=picked(sweep, numbers), first_run=self.fresh,
            stop=replace(self.request.stop, target=None), judge=self._judge(len(numbers)),
        )  # fmt: skip
        part = self.watched(Campaigns(request), "confirming")
        found.take(part)
        around = {each["number"]: each for each in chosen}
        for cell in part.cells:
            found.retried.append({**cell, **around[cell["number"]], **margin(cell, around[cell["number"]])})
        found.retried.sort(key=rank)

    def _judge(self, count: int) -> Callable[[Outcome, Export], Export]:
        """What new runs say of one of ``count`` candidates."""

        def judge(outcome: Outcome, cell: Export) -> Export:
            parts = parts_of(outcome.tally)
            verdict = confirmed(parts, self.target, count)
            bound = worst_high(parts, confirming_level(self.target, count))
            return {
                "verdict": verdict,
                "meets_target": MEETS[verdict],
                "bound": bound.high,
                "bound_level": self.target.confidence,
                "decades": decades_below(bound.high, self.target.rate),
            }

        return judge

    def _try_others(self, found: Found) -> None:
        """Other kinds of stage, on new runs as well."""
        from scenarios.alternatives import alternatives_of

        others = alternatives_of(self.request.sweep.scenario)
        found.refused = [{"name": name, "why": why} for name, why in others.refused]
        if not others.count:
            return
        stop = replace(self.request.stop, target=shared(self.target, others.count))
        request = replace(self.request, sweep=others, first_run=self.fresh, stop=stop, judge=searched)
        part = self.watched(Campaigns(request), "trying other kinds of stage")
        found.take(part)
        for cell in part.cells:
            other = others.others[cell["number"]]
            found.others.append({
                **cell, "name": other.name, "what": other.what, "toml": other.toml,
                "worst": spoiler(cell), "checks_failed": failed_checks(other.scenario), "command": None,
            })  # fmt: skip
        found.others.sort(key=lambda each: (ORDER[each["verdict"]], each["wrong_rate"]["high"]))


def candidates(grid: Grid) -> list[Export]:
    """The good cells to be tried again: of those with most room, the ones without a failed check first."""
    good = [number for number, cell in grid.cells.items() if cell["verdict"] == GOOD]
    around = [(number, grid.sides(number)) for number in good]
    found: list[Export] = [{"number": n, "sides": each, "room": room_of(each)} for n, each in around]
    found.sort(key=lambda each: (-_finite(each["room"]), each["number"]))
    every = {cell.number: cell for cell in grid.sweep.cells()}
    for each in found[:MOST_CHECKED]:
        each["checks_failed"] = failed_checks(grid.sweep.scenario_of(every[each["number"]]))
    return sorted(found[:MOST_CHECKED], key=lambda each: bool(each["checks_failed"]))[:CONFIRMED]


def failed_checks(scenario: Any) -> list[str]:
    """The names of the electrical checks that a scenario fails, each with its subject."""
    from scenarios.checks import check_scenario
    from simcore.limits.records import FAIL

    failed = (each for each in check_scenario(scenario, suggest=False) if each.verdict == FAIL)
    return [f"{each.name} ({each.subject})" for each in failed]


def _finite(decades: float | None) -> float:
    return math.inf if decades is None else decades


def margin(cell: Export, around: Export) -> Export:
    """The smaller of the two distances, and what it is of."""
    distances = {"rate": cell["decades"]}
    if around["room"] is not None:
        distances["values"] = around["room"]
    least = min(distances, key=lambda name: distances[name])
    return {"margin": distances[least], "margin_of": least, "worst": spoiler(cell)}


def rank(cell: Export) -> tuple[Any, ...]:
    """The best first: confirmed, without a failed check, with the larger margin."""
    return (
        ORDER[cell["verdict"]], bool(cell["checks_failed"]), -round(cell["margin"], 9),
        -round(cell["decades"], 9), cell["number"],
    )  # fmt: skip


def closest(cells: Sequence[Export]) -> Export | None:
    """The candidate that comes closest: not bad before bad, then the lowest upper bound of the worst
    gesture.
    """
    known = [cell for cell in cells if cell["steps"]]
    if not known:
        return None

    def worst(cell: Export) -> float:
        groups = [cell, *(group for group in cell["by_gesture"] if group["steps"])]
        return max(float(group["wrong_rate"]["high"]) for group in groups)

    found = min(known, key=lambda cell: (cell["verdict"] == "bad", worst(cell), cell["number"]))
    return {**found, "worst": spoiler(found), "bound": worst(found)}


def watched_by(show: Callable[[Campaigns, str], Any]) -> Watched:
    """A way to watch each part of the work: ``show`` gives, for campaigns and a word, what to call."""

    def watch(campaigns: Campaigns, word: str) -> Swept:
        with show(campaigns, word) as each:
            return swept(campaigns, each)

    return watch
