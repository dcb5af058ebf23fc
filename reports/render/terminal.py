"""Documents as text for a terminal, a pipe or a file, as wide as the console."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal, assert_never

from rich.box import Box
from rich.cells import cell_len
from rich.console import Console, RenderableType
from rich.console import Group as Together
from rich.constrain import Constrain
from rich.table import Table as RichTable
from rich.text import Text

from reports.documents.document import (
    Block,
    Code,
    Document,
    Drawing,
    Figure,
    Fold,
    Group,
    Items,
    Sentence,
    SignalPath,
    Table,
    Tone,
    shown,
)
from reports.render.widths import BAR, TEXT_ROOM, natural_width

WIDEST = 100
"""Prose is not set wider than this."""
TITLE = "bold cyan"
STYLES: dict[Tone, str] = {
    "plain": "",
    "headline": "bold",
    "strong": "bold",
    "good": "bold green",
    "bad": "bold red",
    "caution": "yellow",
    "quiet": "dim",
}
RULED = Box("    \n    \n ── \n    \n    \n    \n    \n    \n")
"""A thin rule below the heads and nothing else."""
RULED_ASCII = Box("    \n    \n -- \n    \n    \n    \n    \n    \n", ascii=True)


def text(document: Document, console: Console, *, brief: bool = False) -> str:
    """The report, or only its result, as text: control codes only if ``console`` shows colour, and no
    blanks at the ends of lines.
    """
    with console.capture() as capture:
        for number, block in enumerate(renderables(document, console, brief=brief)):
            if number:
                console.print()
            console.print(block)
    return "\n".join(line.rstrip() for line in capture.get().split("\n")).strip("\n") + "\n"


def renderables(document: Document, console: Console, *, brief: bool = False) -> Iterator[RenderableType]:
    """The report, block by block, as wide as the console; a blank line belongs between them."""
    if brief:
        yield from (_block(each, console) for each in shown(document.brief, "terminal"))
        return
    yield Together(
        _prose(document.title, TITLE),
        *(_block(each, console) for each in shown(document.job, "terminal")),
    )
    for section in document.sections_for("terminal"):
        yield from _flow(section.title, TITLE, section.blocks, console)


def _flow(title: str, style: str, blocks: Iterable[Block], console: Console) -> Iterator[RenderableType]:
    """Blocks under a title; they stand close together, those with a title of their own apart."""
    close: list[RenderableType] = [_prose(title, style)] if title else []
    for block in blocks:
        if isinstance(block, Fold | Group) and block.title:
            if close:
                yield Together(*close)
            close = []
            yield from _flow(block.title, TITLE if isinstance(block, Fold) else "bold", block.blocks, console)
        else:
            close.append(_block(block, console))
    if close:
        yield Together(*close)


def _block(block: Block, console: Console) -> RenderableType:
    match block:
        case Sentence():
            return _sentence(block)
        case Items():
            return _items(block)
        case Table():
            return _table(block, console)
        case Drawing():
            drawn = Text(block.text(console.width, console.encoding))
            return Together(_prose(block.caption), drawn) if block.caption else drawn
        case Code():
            return Text(block.text)
        case Fold() | Group():
            return Together(*_flow(block.title, "bold", block.blocks, console))
        case Figure():
            return _prose(block.summary, "dim")
        case SignalPath():
            return Text(block.label)
        case _:
            assert_never(block)


def _prose(words: str, style: str = "") -> RenderableType:
    return Constrain(Text(words, style=style), WIDEST)


def _sentence(sentence: Sentence) -> RenderableType:
    if not sentence.lead:
        return _prose(sentence.text, STYLES[sentence.tone])
    return _hanging(sentence.lead, sentence.text, STYLES[sentence.tone])


def _hanging(lead: str, words: str, style: str) -> RenderableType:
    """A paragraph whose lines all begin to the right of ``lead``."""
    table = RichTable.grid(padding=0)
    table.add_column(no_wrap=True)
    table.add_column()
    table.add_row(Text(lead, style=style), Text(words, style=style))
    return Constrain(table, WIDEST)


def _items(block: Items) -> RenderableType:
    """One to a line; leads of one list are equally wide, those of an unordered list without any a dash."""
    width = max(cell_len(item.lead) for item in block.items)
    digits = len(str(len(block.items)))
    lines = []
    for number, item in enumerate(block.items, start=1):
        if block.ordered:
            lead = f"{number:>{digits}}. "
        else:
            lead = f"{item.lead}{' ' * (width - cell_len(item.lead))}  " if width else "- "
        lines.append(_hanging(lead, item.text, STYLES[item.tone]))
    return Together(*lines)


def _table(table: Table, console: Console) -> RenderableType:
    """As many columns as fit; those that hold long text may break it, once nothing else helps."""
    plain = "utf" not in console.encoding.lower()
    for rank in sorted({column.rank for column in table.columns}, reverse=True):
        fitted = table.without(rank)
        if natural_width(fitted, TEXT_ROOM) <= console.width:
            break
    drawn = RichTable(
        box=RULED_ASCII if plain else RULED,
        show_edge=False,
        pad_edge=False,
        padding=(0, 1, 0, 0),
        header_style="dim",
        border_style="dim",
        safe_box=False,
    )
    broken = natural_width(fitted) > console.width
    for column in fitted.columns:
        side: Literal["left", "right"] = "right" if column.sort == "number" else "left"
        drawn.add_column(
            Text(column.head, justify=side),
            justify=side,
            style="cyan" if column.bars and not any(column.cells) else STYLES[column.tone],
            no_wrap=column.sort not in ("text", "name"),
            overflow="fold",
            vertical="top" if broken else "bottom",
        )
    for number, row in enumerate(fitted.rows):
        style = STYLES[table.tones[number]] if table.tones else ""
        drawn.add_row(*(Text(_cell(cell, bar, plain)) for _, cell, bar in row), style=style)
    return drawn


def _cell(cell: str, bar: float | None, plain: bool) -> str:
    return cell if cell or bar is None else ("#" if plain else "█") * round(BAR * bar)
