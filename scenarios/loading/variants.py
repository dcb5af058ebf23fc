"""``[variant.NAME]``: designs that a file makes of itself by other values for some of its paths."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from scenarios.loading.messages import Problem, is_one_line, one_line, shown
from scenarios.loading.overrides import Setting
from scenarios.loading.places import key_lines, line_of
from scenarios.loading.sources import Source

VARIANT = "variant"
AS_IT_STANDS = "as it stands"
"""The name of the design that a file states before any variant."""
LONGEST_NAME = 60
WANTED = "paths, as --set takes them, with a value each"

Path = tuple[str | int, ...]
Lines = dict[Path, int]


@dataclass(frozen=True)
class Variant:
    """A design made of a scenario: its ``name``, and what is laid over the scenario's tables."""

    name: str
    settings: tuple[Setting, ...]


def take_variants(raw: dict[str, Any], source: Source) -> tuple[tuple[Variant, ...], dict[Problem, int]]:
    """Take the variants out of the raw tables; those that can be used, and what is wrong with the rest,
    each with its line.

    Whether their paths and values mean anything is found out when one is laid over the scenario.
    """
    tables = raw.pop(VARIANT, {})
    lines = key_lines(source.text) if tables else {}
    if not isinstance(tables, dict):
        message = f"expected tables, each begun with [{VARIANT}.NAME]"
        problem = Problem(source.label, _place(lines, (VARIANT,)), shown(tables), message)
        return (), {problem: line_of(lines, (VARIANT,)) or 0}
    variants, problems = list[Variant](), dict[Problem, int]()
    for name, table in tables.items():
        place = VARIANT, name
        fault = _fault(name, table)
        if fault is not None:
            problems[Problem(source.label, _place(lines, place), *fault)] = line_of(lines, place) or 0
        else:
            variants.append(Variant(name, tuple(_settings(table, place, lines))))
    return tuple(variants), problems


def _fault(name: str, table: Any) -> tuple[str, str] | None:
    """What was read, and what is wrong with it, of a variant that cannot be used."""
    if not isinstance(table, dict):
        return shown(table), f"expected a table of {WANTED}"
    if not name.strip() or not is_one_line(name) or len(name) > LONGEST_NAME:
        return shown(name), f"expected a name of one line and 1 to {LONGEST_NAME} letters"
    if name == AS_IT_STANDS:
        return shown(name), "this is the name of the file's own design; expected another name"
    if next(_leaves(table, ()), None) is None:
        return "", f"there is nothing in it; expected {WANTED}"
    return None


def _settings(table: Mapping[str, Any], place: Path, lines: Lines) -> Iterator[Setting]:
    for keys, value in _leaves(table, ()):
        words = tuple(word.strip() for key in keys for word in key.split("."))
        reason = "" if all(words) else f"a part of the path is empty; expected {WANTED}"
        yield Setting(_place(lines, (*place, *keys)), words, value, reason)


def _leaves(table: Mapping[str, Any], keys: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
    """The keys to every value that is no table, and the value."""
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _leaves(value, (*keys, key))
        else:
            yield (*keys, key), value


def _place(lines: Lines, path: Path) -> str:
    """The line of a key and its path."""
    line = line_of(lines, path)
    words = one_line(".".join(str(key) for key in path))
    return words if line is None else f"line {line}, {words}"
