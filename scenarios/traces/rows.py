"""The rows of a recorded trace: how the file is laid out, cells as times and levels, and the changes kept.

The layout (separator, decimal sign, columns and units) is decided from the first lines of the file by trying
every layout and keeping the one under which most lines hold three numbers.
"""

from __future__ import annotations

import csv
import io
import pathlib
import re
from array import array
from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import NamedTuple

from scenarios.loading.messages import Problem, hint, listed, sentence, shown
from simcore.base.ticks import FAR_SECONDS, TICKS_PER_SECOND

BLANKS = " "
NUMBERS = {
    ".": re.compile(r"[+-]?(?:[0-9]{1,30}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE][+-]?[0-9]{1,2})?"),
    ",": re.compile(r"[+-]?(?:[0-9]{1,30}(?:,[0-9]{1,30})?|,[0-9]{1,30})(?:[eE][+-]?[0-9]{1,2})?"),
}
"""By decimal sign, what a number looks like.  No grouping of digits, no words such as "nan"."""

UNITS = {"s": TICKS_PER_SECOND, "ms": 10**9, "us": 10**6, "ns": 10**3, "ps": 1}
"""Ticks in one of each unit of time."""

_LONG_UNITS = {"s": "", "ms": "milli", "us": "micro", "ns": "nano", "ps": "pico"}
_SHORT_UNITS = {"s": "", "ms": "m", "us": "u", "ns": "n", "ps": "p"}
_UNIT_WORDS = {
    word: unit
    for unit in UNITS
    for prefix, stem in ((_LONG_UNITS[unit], "second"), (_SHORT_UNITS[unit], "sec"))
    for word in (unit, prefix + stem, prefix + stem + "s")
} | {"\u03bcs": "us", "\u03bcsec": "us"}

ALIASES = (
    {"time", "t", "timestamp", "time stamp", "elapsed", "elapsed time", "relative time"},
    {"a", "channel a", "ch a", "line a", "phase a", "contact a", "input a", "encoder a", "enc a", "level a"},
    {"b", "channel b", "ch b", "line b", "phase b", "contact b", "input b", "encoder b", "enc b", "level b"},
)
COLUMN_ROLES = ("time", "A", "B")


class LayoutError(ValueError):
    """The layout cannot be recognised: ``read`` and ``message`` as `messages.sentence` takes them."""

    def __init__(self, read: str, message: str) -> None:
        super().__init__(sentence(message, read))
        self.read = read
        self.message = message


class Layout(NamedTuple):
    """A separator (BLANKS stands for any run of blanks) and a decimal sign."""

    separator: str
    decimal: str

    @property
    def words(self) -> str:
        if self == DUMP:
            return "blanks"
        name = {",": "commas", ";": "semicolons", "\t": "tabs", BLANKS: "blanks"}[self.separator]
        return name + (" with decimal commas" if self.decimal == "," else "")


DUMP = Layout("", ".")
"""That of a value change dump."""

_LAYOUTS = tuple(Layout(s, d) for s, d in ("\t.", ";.", ";,", ",.", "\t,", " .", " ,", ",,"))


class Columns(NamedTuple):
    """Indices (from 0) of time, A and B, their ``names`` in the header ("" without one), and
    how they were ``found``: "asked", "named" in the header, or by their "order".
    """

    indices: tuple[int, int, int]
    names: tuple[str, str, str]
    found: str


def is_comment(line: str, layout: Layout | None = None) -> bool:
    """Whether a line (stripped) is empty or a comment.  Without a layout a leading semicolon may be one."""
    signs: tuple[str, ...] = ("#", "%", "//", "!")
    if layout is not None and layout.separator != ";":
        signs = (*signs, ";")
    return not line or line.startswith(signs)


def split_rows(lines: Iterable[str], layout: Layout) -> Iterator[list[str]]:
    """Cells of each line, stripped.  Raises csv.Error for broken quotes."""
    if layout.separator == BLANKS:
        return (line.split() for line in lines)
    rows = csv.reader(lines, delimiter=layout.separator, skipinitialspace=True, strict=True)
    return ([cell.strip() for cell in row] for row in rows)


