"""Wording of messages: the nearest known word, lists in prose, and what was read, kept short."""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Iterable, Sequence
from typing import Any

SHOWN = 60
"""Characters of a read value that a message shows at most."""


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that looks most like ``word``, or None when none does.

    Case, underscores, hyphens and spaces do not count.
    """
    plain = {_plain(each): each for each in known}
    found = difflib.get_close_matches(_plain(word[:200]), plain, n=1, cutoff=0.6)
    return plain[found[0]] if found else None


def _plain(word: str) -> str:
    return "".join(letter for letter in word.casefold() if letter not in "_- ")


def hint(word: str, known: Iterable[str]) -> str:
    """``; did you mean "..."?`` with the nearest known word, or nothing."""
    found = nearest(word, known)
    return "" if found is None else f'; did you mean "{found}"?'


def listed(words: Sequence[str], joint: str = "or") -> str:
    """Words as prose: ``a``, ``a or b``, ``a, b or c``."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {joint} {words[-1]}"


def is_one_line(text: str) -> bool:
    """Whether a text has no control characters and no line ends."""
    return all(unicodedata.category(letter) not in ("Cc", "Cs", "Zl", "Zp") for letter in text)


def printable(text: str) -> str:
    """A text with escapes for what cannot be printed."""
    if text.isprintable():
        return text
    return "".join(letter if letter.isprintable() else repr(letter)[1:-1] for letter in text)


def one_line(text: str) -> str:
    """A text cut to a reasonable length, with escapes for what cannot be printed."""
    return printable(text if len(text) <= SHOWN else text[:SHOWN] + "...")


def quoted(names: Sequence[str], most: int = 20) -> str:
    """Names in quotes as prose, the first ``most`` of them."""
    texts = [f'"{one_line(name)}"' for name in names[:most]]
    if len(names) > most:
        texts.append(f"{len(names) - most} others")
    return listed(texts)


def shown(value: Any) -> str:
    """What was read, as one short line: text in quotes, numbers as they are, tables by name."""
    if isinstance(value, str):
        return f'"{one_line(value)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) >= 10**SHOWN:
        return "a whole number of more than 60 digits"
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if value is None:
        return "nothing"
    return f"the {type(value).__name__} {value}"
