"""``steptally choose``: the values that meet a target with stated confidence."""

from __future__ import annotations

import rich_click as click

from reports.api.inputs import files_read
from reports.cli import options
from reports.cli.campaign import report
from reports.cli.options import Output


@click.command(short_help="Find the values that meet a target, and what limits them on either side.")
@options.scenario
@click.option(
    "--target", metavar="RATE",
    help="Highest acceptable rate of wrong steps, '1 wrong in 10000 steps'; default: the scenario's.",
)  # fmt: skip
@click.option(
    "--vary", "varied", multiple=True, metavar="PATH=VALUES",
    help="What to choose from, as sweep takes it: 'filter.capacitor=10n..1u:E6'; default: the parts of the "
    "scenario's filters within sensible bounds.",
)  # fmt: skip
@options.sets
@click.option(
    "--runs", metavar="N",
    help="Most runs of a candidate; default: twice as many as the target needs at least, or the scenario's, "
    "or one block's if these are more.",
)  # fmt: skip
@options.seed
@options.threads
@options.usual_ledger
@options.output()
def choose(
    scenario: str, target: str | None, varied: tuple[str, ...], sets: tuple[str, ...], runs: str | None,
    seed: str | None, threads: str | None, ledger: str | None, no_ledger: bool, output: Output,
) -> int:  # fmt: skip
    """Choose values for SCENARIO, a ready scenario or a TOML file, that meet a target at every gesture of
    its hand, over the tolerances of its parts; where none does, say what comes closest and try other stages.

    Exit code: 0 something is recommended; 1 nothing is shown to meet the target; 2 bad input;
    130 interrupted.
    """
    from reports import api

    return report(
        lambda progress: api.choose(
            scenario, target=target, vary=varied, sets=sets, runs=runs, seed=seed, threads=threads,
            ledger=ledger, use_ledger=not no_ledger, progress=progress,
        ),
        output, files_read(scenario), covers="what was finished", ledger=ledger,
        uses_ledger=not no_ledger, missed=lambda result: result.recommended is None,
    )  # fmt: skip
