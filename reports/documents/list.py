"""The report of ``steptally list``: ready scenarios and parts, or the kinds of a section."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from reports.documents.document import (
    EVERYWHERE,
    Block,
    Code,
    Column,
    Document,
    Group,
    Section,
    Sentence,
    Table,
)

if TYPE_CHECKING:
    from reports.results.list import ListedKind, ListResult


def document(result: ListResult) -> Document:
    if result.what is not None:
        return kinds_document(result.what, result.kinds)
    scenarios = [(each.name, each.title) for each in result.scenarios or ()]
    return ready_document(scenarios, [(each.name, each.kind, each.title) for each in result.parts or ()])


def ready_document(scenarios: Sequence[tuple[str, str]], parts: Sequence[tuple[str, str, str]]) -> Document:
    """Scenarios (name, title) and parts (name, kind, title), a line each where there is room."""
    names = [name for name, _ in scenarios]
    ready = Table(
        "Scenarios, as run takes them",
        (
            Column("scenario", names, sort="name"),
            Column("title", [title for _, title in scenarios], sort="text"),
        ),
    )
    shelf = Table(
        "Parts that a scenario may name",
        (
            Column("part", [name for name, _, _ in parts], sort="name"),
            Column("kind", [kind for _, kind, _ in parts], sort="short"),
            Column("title", [title for _, _, title in parts], sort="text"),
        ),
    )
    sections = (Section("scenarios", "", (ready,)), Section("parts", "", (shelf,)))
    return Document(
        "Ready scenarios and parts", "a list", (), sections, (Code("\n".join(names), "Names", EVERYWHERE),)
    )


def kinds_document(what: str, kinds: Sequence[ListedKind]) -> Document:
    """Each kind of a section with its meaning, and a line for each of its keys."""
    blocks = tuple(Group(f'"{kind.kind}"', tuple(_kind(kind))) for kind in kinds)
    brief = (Code("\n".join(kind.kind for kind in kinds), "Names", EVERYWHERE),)
    title = f"Kinds of {what.removesuffix('s')}"
    return Document(title, "a list", (), (Section("kinds", "", blocks),), brief)


def _kind(kind: ListedKind) -> list[Block]:
    blocks: list[Block] = [Sentence(kind.meaning)]
    if kind.package:
        blocks.append(Sentence(f"From the package {kind.package}.", "quiet"))
    if kind.parameters:
        defaults = ["required" if each.needed else each.default or "-" for each in kind.parameters]
        blocks.append(
            Table(
                f'Keys of "{kind.kind}"',
                (
                    Column("key", [each.path for each in kind.parameters], sort="name", tone="strong"),
                    Column("value", [each.takes for each in kind.parameters], sort="text"),
                    Column("default", defaults, sort="text"),
                    Column("meaning", [each.meaning for each in kind.parameters], sort="text"),
                ),
            )
        )
    return blocks
