"""Values put into the raw tables before these are checked: ``--set PATH=VALUE``, and ``[variant.NAME]``, the
designs that a file makes of itself by other values for some of its paths.
"""

from __future__ import annotations

import copy
import itertools
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from scenarios.loading.messages import KeyPath, Problem, hint, is_one_line, one_line, quoted, sentence, shown
from scenarios.loading.places import key_lines, line_of
from scenarios.loading.sources import Source
from scenarios.loading.written import inline
from scenarios.schema.tables import SECTIONS

SCALARS = ("title", "seed", "runs")
TABLES = ("supply", "encoder", "contacts", "counter", "target", "stop")
UNNAMED = ("name", "gesture")
PATH_VALUE = 'PATH=VALUE, for example "runs=100" or "supply.voltage=5 V"'


@dataclass(frozen=True)
class Setting:
    """A value for a path, and its place for messages; ``reason`` says what is wrong with it,
    "" for nothing.
    """

    option: str
    words: tuple[str, ...]
    value: Any
    reason: str = ""

    @property
    def text(self) -> str:
        return f"{'.'.join(self.words)}={_written(self.value, self.words)}"


@dataclass(frozen=True)
class Override:
    """One option: its number, as written, and the place in the raw tables that it fills."""

    number: int
    option: str
    path: KeyPath


class _PathError(Exception):
    """A path that leads nowhere; the text says why."""


def setting_of(text: str, option: str = "--set") -> Setting:
    """The setting that an option's PATH=VALUE means."""
    place = f"{option} {shown(text)[1:-1]}"
    head, sign, tail = text.partition("=")
    words = tuple(word.strip() for word in head.split("."))
    if not sign or not all(words):
        return Setting(place, (), None, f"expected {PATH_VALUE}")
    return Setting(place, words, _value(tail.strip(), words))


def apply_sets(
    raw: dict[str, Any], sets: Sequence[str | Setting], label: str
) -> tuple[list[Override], dict[Problem, int]]:
    """Put each option's value into ``raw``; returns those that found a place, and the problems
    with the numbers of their options.

    Stages and gestures must have their names already.  Whether the last key of a path exists is
    left to the schema.
    """
    done: list[Override] = []
    problems: dict[Problem, int] = {}
    for number, each in enumerate(sets):
        setting = each if isinstance(each, Setting) else setting_of(each)
        try:
            if setting.reason:
                raise _PathError(setting.reason)
            path = _locate(raw, list(setting.words))
            _put(raw, path, copy.deepcopy(setting.value))
            done.append(Override(number, setting.option, path))
        except _PathError as reason:
            problems[Problem(label, setting.option, "", str(reason))] = number
    return done, problems


def _named(raw: dict[str, Any], section: str) -> dict[str, int]:
    return {
        item["name"]: number
        for number, item in enumerate(raw[section])
        if isinstance(item, dict) and isinstance(item.get("name"), str)
    }


def _locate(raw: dict[str, Any], words: list[str]) -> KeyPath:
    first, stages, gestures = words[0], _named(raw, "stage"), _named(raw, "hand")
    if first in SCALARS:
        if len(words) > 1:
            raise _PathError(f'"{first}" is a single value and has nothing below it')
        return (first,)
    if first in TABLES:
        return _with_key((first,), words[1:], first)
    if first == "hand":
        if len(words) < 2 or words[1] not in gestures:
            known = quoted([f"hand.{name}" for name in gestures])
            near = hint(words[1], gestures) if len(words) > 1 else ""
            raise _PathError(f"no such gesture; expected {known or 'nothing'}, and a key{near}")
        return _with_key(("hand", gestures[words[1]]), words[2:], f"hand.{words[1]}")
    if first in stages:
        return _with_key(("stage", stages[first]), words[1:], first)
    known_words = [*(word for word in SECTIONS if word != "stage"), *stages]
    near = hint(first, known_words)
    raise _PathError(
        sentence(f"unknown path; expected {quoted(known_words)} at its start{near}", shown(first))
    )


