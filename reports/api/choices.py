"""`choose`: the values that meet a target with stated confidence, as ``steptally choose`` does.

All candidates are searched, the best of the good ones tried again on new runs, and where none is confirmed,
other kinds of stage are tried.
"""

from __future__ import annotations

import itertools
import math
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Protocol

from reports.api import options
from reports.api.inputs import LoadedInput, ScenarioInput, Sets, load_input
from reports.api.ledger_use import not_kept
from reports.api.sweeps import (
    Campaigns,
    CellT,
    FinishedCell,
    Ranges,
    SweepOutcome,
    SweepRequest,
    ledger_of,
    loaded_cells,
    range_words,
    simulated,
    target_of,
)
from reports.api.working import Progress, finished, silent, warn, working
from reports.errors import BadInput, refusing
from reports.results.building import design_checks
from reports.results.choose import (
    MOST_CHECKED,
    AlternativeKind,
    Candidate,
    ChoiceResult,
    ClosestCandidate,
    NeighbourValue,
    NeighbourValues,
    RefusedKind,
    RetriedCandidate,
    WorstGesture,
    cannot_be_shown,
)
from reports.results.sweep import CellTally, SweepCell
from simcore.campaigns import campaign
from simcore.campaigns.choosing import (
    AMPLE,
    CONFIRMED,
    VERDICTS,
    confirmed,
    confirming_level,
    decades_below,
    fewest_runs,
    parts_of,
    shared,
    sides,
    worst_high,
)
from simcore.campaigns.options import RunOptions
from simcore.statistics import stopping

if TYPE_CHECKING:
    from reports.results.common import Decision, Rate
    from scenarios.choosing.alternatives import Alternative
    from scenarios.loading.load import Scenario
    from scenarios.loading.sweeps import Sweep
    from simcore.campaigns.choosing import Place
    from simcore.statistics.stopping import Target

MEETS: Mapping[str, Decision] = {"good": "yes", "undecided": "undecided", "bad": "no"}
"""Whether a candidate meets the target, by its verdict, the best first."""
ORDER = {verdict: place for place, verdict in enumerate(MEETS)}


def choose(
    scenario: ScenarioInput,
    *,
    target: str | None = None,
    vary: Ranges = (),
    sets: Sets = (),
    runs: int | str | None = None,
    seed: int | str | None = None,
    threads: int | str | None = None,
    ledger: str | os.PathLike[str] | None = None,
    use_ledger: bool = True,
    progress: Progress = silent,
) -> ChoiceResult:
    """Choose values that meet a target at every gesture of the hand.

    Arguments are the options of ``steptally choose``; ``vary`` is as `sweep` has it, and what is varied
    without it is found by rule; ``use_ledger=False`` is ``--no-ledger``.  Raises BadInput, and Interrupted
    with what was finished.
    """
    number, most, many = options.whole("--seed", seed), options.runs(runs), options.threads(threads)
    cache, given = ledger_of(ledger, use_ledger), range_words(vary)
    with refusing():
        chosen = load_input(scenario, sets)
        loaded = chosen.loaded
        ranges = given or _usual(chosen)
        cells = loaded_cells(chosen, ranges)
    goal = target_of(loaded.target, target)
    if goal is None:
        raise BadInput(
            f"{loaded.source}: states no target; give one, as in --target '1 wrong in 10000 steps'"
        )
    rule = stopping.Target(goal.rate, each=True, joint=True)
    block = campaign.runs_per_block(loaded.design)
    fewest = fewest_runs(rule, block)
    if most is None:
        most = min(max(loaded.runs, AMPLE * fewest, block), options.MOST_RUNS)
    if most < fewest:
        warn(cannot_be_shown(goal.text, most, fewest))

    def watched(campaigns: Campaigns[CellT], word: str) -> SweepOutcome[CellT]:
        return simulated(campaigns, progress, word)

    with working(), cache as kept:
        request = SweepRequest(
            cells, chosen.named, ranges,
            RunOptions(
                loaded.seed if number is None else number, stopping.Stop(most, target=rule), threads=many,
                margins=False,
            ),
            goal, target, kept,
        )  # fmt: skip
        found = CandidateSearch(request, watched).find()
        result = ChoiceResult.of(request, found, fewest, by_rule=not given)
        result.made_from(chosen.files, None if kept is None else found.cached)
        return finished(result, not_kept(kept))


def _usual(chosen: LoadedInput) -> tuple[str, ...]:
    """The ranges of a scenario where the user gives none.  Raises BadInput where it has none."""
    from scenarios.choosing.choices import usual_ranges

    found = usual_ranges(chosen.loaded, chosen.sets)
    if not found:
        raise BadInput(
            f"{chosen.loaded.source}: its stages have no capacitor and no time to vary by rule; say what to "
            'vary, as in --vary "filter.capacitor=10n..1u:E6" (steptally show names the paths)'
        )
    return found


class Simulator(Protocol):
    """Simulates campaigns, and shows under a word how far they are."""

    def __call__(self, campaigns: Campaigns[CellT], word: str) -> SweepOutcome[CellT]: ...


