"""The blocks of a report, one below the other with a blank line between them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rich.console import Console, RenderableType
from rich.text import Text


def stacked(blocks: Iterable[RenderableType]) -> Iterator[RenderableType]:
    """The blocks and the blank lines between them."""
    for number, block in enumerate(blocks):
        if number:
            yield Text("")
        yield block


def printed(blocks: Iterable[RenderableType], console: Console) -> str:
    """The blocks as text, with control codes only if ``console`` shows colour, and without blanks at the
    ends of lines.
    """
    with console.capture() as capture:
        for block in stacked(blocks):
            console.print(block)
    return "\n".join(line.rstrip() for line in capture.get().split("\n")).strip("\n") + "\n"
