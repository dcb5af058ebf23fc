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
    from scenarios.load import Scenario
    from scenarios.sweeps import Cell, Sweep
    from simcore.campaign import Campaign, Outcome
    from simcore.ledger import Ledger
    from simcore.options import RunOptions

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
class SweepRequest:
    """What to simulate: all cells of a sweep, held against ``goal`` (a rate of wrong steps; None for none);
    ``ledger`` keeps their blocks, and ``announce`` is told of each cell's scenario before there are any;
    ``judge`` says what else is kept of a finished cell, of which it is given what is kept anyway.
    """

    sweep: Sweep
    options: RunOptions
    goal: float | None
    named: Asked
    ledger: Ledger | None = None
    announce: Announce = unannounced
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
    """The cells on their way: those finished as plain data, those begun as campaigns."""

    def __init__(self, request: SweepRequest) -> None:
        self.request = request
        self.began = time.perf_counter()
        self.cells: list[Export] = []
        self.begun: list[tuple[Cell, tuple[str, ...], Campaign]] = []
        self.kept = 0
        self.complete = False

    @property
    def runs(self) -> int:
        """The most runs that there can be."""
        return self.request.options.stop.runs * self.request.sweep.count

    def outcome(self, note: Show) -> Swept:
        """Simulate them all, or those that can be finished before ``note`` raises KeyboardInterrupt."""
        from simcore.campaign import drive
        from simcore.computing import workers

        def told(campaign: Campaign) -> None:
            note(self.done, self.runs)

        try:
            with workers(self.request.options.threads) as (executor, in_hand):
                for campaign in drive(self._campaigns(), executor, in_hand, told):
                    self._close(*self.begun.pop(0))
                    # A cell that a ledger has whole has no block to tell of.
                    told(campaign)
        except KeyboardInterrupt:
            for cell, own, campaign in self.begun:
                if campaign.ended_by is not None:
                    self._close(cell, own, campaign)
        self.complete = len(self.cells) == self.request.sweep.count
        return Swept(self.cells, self.complete, self.kept, time.perf_counter() - self.began)

    def nothing(self, seconds: float) -> Swept:
        """A sweep of which nothing was finished."""
        return Swept([], False, 0, seconds)

    def _campaigns(self) -> Iterator[Campaign]:
        """One campaign for each cell, made when it is wanted."""
        from simcore.campaign import Campaign

        request = self.request
        usual = request.sweep.scenario.cautions
        for cell in request.sweep.cells():
            scenario = request.sweep.scenario_of(cell)
            own = tuple(each for each in scenario.cautions if each not in usual)
            request.announce(scenario)
            campaign = Campaign([scenario.design], request.options, request.ledger)
            self.begun.append((cell, own, campaign))
            yield campaign

    def _close(self, cell: Cell, own: tuple[str, ...], campaign: Campaign) -> None:
        """Keep what a finished cell came to."""
        request, outcome = self.request, campaign.outcome()
        paths = [axis.path for axis in request.sweep.axes]
        counted = cell_export(outcome, request.goal)
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
        most = self.request.options.stop.runs
        begun = [most if campaign.ended_by else campaign.tally.runs for _, _, campaign in tuple(self.begun)]
        return len(self.cells) * most + sum(begun)

    def words(self, done: int, asked: int) -> str:
        """How far they are."""
        count = self.request.sweep.count
        runs = sum(cell["runs"] for cell in tuple(self.cells))
        runs += sum(campaign.tally.runs for _, _, campaign in tuple(self.begun))
        return f"{len(self.cells):,} of {count:,} cells, {runs:,} runs"


def swept(campaigns: Campaigns, show: Show) -> Swept:
    """Simulate the cells; ``show`` is called, in this thread, with (runs done, runs at most)."""
    return simulate(campaigns, show)