@dataclass
class SearchOutcome:
    """The outcome of a choice: the ``search``, the ``retried`` candidates in their final order, the
    ``others`` (kinds of stage), those ``refused``, whether all of it is ``complete``, how many runs a ledger
    had already, and the time taken (s).
    """

    search: SweepOutcome[Candidate]
    retried: list[RetriedCandidate] = field(default_factory=list)
    others: list[AlternativeKind] = field(default_factory=list)
    refused: list[RefusedKind] = field(default_factory=list)
    complete: bool = True
    cached: int = 0
    seconds: float = 0.0

    @property
    def recommended(self) -> RetriedCandidate | None:
        """The best of those confirmed."""
        return next((each for each in self.retried if each.verdict == "good"), None)

    def take(self, part: SweepOutcome[CellT]) -> list[CellT]:
        """The cells of a part of the work, which is added up."""
        self.complete = self.complete and part.complete
        self.cached += part.cached
        self.seconds += part.seconds
        return part.cells


def searched(ended: FinishedCell) -> Candidate:
    """The verdict of a search, by what ended it."""
    cell, verdict = SweepCell.of(ended), VERDICTS.get(ended.outcome.ended_by, "undecided")
    judged = {"verdict": verdict, "meets_target": MEETS[verdict], "all_steps_meet": cell.meets_target}
    return Candidate(**{**dict(cell), **judged})


@dataclass(frozen=True)
class CandidateGrid:
    """The candidates of a search as a grid."""

    sweep: Sweep
    places: Mapping[int, Place]
    numbers: Mapping[Place, int]
    cells: Mapping[int, Candidate]

    @classmethod
    def of(cls, sweep: Sweep, cells: Sequence[Candidate]) -> CandidateGrid:
        """The grid of the candidates whose search was finished."""
        places = dict(enumerate(itertools.product(*(range(len(axis.values)) for axis in sweep.axes))))
        return cls(sweep, places, {p: n for n, p in places.items()}, {c.number: c for c in cells})

    def good(self, place: Place) -> bool:
        """Whether the candidate there was called good."""
        cell = self.cells.get(self.numbers[place])
        return cell is not None and cell.verdict == "good"

    def sides(self, number: int) -> tuple[NeighbourValues, ...]:
        """For each key what lies below and above a candidate."""
        found = []
        for axis, each in enumerate(self.sweep.axes):
            pair = sides(self.places[number], axis, each.numbers, len(each.values), self.good)
            below, above = (self._side(axis, place, distance) for place, distance in pair)
            found.append(NeighbourValues(path=each.path, below=below, above=above))
        return tuple(found)

    def _side(self, axis: int, place: Place | None, distance: float) -> NeighbourValue:
        decades = None if math.isnan(distance) else distance
        if place is None:
            return NeighbourValue(value=None, decades=decades, verdict=None, spoiler=None)
        cell = self.cells.get(self.numbers[place])
        return NeighbourValue(
            value=self.sweep.axes[axis].values[place[axis]],
            decades=decades,
            verdict=None if cell is None else cell.verdict,
            spoiler=None if cell is None else worst_gesture(cell, cell.verdict),
        )


def _end(rate: Rate, *, low: bool = False) -> float:
    """The upper or the lower end of an interval; infinite without data."""
    end = rate.low if low else rate.high
    return math.inf if end is None else end


def worst_gesture(cell: CellTally, verdict: str) -> WorstGesture:
    """The gesture that is worst in a cell: of a bad one that which is shown to be, else that which may be."""
    groups = [group for group in cell.by_gesture if group.steps]
    worst = max(groups, key=lambda group: _end(group.wrong_rate, low=verdict == "bad"), default=None)
    group = worst or cell
    cause: Any = next(iter(group.causes), None)
    return WorstGesture(
        gesture=None if worst is None else worst.name, wrong_rate=group.wrong_rate, cause=cause
    )


@dataclass(frozen=True)
class Neighbourhood:
    """A good candidate with its neighbours; ``room`` is the smallest distance to a value that is not good, in
    decades, None where no key has numbers.
    """

    number: int
    sides: tuple[NeighbourValues, ...]
    room: float | None
    checks_failed: tuple[str, ...] = ()


