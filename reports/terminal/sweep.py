"""The report of a sweep, from top to bottom: the window, the grid, the table of cells."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import Console, Group, RenderableType
from rich.table import Table

from reports.numbers import PER, estimate_text, interval_text, on_the_point, whole
from reports.sentences import LASTING
from reports.sweep_words import (
    axes_line,
    cause_text,
    headline,
    lowest_sentence,
    made_line,
    own_cautions,
    tells_window,
)
from reports.terminal.blocks import printed
from reports.terminal.grid import Column, Side, fitted
from reports.terminal.grids import grids
from reports.terminal.prose import TITLE, hanging, prose
from reports.terminal.rates import WRONG_STYLE, WRONG_VERDICTS
from reports.terminal.window import window_section

Export = dict[str, Any]
LISTED = 40
"""Cells of a grid up to which each is listed below it as well."""


def page(export: Export, console: Console) -> str:
    """The report as text, with control codes only if ``console`` shows colour."""
    return printed(blocks(export, console), console)


def blocks(export: Export, console: Console) -> Sequence[RenderableType]:
    """The report, block by block, as wide as the console."""
    return [*_head(export), *_body(export, console), *_tail(export)]


def brief(export: Export, console: Console) -> str:
    """The result in a line or two, for ``--quiet``."""
    return printed([prose(headline(export), "bold")], console)


def _section(title: str, *content: RenderableType) -> RenderableType:
    return Group(prose(title, TITLE), *content)


def _head(export: Export) -> Iterator[RenderableType]:
    yield _section(
        export["title"] or export["name"], prose(axes_line(export)), prose(export["simulated"], "dim")
    )
    lines = [prose(headline(export), "bold")]
    if tells_window(export):
        lines.append(prose(lowest_sentence(export)))
    yield Group(*lines)
    own = [caution for caution in export["cautions"] if caution not in LASTING]
    if own:
        yield Group(*(hanging("- ", caution, "yellow") for caution in own))


def _body(export: Export, console: Console) -> Iterator[RenderableType]:
    cells = export["cells"]
    if not cells:
        return
    if export["window"]:
        yield _section(*window_section(export, console))
    if len(export["axes"]) == 2:
        for title, tables in grids(export, console):
            yield _section(title, *tables)
    if len(export["axes"]) != 2 or len(cells) <= LISTED:
        yield _section("Cells", cell_table(export, console))
    else:
        yield prose("Each cell with its interval and its verdicts stands in --json and in --html.", "dim")
    yield prose(export["rule"], "dim")
    own = own_cautions(cells)
    if own:
        yield Group(*(hanging("- ", caution, "yellow") for caution in own))


def _tail(export: Export) -> Iterator[RenderableType]:
    yield prose(made_line(export), "dim")
    yield _section("Mind", *(hanging("- ", caution) for caution in LASTING))


def cell_table(export: Export, console: Console) -> Table:
    """A row for each finished cell."""
    cells = export["cells"]
    rates = [cell["wrong_rate"] for cell in cells]
    columns = [
        *(_values(axis, cells) for axis in export["axes"]),
        Column("runs", [whole(cell["runs"]) for cell in cells], rank=2),
        Column("steps", [whole(cell["steps"]) for cell in cells], rank=4),
        Column(
            f"wrong per\n{PER:,}", on_the_point([estimate_text(rate) for rate in rates]), style=WRONG_STYLE
        ),
        Column("95 % interval", [interval_text(rate) for rate in rates]),
        *(
            Column(verdict, [whole(cell["verdicts"][verdict]) for cell in cells], rank=3)
            for verdict in WRONG_VERDICTS
        ),
    ]
    if export["target"] is not None:
        columns.append(Column("meets the\ntarget", [cell["meets_target"] for cell in cells], side="left"))
    columns.append(Column("main cause", [cause_text(cell) for cell in cells], rank=1, side="left"))
    return fitted(columns, console)


def _values(axis: Export, cells: Sequence[Export]) -> Column:
    """The column of an axis; its path on several lines."""
    head = axis["path"].replace(".", ".\n")
    side: Side = "left" if axis["numbers"] is None else "right"
    return Column(head, [cell["values"][axis["path"]] for cell in cells], side=side)
