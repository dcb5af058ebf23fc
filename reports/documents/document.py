"""A report as data: sections of sentences, tables, figures and folds, for any renderer.

A verb builds its document once from its result (`reports.documents.run` and so on); the renderers in
`reports.render` show every document, in a terminal, as a page, in a notebook.  None of them knows a verb.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

Medium = Literal["terminal", "page", "notebook"]
EVERYWHERE: tuple[Medium, ...] = ("terminal", "page", "notebook")

Tone = Literal["plain", "headline", "strong", "good", "bad", "caution", "quiet"]
"""What a sentence is: its look follows from that.  No tone tells anything that the words do not."""

Sort = Literal["name", "number", "text", "short", "bar"]
"""What a column holds: the ``name`` of its row; a ``number`` (any quantity); ``text`` that may be broken
into lines; ``short`` text that is not; a text with a ``bar`` of a length."""


@dataclass(frozen=True)
class Sentence:
    """A paragraph; ``lead`` is a word or mark that stands in front of it, such as a check's verdict."""

    text: str
    tone: Tone = "plain"
    lead: str = ""
    only: tuple[Medium, ...] = EVERYWHERE


@dataclass(frozen=True)
class Items:
    """A list of sentences, numbered if ``ordered``."""

    items: tuple[Sentence, ...]
    ordered: bool = False
    only: tuple[Medium, ...] = EVERYWHERE


@dataclass(frozen=True)
class Column:
    """One column: its ``head`` (a line break is kept in a terminal), its cells, and how it gives way.

    Where a table is too wide, columns of the highest ``rank`` are left out first, all of one rank
    together; rank 0 stays.  ``bars`` are lengths of bars as shares of one, drawn where ``sort`` is "bar";
    ``looks`` are their colours (see `reports.render.palette`) and hatches (as the chart library names them)
    where they differ.
    """

    head: str
    cells: Sequence[str]
    rank: int = 0
    sort: Sort = "number"
    tone: Tone = "plain"
    bars: Sequence[float] = ()
    looks: Sequence[tuple[str, str]] = ()

    @property
    def plain_head(self) -> str:
        return " ".join(self.head.replace("-\n", "-").replace(".\n", ".").split())


@dataclass(frozen=True)
class Table:
    """A table; the first column names the rows.  ``caption`` says what it shows, for a page or notebook;
    ``tones`` gives each row a tone, none for plain ones.
    """

    caption: str
    columns: tuple[Column, ...]
    tones: Sequence[Tone] = ()
    only: tuple[Medium, ...] = EVERYWHERE

    def __post_init__(self) -> None:
        lengths = {len(column.cells) for column in self.columns}
        if len(lengths) > 1:
            raise ValueError(f"{self.caption}: columns of {sorted(lengths)} cells")

    @property
    def rows(self) -> list[list[tuple[Column, str, float | None]]]:
        """The cells of each row, with their column and the length of their bar."""
        count = len(self.columns[0].cells)
        return [
            [(each, each.cells[i], each.bars[i] if each.bars else None) for each in self.columns]
            for i in range(count)
        ]

    def without(self, rank: int) -> Table:
        """The table of the columns of rank ``rank`` and lower."""
        kept = tuple(column for column in self.columns if column.rank <= rank)
        return Table(self.caption, kept, self.tones, self.only)


@dataclass(frozen=True)
class Drawing:
    """Lines of text that stand in columns, such as a schematic or a timing diagram in words.

    ``text`` gives the lines for a width and an encoding that may lack all but ASCII.
    """

    text: Callable[[int, str], str]
    caption: str = ""
    only: tuple[Medium, ...] = ("terminal", "notebook")


@dataclass(frozen=True)
class Figure:
    """A chart: ``chart`` gives its data and layout for the page's chart library, ``summary`` says in words
    what it shows.  ``ranges`` names parts of its time axis that a reader may go to: "window", the whole,
    and "moment", where it is decided.
    """

    name: str
    chart: Callable[[], Mapping[str, Any]]
    summary: str
    ranges: Mapping[str, Sequence[float]] | None = None
    only: tuple[Medium, ...] = ("page",)


