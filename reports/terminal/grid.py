"""Tables that leave out their least important columns rather than break their lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from rich.box import Box
from rich.console import Console
from rich.table import Table
from rich.text import Text

RULED = Box("    \n    \n ── \n    \n    \n    \n    \n    \n")
"""A thin rule below the heads and nothing else."""
RULED_ASCII = Box("    \n    \n -- \n    \n    \n    \n    \n    \n", ascii=True)

ENDLESS = 10_000
"""Wider than any table, to learn a table's natural width."""

Side = Literal["left", "right"]


@dataclass(frozen=True)
class Column:
    """One column: its head (a line break is kept), its cells, and how it gives way.

    Columns of the highest ``rank`` are left out first, all of one rank together; rank 0 stays.
    ``style`` colours cells.
    """

    head: str
    cells: Sequence[str]
    rank: int = 0
    side: Side = "right"
    style: str = ""
    fold: bool = False


def fitted(columns: Sequence[Column], console: Console) -> Table:
    """The table of as many columns as fit the console's width."""
    unbounded = console.options.update(max_width=ENDLESS)
    ranks = sorted({column.rank for column in columns}, reverse=True)
    for rank in ranks:
        table = _table([column for column in columns if column.rank <= rank], console)
        if rank == 0 or console.measure(table, options=unbounded).maximum <= console.width:
            return table
    return table


def _table(columns: Sequence[Column], console: Console) -> Table:
    box = RULED if "utf" in console.encoding.lower() else RULED_ASCII
    table = Table(
        box=box,
        show_edge=False,
        pad_edge=False,
        padding=(0, 1, 0, 0),
        header_style="dim",
        border_style="dim",
        safe_box=False,
    )
    for column in columns:
        table.add_column(
            Text(column.head, justify=column.side),
            justify=column.side,
            style=column.style,
            no_wrap=not column.fold,
            overflow="fold",
            vertical="bottom",
        )
    for cells in zip(*(column.cells for column in columns), strict=True):
        table.add_row(*(Text(cell) for cell in cells))
    return table
