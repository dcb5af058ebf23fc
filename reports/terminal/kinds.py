"""The kinds of a section and their keys, as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

NEEDED = "needed"


def kinds_listing(kinds: Sequence[dict[str, Any]], console: Console) -> str:
    """Each kind with its meaning, and a line for each of its keys: what it takes, default, meaning."""
    with console.capture() as capture:
        for number, kind in enumerate(kinds):
            if number:
                console.print()
            package = f"  (from the package {kind['package']})" if kind["package"] else ""
            console.print(Text.assemble((f'"{kind["kind"]}"', "bold cyan"), (package, "dim")))
            console.print(Padding(Text(kind["meaning"]), (0, 0, 0, 2)))
            if kind["parameters"]:
                console.print(Padding(_keys(kind["parameters"], console.width), (0, 0, 0, 2)))
    return "\n".join(line.rstrip() for line in capture.get().split("\n"))


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
