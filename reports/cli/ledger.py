"""``steptally ledger``: what a ledger keeps, and whether all of it is intact."""

from __future__ import annotations

import rich_click as click

from reports.cli import options
from reports.cli.options import Output


@click.command(short_help="List the runs that a ledger keeps.")
@click.argument("file", required=False)
@click.option("--check", is_flag=True, help="Compare every block of runs with its digest as well.")
@options.output(html=False, quiet="Only how much is kept.")
def ledger(file: str | None, check: bool, output: Output) -> None:
    """List what the ledger FILE keeps: a line for each design and seed, with what distinguishes it from
    others of the same title, and its runs. Without FILE it is your own ledger, or what the variable
    STEPTALLY_LEDGER names.

    A ledger keeps completed runs, so that none is simulated twice: see `steptally run --ledger`. To remove
    it, delete the file.
    """
    from reports import api

    output.require(() if file is None else (file,))
    output.deliver(api.ledger(file, check=check))
