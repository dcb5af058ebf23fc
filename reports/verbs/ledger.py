"""``steptally ledger``: what a ledger keeps, and whether all of it is whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

import rich_click as click

from reports.exits import UserError
from reports.output import STANDARD_OUTPUT, console, require_places, write, write_file

if TYPE_CHECKING:
    from reports.ledger_export import Export
    from scenarios.ledger import LedgerFile


@click.command(short_help="List the runs that a ledger keeps.")
@click.argument("file", required=False)
@click.option("--check", is_flag=True, help="Hold every block of runs against its digest as well.")
@click.option("--json", metavar="FILE", help="Write the list as JSON to FILE, or to standard output for -.")
@click.option("--no-color", is_flag=True, help="No colour. The variable NO_COLOR does the same.")
def ledger(file: str | None, check: bool, json: str | None, no_color: bool) -> None:
    """List what the ledger FILE keeps: a line for each design and seed, with what sets it apart from others
    of the same title, and its runs. Without FILE it is your own ledger, or what the variable
    STEPTALLY_LEDGER names.

    A ledger keeps finished runs, so that none is simulated twice: see `steptally run --ledger`. To be rid
    of it, delete the file.
    """
    require_places({"--json": json}, () if file is None else (file,))
    export = looked_up(file, check)
    if json is None:
        from reports.terminal.ledger import ledger_page

        write(ledger_page(export, console(colour=not no_color)))
        return
    from reports.exports import as_json

    if json == STANDARD_OUTPUT:
        write(as_json(export))
    else:
        write_file(json, as_json(export))


def looked_up(file: str | None, check: bool) -> Export:
    """What is in the file; UserError if that is no whole ledger."""
    from reports.ledger_export import ledger_export
    from scenarios.ledger import LedgerError, LedgerFile, default_place

    try:
        with LedgerFile(default_place(make=False) if file is None else file, write=False) as kept:
            return ledger_export(kept, _checked(kept) if check else None)
    except LedgerError as error:
        raise UserError(str(error)) from None


def _checked(kept: LedgerFile) -> int:
    """How many blocks it has, all of them whole; UserError with a line for each that is not."""
    from scenarios.ledger import broken, torn

    count, faults = broken(kept)
    if faults:
        raise UserError(*(str(torn(kept.path, fault)) for fault in faults))
    return count
