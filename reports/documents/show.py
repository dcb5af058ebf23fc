"""The report of a scenario, as a notebook or a console shows it; ``steptally show`` prints its text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.documents.document import Block, Code, Column, Document, Fold, Section, Table
from reports.documents.document import sentences as told

if TYPE_CHECKING:
    from reports.results.common import SignalBox
    from reports.results.show import ShowResult

UNDIVIDED = ("hand", "encoder", "supply")
"""Boxes that belong to no line."""


def document(result: ShowResult) -> Document:
    """The design from the hand to the count, what formulas give, what can be set, and the text."""
    path, figures, settings = result.signal_path, result.figures, result.table("settings")
    blocks: list[Block] = [
        *told(result.cautions, "caution"),
        Table(
            "From the hand to the count",
            (
                Column("part", [box.name for box in path], sort="name"),
                Column("kind", [box.kind for box in path], sort="short"),
                Column(
                    "lines",
                    ["" if box.role in UNDIVIDED else " and ".join(box.lines) for box in path],
                    rank=1,
                    sort="short",
                ),
                Column("values", [_values(box) for box in path], sort="text"),
            ),
        ),
    ]
    if figures:
        blocks.append(
            Table(
                "Computed, not simulated",
                (
                    Column("stage", [each.stage for each in figures], sort="name"),
                    Column("figure", [each.label for each in figures], sort="text"),
                    Column("value", [f"{each.value:.4g} {each.unit}" for each in figures]),
                    Column("source", [each.source for each in figures], rank=1, sort="text"),
                ),
            )
        )
    paths = Table(
        "What --set takes, and its value",
        (
            Column("path", [row["path"] for row in settings], sort="name"),
            Column(
                "value", ["-" if row["value"] is None else str(row["value"]) for row in settings], sort="text"
            ),
        ),
    )
    blocks += [
        Fold("What --set takes, and its value", (paths,)),
        Fold("The text", (Code(result.text, "Scenario"),)),
    ]
    title = result.title or result.name
    return Document(title, "a scenario", (), (Section("scenario", "", tuple(blocks)),))


def _values(box: SignalBox) -> str:
    return ", ".join(
        f"{each.name} {each.value}{f' ± {each.tolerance}' if each.tolerance else ''}" for each in box.values
    )
