"""The report of ``steptally ledger``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from reports.documents.document import Block, Column, Document, Group, Section, Sentence, Table
from reports.words.numbers import counted, size_text, whole

if TYPE_CHECKING:
    from reports.results.ledger import LedgerCell, LedgerResult

ABSENT = "-"
UNTITLED = "Without a title"
OUT_OF_USE = (
    "A model in brackets: those runs were simulated by another version and are no longer used; the same "
    "scenario gives other numbers now."
)


def document(result: LedgerResult) -> Document:
    size = f"{counted(len(result.cells), 'cell')}, {counted(result.runs, 'run')}, {size_text(result.bytes)}"
    title = f"{result.file}: {size}."
    job: tuple[Sentence, ...] = ()
    if result.checked is not None:
        job = (Sentence(f"Checked: {counted(result.checked, 'block')}, all intact."),)
    blocks: list[Block] = []
    for each in dict.fromkeys(cell.title for cell in result.cells):
        cells = [cell for cell in result.cells if cell.title == each]
        blocks.append(Group(each or UNTITLED, (cell_table(cells),)))
    if not all(cell.in_use for cell in result.cells):
        blocks.append(Sentence(OUT_OF_USE, "quiet"))
    return Document(title, "a ledger", job, (Section("cells", "", tuple(blocks)),), (Sentence(title),))


def cell_table(cells: Sequence[LedgerCell]) -> Table:
    """The cells of one title, with what distinguishes them."""
    paths = [path for path in cells[0].differs if _distinguishes(path, cells)]
    return Table(
        "Runs that are kept",
        (
            Column("what differs", [_values(cell, paths) for cell in cells], sort="name"),
            Column("seed", [str(cell.seed) for cell in cells]),
            Column("model", [cell.model if cell.in_use else f"({cell.model})" for cell in cells]),
            Column("margins", ["kept" if cell.margins else "-" for cell in cells], rank=1, sort="short"),
            Column("runs", [whole(cell.runs) for cell in cells]),
            Column("size", [size_text(cell.bytes) for cell in cells]),
            Column("first kept (UTC)", [_moment(cell.first_seen) for cell in cells], rank=2, sort="short"),
        ),
    )


def _distinguishes(path: str, cells: Sequence[LedgerCell]) -> bool:
    """Whether a path distinguishes cells of one title.  Where only some cells have a stage, its kind says so;
    those of its values that are the same in all of these would only make the list long.
    """
    kind = f"{path.split('.')[0]}.kind"
    values = {cell.differs[path] for cell in cells} - {ABSENT}
    absent_alone = any(cell.differs[path] == ABSENT != cell.differs.get(kind) for cell in cells)
    return len(values) > 1 or absent_alone or path == kind or any(cell.pair for cell in cells)


def _values(cell: LedgerCell, paths: Sequence[str]) -> str:
    had = [f"{path} = {cell.differs[path]}" for path in paths if cell.differs[path] != ABSENT]
    return "\n".join(had) or ABSENT


def _moment(text: str) -> str:
    return text[:16].replace("T", " ")
