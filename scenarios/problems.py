"""What is wrong with a scenario: every mistake with its place, what was read and what is allowed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from scenarios.words import printable


@dataclass(frozen=True)
class Problem:
    """One mistake.

    ``file`` is the file or ready scenario, ``place`` the line and the dotted path (or the
    ``--set`` option itself), ``read`` what stood there ("" when nothing did), ``message`` what
    is wrong with it and what is allowed.  Whatever cannot be printed is escaped, so each fits on
    one line.
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
        what = f"read {self.read}; {self.message}" if self.read else self.message
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

    path: tuple[str | int, ...]
    read: str
    message: str
    wide: bool = False
