"""Libraries of recorded bursts: found, read, and merged into [contacts] of the kind "recorded".

A library is a TOML text with a ``title``, optionally the ``speed`` at which it was recorded, and tables
[[make]] and [[break]], each one burst: ``changes = ["0 s", "12 us", "30 us"]``, the times of the
contact's changes after the crossing, the first of which is the crossing itself.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from pathlib import Path
from typing import Any

from scenarios.loading.catalogue import library_names, library_text
from scenarios.loading.messages import (
    Fault,
    KeyPath,
    Problem,
    ScenarioError,
    hint,
    listed,
    one_line,
    printable,
    quoted,
    shown,
)
from scenarios.loading.places import key_lines, line_of
from scenarios.loading.sources import FileKind, Source, parse, read_text
from scenarios.quantities import QuantityError
from scenarios.schema.readers import BurstListReader, QuantityReader
from simcore.base.description import TURNING
from simcore.contacts.recorded import BURSTS

SIDES = ("make", "break")
KEYS = ("title", "speed", *SIDES)
STAND_IN = [["0 s"]]
"""The bursts of a library that cannot be used, so that all else can be checked."""


def merge_library(
    raw: dict[str, Any], source: Source, chosen: Container[KeyPath]
) -> tuple[list[Fault], list[Problem]]:
    """Put the bursts of the library that [contacts] names into it, as ``make`` and ``break``.

    Bursts that are there already take precedence over a library that no option has set (``chosen`` holds
    the places that options have set).  Returns faults of the scenario and
    problems of the library's own file.
    """
    contacts = raw.get("contacts")
    if not isinstance(contacts, dict) or contacts.get("kind") != "recorded":
        return [], []
    name = contacts.get("library", "")
    given = {*SIDES} & contacts.keys()
    if given and ("contacts", "library") not in chosen:
        return [], []
    if not isinstance(name, str):  # which the schema reports
        contacts |= dict.fromkeys(SIDES, STAND_IN)
        return [], []
    if not name.strip():
        if given:
            return [], []
        contacts |= dict.fromkeys(SIDES, STAND_IN)
        message = f'"library" is missing; expected a file, or a ready library ({listed(library_names())})'
        return [Fault(("contacts", "library"), "", message)], []
    if ("contacts", "recorded_at") not in chosen and given:
        contacts.pop("recorded_at", None)
    try:
        found = _read_library(_find(name.strip(), source.folder))
    except ScenarioError as error:
        contacts |= dict.fromkeys(SIDES, STAND_IN)
        return _sorted_out(name, error.problems)
    if "speed" in found:
        contacts.setdefault("recorded_at", found["speed"])
    contacts |= {side: found[side] for side in SIDES}
    return [], []


def _sorted_out(name: str, problems: Sequence[Problem]) -> tuple[list[Fault], list[Problem]]:
    """What is wrong with a library: a fault of the place that names it, where there is no text to read."""
    if problems[0].place:
        return [], list(problems)
    message = f"{problems[0].file}: {problems[0].message}"
    return [Fault(("contacts", "library"), shown(name), message)], []


def _find(name: str, folder: str) -> Source:
    """The ready library of that name, or the file, from the scenario's folder."""
    if name in library_names():
        return Source(name, name, library_text(name))
    path = Path(folder) / name
    kind = FileKind("a ready library", library_names(), "a library needs [[make]] and [[break]]")
    return Source(one_line(path.stem), printable(str(path)), read_text(str(path), printable(str(path)), kind))


def _read_library(source: Source) -> dict[str, Any]:
    """Its speed, and its bursts as lists of texts; ScenarioError with all mistakes at once."""
    reader = _Reader(source)
    found = reader.read()
    if reader.problems:
        raise ScenarioError(reader.problems)
    return found


class _Reader:
    """Reads one library, collecting mistakes."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.tables = parse(source)
        self.lines = key_lines(source.text)
        self.problems: list[Problem] = []

    def read(self) -> dict[str, Any]:
        for key in self.tables:
            if key not in KEYS:
                self.note((key,), shown(key), f"unknown key; expected {listed(KEYS)}{hint(key, KEYS)}")
        found: dict[str, Any] = {}
        if not isinstance(self.tables.get("title", ""), str):
            self.note(("title",), shown(self.tables["title"]), "expected a text in quotes")
        if "speed" in self.tables:
            found["speed"] = self.tables["speed"]
            self.check(("speed",), QuantityReader(TURNING).read, found["speed"])
        for side in SIDES:
            found[side] = [self.burst((side, number), item) for number, item in enumerate(self.side(side))]
        return found

    def side(self, side: str) -> list[Any]:
        items = self.tables.get(side, [])
        if not isinstance(items, list) or not 1 <= len(items) <= BURSTS.most:
            read = "" if side not in self.tables else shown(items)
            self.note((side,), read, f"expected 1 to {BURSTS.most} tables, each begun with [[{side}]]")
            return []
        return items

    def burst(self, place: KeyPath, item: Any) -> Any:
        if not isinstance(item, dict):
            self.note(place, shown(item), "expected a table with changes")
            return []
        for key in item:
            if key != "changes":
                self.note((*place, key), shown(key), f"unknown key; expected {quoted(['changes'])}")
        if "changes" not in item:
            self.note(place, "", f'"changes" is missing; expected a list such as {BurstListReader.example}')
            return []
        self.check((*place, "changes"), BurstListReader(BURSTS).read_burst, item["changes"])
        return item["changes"]

    def check(self, place: KeyPath, read: Any, value: Any) -> None:
        try:
            read(value)
        except QuantityError as error:
            self.note(place, error.read, error.message)

    def note(self, place: KeyPath, read: str, message: str) -> None:
        """Record a mistake with its line; entries of arrays count from 1."""
        line = line_of(self.lines, place)
        words = " ".join(str(part + 1) if isinstance(part, int) else one_line(str(part)) for part in place)
        where = words if line is None else f"line {line}, {words}"
        self.problems.append(Problem(self.source.label, where, read, message))
