"""``steptally trace``: one run step by step, and why a step of it was counted wrongly."""

from __future__ import annotations

import rich_click as click

from reports.api.inputs import files_read
from reports.api.traces import ALL
from reports.cli import options
from reports.cli.options import Output
from reports.cli.progress import tell_of_first_use, watching


@click.command(short_help="Explain one run step by step, and why a step was counted wrongly.")
@options.scenario
@click.option("--run", metavar="N", help="Number of the run to explain, from 0.")
@click.option(
    "--step", metavar="K",
    help="Step to explain, from 1; default: all steps as a table, and the first wrong one.",
)  # fmt: skip
@click.option(
    "--worst", is_flag=False, flag_value=ALL, metavar="[CAUSE]",
    help="Search for the step furthest off by each root cause, or by CAUSE, and explain it.",
)  # fmt: skip
@click.option("--runs", metavar="N", help="Runs that --worst searches; default: the scenario's number.")
@options.seed
@options.sets
@click.option("--vcd", metavar="FILE", help="Write the run as a value change dump for a waveform viewer.")
@click.option("--csv", metavar="FILE", help="Write every change of the run as a CSV table.")
@click.option("--csv-steps", metavar="FILE", help="Write the steps of the run as a CSV table.")
@options.output(html=False, quiet="Only how each run and step was counted.")
def trace(
    scenario: str, run: str | None, step: str | None, worst: str | None, runs: str | None, seed: str | None,
    sets: tuple[str, ...], vcd: str | None, csv: str | None, csv_steps: str | None, output: Output,
) -> None:  # fmt: skip
    """Explain one run of SCENARIO step by step: the hand, the contacts, the voltages, the counter, and why a
    step was counted wrongly. SCENARIO is the name of a ready scenario or a TOML file.

    Give the run with --run, or let --worst search for one.
    """
    from reports import api
    from reports.output import require_places
    from reports.results.trace import require_one_run

    places = {"--vcd": vcd, "--csv": csv, "--csv-steps": csv_steps}
    files = {option: place for option, place in places.items() if place is not None}
    require_places({**files, "--json": output.json}, files_read(scenario))
    tell_of_first_use(quiet=output.quiet)
    with watching(quiet=output.quiet, colour=output.colour) as progress:
        result = api.trace(
            scenario, sets=sets, run=run, step=step, worst=worst, runs=runs, seed=seed, progress=progress
        )
    require_one_run(list(files), len(result.traces))
    result.save(files)
    output.deliver(result)
