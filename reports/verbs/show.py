"""``steptally show``: the text of a ready scenario."""

from __future__ import annotations

import rich_click as click

from reports.exits import UserError
from reports.names import READY, suggestion
from reports.output import write


@click.command(short_help="Print the text of a ready scenario.")
@click.argument("name", type=READY)
def show(name: str) -> None:
    """Print the text of the ready scenario NAME, which runs as a file of its own:

    `steptally show NAME > mine.toml`, then `steptally run mine.toml`.
    """
    from scenarios.catalogue import ready_names, ready_text

    if name not in ready_names():
        raise UserError(f"{name}: there is no ready scenario of this name; {suggestion(name, ready_names())}")
    write(ready_text(name))
