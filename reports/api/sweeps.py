"""`sweep`: a scenario over ranges of its values, as ``steptally sweep`` does; the campaigns of its cells."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Generic, TypeVar

from reports.api import options
from reports.api.inputs import LoadedInput, ScenarioInput, Sets, load_input, warn_of_plugins
from reports.api.ledger_use import announced, ledger_at, not_kept, usual_ledger
from reports.api.working import Progress, finished, silent, worked, working
from reports.errors import BadInput, refusing
from reports.words.commands import NamedScenario, ending_words, exact_command

if TYPE_CHECKING:
    from reports.results.sweep import SweepResult
    from scenarios.ledger import LedgerFile
    from scenarios.loading.load import StatedTarget
    from scenarios.loading.sweeps import Cell, Sweep
    from simcore.campaigns.campaign import Campaign, Outcome
    from simcore.campaigns.options import RunOptions
    from simcore.statistics.stopping import Stop

CellT = TypeVar("CellT")
Ranges = str | Mapping[str, str | Sequence[object]] | Iterable[str]
"""What is varied: ``{"filter.capacitor": "10n..1u:E6"}``, ``{"filter.capacitor": ["47 nF", "100 nF"]}``, or
texts as ``--vary`` takes them."""
PRECISION = 0.10
"""Without a target a cell ends once its interval is within this share of its rate."""


def sweep(
    scenario: ScenarioInput,
    vary: Ranges,
    *,
    sets: Sets = (),
    target: str | None = None,
    runs: int | str | None = None,
    precision: str | None = None,
    all_runs: bool = False,
    each_gesture: bool = False,
    seed: int | str | None = None,
    threads: int | str | None = None,
    ledger: str | os.PathLike[str] | None = None,
    use_ledger: bool = True,
    progress: Progress = silent,
) -> SweepResult:
    """Run a scenario at every combination of the values given.

    ``vary`` is what ``--vary`` takes (see `Ranges`); ``use_ledger=False`` is ``--no-ledger``; the other
    arguments are options of ``steptally sweep`` as well.  ``progress`` is called with runs that need not
    be simulated any more, and runs at most.  Raises BadInput, and Interrupted with the finished cells.
    """
    from reports.results.sweep import SweepCell, SweepResult
    from scenarios.schema.document import PRECISION as SHARE
    from simcore.campaigns.options import RunOptions

    number, most, many = options.whole("--seed", seed), options.runs(runs), options.threads(threads)
    share = options.measured("--precision", precision, SHARE)
    rules = {
        "--all-runs": options.switch("all_runs", all_runs),
        "--precision": share is not None,
        "--each-gesture": options.switch("each_gesture", each_gesture),
    }
    given = [name for name, is_given in rules.items() if is_given]
    if len(given) > 1:
        raise BadInput(f"{' and '.join(given)}: each says when a cell ends; expected one of them")
    cache, ranges = ledger_of(ledger, use_ledger), range_words(vary)
    with refusing():
        chosen = load_input(scenario, sets)
        cells = loaded_cells(chosen, ranges)
    loaded, goal = chosen.loaded, target_of(chosen.loaded.target, target)
    stop = _stop(cells, most or loaded.runs, goal, share, all_runs=all_runs, each_gesture=each_gesture)
    with working(), cache as kept:
        request = SweepRequest(
            cells, chosen.named, ranges,
            RunOptions(loaded.seed if number is None else number, stop, threads=many, margins=False), goal,
            target, kept,
        )  # fmt: skip
        swept = simulated(Campaigns(request, SweepCell.of), progress)
        result = SweepResult.of(request, swept)
        result.made_from(chosen.files, None if kept is None else swept.cached)
        return finished(result, not_kept(kept))


def _stop(
    cells: Sweep, runs: int, target: StatedTarget | None, precision: float | None, *, all_runs: bool,
    each_gesture: bool,
) -> Stop:  # fmt: skip
    """When a cell ends; a precision of 0 is none."""
    from simcore.statistics import stopping

    if all_runs or (target is None and precision == 0.0):
        return stopping.Stop(runs)
    if target is not None and not precision:
        return stopping.Stop(runs, target=stopping.Target(target.rate, each=each_gesture))
    if each_gesture:
        raise BadInput("--each-gesture: there is no target to compare a gesture with; give --target as well")
    return stopping.Stop(runs, precision=precision or cells.scenario.stop.precision or PRECISION)


def range_words(vary: Ranges) -> tuple[str, ...]:
    if isinstance(vary, str):
        return (vary,)
    if isinstance(vary, Mapping):
        return tuple(f"{path}={_values(values)}" for path, values in vary.items())
    if not isinstance(vary, Iterable):
        options.refuse("vary", vary, "values by their paths, or texts")
    return tuple(str(each) for each in vary)


def _values(values: object) -> str:
    """The values of one path as a list; one alone is a list as well."""
    if isinstance(values, str) or not isinstance(values, Iterable):
        return str(values)
    return ", ".join(str(each) for each in values)


def loaded_cells(chosen: LoadedInput, ranges: Sequence[str]) -> Sweep:
    """The cells of a scenario.  Raises ScenarioError."""
    from scenarios.loading.sweeps import sweep_of

    try:
        found = sweep_of(chosen.source, ranges, chosen.sets)
    finally:
        warn_of_plugins()
    return replace(found, scenario=chosen.loaded)


def target_of(stated: StatedTarget | None, option: str | None) -> StatedTarget | None:
    """The target of the option, else the scenario's.  Raises BadInput for a text that is no rate."""
    from scenarios.loading.load import StatedTarget
    from scenarios.quantities import QuantityError, read_rate

    if option is None:
        return stated
    text = " ".join(str(option).split())
    try:
        return StatedTarget(read_rate(text), text)
    except QuantityError as error:
        raise BadInput(f"--target: {error}") from None


