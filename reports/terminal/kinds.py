"""The kinds of a section and their keys, as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

NEEDED = "needed"


def kinds_listing(kinds: Sequence[dict[str, Any]], console: Console) -> str:
    """Each kind with its meaning, and a line for each of its keys: what it takes, default, meaning."""
    with console.capture() as capture:
        for part in kinds_parts(kinds, console.width):
            console.print(part)
    return "\n".join(line.rstrip() for line in capture.get().split("\n"))


def kinds_parts(kinds: Sequence[dict[str, Any]], width: int) -> Iterator[RenderableType]:
    """The same, part by part."""
    for number, kind in enumerate(kinds):
        if number:
            yield Text("")
        package = f"  (from the package {kind['package']})" if kind["package"] else ""
        yield Text.assemble((f'"{kind["kind"]}"', "bold cyan"), (package, "dim"))
        yield Padding(Text(kind["meaning"]), (0, 0, 0, 2))
        if kind["parameters"]:
            yield Padding(_keys(kind["parameters"], width), (0, 0, 0, 2))


def _keys(parameters: Sequence[dict[str, Any]], width: int) -> Table:
    """The keys; where the screen is narrow, the meaning stands on a line of its own."""
    wide = width >= 100
    table = Table.grid(padding=(0, 2))
    columns = ("path", "takes", "default", "meaning") if wide else ("path", "takes", "default")
    for name in columns:
        table.add_column(overflow="fold", style="bold" if name == "path" else "")
    for each in parameters:
        default = NEEDED if each["needed"] else each["default"] or "-"
        cells = [each["path"], each["takes"], default]
        table.add_row(*(Text(cell) for cell in (*cells, each["meaning"])[: len(columns)]))
        if not wide and each["meaning"]:
            table.add_row("", Text(each["meaning"], style="dim"), "")
    return table
