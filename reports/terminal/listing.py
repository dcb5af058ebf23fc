"""The list of ready scenarios and parts, a line each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.text import Text


def listing(
    scenarios: Sequence[tuple[str, str]], parts: Sequence[tuple[str, str, str]], console: Console
) -> str:
    """Scenarios (name, title) and parts (name, kind, title).  A long title is cut at the width of a
    terminal, and left whole where there is none.
    """
    with console.capture() as capture:
        for line in listing_lines(scenarios, parts, console.width):
            console.print(line)
    return capture.get()


def listing_lines(
    scenarios: Sequence[tuple[str, str]], parts: Sequence[tuple[str, str, str]], width: int
) -> Iterator[Text]:
    """The same, line by line."""
    yield Text("Scenarios", style="bold cyan")
    yield from _rows(scenarios, width)
    yield Text("")
    yield Text("Parts", style="bold cyan")
    yield from _rows(parts, width)


def _rows(rows: Sequence[Sequence[str]], width: int) -> Iterator[Text]:
    if not rows:
        yield Text("  none")
        return
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]) - 1)]
    for row in rows:
        line = Text("  ", no_wrap=True)
        for column, wide in enumerate(widths):
            line.append(f"{row[column]:<{wide}}  ", style="" if column else "bold")
        line.append(row[-1])
        line.truncate(width, overflow="ellipsis")
        yield line
