"""Stages, counters, contacts and gestures from other packages, found through entry points.

A package announces a table class (see DEVELOPERS.md) under one of the groups below.  Whatever cannot
be used is left out, with one line that says why; what works is a kind like any other.
"""

from __future__ import annotations

import typing
from dataclasses import dataclass
from importlib.metadata import EntryPoint, entry_points

from pydantic.fields import FieldInfo

from scenarios.loading.messages import printable
from scenarios.markers import Field
from scenarios.schema_table import Table, tag_of

GROUPS = {
    "stage": "steptally.stages",
    "counter": "steptally.counters",
    "contacts": "steptally.contacts",
    "hand": "steptally.gestures",
}
"""The entry point group of each section of a scenario."""


@dataclass(frozen=True)
class Plugin:
    """Where a kind comes from: the package and its version."""

    kind: str
    package: str
    version: str


_found: list[Plugin] = []
_complaints: list[str] = []


def plugins() -> tuple[Plugin, ...]:
    """The kinds that other packages have added."""
    return tuple(_found)


def complaints() -> tuple[str, ...]:
    """A line for each entry point that was left out."""
    return tuple(_complaints)


TableClass = typing.TypeVar("TableClass", bound=Table)


def added(
    section: str, base: type[TableClass], own: tuple[type[TableClass], ...]
) -> tuple[type[TableClass], ...]:
    """The kinds that other packages add to a section whose own kinds are ``own``, all of class ``base``."""
    found: list[type[TableClass]] = []
    for entry in sorted(entry_points(group=GROUPS[section]), key=lambda each: (each.name, each.value)):
        taken = [tag_of(each) for each in (*own, *found)]
        try:
            found.append(_accepted(entry, base, taken))
        except _RefusedError as refusal:
            _complaints.append(f"The entry point {_called(entry)} is left out: {refusal}.")
    return tuple(found)


class _RefusedError(Exception):
    pass


def _called(entry: EntryPoint) -> str:
    package = f" of {entry.dist.name} {entry.dist.version}" if entry.dist else ""
    return printable(f'"{entry.name}"{package} ({entry.group})')


def _accepted(entry: EntryPoint, base: type[TableClass], taken: list[str]) -> type[TableClass]:
    try:
        loaded = entry.load()
    except Exception as error:  # whatever someone else's module raises while it is imported
        raise _refused(f"it cannot be loaded ({type(error).__name__}: {error})") from None
    if not (isinstance(loaded, type) and issubclass(loaded, base)):
        raise _refused(f"{entry.value} is not made from {base.__module__}.{base.__name__}")
    kind = tag_of(loaded)
    if not kind:
        raise _refused(f"{entry.value} does not name its kind with a Literal")
    if kind in taken:
        raise _refused(f'there is a kind "{kind}" already')
    for name, info in loaded.model_fields.items():
        if name not in ("kind", "gesture", *base.model_fields) and not _readable(info):
            raise _refused(f'its key "{name}" is none of the sorts of scenarios.fields, nor a table')
    dist = entry.dist
    _found.append(Plugin(kind, dist.name if dist else "", dist.version if dist else ""))
    return loaded


def _refused(why: str) -> _RefusedError:
    return _RefusedError(printable(why))


def _readable(info: FieldInfo) -> bool:
    """Whether a field says how its value is read and written."""
    if any(isinstance(each, Field) for each in info.metadata):
        return True
    return isinstance(info.annotation, type) and issubclass(info.annotation, Table)
