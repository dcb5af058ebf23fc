"""``steptally run``: simulate a scenario and report."""

from __future__ import annotations

import rich_click as click

from reports.api.inputs import files_read
from reports.cli import options
from reports.cli.campaign import report
from reports.cli.options import Output


@click.command(short_help="Simulate a scenario and report what became of its steps.")
@options.scenario
@options.runs
@options.seed
@click.option("--first-run", default="0", show_default=True, metavar="N", help="Number of the first run.")
@options.sets
@options.ending
@options.ledger
@click.option(
    "--engine", metavar="NAME", default="batch", show_default=True,
    help="batch: compiled; events: the slow reference engine. Both give the same numbers.",
)  # fmt: skip
@options.threads
@click.option("--no-margins", is_flag=True, help="Leave the margins out, which saves a tenth of the time.")
@options.output()
def run(
    scenario: str, runs: str | None, seed: str | None, first_run: str, sets: tuple[str, ...],
    errors: str | None, precision: str | None, time: str | None, ledger: str | None, engine: str,
    threads: str | None, no_margins: bool, output: Output,
) -> int:  # fmt: skip
    """Simulate SCENARIO, the name of a ready scenario or a TOML file, and report what became of its steps.

    Exit code: 0 done; 1 the scenario's target is not shown to be met; 2 bad input; 130 interrupted.
    """
    from reports import api

    return report(
        lambda progress: api.run(
            scenario, sets=sets, runs=runs, seed=seed, first_run=first_run, errors=errors,
            precision=precision, time=time, ledger=ledger, engine=engine, threads=threads,
            margins=not no_margins, progress=progress,
        ),
        output, files_read(scenario), covers="the runs finished", ledger=ledger,
        uses_ledger=ledger is not None, missed=lambda result: result.target_met is False,
    )  # fmt: skip