@dataclass(frozen=True)
class CandidateSearch:
    """Searches, confirms and tries alternatives; the stopping rule of ``request`` holds the target."""

    request: SweepRequest
    simulate: Simulator

    @property
    def target(self) -> Target:
        target = self.request.options.stop.target
        assert target is not None  # noqa: S101 - a choice has one
        return target

    def find(self) -> SearchOutcome:
        """Search, confirm and, where nothing is recommended, try other kinds of stage."""
        search = self.simulate(Campaigns(self.request, searched), "searching")
        found = SearchOutcome(search)
        found.take(search)
        if found.complete:
            self._confirm(found)
        if found.complete and found.recommended is None:
            self._try_others(found)
        return found

    def _again(self, sweep: Sweep, target: Target | None) -> SweepRequest:
        """A request of runs that the search did not use."""
        how = self.request.options
        fresh, stop = how.first_run + how.stop.runs, replace(how.stop, target=target)
        return replace(self.request, sweep=sweep, options=replace(how, first_run=fresh, stop=stop))

    def _confirm(self, found: SearchOutcome) -> None:
        """Try the best of the good ones again, on new runs."""
        from scenarios.choosing.choices import picked

        grid = CandidateGrid.of(self.request.sweep, found.search.cells)
        chosen = {each.number: each for each in candidates(grid)}
        if not chosen:
            return
        request = self._again(picked(self.request.sweep, list(chosen)), None)

        def retried(ended: FinishedCell) -> RetriedCandidate:
            return self._retried(ended, chosen[ended.number], len(chosen))

        found.retried = sorted(found.take(self.simulate(Campaigns(request, retried), "confirming")), key=rank)

    def _retried(self, ended: FinishedCell, around: Neighbourhood, count: int) -> RetriedCandidate:
        """What new runs say of one of ``count`` candidates."""
        parts = parts_of(ended.outcome.tally)
        verdict = confirmed(parts, self.target, count)
        bound = worst_high(parts, confirming_level(self.target, count))
        decades = decades_below(bound.high, self.target.rate)
        room = math.inf if around.room is None else around.room
        cell = SweepCell.of(ended)
        return RetriedCandidate(
            **{**dict(cell), "verdict": verdict, "meets_target": MEETS[verdict]},
            bound=bound.high,
            bound_level=self.target.confidence,
            decades=decades,
            sides=around.sides,
            room=around.room,
            checks_failed=around.checks_failed,
            margin=min(decades, room),
            margin_of="rate" if decades <= room else "values",
            worst=worst_gesture(cell, verdict),
        )

    def _try_others(self, found: SearchOutcome) -> None:
        """Other kinds of stage, on new runs as well."""
        from scenarios.choosing.alternatives import alternatives_of

        tried = alternatives_of(self.request.sweep.scenario)
        found.refused = [RefusedKind(name=name, why=why) for name, why in tried.refused]
        if not tried.count:
            return

        def kind(ended: FinishedCell) -> AlternativeKind:
            return _alternative(ended, tried.others[ended.number])

        request = self._again(tried, shared(self.target, tried.count))
        kinds = found.take(self.simulate(Campaigns(request, kind), "trying other kinds of stage"))
        found.others = sorted(kinds, key=lambda each: (ORDER[each.verdict], _end(each.wrong_rate)))


def _alternative(ended: FinishedCell, other: Alternative) -> AlternativeKind:
    cell = searched(ended)
    return AlternativeKind(
        **{**dict(cell), "command": None},
        name=other.name,
        what=other.what,
        toml=other.toml,
        worst=worst_gesture(cell, cell.verdict),
        checks_failed=failed_checks(other.scenario),
    )


def candidates(grid: CandidateGrid) -> list[Neighbourhood]:
    """The good cells to be tried again: of those with most room, the ones without a failed check first."""
    found = []
    for number, cell in grid.cells.items():
        if cell.verdict == "good":
            around = grid.sides(number)
            distances = [side.decades for each in around for side in (each.below, each.above)]
            room = min((decades for decades in distances if decades is not None), default=None)
            found.append(Neighbourhood(number, around, room))
    found.sort(key=lambda each: (-math.inf if each.room is None else -each.room, each.number))
    every = {cell.number: cell for cell in grid.sweep.cells()}
    checked = [
        replace(each, checks_failed=failed_checks(grid.sweep.scenario_of(every[each.number])))
        for each in found[:MOST_CHECKED]
    ]
    return sorted(checked, key=lambda each: bool(each.checks_failed))[:CONFIRMED]


def failed_checks(scenario: Scenario) -> tuple[str, ...]:
    """The names of the electrical checks that a scenario fails, each with its subject."""
    checks = design_checks(scenario, suggest=False)
    return tuple(f"{each.name} ({each.subject})" for each in checks if each.verdict == "fail")


def rank(cell: RetriedCandidate) -> tuple[object, ...]:
    """The best first: confirmed, without a failed check, with the larger margin."""
    return (
        ORDER[cell.verdict], bool(cell.checks_failed), -round(cell.margin, 9), -round(cell.decades, 9),
        cell.number,
    )  # fmt: skip


def closest(cells: Sequence[Candidate]) -> ClosestCandidate | None:
    """The candidate that comes closest: not bad before bad, then the lowest upper bound of the worst
    gesture.
    """

    def bound(cell: Candidate) -> float:
        rates = [cell.wrong_rate, *(group.wrong_rate for group in cell.by_gesture if group.steps)]
        return max(map(_end, rates))

    known = [cell for cell in cells if cell.steps]
    if not known:
        return None
    found = min(known, key=lambda cell: (cell.verdict == "bad", bound(cell), cell.number))
    return ClosestCandidate(**dict(found), worst=worst_gesture(found, found.verdict), bound=bound(found))
