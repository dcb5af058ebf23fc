"""What a notebook shows of a result: sentences, tables and drawings, as a part of a page.

It loads nothing and has no script, no id and no colour of its own: text, rules and ground are those of
whatever page it is put into, light or dark.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jinja2 import Template
    from rich.console import RenderableType

    from reports.page.tables import Table
    from reports.terminal import grid

DRAWING_WIDTH = 96
"""Columns of a drawing in text."""
LONG = 30
"""Letters from which on a cell may be broken into lines."""


@dataclass(frozen=True)
class Part:
    """A part of the fragment by its sort: "strong" or "line" (a paragraph), "drawing" (text as it stands),
    "table", or "more" (parts that open under their ``text``).
    """

    sort: str
    text: str = ""
    table: Table | None = None
    parts: Sequence[Part] = field(default=())


def strong(text: str) -> Part:
    """A paragraph that stands out."""
    return Part("strong", text)


def line(text: str) -> Part:
    """A paragraph."""
    return Part("line", text)


def drawing(text: str) -> Part:
    """Text in columns, line by line as it stands."""
    return Part("drawing", text)


def more(text: str, *parts: Part) -> Part:
    """Parts that are shown when asked for."""
    return Part("more", text, parts=parts)


def table(content: Table) -> Part:
    """A table of the page."""
    return Part("table", table=content)


def grid_table(caption: str, columns: Sequence[grid.Column]) -> Part:
    """A table of the terminal, without columns in which nothing stands."""
    from reports.page.tables import Column, Table

    found = [
        Column(" ".join(each.head.replace("-\n", "-").split()), each.cells, _sort(each))
        for each in columns
        if any(each.cells)
    ]
    return table(Table(caption, found))


def _sort(column: grid.Column) -> str:
    if column.side == "right":
        return "number"
    return "text" if column.fold else "short"


def listing(caption: str, rows: Sequence[Mapping[str, Any]]) -> Part:
    """A plain table with its keys as heads."""
    from reports.page.tables import Column, Table

    columns = []
    for key in rows[0] if rows else ():
        cells = [_cell(row[key]) for row in rows]
        sort = "text" if max(map(len, cells)) > LONG else "short"
        columns.append(Column(key.replace("_", " ").capitalize(), cells, sort))
    return table(Table(caption, columns))


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def drawn(renderable: RenderableType) -> Part:
    """Something of the terminal's as a drawing, without colour."""
    from reports.output import layout

    console = layout(DRAWING_WIDTH, "utf-8")
    with console.capture() as capture:
        console.print(renderable)
    return drawing("\n".join(each.rstrip() for each in capture.get().split("\n")).strip("\n"))


def html(parts: Sequence[Part]) -> str:
    """The parts as HTML; whatever a scenario says is escaped."""
    return _template().render(parts=parts)


@functools.cache
def _template() -> Template:
    import jinja2

    from reports.page.document import tied

    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("reports.api"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )
    environment.filters["tied"] = tied
    return environment.get_template("fragment.html.j2")
