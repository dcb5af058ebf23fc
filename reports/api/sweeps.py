"""`sweep`: a scenario over ranges of its values, as ``steptally sweep`` does."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import replace
from typing import TYPE_CHECKING

from reports.api import options
from reports.api.given import Chosen, Given, Sets, taken, warn_of_plugins
from reports.api.working import Progress, finished, silent, warn, worked, working
from reports.errors import BadInput, refusing

if TYPE_CHECKING:
    from reports.results.sweep import SweepResult
    from reports.sweeping import Campaigns, Kept, Swept
    from scenarios.ledger import LedgerFile
    from scenarios.loading.load import Target
    from scenarios.loading.sweeps import Sweep
    from simcore.statistics.stopping import Stop

Ranges = str | Mapping[str, str | Sequence[object]] | Iterable[str]
"""What is varied: ``{"filter.capacitor": "10n..1u:E6"}``, ``{"filter.capacitor": ["47 nF", "100 nF"]}``, or
texts as ``--vary`` takes them."""
PRECISION = 0.10
"""Without a target a cell ends once its interval is within this share of its rate."""


def sweep(
    scenario: Given,
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
    from reports.ledger_use import not_kept
    from reports.results.sweep import SweepCell, SweepResult
    from reports.sweeping import Campaigns, SweepRequest
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
        chosen = taken(scenario, sets)
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
    cells: Sweep, runs: int, target: Target | None, precision: float | None, *, all_runs: bool,
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
    """Each range as ``--vary`` has it."""
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


def loaded_cells(chosen: Chosen, ranges: Sequence[str]) -> Sweep:
    """The cells of a scenario.  Raises ScenarioError."""
    from scenarios.loading.sweeps import sweep_of

    try:
        found = sweep_of(chosen.source, ranges, chosen.sets)
    finally:
        warn_of_plugins()
    return replace(found, scenario=chosen.loaded)


def target_of(stated: Target | None, option: str | None) -> Target | None:
    """The target of the option, else the scenario's.  Raises BadInput for a text that is no rate."""
    from scenarios.loading.load import Target
    from scenarios.quantities import QuantityError, read_rate

    if option is None:
        return stated
    text = " ".join(str(option).split())
    try:
        return Target(read_rate(text), text)
    except QuantityError as error:
        raise BadInput(f"--target: {error}") from None


def ledger_of(named: str | os.PathLike[str] | None, use: bool) -> AbstractContextManager[LedgerFile | None]:
    """The ledger that was named, else the user's own, if one is to be used and can be."""
    from reports.ledger_use import ledger_at, usual_ledger

    place, use = options.file("--ledger", named), options.switch("use_ledger", use)
    if place is not None and not use:
        raise BadInput("--ledger and --no-ledger: expected one of the two")
    return ledger_at(place) if place is not None or not use else usual_ledger(warn)


def simulated(campaigns: Campaigns[Kept], progress: Progress, word: str = "") -> Swept[Kept]:
    """What the cells came to, or those finished when the user pressed Ctrl-C; a display of progress that
    can say more than numbers says how far they are, after a ``word``.
    """

    def words(done: int, asked: int) -> str:
        return f"{word}: {campaigns.words()}" if word else campaigns.words()

    begin: Callable[[Callable[[int, int], str]], None] | None = getattr(progress, "begin", None)
    if begin is not None:
        begin(words)
    return worked(campaigns.outcome, campaigns.runs, campaigns.nothing, progress)
