"""``steptally choose``: the values that meet a target with stated confidence."""

from __future__ import annotations

import rich_click as click

from reports.api.ledger_use import kept_line
from reports.cli import options
from reports.cli.exits import DONE, INTERRUPTED, TARGET_MISSED, complain
from reports.cli.names import files_read
from reports.cli.options import Output
from reports.cli.progress import following
from reports.errors import Interrupted


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

    output.require(files_read(scenario), ledger)
    with following(output) as progress:
        try:
            result, code = api.choose(
                scenario, target=target, vary=varied, sets=sets, runs=runs, seed=seed, threads=threads,
                ledger=ledger, use_ledger=not no_ledger, progress=progress,
            ), DONE  # fmt: skip
        except Interrupted as interrupted:
            result, code = interrupted.result, INTERRUPTED
            complain("Interrupted; the report covers what was finished until then.")
    if result.kept is not None and not output.quiet:
        complain(kept_line(result.kept, result.runs))
    output.deliver(result)
    return TARGET_MISSED if code == DONE and result.recommended is None else code