def find_layout(head: list[str]) -> tuple[Layout, int]:
    """The layout under which most of the first lines hold three numbers, and how many numbers
    (3, or 2 or 1 when no line holds more) its best lines hold.  LayoutError without any.
    """
    lines = [line for line in head if not is_comment(line.strip())]
    for wanted in (3, 2, 1):
        scores = {layout: sum(_numbers_in(line, layout) >= wanted for line in lines) for layout in _LAYOUTS}
        best = max(scores, key=scores.__getitem__)
        if scores[best]:
            return best, wanted
    raise LayoutError(
        shown(lines[0].strip()) if lines else "nothing but comments",
        f"no row of numbers among the first {len(head)} lines; expected rows of a time and the levels of A "
        "and B, separated by commas, semicolons, tabs or blanks",
    )


def _numbers_in(line: str, layout: Layout) -> int:
    """How many cells of a line are numbers under this layout."""
    number = NUMBERS[layout.decimal]
    try:
        return sum(1 for row in split_rows([line], layout) for cell in row if number.fullmatch(cell))
    except csv.Error:
        return 0


def find_header(head: list[str], layout: Layout) -> list[list[str]]:
    """The rows of cells above the first two rows in a row that hold three numbers each (one
    such row alone may be a setting of the recorder), comments left out.
    """
    lines = [line for line in head if not is_comment(line.strip(), layout)]
    full = [_numbers_in(line, layout) >= 3 for line in lines] + [True]
    end = next((i for i in range(len(lines)) if full[i] and full[i + 1]), len(lines))
    return [_cells(line, layout) for line in lines[:end]]


def first_row(header: list[list[str]], layout: Layout, columns: Columns) -> int:
    """How many rows of a header come before its first one with numbers in all three columns."""
    number = NUMBERS[layout.decimal]
    for place, row in enumerate(header):
        if len(row) > max(columns.indices) and all(number.fullmatch(row[i]) for i in columns.indices):
            return place
    return len(header)


def row_width(head: list[str], layout: Layout, number: int) -> int:
    """How many cells row ``number`` (from 0, comments left out) has."""
    lines = [line for line in head if not is_comment(line.strip(), layout)]
    return len(_cells(lines[number], layout)) if number < len(lines) else 0


def _cells(line: str, layout: Layout) -> list[str]:
    """Cells for reading names and units; messages repeat them, so nothing unprintable stays."""
    try:
        cells = next(split_rows([line], layout), [])
    except csv.Error:
        cells = [line.strip()]
    return ["".join(letter if letter.isprintable() else "?" for letter in cell) for cell in cells]


def plain_name(cell: str) -> str:
    """A header cell in small letters, without its unit and without marks: "Time [us]" is "time"."""
    bare = re.sub(r"[\[(].*?[\])]", " ", cell.casefold())
    words = re.findall(r"[^\W_]+", bare)
    kept = [word for word in words if word not in _UNIT_WORDS] or words
    return " ".join(kept)


def find_columns(header: list[list[str]], asked: str | None) -> Columns:
    """Which columns hold time, A and B.  ``asked`` is three names or numbers (from 1), or None
    to go by the header's names and, failing these, by order.  LayoutError names what is wrong.
    """
    if asked is not None:
        return _asked_columns(header, asked)
    for row in reversed(header):
        names = [plain_name(cell) for cell in row]
        time, a, b = ([i for i, name in enumerate(names) if name in known] for known in ALIASES)
        if len(a) == len(b) == 1 and (len(time) == 1 or 0 not in (a[0], b[0])):
            return _columns(header, (time[0] if len(time) == 1 else 0, a[0], b[0]), "named")
        if bool(a) != bool(b):
            raise LayoutError(
                shown(", ".join(row)),
                f"the header names line {'A' if a else 'B'} but not line {'B' if a else 'A'}; expected both, "
                "or --columns with the three columns of time, A and B",
            )
    return _ordered_columns(header)


