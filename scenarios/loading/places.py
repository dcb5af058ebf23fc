"""The line of each key of a TOML text.

tomllib gives values without places.  The text has passed tomllib before it comes here, so
this scanner only needs to tell keys, tables, arrays and strings apart.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Any

from scenarios.loading.messages import KeyPath

_TOKEN = re.compile(
    r"""
    (?P<string> \"\"\"(?:[^"\\]|\\.|\"{1,2}(?!\"))*\"{3,5}
              | '''(?:[^']|'{1,2}(?!'))*'{3,5}
              | \"(?:[^"\\\n]|\\.)*\" | '[^'\n]*' )
  | (?P<comment> \#[^\n]* )
  | (?P<newline> \n )
  | (?P<mark> [\[\]{},=.] )
  | (?P<bare> [^\s\[\]{},=.\#"']+ )
    """,
    re.VERBOSE | re.DOTALL,
)


class _Tokens:
    """The tokens of a text as (kind, text, line), with one to look ahead at."""

    def __init__(self, text: str) -> None:
        self._rest = self.all(text)
        self.ahead: tuple[str, str, int] = next(self._rest, ("end", "", 0))

    @staticmethod
    def all(text: str) -> Iterator[tuple[str, str, int]]:
        line, seen = 1, 0
        for match in _TOKEN.finditer(text):
            line += text.count("\n", seen, match.start())
            seen = match.start()
            if match.lastgroup != "comment":
                yield match.lastgroup or "", match.group(), line

    def take(self) -> tuple[str, str, int]:
        taken = self.ahead
        self.ahead = next(self._rest, ("end", "", taken[2]))
        return taken

    def skip_newlines(self) -> None:
        while self.ahead[0] == "newline":
            self.take()


def deepest_key(text: str) -> tuple[int, int]:
    """Parts of the longest dotted key in any text, and its line.

    tomllib needs memory with the square of that number, so it is checked before parsing.
    """
    deepest, where, parts, dot = 0, 0, 0, False
    for kind, piece, line in _Tokens.all(text):
        if kind == "mark" and piece == ".":
            dot = True
            continue
        parts = parts + 1 if dot else 1
        dot = False
        if parts > deepest:
            deepest, where = parts, line
    return deepest, where


def deepest_bracket(text: str) -> tuple[int, int]:
    """How many arrays and inline tables of any text lie in one another at most, and on which line."""
    deepest, where, depth = 0, 0, 0
    for kind, piece, line in _Tokens.all(text):
        if kind == "mark" and piece in "[{":
            depth += 1
        elif kind == "mark" and piece in "]}":
            depth -= 1
        if depth > deepest:
            deepest, where = depth, line
    return deepest, where


def key_lines(text: str) -> dict[KeyPath, int]:
    """The line (from 1) of every table and key of ``text``, which must be valid TOML.

    An entry of an array of tables is addressed by its number, from 0.
    """
    lines: dict[KeyPath, int] = {}
    counts: dict[KeyPath, int] = {}
    tokens = _Tokens(text)
    table: KeyPath = ()
    while tokens.ahead[0] != "end":
        tokens.skip_newlines()
        if tokens.ahead[0] == "end":
            break
        if tokens.ahead[1] == "[" and tokens.ahead[0] == "mark":
            table = _header(tokens, lines, counts)
        else:
            _pair(tokens, table, lines)
    return lines


def _key(tokens: _Tokens) -> tuple[list[str], int]:
    parts, line = [], tokens.ahead[2]
    while True:
        kind, text, _ = tokens.take()
        parts.append(_decoded(text) if kind == "string" else text)
        if tokens.ahead[1] != ".":
            return parts, line
        tokens.take()


def _decoded(text: str) -> str:
    value: Any = tomllib.loads(f"v = {text}")["v"]
    return str(value)


def _header(tokens: _Tokens, lines: dict[KeyPath, int], counts: dict[KeyPath, int]) -> KeyPath:
    """``[table]`` or ``[[table]]``; returns the path of what follows it."""
    tokens.take()
    array = tokens.ahead[1] == "[" and tokens.ahead[0] == "mark"
    if array:
        tokens.take()
    parts, line = _key(tokens)
    path: KeyPath = ()
    for depth, part in enumerate(parts):
        path = (*path, part)
        lines.setdefault(path, line)
        last = depth == len(parts) - 1
        if last and array:
            counts[path] = counts.get(path, 0) + 1
        if path in counts:
            path = (*path, counts[path] - 1)
            lines.setdefault(path, line)
    for _ in range(2 if array else 1):
        tokens.take()
    return path


def _pair(tokens: _Tokens, table: KeyPath, lines: dict[KeyPath, int]) -> None:
    parts, line = _key(tokens)
    path = table
    for part in parts:
        path = (*path, part)
        lines.setdefault(path, line)
    tokens.take()
    _value(tokens, path, lines)


def _value(tokens: _Tokens, path: KeyPath, lines: dict[KeyPath, int]) -> None:
    """What follows ``=``, or an entry of an array."""
    kind, text, _ = tokens.take()
    if kind == "mark" and text == "{":
        while _more(tokens, "}"):
            _pair(tokens, path, lines)
    elif kind == "mark" and text == "[":
        number = 0
        while _more(tokens, "]"):
            lines.setdefault((*path, number), tokens.ahead[2])
            _value(tokens, (*path, number), lines)
            number += 1
    else:
        while tokens.ahead[0] == "bare" or (tokens.ahead[0] == "mark" and tokens.ahead[1] == "."):
            tokens.take()


def _more(tokens: _Tokens, end: str) -> bool:
    """Step to the next item of an array or inline table; False after its end."""
    while tokens.ahead[0] == "newline" or tokens.ahead[:2] == ("mark", ","):
        tokens.take()
    if tokens.ahead[:2] == ("mark", end):
        tokens.take()
        return False
    return tokens.ahead[0] != "end"


def line_of(lines: dict[KeyPath, int], path: KeyPath) -> int | None:
    """The line of a path, or of the nearest thing around it that has one."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None
