"""The rows of a recorded trace: a file as lines, cells as times and levels, and the changes kept."""

from __future__ import annotations

import io
import pathlib
import re
from array import array
from collections.abc import Iterator
from decimal import Decimal
from typing import NamedTuple

from scenarios.problems import Problem
from scenarios.trace_layout import COLUMN_ROLES, NUMBERS, Columns, Layout, is_comment
from scenarios.words import shown
from simcore.base.ticks import FAR_SECONDS, TICKS_PER_SECOND

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


class Source:
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
        """What to raise about the line read last, or about the file as a whole."""
        return TraceError(Problem(self.path, "" if whole else f"line {self.number}", read, message))

    def lines(self, handle: io.TextIOWrapper) -> Iterator[str]:
        """All lines, without their ends."""
        while line := handle.readline(LONGEST_LINE):
            self.number += 1
            if "\0" in line:
                raise self.error("", "this is not text; a trace is a CSV file of numbers")
            if len(line) >= LONGEST_LINE:
                raise self.error("", f"the line is longer than {LONGEST_LINE:,} characters")
            yield line.rstrip("\r\n").replace(LATIN_MICRO, "\u00b5")

    def filled(self, lines: Iterator[str], layout: Layout) -> Iterator[str]:
        """The lines that are neither empty nor comments."""
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
        self, source: Source, name: str, decimal: str, threshold: Threshold | None, scale: float
    ) -> None:
        self.source, self.name, self.scale = source, name, scale
        self.number = NUMBERS[decimal]
        self.threshold = threshold
        self.level: int | None = None
        self.low, self.high = float("inf"), float("-inf")
        self.known = {} if threshold else {"0": 0, "1": 1}

    def read(self, cell: str) -> int | None:
        """The level after this cell."""
        level = self.known.get(cell)
        self.level = self._sliced(cell) if level is None else level
        return self.level

    def _sliced(self, cell: str) -> int | None:
        if not self.number.fullmatch(cell):
            raise self.source.error(
                shown(cell), f"the level of line {self.name} is no number; {self._allowed()}"
            )
        return self.of(float(cell.replace(",", ".")) * self.scale, cell)

    def of(self, value: float, cell: str) -> int | None:
        """The level after a value that was read as ``cell``; remembers no level by itself."""
        if self.threshold is None:
            if value not in (0.0, 1.0):
                raise self.source.error(
                    shown(cell), f"the level of line {self.name} is neither 0 nor 1; {self._allowed()}"
                )
            return int(value)
        self.low, self.high = min(self.low, value), max(self.high, value)
        if value >= self.threshold.rising:
            return 1
        return 0 if value < self.threshold.falling else self.level

    def _allowed(self) -> str:
        if self.threshold is not None:
            return "with a threshold it is a voltage, such as 3.28"
        return 'it is 0 or 1, or a voltage together with a threshold such as --threshold "1.5 V"'


class Tape:
    """The changes of both lines, and what the rows were like.

    ``start`` is the tick of the first row on the recorder's clock and ``last`` that of the last
    one after it; ``firsts`` the first known levels; ``quiet`` counts rows without a change.
    """

    def __init__(self, source: Source) -> None:
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
        """Time goes on to a tick on the recorder's clock."""
        if self.rows == 0:
            self.start = clock
        self._advance(clock - self.start)
        self.rows += 1

    def _advance(self, time: int) -> None:
        """Take note of the interval since the row before."""
        interval = time - self.last
        if interval < 0:
            raise self.source.error(
                "",
                f"time runs backward, by {-interval / TICKS_PER_SECOND:g} s; no time may be earlier than "
                "the one before it",
            )
        if time > LONGEST_TRACE:
            raise self.source.error(
                "", "the trace is longer than 46 days; cut it, or state the unit with --unit"
            )
        if self.rows >= MOST_ROWS:
            raise self.source.error("", f"more than {MOST_ROWS:,} rows; cut the trace to a shorter time")
        if interval > 0:
            self.shortest = min(self.shortest, interval)
            self.longest = max(self.longest, interval)
        self.last = time

    def change(self, line: int, level: int | None) -> None:
        """The level of a line, now; None while it is not known."""
        before = self.levels[line]
        self.levels[line] = level
        if before is None:
            self.firsts[line] = level
        elif level != before:
            self.changes[line].append(self.last)
            if len(self.changes[0]) + len(self.changes[1]) > MOST_CHANGES:
                raise self.source.error(
                    "", f"more than {MOST_CHANGES:,} changes; cut the trace to a shorter time"
                )


def read_rows(
    source: Source, rows: Iterator[list[str]], columns: Columns, decimal: str, unit: int,
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
            raise source.error(
                shown(cell), "the time is no number; it is counted from any instant, such as 0.00125"
            )
        all_whole = all_whole and whole.fullmatch(cell) is not None
        clock = int((Decimal(cell.replace(",", ".")) * unit).to_integral_value())
        tape.add(clock, slicers[0].read(a), slicers[1].read(b))
    return all_whole


def _too_short(source: Source, row: list[str], columns: Columns) -> TraceError:
    """The error for a row that lacks one of the columns."""
    missing = next(role for role, i in zip(COLUMN_ROLES, columns.indices, strict=True) if i >= len(row))
    found = f"{len(row)} column{'s' if len(row) != 1 else ''}"
    if missing == "time":
        return source.error(found, "the column of times is missing")
    return source.error(
        found,
        f"line {missing} is missing; a row holds a time, A and B, and --columns says which columns they are",
    )