def ledger_of(named: str | os.PathLike[str] | None, use: bool) -> AbstractContextManager[LedgerFile | None]:
    """The ledger that was named, else the user's own, if one is to be used and can be."""
    place, use = options.file("--ledger", named), options.switch("use_ledger", use)
    if place is not None and not use:
        raise BadInput("--ledger and --no-ledger: expected one of the two")
    return ledger_at(place) if place is not None or not use else usual_ledger()


def simulated(campaigns: Campaigns[CellT], progress: Progress, word: str = "") -> SweepOutcome[CellT]:
    """What the cells came to, or those finished when the user pressed Ctrl-C; a display of progress that
    can say more than numbers says how far they are, after a ``word``.
    """

    def words(done: int, asked: int) -> str:
        return f"{word}: {campaigns.words()}" if word else campaigns.words()

    begin: Callable[[Callable[[int, int], str]], None] | None = getattr(progress, "begin", None)
    if begin is not None:
        begin(words)
    return worked(campaigns.outcome, campaigns.runs, campaigns.nothing, progress)


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
    target: StatedTarget | None
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
class SweepOutcome(Generic[CellT]):
    """The outcome of a sweep: what was kept of its finished cells, whether these are all, how many of their
    runs a ledger had already, and the time taken (s).
    """

    cells: list[CellT]
    complete: bool
    cached: int
    seconds: float


class Campaigns(Generic[CellT]):
    """The cells: what ``keep`` makes of those finished, and the campaigns of those begun."""

    def __init__(self, request: SweepRequest, keep: Callable[[FinishedCell], CellT]) -> None:
        self.request = request
        self.keep = keep
        self.began = time.perf_counter()
        self.cells: list[CellT] = []
        self.begun: list[tuple[Cell, tuple[str, ...], Campaign]] = []
        self.finished_runs = 0
        self.cached = 0

    @property
    def runs(self) -> int:
        return self.request.options.stop.runs * self.request.sweep.count

    def outcome(self, note: Progress) -> SweepOutcome[CellT]:
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
        return SweepOutcome(self.cells, complete, self.cached, time.perf_counter() - self.began)

    def nothing(self, seconds: float) -> SweepOutcome[CellT]:
        """A sweep of which nothing was finished."""
        return SweepOutcome([], False, 0, seconds)

    def _campaigns(self) -> Iterator[Campaign]:
        """One campaign for each cell, made when it is needed."""
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
        ended = FinishedCell(
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
        self.cells.append(self.keep(ended))

    @property
    def done(self) -> int:
        """Runs that need not be simulated any more: those done, and those left over by a finished cell."""
        most = self.request.options.stop.runs
        begun = [most if campaign.ended_by else campaign.tally.runs for _, _, campaign in tuple(self.begun)]
        return len(self.cells) * most + sum(begun)

    def words(self) -> str:
        runs = self.finished_runs + sum(campaign.tally.runs for _, _, campaign in tuple(self.begun))
        return f"{len(self.cells):,} of {self.request.sweep.count:,} cells, {runs:,} runs"


def cell_command(request: SweepRequest, cell: Cell, outcome: Outcome) -> str:
    """The command that gives a cell's numbers alone; the scenario's own rules must not end it earlier."""
    stated = request.sweep.scenario.stop
    named = NamedScenario(request.named.scenario, (*request.named.sets, *cell.sets))
    words = ending_words(stated, stated, by_runs=True)
    return exact_command(named, max(outcome.tally.runs, 1), outcome.seed, outcome.first_run, words)
