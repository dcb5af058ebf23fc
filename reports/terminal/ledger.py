"""What a ledger keeps, as tables: one for each title, a row for each cell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import Console, Group, RenderableType

from reports.numbers import counted, size_text, whole
from reports.terminal.blocks import printed
from reports.terminal.grid import Column, fitted
from reports.terminal.prose import TITLE, prose

Export = dict[str, Any]
LACKED = "-"
NAMELESS = "Without a title"
OUT_OF_USE = (
    "A model in brackets: those runs were simulated by another version and are no longer used; the same "
    "scenario gives other numbers now."
)


def ledger_page(export: Export, console: Console) -> str:
    """The whole page as text."""
    return printed(blocks(export, console), console)


def blocks(export: Export, console: Console) -> Iterator[RenderableType]:
    """The page, block by block, as wide as the console."""
    head = [prose(headline(export), "bold")]
    if export["checked"] is not None:
        head.append(prose(f"Checked: {counted(export['checked'], 'block')}, all whole."))
    yield Group(*head)
    for title in dict.fromkeys(cell["title"] for cell in export["cells"]):
        cells = [cell for cell in export["cells"] if cell["title"] == title]
        yield Group(prose(title or NAMELESS, TITLE), fitted(cell_columns(cells), console))
    if not all(cell["in_use"] for cell in export["cells"]):
        yield prose(OUT_OF_USE, "dim")


def headline(export: Export) -> str:
    """Its file, and how much is in it."""
    cells = counted(len(export["cells"]), "cell")
    return f"{export['file']}: {cells}, {counted(export['runs'], 'run')}, {size_text(export['bytes'])}."


def cell_columns(cells: Sequence[Export]) -> list[Column]:
    """The columns of a table of cells."""
    paths = telling(cells)
    return [
        Column("what differs", [_differing(cell, paths) for cell in cells], side="left", fold=True),
        Column("seed", [str(cell["seed"]) for cell in cells]),
        Column("model", [cell["model"] if cell["in_use"] else f"({cell['model']})" for cell in cells]),
        Column("margins", ["kept" if cell["margins"] else "-" for cell in cells], rank=1),
        Column("runs", [whole(cell["runs"]) for cell in cells]),
        Column("size", [size_text(cell["bytes"]) for cell in cells]),
        Column("first kept (UTC)", [_moment(cell["first_seen"]) for cell in cells], rank=2, side="left"),
    ]


def telling(cells: Sequence[Export]) -> list[str]:
    """The paths that set cells of one title apart.  Where a stage is in some cells only, its kind tells so;
    those of its values that are alike wherever it is would only make the list long.
    """
    return [path for path in (cells[0]["differs"] if cells else ()) if _tells(path, cells)]


def _tells(path: str, cells: Sequence[Export]) -> bool:
    table = path.split(".")[0]
    values = {cell["differs"][path] for cell in cells} - {LACKED}
    lacked_alone = any(
        cell["differs"][path] == LACKED != cell["differs"].get(f"{table}.kind") for cell in cells
    )
    return len(values) > 1 or lacked_alone or path == f"{table}.kind" or any(cell["pair"] for cell in cells)


def _differing(cell: Export, paths: Sequence[str]) -> str:
    had = [f"{path} = {cell['differs'][path]}" for path in paths if cell["differs"][path] != LACKED]
    return "\n".join(had) or LACKED


def _moment(text: str) -> str:
    return text[:16].replace("T", " ")
