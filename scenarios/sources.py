"""Finding and reading a scenario's text, and turning it into raw tables."""

from __future__ import annotations

import re
import stat
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scenarios.catalogue import ready_names, ready_text
from scenarios.places import deepest_key
from scenarios.problems import Problem, ScenarioError
from scenarios.words import hint, listed, one_line, printable, shown

MOST_BYTES = 1_000_000
"""Largest scenario file."""
MOST_PARTS = 40
"""Longest dotted key."""

_PLACE = re.compile(r"\s*\(at line (\d+), column (\d+)\)$")

_TUPLE = re.compile(r"\(('[^)]*),?\)")
_QUOTELESS = re.compile(r"Invalid value|Expected newline")


@dataclass(frozen=True)
class Source:
    """A scenario's text: its ``name``, the ``label`` by which messages call it, the text, and the
    ``folder`` from which it names other files ("": the present one).  Messages name a line of the text only
    if it is ``lined``: written by whoever reads them.
    """

    name: str
    label: str
    text: str
    folder: str = ""
    lined: bool = True


@dataclass(frozen=True)
class Wanted:
    """What a file is read for: the ``noun`` and ``names`` of what is ready beside files, and what an
    ``empty`` one lacks.
    """

    noun: str
    names: tuple[str, ...]
    empty: str

    @property
    def choices(self) -> str:
        """What is allowed."""
        return f"a file or {self.noun} ({listed(self.names)})"


def find_source(name_or_file: str) -> Source:
    """The ready scenario of that name, or the file.

    A name without a folder and without ``.toml`` is first looked up among the ready ones.
    ScenarioError for whatever cannot be read as a text file.
    """
    if name_or_file in ready_names():
        return Source(name_or_file, name_or_file, ready_text(name_or_file))
    label = printable(name_or_file)
    wanted = Wanted(
        "a ready scenario", ready_names(), "a scenario needs at least [encoder], [[hand]] and [counter]"
    )
    text = read_text(name_or_file, label, wanted)
    return Source(one_line(Path(name_or_file).stem), label, text, str(Path(name_or_file).parent))


def _fail(label: str, message: str, place: str = "", read: str = "") -> ScenarioError:
    return ScenarioError([Problem(label, place, read, message)])


def read_text(name: str, label: str, wanted: Wanted) -> str:
    """The text of a file, which messages call ``label``; ScenarioError if it cannot be read."""
    path = Path(name)
    try:
        kind = path.stat().st_mode
        data = b""
        if stat.S_ISREG(kind):
            with path.open("rb") as file:
                data = file.read(MOST_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError):
        raise _fail(
            label, f"there is no such file{_meant(name, wanted)}; allowed is {wanted.choices}"
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _fail(label, f"the file cannot be read ({reason}); allowed is {wanted.choices}") from None
    if not stat.S_ISREG(kind):
        what = "a directory" if stat.S_ISDIR(kind) else "no ordinary file"
        raise _fail(label, f"this is {what}; allowed is {wanted.choices}")
    if len(data) > MOST_BYTES:
        raise _fail(label, f"the file is too large; allowed are {MOST_BYTES} bytes")
    return _decoded(data, label, wanted)


def _meant(name: str, wanted: Wanted) -> str:
    return hint(Path(name).name.removesuffix(".toml"), wanted.names)


def _decoded(data: bytes, label: str, wanted: Wanted) -> str:
    """Bytes as UTF-8 text that is not empty."""
    if b"\0" in data:
        raise _fail(label, "this is a binary file; allowed is a TOML text in UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _fail(
            label,
            "not UTF-8; allowed is a TOML text in UTF-8",
            f"line {line}",
            f"byte 0x{data[error.start]:02x}",
        ) from None
    if not text.strip():
        raise _fail(label, f"the file is empty; {wanted.empty}")
    return text


def _check_depth(source: Source) -> None:
    """Refuse dotted keys without end."""
    if all(line.count(".") < MOST_PARTS for line in source.text.split("\n")):
        return
    parts, line = deepest_key(source.text)
    if parts > MOST_PARTS:
        message = f"a dotted key of {parts} parts; allowed are {MOST_PARTS}"
        raise _fail(source.label, message, f"line {line}")


def parse(source: Source) -> dict[str, Any]:
    """The tables of a source; ScenarioError with the line for what is not TOML."""
    _check_depth(source)
    try:
        return tomllib.loads(source.text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax(source, str(error)) from None
    except RecursionError:
        raise _fail(source.label, "tables or arrays are nested too deeply") from None
    except ValueError:
        raise _fail(source.label, "a number has too many digits") from None


def _syntax(source: Source, message: str) -> ScenarioError:
    """A TOML syntax error with its line and what stands there."""
    found = _PLACE.search(message)
    lines = source.text.rstrip().split("\n")
    line = int(found[1]) if found else len(lines)
    place = f"line {line}" + (f", column {found[2]}" if found else "")
    read = shown(lines[line - 1].strip()) if 0 < line <= len(lines) else ""
    what = _PLACE.sub("", message).removesuffix(" (at end of document)")
    what = _TUPLE.sub(lambda found: "[" + found[1].replace("', '", ".").strip("',") + "]", what)
    quotes = '; texts and quantities stand in quotes, such as "47 nF"' if _QUOTELESS.search(what) else ""
    return _fail(source.label, f"not valid TOML: {what[:1].lower()}{what[1:]}{quotes}", place, read)
