"""``steptally new``: a scenario file to start from."""

from __future__ import annotations

import pathlib

import rich_click as click

from reports.exits import UserError
from reports.output import STANDARD_OUTPUT, write


@click.command(short_help="Write a commented scenario to start from.")
@click.argument("file", type=click.Path(dir_okay=True))
def new(file: str) -> None:
    """Write a commented scenario to FILE, or to standard output for -, ready to run and to change. An
    existing file is left alone.
    """
    from scenarios.loading.catalogue import ready_names, starter_text

    if file == STANDARD_OUTPUT:
        write(starter_text())
        return
    if not file:
        raise UserError('FILE: read ""; allowed is the name of a file, such as my-knob.toml')
    if file in ready_names():
        raise UserError(
            f"{file}: a ready scenario has this name, and every command would take it instead of your file; "
            f"give another name, such as {file}.toml"
        )
    path = pathlib.Path(file)
    try:
        with path.open("x", encoding="utf-8") as made:
            made.write(starter_text())
    except FileExistsError:
        raise UserError(f"{file}: exists already and is left as it is; give another name") from None
    except FileNotFoundError:
        raise UserError(f"{file}: cannot be written: there is no folder {str(path.parent)!r}") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise UserError(f"{file}: cannot be written: {reason}") from None
    write(f"{file} written. Run it with: steptally run {file}\n")