def _with_key(path: KeyPath, keys: list[str], name: str) -> KeyPath:
    if not keys:
        raise _PathError(f'"{name}" is a table; the path must name a key in it, "{name}.KEY"')
    if keys[0] in UNNAMED and path[0] in ("stage", "hand"):
        raise _PathError(f'"{keys[0]}" cannot be set by an option; change it in the file')
    return (*path, *keys)


def _put(raw: dict[str, Any], path: KeyPath, value: Any) -> None:
    """Write a value, creating the tables around it."""
    place: Any = raw
    for step, following in itertools.pairwise(path):
        place = place[step] if isinstance(step, int) else place.setdefault(step, {})
        if not isinstance(place, list if isinstance(following, int) else dict):
            raise _PathError(f"{shown(step)} is a single value and has nothing below it")
    place[path[-1]] = value


def _value(text: str, words: Sequence[str]) -> Any:
    """Numbers, true, false, lists and tables as TOML writes them; anything else is text."""
    if tuple(words) == ("title",):
        return text
    try:
        value = tomllib.loads(f"v = {text}")
    except (ValueError, RecursionError):
        return text
    plain = isinstance(value.get("v"), bool | int | float | str | list | dict) and len(value) == 1
    return value["v"] if plain else text


def _written(value: Any, words: Sequence[str]) -> str:
    """The text that `_value` reads as ``value``, without quotes where possible."""
    if isinstance(value, str) and value == value.strip() and _value(value, words) == value:
        return value
    return inline(value)


VARIANT = "variant"
AS_IT_STANDS = "as it stands"
"""The name of the design that a file states before any variant."""
LONGEST_NAME = 60
IN_VARIANT = "paths, as --set takes them, with a value each"


@dataclass(frozen=True)
class Variant:
    """A design made of a scenario: its ``name``, and the values that it overrides."""

    name: str
    settings: tuple[Setting, ...]


def take_variants(raw: dict[str, Any], source: Source) -> tuple[tuple[Variant, ...], dict[Problem, int]]:
    """Take the variants out of the raw tables; those that can be used, and what is wrong with the rest,
    each with its line.

    Their paths and values are checked when a variant is loaded.
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
        fault = _variant_fault(name, table)
        if fault is not None:
            problems[Problem(source.label, _place(lines, place), *fault)] = line_of(lines, place) or 0
        else:
            variants.append(Variant(name, tuple(_variant_settings(table, place, lines))))
    return tuple(variants), problems


def _variant_fault(name: str, table: Any) -> tuple[str, str] | None:
    """What was read, and what is wrong with it, of a variant that cannot be used."""
    if not isinstance(table, dict):
        return shown(table), f"expected a table of {IN_VARIANT}"
    if not name.strip() or not is_one_line(name) or len(name) > LONGEST_NAME:
        return shown(name), f"expected a name of one line and 1 to {LONGEST_NAME} letters"
    if name == AS_IT_STANDS:
        return shown(name), "this is the name of the file's own design; expected another name"
    if next(_leaves(table, ()), None) is None:
        return "", f"there is nothing in it; expected {IN_VARIANT}"
    return None


def _variant_settings(
    table: Mapping[str, Any], place: KeyPath, lines: dict[KeyPath, int]
) -> Iterator[Setting]:
    for keys, value in _leaves(table, ()):
        words = tuple(word.strip() for key in keys for word in key.split("."))
        reason = "" if all(words) else f"a part of the path is empty; expected {IN_VARIANT}"
        yield Setting(_place(lines, (*place, *keys)), words, value, reason)


def _leaves(table: Mapping[str, Any], keys: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
    """The keys to every value that is no table, and the value."""
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _leaves(value, (*keys, key))
        else:
            yield (*keys, key), value


def _place(lines: dict[KeyPath, int], path: KeyPath) -> str:
    line = line_of(lines, path)
    words = one_line(".".join(str(key) for key in path))
    return words if line is None else f"line {line}, {words}"
