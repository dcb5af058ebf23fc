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
    engine, margins = options.word("--engine", engine, ENGINES), options.switch("margins", margins)
    place = options.file("--ledger", ledger)
    with refusing():
        chosen = taken(scenario, sets)
    stop = ended(chosen.loaded.stop, most or chosen.loaded.runs, errors, precision, time)
    if first > options.LARGEST - stop.runs:
        raise BadInput(f"--first-run {first}: the last run's number must not exceed {options.LARGEST}")
    seed = chosen.loaded.seed if number is None else number
    with working(), ledger_at(place) as kept:
        announced(kept, chosen.loaded, seed, margins)
        outcome = _outcome(chosen, seed, stop, first, engine, many, margins, kept, progress)
        troubles = not_kept(kept)
        result = RunResult.of(Context(chosen.loaded, chosen.named, chosen.files, outcome, stop))
        return finished(result, troubles)


def ended(stated: Stop, runs: int, errors: int | str | None, precision: str | None, time: str | None) -> Stop:
    """The rules of a scenario with those of the options in their place; ``runs`` end it at the latest."""
    from scenarios.schema_stop import LASTING, PRECISION

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
