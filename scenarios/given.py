"""A scenario that a program hands over instead of a file: as a TOML text, or as tables."""

from __future__ import annotations

import numbers
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from scenarios.problems import Problem, ScenarioError
from scenarios.sources import MOST_BYTES, Source
from scenarios.words import one_line, shown
from scenarios.written import as_toml, inline

NAME = "scenario"
TEXT, TABLES = "scenario text", "scenario tables"
"""By what messages call them."""
MOST_LEVELS = 20
"""Tables and lists within each other."""
LARGEST = 10**60
"""Whole numbers from here on are refused before they are written out."""


@dataclass(frozen=True)
class Handed(Source):
    """A source that is no file."""


def text_source(text: str) -> Handed:
    """A TOML text as it stands.  ScenarioError for what could be no file."""
    try:
        size = len(text.encode("utf-8"))
    except UnicodeEncodeError:
        raise _refused(TEXT, (), "", "it cannot be written as UTF-8") from None
    if size > MOST_BYTES:
        raise _refused(TEXT, (), "", f"it is too large; allowed are {MOST_BYTES} bytes")
    return Handed(NAME, TEXT, text)


def tables_source(tables: Mapping[str, Any]) -> Handed:
    """Nested dictionaries and lists as the TOML text that stands for them.

    ScenarioError, with the path, for what TOML has no word for.
    """
    text = text_source(as_toml(_table(tables, ()))).text
    return Handed(NAME, TABLES, text, lined=False)


def setting(path: object, value: Any) -> str:
    """PATH=VALUE, as ``--set`` takes it: a text as it stands, anything else as TOML would have it."""
    if not isinstance(path, str):
        raise _refused("--set", (), shown(path), 'allowed is a path, such as "filter.capacitor"')
    if isinstance(value, str):
        return f"{path}={value}"
    plain = _value(value, ("--set", path), in_list=True)
    return f"{path}={inline(plain)}"


def _refused(label: str, path: tuple[str, ...], read: str, message: str) -> ScenarioError:
    return ScenarioError([Problem(label, one_line(".".join(path)), read, message)])


def _table(table: Mapping[str, Any], path: tuple[str, ...]) -> dict[str, Any]:
    found = {}
    for key, value in table.items():
        if not isinstance(key, str):
            raise _refused(TABLES, path, shown(key), "the name of a key is a text")
        found[key] = _value(value, (*path, key), in_list=False)
    return found


def _value(value: Any, path: tuple[str, ...], *, in_list: bool) -> Any:
    """A value as TOML has it; numbers of other libraries become Python's own."""
    if len(path) > MOST_LEVELS:
        raise _refused(TABLES, path[:3], "", "tables or lists are nested too deeply")
    if isinstance(value, (str, bool)):
        return str(value) if isinstance(value, str) else value
    if isinstance(value, numbers.Integral) and abs(int(value)) < LARGEST:
        return int(value)
    if isinstance(value, numbers.Real) and not isinstance(value, numbers.Integral):
        return float(value)
    if isinstance(value, Mapping) and not in_list:
        return _table(value, path)
    if isinstance(value, (list, tuple)):
        return _list(value, path, in_list=in_list)
    allowed = "a text, a number, true or false, a list or a table"
    raise _refused(TABLES, path, shown(value), f"allowed is {allowed}")


def _list(values: list[Any] | tuple[Any, ...], path: tuple[str, ...], *, in_list: bool) -> list[Any]:
    """A list of values, or one of tables; tables stand neither beside values nor in lists of lists."""
    tables = bool(values) and all(isinstance(each, Mapping) for each in values) and not in_list
    return [
        _table(each, (*path, str(number))) if tables else _value(each, (*path, str(number)), in_list=True)
        for number, each in enumerate(values, start=1)
    ]