@dataclass(frozen=True)
class Value:
    """A value in a box, with its tolerance ("" for none); marked where it ``differs`` between designs."""

    name: str
    value: str
    tolerance: str = ""
    differs: bool = False


@dataclass(frozen=True)
class Box:
    """A box of a signal path: its ``role`` there ("hand", "encoder", "contacts", "stage", "counter"), the
    lines that it serves, and whether one unit serves both (``joint``).
    """

    role: str
    name: str
    kind: str
    lines: Sequence[str]
    joint: bool
    values: tuple[Value, ...]
    differs: bool = False


@dataclass(frozen=True)
class SignalPath:
    """Boxes in the order of the signal, for a page."""

    label: str
    boxes: tuple[Box, ...]
    only: tuple[Medium, ...] = ("page",)


@dataclass(frozen=True)
class Code:
    """Text to be copied as it stands: a command, or a scenario."""

    text: str
    label: str
    only: tuple[Medium, ...] = ("page",)


@dataclass(frozen=True)
class Fold:
    """Blocks that open under their title where a reader can open them; in a terminal they stand open."""

    title: str
    blocks: tuple[Block, ...]
    only: tuple[Medium, ...] = EVERYWHERE


@dataclass(frozen=True)
class Group:
    """Blocks that belong together, under a title of their own if it is not "": one step, one design.

    ``beside`` lets groups that follow one another stand side by side where there is room.
    """

    title: str
    blocks: tuple[Block, ...]
    beside: bool = False
    only: tuple[Medium, ...] = EVERYWHERE


Block = Sentence | Items | Table | Drawing | Figure | SignalPath | Code | Fold | Group


@dataclass(frozen=True)
class Section:
    """A part of a report: ``name`` is where links lead to, ``short`` what a list of sections calls it.

    A section without a title stands before all others; ``folded`` ones open on demand in a notebook.
    """

    name: str
    title: str
    blocks: tuple[Block, ...]
    short: str = ""
    folded: bool = False
    only: tuple[Medium, ...] = EVERYWHERE


@dataclass(frozen=True)
class Document:
    """A report: its title, a paragraph that says what was done, and its sections.

    ``kind`` follows the title in the name of a page ("steps counted wrongly"); ``brief`` is what is left
    of it where only the result is wanted.
    """

    title: str
    kind: str
    job: tuple[Sentence, ...]
    sections: tuple[Section, ...]
    brief: tuple[Block, ...] = field(default=())

    def sections_for(self, medium: Medium) -> list[Section]:
        """The sections that a medium shows, without empty ones."""
        found = [
            Section(each.name, each.title, shown(each.blocks, medium), each.short, each.folded)
            for each in self.sections
            if medium in each.only
        ]
        return [each for each in found if each.blocks]


def shown(blocks: Iterable[Block], medium: Medium) -> tuple[Block, ...]:
    """The blocks that a medium shows; a fold or group in which nothing is left is left out as well."""
    found: list[Block] = []
    for block in blocks:
        if medium not in block.only:
            continue
        if isinstance(block, Fold):
            inner = shown(block.blocks, medium)
            block = Fold(block.title, inner)
            if not inner:
                continue
        elif isinstance(block, Group):
            inner = shown(block.blocks, medium)
            block = Group(block.title, inner, block.beside)
            if not inner:
                continue
        found.append(block)
    return tuple(found)


def figures(blocks: Iterable[Block]) -> Iterator[Figure]:
    for block in blocks:
        if isinstance(block, Figure):
            yield block
        elif isinstance(block, Fold | Group):
            yield from figures(block.blocks)


def sentences(
    lines: Iterable[str], tone: Tone = "plain", only: tuple[Medium, ...] = EVERYWHERE
) -> list[Sentence]:
    """A sentence for each line that is not empty."""
    return [Sentence(line, tone, only=only) for line in lines if line]
