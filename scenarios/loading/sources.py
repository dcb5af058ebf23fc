"""A scenario's text, from a file or from a program as text or tables, and the raw tables in it."""

from __future__ import annotations

import numbers
import re
import stat
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from scenarios.loading.catalogue import ready_names, ready_text
from scenarios.loading.messages import Problem, ScenarioError, hint, listed, one_line, printable, shown
from scenarios.loading.places import deepest_bracket, deepest_key
from scenarios.loading.written import as_toml, inline

MOST_BYTES = 1_000_000
"""Largest scenario file."""
MOST_PARTS = 40
"""Longest dotted key."""

_PLACE = re.compile(r"\s*\(at line (\d+), column (\d+)\)$")

_TUPLE = re.compile(r"\(('[^)]*),?\)")
_LONG = re.compile(r"(?<![0-9A-Za-z_])[0-9](?:_?[0-9]){4000,}")
_QUOTELESS = re.compile(r"Invalid value|Expected newline")


@dataclass(frozen=True)
class Source:
    """A scenario's text: its ``name``, the ``label`` by which messages call it, the text, and the
    ``folder`` from which it names other files ("": the present one).  Messages name a line of the text only
    if it is ``lined``: the reader wrote that text.
    """

    name: str
    label: str
    text: str
    folder: str = ""
    lined: bool = True


@dataclass(frozen=True)
class FileKind:
    """What a file is read for: the ``noun`` and ``names`` of what is ready beside files, and what an
    ``empty`` one lacks.
    """

    noun: str
    names: tuple[str, ...]
    empty: str

    @property
    def choices(self) -> str:
        return f"a file or {self.noun} ({listed(self.names)})"


def find_source(name_or_file: str) -> Source:
    """The ready scenario of that name, or the file.

    A name without a folder and without ``.toml`` is first looked up among the ready ones.
    ScenarioError for a file that cannot be read as text.
    """
    if name_or_file in ready_names():
        return Source(name_or_file, name_or_file, ready_text(name_or_file))
    label = printable(name_or_file) or '""'
    wanted = FileKind(
        "a ready scenario", ready_names(), "a scenario needs at least [encoder], [[hand]] and [counter]"
    )
    text = read_text(name_or_file, label, wanted)
    return Source(one_line(Path(name_or_file).stem), label, text, str(Path(name_or_file).parent))


def _fail(label: str, message: str, place: str = "", read: str = "") -> ScenarioError:
    return ScenarioError([Problem(label, place, read, message)])


def read_text(name: str, label: str, wanted: FileKind) -> str:
    """The text of a file, which messages call ``label``; ScenarioError if it cannot be read."""
    path = Path(name)
    try:
        kind = path.stat().st_mode
        data = b""
        if stat.S_ISREG(kind):
            with path.open("rb") as file:
                data = file.read(MOST_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError):
        near = hint(path.name.removesuffix(".toml"), wanted.names)
        raise _fail(label, f"there is no such file; expected {wanted.choices}{near}") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _fail(label, f"the file cannot be read ({reason}); expected {wanted.choices}") from None
    if not stat.S_ISREG(kind):
        what = "a directory" if stat.S_ISDIR(kind) else "no ordinary file"
        raise _fail(label, f"this is {what}; expected {wanted.choices}")
    if len(data) > MOST_BYTES:
        raise _fail(label, f"the file is too large; expected at most {MOST_BYTES:,} bytes")
    return _decoded(data, label, wanted)


def _decoded(data: bytes, label: str, wanted: FileKind) -> str:
    if b"\0" in data:
        raise _fail(label, "this is a binary file; expected a TOML text in UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _fail(
            label,
            "expected a TOML text in UTF-8",
            f"line {line}",
            f"byte 0x{data[error.start]:02x}",
        ) from None
    if not text.strip():
        raise _fail(label, f"the file is empty; {wanted.empty}")
    return text


