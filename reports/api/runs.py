"""`run`: simulate a scenario, as ``steptally run`` does."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from reports.api import options
from reports.api.inputs import ScenarioInput, Sets, load_input
from reports.api.working import Progress, finished, silent, worked, working
from reports.errors import BadInput, refusing

if TYPE_CHECKING:
    from reports.results.run import RunResult
    from simcore.campaigns.campaign import Outcome
    from simcore.campaigns.ledger import Ledger
    from simcore.campaigns.options import RunOptions
    from simcore.design import Design
    from simcore.statistics.stopping import Stop


def run(
    scenario: ScenarioInput,
    *,
    sets: Sets = (),
    runs: int | str | None = None,
    seed: int | str | None = None,
    first_run: int | str = 0,
    errors: int | str | None = None,
    precision: str | None = None,
    time: str | None = None,
    ledger: str | os.PathLike[str] | None = None,
    engine: str = "batch",
    threads: int | str | None = None,
    margins: bool = True,
    progress: Progress = silent,
) -> RunResult:
    """Simulate a scenario and tally what became of its steps.

    Arguments are the options of ``steptally run`` and take the same values; for None the scenario
    decides.  ``progress`` is called repeatedly, in this thread, with runs done and runs requested.
    Raises BadInput; on Ctrl-C, once the blocks of runs that were begun are finished, Interrupted with the
    result of those.
    """
    from reports.api.ledger_use import announced, ledger_at, not_kept
    from reports.results.run import Context, RunResult
    from simcore.campaigns.options import ENGINES, RunOptions

    number, first = options.whole("--seed", seed), options.whole("--first-run", first_run) or 0
    most, many = options.runs(runs), options.threads(threads)
    engine, margins = options.word("--engine", engine, ENGINES), options.switch("margins", margins)
    place = options.file("--ledger", ledger)
    with refusing():
        chosen = load_input(scenario, sets)
    stop = ended(chosen.loaded.stop, most or chosen.loaded.runs, errors, precision, time)
    if first > options.LARGEST - stop.runs:
        raise BadInput(f"--first-run {first}: the last run's number must not exceed {options.LARGEST}")
    seed = chosen.loaded.seed if number is None else number
    with working(), ledger_at(place) as kept:
        announced(kept, chosen.loaded, seed, margins)
        how = RunOptions(seed, stop, first, engine, many, margins)
        outcome = simulated([chosen.loaded.design], how, kept, progress)
        troubles = not_kept(kept)
        result = RunResult.of(Context(chosen.loaded, chosen.named, chosen.files, outcome, stop))
        return finished(result, troubles)


def ended(stated: Stop, runs: int, errors: int | str | None, precision: str | None, time: str | None) -> Stop:
    """The rules of a scenario with those of the options in their place; ``runs`` end it at the latest."""
    from scenarios.schema.document import LASTING, PRECISION

    most = options.whole("--errors", errors, 1, options.MOST_ERRORS, none=True)
    share = options.measured("--precision", precision, PRECISION)
    seconds = options.measured("--time", time, LASTING)
    return replace(
        stated,
        runs=runs,
        errors=stated.errors if most is None else most or None,
        precision=stated.precision if share is None else share or None,
        seconds=stated.seconds if seconds is None else seconds or None,
    )


def simulated(
    designs: Sequence[Design], how: RunOptions, ledger: Ledger | None, progress: Progress
) -> Outcome:
    """The campaign of a design, or of several on the same runs, in a thread of its own."""
    from simcore.campaigns.campaign import Campaign, run_designs

    return worked(
        lambda note: run_designs(designs, how, ledger=ledger, progress=note),
        how.stop.runs,
        lambda seconds: replace(Campaign(designs, how).outcome(), seconds=seconds),
        progress,
    )
