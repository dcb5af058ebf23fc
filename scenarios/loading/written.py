"""A resolved scenario as TOML text."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any


def as_toml(tables: Mapping[str, Any]) -> str:
    """TOML text of nested tables of texts, numbers, true/false and sequences.

    ``scenarios.loading.load`` reads it to an equal design when ``tables`` is a resolved scenario.
    """
    return "\n".join(_table((), tables)).strip() + "\n"


def _table(path: tuple[str, ...], table: Mapping[str, Any]) -> Iterator[str]:
    inner = {key: value for key, value in table.items() if isinstance(value, Mapping) or _is_tables(value)}
    for key, value in table.items():
        if key not in inner:
            yield f"{_key(key)} = {inline(value)}"
    for key, value in inner.items():
        dotted = ".".join(_key(part) for part in (*path, key))
        if isinstance(value, Mapping):
            yield from ("", f"[{dotted}]", *_table((*path, key), value))
        else:
            for item in value:
                yield from ("", f"[[{dotted}]]", *_table((*path, key), item))


def _is_tables(value: Any) -> bool:
    listed = isinstance(value, (list, tuple))
    return listed and bool(value) and all(isinstance(each, Mapping) for each in value)


def _key(key: str) -> str:
    plain = key.isascii() and key.replace("_", "").replace("-", "").isalnum()
    return key if plain else _text(key)


def _text(text: str) -> str:
    """A basic string; JSON's escapes are TOML's, but for DEL."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def inline(value: Any) -> str:
    """A value on one line: text in quotes, lists, tables in braces."""
    if isinstance(value, Mapping):
        return f"{{{', '.join(f'{_key(key)} = {inline(each)}' for key, each in value.items())}}}"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(inline(each) for each in value)}]"
    return repr(value)
