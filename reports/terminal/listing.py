"""The list of ready scenarios and parts, a line each."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text


def listing(
    scenarios: Sequence[tuple[str, str]], parts: Sequence[tuple[str, str, str]], console: Console
) -> str:
    """Scenarios (name, title) and parts (name, kind, title).  A long title is cut at the width of a
    terminal, and left whole where there is none.
    """
    with console.capture() as capture:
        console.print(Text("Scenarios", style="bold cyan"))
        _rows(scenarios, console)
        console.print()
        console.print(Text("Parts", style="bold cyan"))
        _rows(parts, console)
    return capture.get()


def _rows(rows: Sequence[Sequence[str]], console: Console) -> None:
    if not rows:
        console.print(Text("  none"))
        return
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]) - 1)]
    for row in rows:
        line = Text("  ")
        for column, width in enumerate(widths):
            line.append(f"{row[column]:<{width}}  ", style="" if column else "bold")
        line.append(row[-1])
        line.truncate(console.width, overflow="ellipsis")
        console.print(line, no_wrap=True)
