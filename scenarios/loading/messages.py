"""What is wrong with a scenario: every mistake with its place, what is expected there and what was read; and
the wording of such messages: the nearest known word, lists in prose, and what was read, kept short.
"""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

KeyPath = tuple[str | int, ...]
"""Keys and numbers of entries (from 0) that lead to a value."""

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


def sentence(message: str, read: str) -> str:
    """A mistake in words, "REASON; expected X, got Y; HINT".

    ``message`` is the same without what was read (``read``, "" for nothing): its clauses are separated by
    semicolons, and what was read follows the one that says what is expected, else the first.
    """
    if not read:
        return message
    end = message.find("; ", max(message.find("expected "), 0))
    end = len(message) if end < 0 else end
    return f"{message[:end]}, got {read}{message[end:]}"


@dataclass(frozen=True)
class Problem:
    """One mistake.

    ``file`` is the file or ready scenario, ``place`` the line and the dotted path (or the ``--set`` option
    itself); ``read`` and ``message`` are those of `sentence`.  What cannot be printed is escaped, so each
    fits on one line.
    """

    file: str
    place: str
    read: str
    message: str

    def __post_init__(self) -> None:
        for name in ("file", "place", "read", "message"):
            object.__setattr__(self, name, printable(getattr(self, name)))

    def __str__(self) -> str:
        where = ", ".join(part for part in (self.file, self.place) if part)
        what = sentence(self.message, self.read)
        return f"{where}: {what}" if where else what


class ScenarioError(ValueError):
    """A scenario cannot be used; ``problems`` holds all mistakes found, in the order of the file."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


@dataclass(frozen=True)
class Fault:
    """A mistake before its line is known: the path of keys to it, and as in Problem.

    ``wide`` marks a mistake that lies in how several keys of a table go together.
    """

    path: KeyPath
    read: str
    message: str
    wide: bool = False
