"""The campaigns of a sweep, cell after cell, in a thread of their own."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

from reports.commands import NamedScenario, ending_words, exact_command
from reports.ledger_use import announced

if TYPE_CHECKING:
    from scenarios.ledger import LedgerFile
    from scenarios.loading.load import Target
    from scenarios.loading.sweeps import Cell, Sweep
    from simcore.campaigns.campaign import Campaign, Outcome
    from simcore.campaigns.options import RunOptions

Progress = Callable[[int, int], None]
Kept = TypeVar("Kept")


@dataclass(frozen=True)
class SweepRequest:
    """What to simulate: all cells of a sweep, each by the same ``options``, compared with ``target`` if
    there is one; ``ledger`` keeps their blocks.

    ``named`` is how commands name the scenario, ``varied`` what they say of the values, and
    ``target_option`` what they say of the target, None where the scenario states it.
    """

    sweep: Sweep
    named: NamedScenario
    varied: tuple[str, ...]
    options: RunOptions
    target: Target | None
    target_option: str | None = None
    ledger: LedgerFile | None = None


@dataclass(frozen=True)
class FinishedCell:
    """A cell whose campaign has ended, with the value of each key varied, the cautions that hold for it
    alone, the rate of wrong steps that it is compared with (``goal``, None for none) by intervals at
    ``level``, and the command that gives its numbers.
    """

    number: int
    values: Mapping[str, str]
    outcome: Outcome
    goal: float | None
    level: float
    cautions: tuple[str, ...]
    command: str


@dataclass(frozen=True)
class Swept(Generic[Kept]):
    """What became of a sweep: what was kept of its finished cells, whether these are all, how many of their
    runs a ledger had already, and the time taken (s).
    """

    cells: list[Kept]
    complete: bool
    cached: int
    seconds: float


class Campaigns(Generic[Kept]):
    """The cells on their way: what ``keep`` makes of those finished, and those begun as campaigns."""

    def __init__(self, request: SweepRequest, keep: Callable[[FinishedCell], Kept]) -> None:
        self.request = request
        self.keep = keep
        self.began = time.perf_counter()
        self.cells: list[Kept] = []
        self.begun: list[tuple[Cell, tuple[str, ...], Campaign]] = []
        self.finished_runs = 0
        self.cached = 0

    @property
    def runs(self) -> int:
        """The most runs that there can be."""
        return self.request.options.stop.runs * self.request.sweep.count

    def outcome(self, note: Progress) -> Swept[Kept]:
        """Simulate them all, or those that can be finished before ``note`` raises KeyboardInterrupt."""
        from simcore.campaigns.campaign import drive
        from simcore.campaigns.computing import workers

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
        complete = len(self.cells) == self.request.sweep.count
        return Swept(self.cells, complete, self.cached, time.perf_counter() - self.began)

    def nothing(self, seconds: float) -> Swept[Kept]:
        """A sweep of which nothing was finished."""
        return Swept([], False, 0, seconds)

    def _campaigns(self) -> Iterator[Campaign]:
        """One campaign for each cell, made when it is wanted."""
        from simcore.campaigns.campaign import Campaign

        request = self.request
        usual = request.sweep.scenario.cautions
        for cell in request.sweep.cells():
            scenario = request.sweep.scenario_of(cell)
            own = tuple(each for each in scenario.cautions if each not in usual)
            announced(request.ledger, scenario, request.options.seed, margins=False)
            campaign = Campaign([scenario.design], request.options, request.ledger)
            self.begun.append((cell, own, campaign))
            yield campaign

    def _close(self, cell: Cell, own: tuple[str, ...], campaign: Campaign) -> None:
        """Keep what a finished cell came to."""
        from simcore.campaigns.campaign import runs_per_block
        from simcore.campaigns.choosing import goal_level

        request, outcome = self.request, campaign.outcome()
        paths = [axis.path for axis in request.sweep.axes]
        finished = FinishedCell(
            cell.number,
            dict(zip(paths, cell.values, strict=True)),
            outcome,
            None if request.target is None else request.target.rate,
            goal_level(request.options.stop, runs_per_block(outcome.design)),
            own,
            cell_command(request, cell, outcome),
        )
        self.cached += outcome.kept
        self.finished_runs += outcome.tally.runs
        self.cells.append(self.keep(finished))

    @property
    def done(self) -> int:
        """Runs that need not be simulated any more: those done, and those that a finished cell spares."""
        most = self.request.options.stop.runs
        begun = [most if campaign.ended_by else campaign.tally.runs for _, _, campaign in tuple(self.begun)]
        return len(self.cells) * most + sum(begun)

    def words(self) -> str:
        """How far they are."""
        runs = self.finished_runs + sum(campaign.tally.runs for _, _, campaign in tuple(self.begun))
        return f"{len(self.cells):,} of {self.request.sweep.count:,} cells, {runs:,} runs"


def cell_command(request: SweepRequest, cell: Cell, outcome: Outcome) -> str:
    """The command that gives a cell's numbers alone; the scenario's own rules must not end it earlier."""
    stated = request.sweep.scenario.stop
    named = NamedScenario(request.named.scenario, (*request.named.sets, *cell.sets))
    words = ending_words(stated, stated, by_runs=True)
    return exact_command(named, max(outcome.tally.runs, 1), outcome.seed, outcome.first_run, words)
