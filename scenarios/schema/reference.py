"""All kinds of stages, inputs, counters, contacts and gestures with their keys, read from the schema."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pydantic.fields import FieldInfo

from scenarios.loading.validation import tables_in
from scenarios.plugins import plugins
from scenarios.schema.kinds import CONTACTS, COUNTERS, GESTURES, STAGES
from scenarios.schema.tables import SchemaTable, fields_of, reader_at, tag_of
from simcore.base.description import InputDescription

KINDS: dict[str, tuple[Any, ...]] = {
    "stages": STAGES,
    "inputs": tuple(each for each in STAGES if isinstance(each.description, InputDescription)),
    "counters": COUNTERS,
    "contacts": CONTACTS,
    "gestures": GESTURES,
}
"""The tables of each list; the stages include the inputs."""

SECTIONS = {
    "gestures": "[[hand]]",
    "contacts": "[contacts]",
    "stages": "[[stage]]",
    "counters": "[counter]",
}
"""Where each list belongs in a scenario, in the order of the page; inputs are stages."""


@dataclass(frozen=True)
class Parameter:
    """A key of a kind: ``path`` within its table, what it ``takes``, its ``unit`` ("" where it has
    none), the ``default`` as in a file ("" where there is none, and the key must be
    given if ``needed``), and its ``meaning``.
    """

    path: str
    takes: str
    unit: str
    default: str
    needed: bool
    meaning: str


@dataclass(frozen=True)
class Kind:
    """A kind: the word that names it, its meaning, its parameters, and the package that adds it
    ("" for our own).
    """

    kind: str
    meaning: str
    parameters: tuple[Parameter, ...]
    package: str


def kinds_of(what: str) -> tuple[Kind, ...]:
    """All kinds of a list of KINDS, in its order; KeyError for any other word."""
    packages = {plugin.kind: plugin.package for plugin in plugins()}
    return tuple(
        Kind(
            table.description.name,
            table.description.meaning,
            tuple(_parameters(table, "")),
            packages.get(table.description.name, ""),
        )
        for table in KINDS[what]
    )


def _parameters(table: type[SchemaTable], prefix: str, absent: bool = False) -> Iterator[Parameter]:
    """The keys of a table; if it may be ``absent`` as a whole, none of them is needed without the others."""
    for key, info in fields_of(table).items():
        if key in ("name", "kind", "gesture"):
            continue
        reader, inner = reader_at(info), [*tables_in(info.annotation)]
        if reader is None and len(inner) == 1:
            yield from _parameters(inner[0], f"{prefix}{key}.", absent or _may_be_absent(info))
            continue
        meaning = " ".join((info.description or "").split())
        needed = info.is_required() and not absent
        if info.is_required() and absent:
            meaning += f"; needed if {prefix[:-1]} is given"
        if reader is None:
            takes = "tables: " + ", ".join(tag_of(each) for each in inner)
            yield Parameter(prefix + key, takes, "", "", needed, meaning)
            continue
        bare = info.is_required() or info.default is None
        default = "" if bare else _text(reader.write(info.get_default()))
        yield Parameter(prefix + key, reader.takes, reader.unit, default, needed, meaning)


def _may_be_absent(info: FieldInfo) -> bool:
    """Whether a scenario without this table has nothing in its place."""
    return not info.is_required() and info.get_default(call_default_factory=True) is None


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "[" + ", ".join(f'"{each}"' for each in value) + "]"
    return str(value)


def kinds_page() -> str:
    """The tables of all kinds as in the README of scenarios."""
    lines = []
    for what, section in SECTIONS.items():
        lines += [f"### {what.capitalize()}: `{section}`", ""]
        for kind in kinds_of(what):
            lines += [f"**{kind.kind}**: {kind.meaning}", ""]
            lines += ["| key | takes | default | meaning |", "|---|---|---|---|"]
            for each in kind.parameters:
                default = "needed" if each.needed else f"`{each.default}`" if each.default else "-"
                lines.append(f"| `{each.path}` | {each.takes} | {default} | {each.meaning} |")
            lines.append("")
    return "\n".join(lines)
