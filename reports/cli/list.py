"""``steptally list``: what can be run as it is, what scenarios may say, and what results hold."""

from __future__ import annotations

import json
import os
from typing import TYPE_CHECKING

import rich_click as click
from click.shell_completion import CompletionItem

from reports.cli import options
from reports.cli.options import STANDARD_OUTPUT, Output
from reports.errors import BadInput

if TYPE_CHECKING:
    from reports.documents.document import Document

UNBROKEN = 10_000
"""Width where no terminal sets one: a program that reads the list expects a line for each entry."""
WHAT = ("stages", "inputs", "counters", "contacts", "gestures", "schema")


def _completed(context: click.Context, parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:
    return [CompletionItem(word) for word in WHAT if word.startswith(incomplete)]


@click.command("list", short_help="List the ready scenarios, the parts, and what a scenario may say.")
@click.argument("what", required=False, metavar="[WHAT]", shell_complete=_completed)
@click.argument("verb", required=False, metavar="[VERB]")
@options.output(html=False, quiet="Only the names.")
def list_(what: str | None, verb: str | None, output: Output) -> None:
    """List the ready scenarios, which `run` takes by name, and the parts that scenarios may name; or,
    for WHAT (stages, inputs, counters, contacts or gestures), every kind that a scenario may use, with
    its keys, their units, defaults and meanings; or, for `schema VERB`, the JSON schema of what VERB
    writes for --json.
    """
    from reports import api

    output.require()
    if what == "schema":
        if verb is None:
            raise BadInput("VERB: expected a verb after schema, such as run, got none")
        _write(json.dumps(api.schema(verb), indent=2) + "\n", output.json or STANDARD_OUTPUT)
    elif verb is not None:
        raise BadInput(f"VERB: expected only after schema, got {verb!r}")
    elif output.json is not None:
        _write(api.list_(what).json(), output.json)
    else:
        _show(_ready() if what is None else api.list_(what).document(), output)


def _write(text: str, place: str) -> None:
    from reports.output import write, write_file

    if place == STANDARD_OUTPUT:
        write(text)
    else:
        write_file(place, text)


def _ready() -> Document:
    """The ready scenarios and parts, of which no more is read than is shown."""
    from reports.api.inputs import warn_of_plugins
    from reports.documents.list import ready_document
    from scenarios.loading.catalogue import list_parts, ready_names, ready_title

    scenarios = [(name, ready_title(name)) for name in ready_names()]
    found = ready_document(scenarios, [(part.name, part.kind, part.title) for part in list_parts()])
    warn_of_plugins()
    return found


def _show(document: Document, output: Output) -> None:
    from reports.output import console, write
    from reports.render import terminal

    screen = console(colour=output.colour)
    if not screen.is_terminal and "COLUMNS" not in os.environ:
        screen.width = UNBROKEN
    write(terminal.text(document, screen, brief=output.quiet))