def _ordered_columns(header: list[list[str]]) -> Columns:
    """The first three columns, unless the header shows that the first one does not hold times."""
    found = _columns(header, (0, 1, 2), "order")
    named = next((row for row in reversed(header) if len(row) >= 3 and all(map(plain_name, row))), [])
    elsewhere = any(plain_name(cell) in ALIASES[0] for cell in named[1:])
    if named and not _is_time(named[0]) and (elsewhere or len(named) > 3):
        raise LayoutError(
            shown(", ".join(named)),
            "the header does not say which columns hold time, A and B; expected --columns with the three",
        )
    return found


def _is_time(cell: str) -> bool:
    """Whether a header cell names time or has a unit of time."""
    return plain_name(cell) in ALIASES[0] or bool(_units_in(cell))


def _units_in(cell: str) -> list[str]:
    return [_UNIT_WORDS[word] for word in re.findall(r"[^\W\d_]+", cell.casefold()) if word in _UNIT_WORDS]


def _columns(header: list[list[str]], indices: tuple[int, int, int], found: str) -> Columns:
    """Columns with the names that the last fitting row of the header gives them."""
    for row in reversed(header):
        if len(row) > max(indices) and all(plain_name(row[i]) for i in indices):
            return Columns(indices, (row[indices[0]], row[indices[1]], row[indices[2]]), found)
    return Columns(indices, ("", "", ""), found)


def _asked_columns(header: list[list[str]], asked: str) -> Columns:
    try:
        words = [word.strip() for word in next(csv.reader([asked], skipinitialspace=True, strict=True), [])]
    except csv.Error:
        words = []
    if len(words) != 3 or not all(words):
        raise LayoutError(
            f"--columns {shown(asked)}",
            'expected three names or numbers, for time, A and B, such as "1,2,3" or "Time,A,B"',
        )
    first, second, third = (_asked_column(header, word) for word in words)
    if len({first, second, third}) < 3:
        raise LayoutError(f"--columns {shown(asked)}", "expected three different columns for time, A and B")
    return _columns(header, (first, second, third), "asked")


def _asked_column(header: list[list[str]], word: str) -> int:
    if re.fullmatch(r"[0-9]{1,4}", word) and int(word) >= 1:
        return int(word) - 1
    for row in reversed(header):
        exact = [i for i, cell in enumerate(row) if cell == word]
        similar = [i for i, cell in enumerate(row) if plain_name(cell) == plain_name(word) != ""]
        for matches in (exact, similar):
            if len(matches) == 1:
                return matches[0]
    names = [cell for row in header for cell in row if cell]
    known = listed([shown(name) for name in names[:12]]) if names else "none: the file has no header"
    raise LayoutError(
        f"--columns {shown(word)}",
        f"there is no such column; expected a number from 1, or a name from the header ({known})"
        f"{hint(word, names)}",
    )


def header_unit(header: list[list[str]], column: int) -> str | None:
    """The unit of time that the header states for a column, or None.

    The row nearest to the numbers wins.  LayoutError for a unit in brackets that is none of time.
    """
    for row in reversed(header):
        if column >= len(row):
            continue
        found = _units_in(row[column])
        if found:
            return found[-1]
        bracket = re.search(r"[\[(]\s*([^\])]*?)\s*[\])]", row[column])
        if bracket:
            raise LayoutError(
                shown(row[column]),
                f"unknown unit {shown(bracket[1])} of the time column; expected {listed(list(UNITS))}; "
                "--unit states another",
            )
    return None


def header_millivolts(header: list[list[str]], column: int) -> bool:
    cells = [row[column].casefold() for row in header if column < len(row)]
    return any(re.search(r"(?<![^\W_])(mv|millivolts?)(?![^\W_])", cell) for cell in cells)


