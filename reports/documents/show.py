"""The report of a scenario, as a notebook or a console shows it; ``steptally show`` prints its text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.documents.document import EVERYWHERE, Code, Column, Document, Section, Table, sentences

if TYPE_CHECKING:
    from reports.results.common import SignalBox
    from reports.results.show import ShowResult

UNDIVIDED = ("hand", "encoder", "supply")
"""Boxes that belong to no line."""


def document(result: ShowResult) -> Document:
    path, figures, settings = result.signal_path, result.figures, result.table("settings")
    lines = ["" if box.role in UNDIVIDED else " and ".join(box.lines) for box in path]
    parts = Table(
        "From the hand to the count",
        (
            Column("part", [box.name for box in path], sort="name"),
            Column("kind", [box.kind for box in path], sort="short"),
            Column("lines", lines, rank=1, sort="short"),
            Column("values", [_values(box) for box in path], sort="text"),
        ),
    )
    computed = Table(
        "Computed, not simulated",
        (
            Column("stage", [each.stage for each in figures], sort="name"),
            Column("figure", [each.label for each in figures], sort="text"),
            Column("value", [f"{each.value:.4g} {each.unit}" for each in figures]),
            Column("source", [each.source for each in figures], rank=1, sort="text"),
        ),
    )
    values = ["-" if row["value"] is None else str(row["value"]) for row in settings]
    paths = Table(
        "What --set takes, and its value",
        (
            Column("path", [row["path"] for row in settings], sort="name"),
            Column("value", values, sort="text"),
        ),
    )
    sections = (
        Section("parts", "", (*sentences(result.cautions, "caution"), parts)),
        Section("figures", "", (computed,) if figures else ()),
        Section("settings", paths.caption, (paths,), folded=True),
        Section("text", "The text", (Code(result.text, "Scenario", EVERYWHERE),), folded=True),
    )
    return Document(result.title or result.name, "a scenario", (), sections)


def _values(box: SignalBox) -> str:
    return ", ".join(
        f"{each.name} {each.value}{f' ± {each.tolerance}' if each.tolerance else ''}" for each in box.values
    )
