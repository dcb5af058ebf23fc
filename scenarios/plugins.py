"""Stages, counters, contacts and gestures from other packages, found through entry points.

A package announces a description (see DEVELOPERS.md) under one of the groups below.  What cannot be
used is left out, with a line that says why.
"""

from __future__ import annotations

import typing
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.metadata import EntryPoint, entry_points

from scenarios.loading.messages import printable
from scenarios.schema.readers import READERS
from scenarios.schema.tables import SchemaTable
from simcore.base.description import (
    ContactsDescription,
    CounterDescription,
    Description,
    GestureDescription,
    Key,
    StageDescription,
    Subtable,
)

GROUPS: dict[type[Description], str] = {
    StageDescription: "steptally.stages",
    CounterDescription: "steptally.counters",
    ContactsDescription: "steptally.contacts",
    GestureDescription: "steptally.gestures",
}
"""The entry point group of each sort of description."""


@dataclass(frozen=True)
class Plugin:
    """Where a kind comes from: the package and its version."""

    kind: str
    package: str
    version: str


_found: list[Plugin] = []
_complaints: list[str] = []


def plugins() -> tuple[Plugin, ...]:
    return tuple(_found)


def complaints() -> tuple[str, ...]:
    """A line for each entry point that was left out."""
    return tuple(_complaints)


SomeDescription = typing.TypeVar("SomeDescription", bound=Description)


def all_kinds(
    sort: type[SomeDescription], own: Sequence[SomeDescription], shared: type[SchemaTable]
) -> tuple[SomeDescription, ...]:
    """The kinds of a section: its ``own``, and those that other packages add; ``shared`` is the table of
    what all of them have.
    """
    found = list(own)
    for entry in sorted(entry_points(group=GROUPS[sort]), key=lambda each: (each.name, each.value)):
        try:
            found.append(_accepted(entry, sort, [each.name for each in found], shared))
        except _RefusedError as refusal:
            _complaints.append(f"The entry point {_called(entry)} is left out: {refusal}.")
    return tuple(found)


class _RefusedError(Exception):
    def __init__(self, why: str) -> None:
        super().__init__(printable(why))


def _called(entry: EntryPoint) -> str:
    package = f" of {entry.dist.name} {entry.dist.version}" if entry.dist else ""
    return printable(f'"{entry.name}"{package} ({entry.group})')


def _accepted(
    entry: EntryPoint, sort: type[SomeDescription], taken: Sequence[str], shared: type[SchemaTable]
) -> SomeDescription:
    try:
        loaded = entry.load()
    except Exception as error:  # another package's module may raise anything while it is imported
        raise _RefusedError(f"it cannot be loaded ({type(error).__name__}: {error})") from None
    if not isinstance(loaded, sort):
        raise _RefusedError(f"{entry.value} is not a {sort.__module__}.{sort.__name__}")
    if not isinstance(loaded.name, str) or not loaded.name.strip():
        raise _RefusedError(f"{entry.value} does not name its kind")
    if loaded.name in taken:
        raise _RefusedError(f'there is a kind "{loaded.name}" already')
    for key in _keys(loaded.keys):
        if type(key.sort) not in READERS:
            raise _RefusedError(f'its key "{key.name}" is of none of the sorts of {sort.__module__}')
    for key in loaded.keys:
        if not key.attribute.isidentifier() or key.attribute in (*shared.model_fields, *dir(shared)):
            raise _RefusedError(f'its key "{key.name}" has a name that is not free')
    dist = entry.dist
    _found.append(Plugin(loaded.name, dist.name if dist else "", dist.version if dist else ""))
    return loaded


def _keys(keys: Sequence[Key]) -> Iterator[Key]:
    """All keys that hold single values."""
    for key in keys:
        if isinstance(key.sort, Subtable):
            yield from _keys(key.sort.keys)
        else:
            yield key