LONGEST_LINE = 65_536
LATIN_MICRO = "\udcb5"
"""What reading as UTF-8 makes of the micro sign of an older 8-bit code."""
MOST_ROWS = 20_000_000
MOST_CHANGES = 2_000_000
LONGEST_TRACE = int(FAR_SECONDS) * TICKS_PER_SECOND


class TraceError(ValueError):
    """A trace cannot be read; ``problems`` says why."""

    def __init__(self, *problems: Problem) -> None:
        self.problems = problems
        super().__init__("\n".join(str(problem) for problem in problems))


class Threshold(NamedTuple):
    """Volts at which a line reads 1 (``rising`` and above) and 0 (below ``falling``)."""

    rising: float
    falling: float


class TraceFile:
    """A file as lines.  ``number`` is that of the line read last; ``comments`` were left out."""

    def __init__(self, path: str) -> None:
        self.path = path
        self.number = 0
        self.comments = 0

    def opened(self) -> io.BufferedReader:
        """The file as bytes.  OSError."""
        try:
            return pathlib.Path(self.path).open("rb")
        except ValueError as error:
            raise OSError(str(error)) from None

    def text(self, raw: io.BufferedReader) -> io.TextIOWrapper:
        """The file as text: UTF-8, or UTF-16 where its first bytes say so."""
        sixteen = raw.peek(2)[:2] in (b"\xff\xfe", b"\xfe\xff")
        return io.TextIOWrapper(raw, "utf-16" if sixteen else "utf-8-sig", "surrogateescape")

    def error(self, read: str, message: str, whole: bool = False) -> TraceError:
        """The error of the line read last, or of the file as a ``whole``."""
        return TraceError(Problem(self.path, "" if whole else f"line {self.number}", read, message))

    def lines(self, handle: io.TextIOWrapper) -> Iterator[str]:
        while line := handle.readline(LONGEST_LINE):
            self.number += 1
            if "\0" in line:
                raise self.error("", "this is not text; expected a CSV file of numbers")
            if len(line) >= LONGEST_LINE:
                raise self.error("", f"expected at most {LONGEST_LINE:,} characters in a line")
            yield line.rstrip("\r\n").replace(LATIN_MICRO, "\u00b5")

    def filled(self, lines: Iterator[str], layout: Layout) -> Iterator[str]:
        for line in lines:
            if is_comment(line.strip(), layout):
                self.comments += 1
            else:
                yield line


class Slicer:
    """One line from cells to levels; the level is None until it is known.

    ``low`` and ``high`` are the extremes (V) of a line that is recorded in volts.
    """

    def __init__(
        self, source: TraceFile, name: str, decimal: str, threshold: Threshold | None, scale: float
    ) -> None:
        self.source, self.name, self.scale = source, name, scale
        self.number = NUMBERS[decimal]
        self.threshold = threshold
        self.level: int | None = None
        self.low, self.high = float("inf"), float("-inf")
        self.known = {} if threshold else {"0": 0, "1": 1}

    def read(self, cell: str) -> int | None:
        level = self.known.get(cell)
        self.level = self._sliced(cell) if level is None else level
        return self.level

    def _sliced(self, cell: str) -> int | None:
        if not self.number.fullmatch(cell):
            raise self.source.error(
                shown(cell), f"the level of line {self.name} is no number; {self._expectation()}"
            )
        return self.of(float(cell.replace(",", ".")) * self.scale, cell)

    def of(self, value: float, cell: str) -> int | None:
        """The level after a value that was read as ``cell``; remembers no level by itself."""
        if self.threshold is None:
            if value not in (0.0, 1.0):
                raise self.source.error(
                    shown(cell), f"the level of line {self.name} is neither 0 nor 1; {self._expectation()}"
                )
            return int(value)
        self.low, self.high = min(self.low, value), max(self.high, value)
        if value >= self.threshold.rising:
            return 1
        return 0 if value < self.threshold.falling else self.level

    def _expectation(self) -> str:
        if self.threshold is not None:
            return "expected a voltage, such as 3.28, because of --threshold"
        return 'expected 0 or 1, or a voltage together with a threshold such as --threshold "1.5 V"'


