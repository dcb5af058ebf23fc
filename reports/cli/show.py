"""``steptally show``: the text of a scenario, and what can be computed of it without simulating."""

from __future__ import annotations

import rich_click as click

from reports.api.inputs import files_read
from reports.cli import options
from reports.cli.options import STANDARD_OUTPUT


@click.command(short_help="Print the text of a scenario, with what can be computed of it.")
@options.scenario
@click.option(
    "--json", metavar="FILE",
    help="Write the scenario with all defaults and its figures as JSON to FILE (-: standard output).",
)  # fmt: skip
def show(scenario: str, json: str | None) -> None:
    """Print the text of SCENARIO, the name of a ready scenario or a TOML file.

    What comes out runs as a file of its own: `steptally show NAME > mine.toml`, then `steptally run
    mine.toml`. Figures that its stages give without being simulated follow as remarks.
    """
    from reports import api
    from reports.output import require_places, write, write_file

    require_places({"--json": json}, files_read(scenario))
    result = api.show(scenario)
    if json in (None, STANDARD_OUTPUT):
        write(result.text if json is None else result.json())
    else:
        write_file(str(json), result.json())
