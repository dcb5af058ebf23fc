"""What differs between designs: paths of resolved scenarios, and their values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from scenarios.words import one_line
from scenarios.written import inline

Tables = Mapping[str, Any]
ELECTRIC = ("supply", "stage", "counter")
"""Sections in which designs that meet the same hand may differ."""
ORDER = "stages"
"""The path that stands for the stages' order."""


def leaves(resolved: Tables, sections: Sequence[str] = ELECTRIC) -> dict[str, str]:
    """Path and value, as text, of every single value in some sections of a resolved scenario."""
    return dict(_leaves(resolved, sections))


def _leaves(resolved: Tables, sections: Sequence[str]) -> Iterator[tuple[str, str]]:
    for section in sections:
        value = resolved.get(section)
        if isinstance(value, list):
            prefix = "" if section == "stage" else f"{section}."
            for item in value:
                yield from _of_table(f"{prefix}{item['name']}", item)
        elif isinstance(value, Mapping):
            yield from _of_table(section, value)


def _of_table(prefix: str, table: Tables) -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _of_table(f"{prefix}.{key}", value)
        elif key != "name":
            yield f"{prefix}.{key}", one_line(_text(value))


def _text(value: Any) -> str:
    if isinstance(value, list) and all(isinstance(each, str) for each in value):
        return ", ".join(value)
    return value if isinstance(value, str) else inline(value)


def differing(designs: Sequence[Tables], sections: Sequence[str] = ELECTRIC) -> list[str]:
    """Paths whose values are not alike in all of some resolved scenarios, in the order of the first one."""
    found = [leaves(design, sections) for design in designs]
    paths = dict.fromkeys(path for each in found for path in each)
    return [path for path in paths if len({each.get(path) for each in found}) > 1]


def difference_rows(designs: Sequence[Tables]) -> list[tuple[str, list[str | None]]]:
    """For each path that differs the value in each design, None where it has none; the order of the
    stages first, if it differs.

    Of a stage that not every design has, what is nought or off in those that have it is left out.
    """
    found = [leaves(design) for design in designs]
    rows: list[tuple[str, list[str | None]]] = []
    orders = [", ".join(item["name"] for item in design.get("stage", [])) for design in designs]
    if len(set(orders)) > 1:
        rows.append((ORDER, [order or None for order in orders]))
    for path in differing(designs):
        values = [each.get(path) for each in found]
        if None not in values or any(value is not None and _says_something(value) for value in values):
            rows.append((path, values))
    return rows


def _says_something(text: str) -> bool:
    return text not in ("", "false") and text.split()[0] != "0"
