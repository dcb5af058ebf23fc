"""``steptally sweep``: a scenario over ranges of its values."""

from __future__ import annotations

import rich_click as click

from reports.api.inputs import files_read
from reports.cli import options
from reports.cli.campaign import report
from reports.cli.options import Output


@click.command(short_help="Run a scenario over ranges of its values, and find the acceptable range.")
@options.scenario
@click.option(
    "--vary", "varied", multiple=True, metavar="PATH=VALUES",
    help="What to vary: '10n, 22n', '10n..1u:E6' (values of a series), '10n..1u:9' (even steps), "
    "'10n..1u:log 9' (even ratios), or words; up to four times.",
)  # fmt: skip
@options.sets
@click.option(
    "--target", metavar="RATE",
    help="Highest acceptable rate of wrong steps, '1 in 1000 steps'; default: the scenario's.",
)  # fmt: skip
@options.runs
@click.option(
    "--precision", metavar="SHARE",
    help="End a cell once the confidence interval is within SHARE of its rate; '10 %' if there is no target; "
    "none: it then does all its runs.",
)  # fmt: skip
@click.option("--all-runs", is_flag=True, help="Let every cell do all its runs.")
@click.option(
    "--each-gesture", is_flag=True,
    help="Let a cell go on until the target is decided for each gesture, not only for all steps.",
)  # fmt: skip
@options.seed
@options.threads
@options.usual_ledger
@options.output()
def sweep(
    scenario: str, varied: tuple[str, ...], sets: tuple[str, ...], target: str | None, runs: str | None,
    precision: str | None, all_runs: bool, each_gesture: bool, seed: str | None, threads: str | None,
    ledger: str | None, no_ledger: bool, output: Output,
) -> int:  # fmt: skip
    """Run SCENARIO, a ready scenario or a TOML file, at every combination of the values given.

    All cells meet the same hands and the same bounce. Exit code: 0 done; 1 a target is stated and no cell
    is shown to meet it; 2 bad input; 130 interrupted.
    """
    from reports import api

    return report(
        lambda progress: api.sweep(
            scenario, varied, sets=sets, target=target, runs=runs, precision=precision,
            all_runs=all_runs, each_gesture=each_gesture, seed=seed, threads=threads, ledger=ledger,
            use_ledger=not no_ledger, progress=progress,
        ),
        output, files_read(scenario), covers="the cells finished", ledger=ledger,
        uses_ledger=not no_ledger,
        missed=lambda result: result.target is not None and not result.meeting,
    )  # fmt: skip