def _check_depth(source: Source) -> None:
    """Refuse dotted keys of too many parts, for which tomllib needs too much memory."""
    if all(line.count(".") < MOST_PARTS for line in source.text.split("\n")):
        return
    parts, line = deepest_key(source.text)
    if parts > MOST_PARTS:
        message = f"expected a dotted key of at most {MOST_PARTS} parts"
        raise _fail(source.label, message, f"line {line}", f"one of {parts}")


def parse(source: Source) -> dict[str, Any]:
    """The tables of a source; ScenarioError with the line for what is not TOML."""
    _check_depth(source)
    try:
        return tomllib.loads(source.text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax(source, str(error)) from None
    except RecursionError:
        depth, line = deepest_bracket(source.text)
        message = f"tables or arrays are nested too deeply, {depth} within each other"
        raise _fail(source.label, message, f"line {line}") from None
    except ValueError:
        raise _long_number(source) from None


def _long_number(source: Source) -> ScenarioError:
    """A whole number of more digits than Python reads, with its line."""
    found = _LONG.search(source.text)
    place = "" if found is None else f"line {source.text.count(chr(10), 0, found.start()) + 1}"
    read = "" if found is None else shown(found[0])
    return _fail(source.label, "a number has too many digits; expected at most 20", place, read)


def _syntax(source: Source, message: str) -> ScenarioError:
    found = _PLACE.search(message)
    lines = source.text.rstrip().split("\n")
    line = int(found[1]) if found else len(lines)
    place = f"line {line}" + (f", column {found[2]}" if found else "")
    read = shown(lines[line - 1].strip()) if 0 < line <= len(lines) else ""
    what = _PLACE.sub("", message).removesuffix(" (at end of document)")
    what = _TUPLE.sub(lambda found: "[" + found[1].replace("', '", ".").strip("',") + "]", what)
    quotes = '; texts and quantities belong in quotes, such as "47 nF"' if _QUOTELESS.search(what) else ""
    return _fail(source.label, f"not valid TOML: {what[:1].lower()}{what[1:]}{quotes}", place, read)


NAME = "scenario"
TEXT, TABLES = "scenario text", "scenario tables"
"""By what messages call them."""
MOST_LEVELS = 20
"""Tables and lists within each other."""
LARGEST = 10**60
"""Whole numbers from here on are refused before they are written out."""


@dataclass(frozen=True)
class ProgramSource(Source):
    """A source that is no file."""


def text_source(text: str) -> ProgramSource:
    """A TOML text.  ScenarioError for one that could be no file."""
    try:
        size = len(text.encode("utf-8"))
    except UnicodeEncodeError:
        raise _refused(TEXT, (), "", "it cannot be written as UTF-8") from None
    if size > MOST_BYTES:
        raise _refused(TEXT, (), "", f"it is too large; expected at most {MOST_BYTES:,} bytes")
    return ProgramSource(NAME, TEXT, text)


def tables_source(tables: Mapping[str, Any]) -> ProgramSource:
    """Nested dictionaries and lists as TOML text.

    ScenarioError, with the path, for values that TOML does not have.
    """
    text = text_source(as_toml(_table(tables, ()))).text
    return ProgramSource(NAME, TABLES, text, lined=False)


def setting(path: object, value: Any) -> str:
    """PATH=VALUE, as ``--set`` takes it: a text unchanged, anything else as TOML."""
    if not isinstance(path, str):
        raise _refused("--set", (), shown(path), 'expected a path, such as "filter.capacitor"')
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
            raise _refused(TABLES, path, shown(key), "expected a text as the name of a key")
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
    message = "expected a text, a number, true or false, a list or a table"
    raise _refused(TABLES, path, shown(value), message)


def _list(values: list[Any] | tuple[Any, ...], path: tuple[str, ...], *, in_list: bool) -> list[Any]:
    """A list of values, or one of tables; tables are neither beside values nor in lists of lists."""
    tables = bool(values) and all(isinstance(each, Mapping) for each in values) and not in_list
    return [
        _table(each, (*path, str(number))) if tables else _value(each, (*path, str(number)), in_list=True)
        for number, each in enumerate(values, start=1)
    ]
