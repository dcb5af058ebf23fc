"""``steptally list``: what can be run as it is, and the parts that scenarios may name."""

from __future__ import annotations

import os
from typing import Any

import rich_click as click

from reports.output import STANDARD_OUTPUT, console, require_writable, write, write_file

UNCUT = 10_000
"""Width where no terminal sets one: a program that reads the list wants whole titles."""


@click.command("list", short_help="List the ready scenarios and the parts.")
@click.option("--json", metavar="FILE", help="Write the list as JSON to FILE, or to standard output for -.")
@click.option("--no-color", is_flag=True, help="No colour. The variable NO_COLOR does the same.")
def list_(json: str | None, no_color: bool) -> None:
    """List the ready scenarios, which `run` takes by name, and the parts that scenarios may name."""
    if json is None:
        write(_text(not no_color))
        return
    from reports.exports import as_json

    if json == STANDARD_OUTPUT:
        write(as_json(list_export()))
        return
    require_writable(json)
    write_file(json, as_json(list_export()))


def list_export() -> dict[str, Any]:
    """The object that ``--json`` writes, see ``schemas/list.schema.json``."""
    from scenarios.catalogue import list_parts, ready_names
    from scenarios.load import load_scenario

    return {
        "scenarios": [
            {"name": name, "title": scenario.title, "paths": list(scenario.paths)}
            for name in ready_names()
            for scenario in [load_scenario(name)]
        ],
        "parts": [{"name": part.name, "kind": part.kind, "title": part.title} for part in list_parts()],
    }


def _text(colour: bool) -> str:
    from reports.terminal.listing import listing
    from scenarios.catalogue import list_parts, ready_names, ready_title

    scenarios = [(name, ready_title(name)) for name in ready_names()]
    parts = [(part.name, part.kind, part.title) for part in list_parts()]
    screen = console(colour=colour)
    if not screen.is_terminal and "COLUMNS" not in os.environ:
        screen.width = UNCUT
    return listing(scenarios, parts, screen)
