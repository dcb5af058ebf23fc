"""``steptally list``: what can be run as it is, and the parts that scenarios may name."""

from __future__ import annotations

import dataclasses
import os
from typing import TYPE_CHECKING, Any

import rich_click as click

from reports.names import Choice, complain_of_plugins
from reports.output import STANDARD_OUTPUT, console, require_places, write, write_file

if TYPE_CHECKING:
    from rich.console import Console

UNCUT = 10_000
"""Width where no terminal sets one: a program that reads the list wants whole titles."""


WHAT = ("stages", "inputs", "counters", "contacts", "gestures")


@click.command("list", short_help="List the ready scenarios, the parts, and what a scenario may say.")
@click.argument("what", required=False, type=Choice(WHAT), metavar="[WHAT]")
@click.option("--json", metavar="FILE", help="Write the list as JSON to FILE, or to standard output for -.")
@click.option("--no-color", is_flag=True, help="No colour. The variable NO_COLOR does the same.")
def list_(what: str | None, json: str | None, no_color: bool) -> None:
    """List the ready scenarios, which `run` takes by name, and the parts that scenarios may name; or,
    for WHAT (stages, inputs, counters, contacts or gestures), every kind that a scenario may use, with
    its keys, their units, defaults and meanings.
    """
    if json is None:
        write(_text(not no_color) if what is None else _kinds_text(what, not no_color))
        complain_of_plugins()
        return
    from reports.exports import as_json

    require_places({"--json": json})
    text = as_json(list_export() if what is None else kinds_export(what))
    complain_of_plugins()
    if json == STANDARD_OUTPUT:
        write(text)
    else:
        write_file(json, text)


def kinds_export(what: str) -> dict[str, Any]:
    """The object that ``list WHAT --json`` writes, see ``schemas/kinds.schema.json``."""
    from scenarios.kinds import kinds_of

    return {what: [dataclasses.asdict(kind) for kind in kinds_of(what)]}


def _kinds_text(what: str, colour: bool) -> str:
    from reports.terminal.kinds import kinds_listing

    return kinds_listing(kinds_export(what)[what], _screen(colour))


def list_export() -> dict[str, Any]:
    """The object that ``--json`` writes, see ``schemas/list.schema.json``."""
    from scenarios.loading.catalogue import list_parts, ready_names
    from scenarios.loading.load import load_scenario

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
    from scenarios.loading.catalogue import list_parts, ready_names, ready_title

    scenarios = [(name, ready_title(name)) for name in ready_names()]
    parts = [(part.name, part.kind, part.title) for part in list_parts()]
    return listing(scenarios, parts, _screen(colour))


def _screen(colour: bool) -> Console:
    screen = console(colour=colour)
    if not screen.is_terminal and "COLUMNS" not in os.environ:
        screen.width = UNCUT
    return screen
