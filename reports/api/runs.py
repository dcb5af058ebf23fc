"""`run`: simulate a scenario, as ``steptally run`` does."""

from __future__ import annotations

import os
from dataclasses import replace
from typing import TYPE_CHECKING

from reports.api import options
from reports.api.given import Chosen, Given, Sets, taken
from reports.api.working import Progress, finished, silent, worked, working
from reports.errors import BadInput, refusing

if TYPE_CHECKING:
    from reports.results.run import RunResult
    from simcore.course import Outcome
    from simcore.ledger import Ledger
    from simcore.stopping import Stop

ENGINES = ("batch", "events")


def run(
    scenario: Given,
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

    Arguments are the options of ``steptally run`` and take the same values; what is None the scenario
    decides.  ``progress`` is called every now and then, in this thread, with runs done and runs asked for.
    Raises BadInput; on Ctrl-C, once the blocks of runs on their way are finished, Interrupted with the
    result of those.
    """
    from reports.ledger_use import announced, ledger_at, not_kept
    from reports.results.run import Context, RunResult

    number, first = options.whole("--seed", seed), options.whole("--first-run", first_run) or 0
    most, many = options.runs(runs), options.threads(threads)
    rules = ending(errors, precision, time)
    engine, margins = options.word("--engine", engine, ENGINES), options.switch("margins", margins)
    place = options.file("--ledger", ledger)
    with refusing():
        chosen = taken(scenario, sets)
    stated = chosen.loaded.stop
    stop = replace(stated, runs=most or chosen.loaded.runs, **rules)
    if first > options.LARGEST - stop.runs:
        raise BadInput(f"--first-run {first}: the last run's number must not exceed {options.LARGEST}")
    seed = chosen.loaded.seed if number is None else number
    with working(), ledger_at(place) as kept:
        announced(kept, chosen.loaded, seed, margins)
        outcome = _outcome(chosen, seed, stop, first, engine, many, margins, kept, progress)
        troubles = not_kept(kept)
        result = RunResult.of(Context(chosen.loaded, chosen.named, chosen.files, outcome, stop))
        return finished(result, troubles)


def ending(
    errors: int | str | None, precision: str | None, time: str | None
) -> dict[str, int | float | None]:
    """The rules of an ending that the options give, by their names in `simcore.stopping.Stop`; None for a
    rule that they take away.
    """
    from scenarios.schema_stop import LASTING, PRECISION

    found = {
        "errors": options.whole("--errors", errors, 1, options.MOST_ERRORS, none=True),
        "precision": options.measured("--precision", precision, PRECISION),
        "seconds": options.measured("--time", time, LASTING),
    }
    return {name: value or None for name, value in found.items() if value is not None}


BLOCKS = {"batch": None, "events": 8}
"""Runs per block: the event engine is slow, so it gets small blocks; no result depends on it."""


def _outcome(
    chosen: Chosen, seed: int, stop: Stop, first: int, engine: str, threads: int, margins: bool,
    ledger: Ledger | None, progress: Progress,
) -> Outcome:  # fmt: skip
    from simcore.campaign import run_campaign
    from simcore.course import Outcome
    from simcore.stopping import INTERRUPTED
    from simcore.tally import nothing

    design = chosen.loaded.design

    def work(note: Progress) -> Outcome:
        return run_campaign(
            design, seed=seed, runs=stop.runs, first_run=first, engine=engine, threads=threads,
            block=BLOCKS[engine], progress=note, margins=margins, stop=stop, ledger=ledger,
        )  # fmt: skip

    def none(seconds: float) -> Outcome:
        names = tuple(entry.name for entry in design.hand)
        return Outcome(design, seed, first, engine, nothing(names), INTERRUPTED, seconds)

    return worked(work, stop.runs, none, progress)
