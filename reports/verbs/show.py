"""``steptally show``: the text of a scenario, and what can be computed of it without simulating."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import rich_click as click

from reports.names import SCENARIO, files_read, loaded
from reports.output import STANDARD_OUTPUT, require_places, write, write_file

if TYPE_CHECKING:
    from scenarios.loading.load import Scenario


@click.command(short_help="Print the text of a scenario, with what can be computed of it.")
@click.argument("scenario", type=SCENARIO)
@click.option(
    "--json", metavar="FILE",
    help="Write the scenario with all defaults and its figures as JSON to FILE, or to standard output for -.",
)  # fmt: skip
def show(scenario: str, json: str | None) -> None:
    """Print the text of SCENARIO, the name of a ready scenario or a TOML file.

    What comes out runs as a file of its own: `steptally show NAME > mine.toml`, then `steptally run
    mine.toml`. Figures that its stages give without being simulated follow as remarks.
    """
    chosen = loaded(scenario)
    if json is None:
        write(show_text(chosen))
        return
    from reports.exports import as_json

    if json == STANDARD_OUTPUT:
        write(as_json(show_export(chosen)))
        return
    require_places({"--json": json}, files_read(scenario))
    write_file(json, as_json(show_export(chosen)))


def show_export(scenario: Scenario) -> dict[str, Any]:
    """The object that ``--json`` writes, see ``schemas/show.schema.json``."""
    return {
        "name": scenario.name,
        "title": scenario.title,
        "scenario": scenario.resolved,
        "figures": [{"stage": stage, **figure._asdict()} for stage, figure in scenario.figures],
    }


def show_text(scenario: Scenario) -> str:
    """The text, and the figures as TOML remarks, so that the whole still is a scenario."""
    if not scenario.figures:
        return scenario.text
    lines = ["", "# Computed by steptally show, not simulated:"]
    for stage, figure in scenario.figures:
        lines += [f"# {stage}: {figure.label} {figure.value:.4g} {figure.unit}", f"#   by {figure.source}"]
    return scenario.text.rstrip("\n") + "\n" + "\n".join(lines) + "\n"
