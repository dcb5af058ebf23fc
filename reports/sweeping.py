"""The campaigns of a sweep, cell after cell, in a thread of their own."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports import interrupts
from reports.background import Background
from reports.cells import cell_command, cell_export
from reports.exact_command import Asked

if TYPE_CHECKING:
    from scenarios.load import Scenario
    from scenarios.sweeps import Cell, Sweep
    from simcore.course import Course, Outcome
    from simcore.ledger import Ledger
    from simcore.stopping import Stop

Export = dict[str, Any]
Show = Callable[[int, int], None]
Announce = Callable[["Scenario"], None]
Judge = Callable[["Outcome"], Export]


def unannounced(scenario: Scenario) -> None:
    """Tells nobody."""


def not_judged(outcome: Outcome) -> Export:
    """Nothing more than what every cell has."""
    return {}


@dataclass(frozen=True)
class Request:
    """What to simulate: all cells of a sweep with one seed, each until ``stop``, held against ``goal``
    (a rate of wrong steps; None for none); ``ledger`` keeps their blocks, and ``announce``
    is told of each cell's scenario before there are any.  Runs begin with ``first_run``; ``judge`` says
    what else is kept of a finished cell.
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


class Campaigns:
    """The cells on their way: those finished as plain data, those begun as courses.  They end after the
    present blocks once they are ``unwanted``.
    """

    def __init__(self, request: Request) -> None:
        self.request = request
        self.cells: list[Export] = []
        self.begun: list[tuple[Cell, tuple[str, ...], Course]] = []
        self.kept = 0
        self.complete = False
        self.unwanted = False

    def run(self) -> None:
        """Simulate them all, or those that can be finished before the user wishes to stop."""
        from simcore.campaign import drive
        from simcore.executors import workers

        try:
            with workers(self.request.threads) as (executor, in_hand):
                for _ in drive(self._courses(), executor, in_hand, self._note):
                    self._close(*self.begun.pop(0))
            self.complete = True
        except KeyboardInterrupt:
            for cell, own, course in self.begun:
                if course.ended_by is not None:
                    self._close(cell, own, course)

    def _courses(self) -> Iterator[Course]:
        """One course for each cell, made when it is wanted."""
        from simcore.course import Course, Plan

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

    def _note(self, course: Course) -> None:
        if self.unwanted or interrupts.wished():
            raise KeyboardInterrupt

    def _close(self, cell: Cell, own: tuple[str, ...], course: Course) -> None:
        """Keep what a finished cell came to."""
        request, outcome = self.request, course.outcome()
        paths = [axis.path for axis in request.sweep.axes]
        self.kept += outcome.kept
        self.cells.append(
            {
                "number": cell.number,
                "values": dict(zip(paths, cell.values, strict=True)),
                **cell_export(course.plan, outcome, request.goal),
                **request.judge(outcome),
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


@dataclass(frozen=True)
class Swept:
    """What became of a sweep: its finished cells, whether these are all, how many of their runs a ledger
    had already, and the time taken (s).
    """

    cells: list[Export]
    complete: bool
    kept: int
    seconds: float


def swept(campaigns: Campaigns, show: Show) -> Swept:
    """Simulate the cells; ``show`` is called, in this thread, with (runs done, runs at most)."""
    began = time.perf_counter()
    most = campaigns.request.stop.runs * campaigns.request.sweep.count
    thread = Background(campaigns.run)
    thread.start()
    try:
        given_up = thread.follow(lambda: show(campaigns.done, most), lambda: campaigns.done == 0)
    except BaseException:
        campaigns.unwanted = True
        raise
    campaigns.unwanted = given_up
    if thread.error is not None:
        raise thread.error
    seconds = time.perf_counter() - began
    if given_up:
        return Swept([], False, 0, seconds)
    return Swept(campaigns.cells, campaigns.complete, campaigns.kept, seconds)