class Tape:
    """The changes of both lines, and what the rows were like.

    ``start`` is the tick of the first row on the recorder's clock and ``last`` that of the last
    one after it; ``firsts`` the first known levels; ``quiet`` counts rows without a change.
    """

    def __init__(self, source: TraceFile) -> None:
        self.source = source
        self.rows = 0
        self.start = 0
        self.last = 0
        self.levels: list[int | None] = [None, None]
        self.firsts: list[int | None] = [None, None]
        self.changes = (array("q"), array("q"))
        self.quiet = 0
        self.shortest, self.longest = LONGEST_TRACE, 0

    def add(self, clock: int, a: int | None, b: int | None) -> None:
        """One row: the tick on the recorder's clock, and both levels."""
        self.stamp(clock)
        if a == self.levels[0] and b == self.levels[1]:
            self.quiet += 1
            return
        self.change(0, a)
        self.change(1, b)

    def stamp(self, clock: int) -> None:
        """A row at a tick on the recorder's clock."""
        if self.rows == 0:
            self.start = clock
        self._advance(clock - self.start)
        self.rows += 1

    def _advance(self, time: int) -> None:
        interval = time - self.last
        if interval < 0:
            raise self.source.error(
                "",
                f"time runs backward, by {-interval / TICKS_PER_SECOND:g} s; expected no time earlier than "
                "the one before it",
            )
        if time > LONGEST_TRACE:
            raise self.source.error(
                "", "expected a trace of at most 46 days; cut it, or state the unit with --unit"
            )
        if self.rows >= MOST_ROWS:
            raise self.source.error(
                "", f"expected at most {MOST_ROWS:,} rows; cut the trace to a shorter time"
            )
        if interval > 0:
            self.shortest = min(self.shortest, interval)
            self.longest = max(self.longest, interval)
        self.last = time

    def change(self, line: int, level: int | None) -> None:
        before = self.levels[line]
        self.levels[line] = level
        if before is None:
            self.firsts[line] = level
        elif level != before:
            self.changes[line].append(self.last)
            if len(self.changes[0]) + len(self.changes[1]) > MOST_CHANGES:
                raise self.source.error(
                    "", f"expected at most {MOST_CHANGES:,} changes; cut the trace to a shorter time"
                )


def read_rows(
    source: TraceFile, rows: Iterator[list[str]], columns: Columns, decimal: str, unit: int,
    slicers: tuple[Slicer, Slicer], tape: Tape,
) -> bool:  # fmt: skip
    """Read all rows onto ``tape``; ``unit`` is ticks in one count of the time column.

    Returns whether all times are whole numbers.
    """
    number = NUMBERS[decimal]
    whole = re.compile(r"[+-]?[0-9]+")
    at_time, at_a, at_b = columns.indices
    all_whole = True
    for row in rows:
        try:
            cell, a, b = row[at_time], row[at_a], row[at_b]
        except IndexError:
            raise _too_short(source, row, columns) from None
        if not number.fullmatch(cell):
            raise source.error(shown(cell), "expected a number as the time, such as 0.00125")
        all_whole = all_whole and whole.fullmatch(cell) is not None
        clock = int((Decimal(cell.replace(",", ".")) * unit).to_integral_value())
        tape.add(clock, slicers[0].read(a), slicers[1].read(b))
    return all_whole


def _too_short(source: TraceFile, row: list[str], columns: Columns) -> TraceError:
    missing = next(role for role, i in zip(COLUMN_ROLES, columns.indices, strict=True) if i >= len(row))
    found = f"{len(row)} column{'s' if len(row) != 1 else ''}"
    if missing == "time":
        return source.error(found, "expected a column of times")
    return source.error(
        found,
        f"line {missing} is missing; expected a time, A and B in a row; --columns names their columns",
    )
