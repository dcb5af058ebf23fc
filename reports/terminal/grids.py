"""A sweep over two keys as grids: the wrong rate, and the main root cause, of every cell."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from rich.console import Console, RenderableType

from reports.cells import main_cause
from reports.numbers import PER, estimate_text
from reports.terminal.grid import Column, fitted
from reports.terminal.prose import prose

Export = dict[str, Any]
Told = Callable[[Export], str]
GAP = 2
"""Columns between two columns of a grid."""


def grids(export: Export, console: Console) -> Iterator[tuple[str, list[RenderableType]]]:
    """Each grid under its title; the key with more values runs down."""
    down, across = sorted(export["axes"], key=lambda axis: -len(axis["values"]))
    legend = (
        [prose("* meets the target, ? undecided; the others miss it.", "dim")] if export["target"] else []
    )
    named = f"{down['path']} down, {across['path']} across"
    yield f"Wrong steps per {PER:,}: {named}", [*_parts(export, down, across, console, rate_mark), *legend]
    if any(cell["causes"] for cell in export["cells"]):
        yield f"Main cause: {named}", _parts(export, down, across, console, _cause)


def rate_mark(cell: Export) -> str:
    """The rate in few letters, with a mark for a cell that meets the target or is undecided."""
    text = estimate_text(cell["wrong_rate"]).replace("under ", "<").replace("over ", ">")
    return text + {"yes": "*", "undecided": "?"}.get(cell["meets_target"], "")


def _cause(cell: Export) -> str:
    found = main_cause(cell)
    return "-" if found is None else found[0]


def _parts(
    export: Export, down: Export, across: Export, console: Console, told: Told
) -> list[RenderableType]:
    """The grid, cut into as many parts side by side as the width asks for."""
    at = {
        (cell["values"][down["path"]], cell["values"][across["path"]]): told(cell) for cell in export["cells"]
    }
    heads = [
        Column(value, [at.get((row, value), "") for row in down["values"]], side="right")
        for value in across["values"]
    ]
    names = Column("", down["values"], side="left" if down["numbers"] is None else "right")
    return [fitted([names, *part], console) for part in _cut(heads, console.width - _width(names) - GAP)]


def _width(column: Column) -> int:
    return max(map(len, [column.head, *column.cells]))


def _cut(columns: Sequence[Column], room: int) -> Iterator[list[Column]]:
    """Columns in order, as many at a time as fit."""
    part: list[Column] = []
    used = 0
    for column in columns:
        wide = _width(column) + GAP
        if part and used + wide > room:
            yield part
            part, used = [], 0
        part.append(column)
        used += wide
    yield part
