"""What kinds of stages, inputs, counters, contacts and gestures there are, read off the schema itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scenarios.checking import fields_of, marker_of, tables_in
from scenarios.plugins import plugins
from scenarios.schema_contacts import CONTACTS
from scenarios.schema_counters import COUNTERS
from scenarios.schema_gestures import GESTURES
from scenarios.schema_inputs import INPUTS
from scenarios.schema_stages import STAGES
from scenarios.schema_table import Table, tag_of

KINDS: dict[str, tuple[type[Table], ...]] = {
    "stages": STAGES,
    "inputs": INPUTS,
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
    none), the ``default`` as the file would have it ("" where there is none, and the key must be
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
        Kind(tag_of(table), sentence(table), tuple(_parameters(table, "")), packages.get(tag_of(table), ""))
        for table in KINDS[what]
    )


def sentence(table: type[Table]) -> str:
    """The first paragraph of a table's description, on one line."""
    return " ".join((table.__doc__ or "").split("\n\n")[0].split())


def _parameters(table: type[Table], prefix: str) -> Iterator[Parameter]:
    for key, info in fields_of(table).items():
        if key in ("name", "kind", "gesture"):
            continue
        marker, inner = marker_of(info), [*tables_in(info.annotation)]
        if marker is None and len(inner) == 1:
            yield from _parameters(inner[0], f"{prefix}{key}.")
            continue
        meaning = " ".join((info.description or "").split())
        if marker is None:
            takes = "tables: " + ", ".join(tag_of(each) for each in inner)
            yield Parameter(prefix + key, takes, "", "", info.is_required(), meaning)
            continue
        bare = info.is_required() or info.default is None
        default = "" if bare else _text(marker.write(info.get_default()))
        unit = str(getattr(marker, "unit", ""))
        yield Parameter(prefix + key, marker.takes, unit, default, info.is_required(), meaning)


def _text(value: object) -> str:
    """A value as the file would have it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "[" + ", ".join(f'"{each}"' for each in value) + "]"
    return str(value)


def kinds_page() -> str:
    """The tables of all kinds as they stand in this folder's README."""
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
