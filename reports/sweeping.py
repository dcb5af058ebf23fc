"""The campaigns of a sweep, cell after cell, in a thread of their own."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports.cells import cell_command, cell_export
from reports.exact_command import Asked
from reports.simulate import simulate

if TYPE_CHECKING:
    from scenarios.loading.load import Scenario
    from scenarios.loading.sweeps import Cell, Sweep
    from simcore.campaigns.course import Course, Outcome
    from simcore.campaigns.ledger import Ledger
    from simcore.statistics.stopping import Stop

Export = dict[str, Any]
Show = Callable[[int, int], None]
Announce = Callable[["Scenario"], None]
Judge = Callable[["Outcome", Export], Export]


def unannounced(scenario: Scenario) -> None:
    """Tells nobody."""


def not_judged(outcome: Outcome, cell: Export) -> Export:
    """Nothing more than what every cell has."""
    return {}


@dataclass(frozen=True)
class Request:
    """What to simulate: all cells of a sweep with one seed, each until ``stop``, held against ``goal``
    (a rate of wrong steps; None for none); ``ledger`` keeps their blocks, and ``announce``
    is told of each cell's scenario before there are any.  Runs begin with ``first_run``; ``judge`` says
    what else is kept of a finished cell, of which it is given what is kept anyway.
    """

    sweep: Sweep
    seed: int
    stop: Stop
    goal: float | None
    threads: int
    named: Asked
    ledger: Ledger | None = None
    announce: Announce = unannounced
    first_run: int = 0
    judge: Judge = not_judged


@dataclass(frozen=True)
class Swept:
    """What became of a sweep: its finished cells, whether these are all, how many of their runs a ledger
    had already, and the time taken (s).
    """

    cells: list[Export]
    complete: bool
    kept: int
    seconds: float


class Campaigns:
    """The cells on their way: those finished as plain data, those begun as courses."""

    def __init__(self, request: Request) -> None:
        self.request = request
        self.began = time.perf_counter()
        self.cells: list[Export] = []
        self.begun: list[tuple[Cell, tuple[str, ...], Course]] = []
        self.kept = 0
        self.complete = False

    @property
    def runs(self) -> int:
        """The most runs that there can be."""
        return self.request.stop.runs * self.request.sweep.count

    def outcome(self, note: Show) -> Swept:
        """Simulate them all, or those that can be finished before ``note`` raises KeyboardInterrupt."""
        from simcore.campaigns.campaign import drive
        from simcore.campaigns.executors import workers

        def told(course: Course) -> None:
            note(self.done, self.runs)

        try:
            with workers(self.request.threads) as (executor, in_hand):
                for course in drive(self._courses(), executor, in_hand, told):
                    self._close(*self.begun.pop(0))
                    # A cell that a ledger has whole has no block to tell of.
                    told(course)
        except KeyboardInterrupt:
            for cell, own, course in self.begun:
                if course.ended_by is not None:
                    self._close(cell, own, course)
        self.complete = len(self.cells) == self.request.sweep.count
        return Swept(self.cells, self.complete, self.kept, time.perf_counter() - self.began)

    def nothing(self, seconds: float) -> Swept:
        """A sweep of which nothing was finished."""
        return Swept([], False, 0, seconds)

    def _courses(self) -> Iterator[Course]:
        """One course for each cell, made when it is wanted."""
        from simcore.campaigns.course import Course, Plan

        request = self.request
        usual = request.sweep.scenario.cautions
        for cell in request.sweep.cells():
            scenario = request.sweep.scenario_of(cell)
            own = tuple(each for each in scenario.cautions if each not in usual)
            request.announce(scenario)
            plan = Plan(scenario.design, request.seed, request.stop, request.first_run, margins=False)
            course = Course(plan, request.ledger)
            self.begun.append((cell, own, course))
            yield course

    def _close(self, cell: Cell, own: tuple[str, ...], course: Course) -> None:
        """Keep what a finished cell came to."""
        request, outcome = self.request, course.outcome()
        paths = [axis.path for axis in request.sweep.axes]
        counted = cell_export(course.plan, outcome, request.goal)
        self.kept += outcome.kept
        self.cells.append(
            {
                "number": cell.number,
                "values": dict(zip(paths, cell.values, strict=True)),
                **counted,
                **request.judge(outcome, counted),
                "cautions": list(own),
                "command": cell_command(request.named, cell.sets, outcome, request.sweep.scenario.stop),
            }
        )

    @property
    def done(self) -> int:
        """Runs that need not be simulated any more: those done, and those that a finished cell spares."""
        most = self.request.stop.runs
        begun = [most if course.ended_by else course.tally.runs for _, _, course in tuple(self.begun)]
        return len(self.cells) * most + sum(begun)

    def words(self, done: int, asked: int) -> str:
        """How far they are."""
        count = self.request.sweep.count
        runs = sum(cell["runs"] for cell in tuple(self.cells))
        runs += sum(course.tally.runs for _, _, course in tuple(self.begun))
        return f"{len(self.cells):,} of {count:,} cells, {runs:,} runs"


def swept(campaigns: Campaigns, show: Show) -> Swept:
    """Simulate the cells; ``show`` is called, in this thread, with (runs done, runs at most)."""
    return simulate(campaigns, show)
