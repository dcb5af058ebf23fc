"""Recorded traces of two lines, read from CSV files of many habits.

A file is read once, line by line, and nothing but the changes is kept.  Times become whole
picoseconds after the first row, so that recorders whose clock starts far from 0 lose nothing.
"""

from __future__ import annotations

import csv
import io
import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from scenarios.quantities import TIME, VOLTAGE, QuantityError, read_quantity
from scenarios.trace_layout import (
    UNITS,
    Columns,
    Layout,
    LayoutError,
    find_columns,
    find_header,
    find_layout,
    first_row,
    header_millivolts,
    header_unit,
    row_width,
    split_rows,
)
from scenarios.trace_rows import LONGEST_TRACE, Slicer, Source, Tape, read_rows
from scenarios.trace_rows import Threshold as Threshold
from scenarios.trace_rows import TraceError as TraceError
from scenarios.words import hint, listed, shown
from simcore.ticks import TICKS_PER_SECOND

if TYPE_CHECKING:
    from simcore.edges import Edges, Ints

HEAD = 400
"""Lines from which the layout is decided; the numbers must begin within them."""
SAME = 1.02
"""Intervals between rows that differ by no more than this factor are one sampling rate."""
JITTER = 10.0
"""Rows without a change further apart than this factor are not samples."""
ON_CHANGE, FIXED_RATE, UNEVEN = "on change", "fixed rate", "uneven samples"


class Volts(NamedTuple):
    """The lowest and the highest voltage of a line."""

    low: float
    high: float


class Form(NamedTuple):
    """How a file is laid out: separator and decimal sign, the rows above the numbers, how many
    cells a row has (``width``), columns, ticks in one count of the time column, and whether that
    was "asked", in the "header" or "assumed".
    """

    layout: Layout
    header: list[list[str]]
    width: int
    columns: Columns
    unit: int
    unit_from: str


@dataclass(frozen=True)
class Notes:
    """How a trace was read, to be told to the user.

    ``rows`` of numbers; ``comments`` left out; ``whole_times`` when every time is a whole number;
    ``start`` tick of the first row on the recorder's own clock; ``duration`` ticks to the last
    row; ``kind`` ON_CHANGE, FIXED_RATE or UNEVEN, with the ``shortest`` and ``longest`` interval
    between rows (ticks); ``together`` how often A and B change at the same tick, and the first
    such tick after the first row; ``volts`` of A and B, None for a trace of 0 and 1.
    """

    form: Form
    rows: int
    comments: int
    whole_times: bool
    start: int
    duration: int
    kind: str
    shortest: int
    longest: int
    together: int
    together_at: int | None
    volts: tuple[Volts, Volts] | None


@dataclass(frozen=True)
class Trace:
    """Two recorded lines: the level of each (0 or 1) at first, and the ``times`` (int64 ticks
    after the first row, never falling) at which each changes.
    """

    path: str
    first: tuple[int, int]
    times: tuple[Ints, Ints]
    notes: Notes


def read_unit(text: str) -> int:
    """Ticks in one count of the time column: a unit ("us") or a time ("5 us").  QuantityError."""
    word = text.strip()
    if word in UNITS:
        return UNITS[word]
    if word.isalpha():
        raise QuantityError(
            shown(text), f"not a unit of time{hint(word, UNITS)}; write {listed(list(UNITS))}"
        )
    ticks = round(read_quantity(text, TIME) * TICKS_PER_SECOND)
    if not 1 <= ticks <= LONGEST_TRACE:
        raise QuantityError(shown(text), "a count of the time column lies between 1 ps and 46 days")
    return ticks


def read_threshold(text: str) -> Threshold:
    """One voltage, or the rising and the falling one: "1.5 V", "1.9 V,1.2 V".  QuantityError."""
    parts = text.replace(";", ",").split(",")
    if len(parts) > 2:
        raise QuantityError(shown(text), 'write one voltage, "1.5 V", or two, "1.9 V,1.2 V"')
    volts = [read_quantity(part, VOLTAGE) for part in parts]
    if volts[0] < volts[-1]:
        raise QuantityError(shown(text), "the rising threshold comes first and is not below the falling one")
    return Threshold(volts[0], volts[-1])


def read_trace(
    path: str, *, columns: str | None = None, unit: int | None = None, threshold: Threshold | None = None
) -> Trace:
    """Read a recorded trace.

    ``columns``: three names or numbers (from 1) for time, A and B, None to find them; ``unit``:
    ticks in one count of the time column, None to go by the header, else seconds;
    ``threshold`` for lines in volts.  Raises TraceError.
    """
    source = Source(path)
    try:
        with source.opened() as handle:
            return _read(source, handle, columns, unit, threshold)
    except LayoutError as error:
        raise source.error(error.read, error.message, whole=True) from None
    except csv.Error as error:
        raise source.error("", f"{error}; a quoted cell ends with a quote, on the same line") from None
    except UnicodeError:
        raise source.error("", "this is not text; a trace is a CSV file of numbers") from None
    except OSError as error:
        raise source.error("", f"cannot be read: {error.strerror or error}", whole=True) from None


def contact_edges(trace: Trace, closed: int) -> tuple[Edges, Edges]:
    """Both lines as simcore's edges (level 1: contact closed, one run, no causes); ``closed`` is
    the recorded level that means a closed contact.
    """
    import numpy as np

    from simcore.edges import Edges

    def line(number: int) -> Edges:
        times = trace.times[number]
        level = np.array([trace.first[number] == closed], np.uint8)
        return Edges(times, np.zeros(times.size, np.int32), np.array([0, times.size], np.int64), level)

    return line(0), line(1)


def _read(
    source: Source,
    handle: io.TextIOWrapper,
    columns: str | None,
    unit: int | None,
    threshold: Threshold | None,
) -> Trace:
    lines = source.lines(handle)
    head = list(itertools.islice(lines, HEAD))
    if not any(line.strip() for line in head):
        raise source.error("", "the file is empty; a trace has two rows or more", whole=True)
    form = _form(head, columns, unit)
    source.number = 0
    filled = source.filled(itertools.chain(_numbered(source, head), lines), form.layout)
    rows = split_rows(itertools.islice(filled, len(form.header), None), form.layout)
    a, b = (
        Slicer(source, name, form.layout.decimal, threshold, _scale(form, column))
        for name, column in zip("AB", form.columns.indices[1:], strict=True)
    )
    tape = Tape(source)
    whole = read_rows(source, rows, form.columns, form.layout.decimal, form.unit, (a, b), tape)
    if tape.rows < 2:
        raise source.error(
            "one row" if tape.rows else "no row of numbers", "a trace has two rows or more", whole=True
        )
    volts = None if threshold is None else (Volts(a.low, a.high), Volts(b.low, b.high))
    return _trace(source, form, tape, whole, volts)


def _numbered(source: Source, head: list[str]) -> Iterator[str]:
    """Lines that were read ahead, once more."""
    for number, line in enumerate(head, start=1):
        source.number = number
        yield line


def _form(head: list[str], asked: str | None, unit: int | None) -> Form:
    """Layout, columns and unit from the first lines.  LayoutError."""
    layout, numbers = find_layout(head)
    header = find_header(head, layout)
    if numbers < 3:
        raise LayoutError(
            f"{numbers} column{'s' if numbers > 1 else ''} of numbers, separated by {layout.words}",
            "a row holds a time, the level of A and the level of B: what counts needs both lines",
        )
    columns = find_columns(header, asked)
    header = header[: first_row(header, layout, columns)]
    width = row_width(head, layout, len(header))
    if unit is not None:
        return Form(layout, header, width, columns, unit, "asked")
    stated = header_unit(header, columns.indices[0])
    return Form(layout, header, width, columns, UNITS[stated or "s"], "header" if stated else "assumed")


def _scale(form: Form, column: int) -> float:
    return 1.0e-3 if header_millivolts(form.header, column) else 1.0


def _trace(source: Source, form: Form, tape: Tape, whole: bool, volts: tuple[Volts, Volts] | None) -> Trace:
    import numpy as np

    if None in tape.firsts:
        line = "AB"[tape.firsts.index(None)]
        raise source.error("", f"line {line} never leaves the band between the thresholds", whole=True)
    a, b = (np.array(changes, np.int64) for changes in tape.changes)
    common = np.intersect1d(a, b)
    notes = Notes(
        form, tape.rows, source.comments, whole, tape.start, tape.last, _kind(tape),
        min(tape.shortest, tape.longest), tape.longest,
        int(common.size), int(common[0]) if common.size else None, volts,
    )  # fmt: skip
    return Trace(source.path, (int(tape.firsts[0] or 0), int(tape.firsts[1] or 0)), (a, b), notes)


def _kind(tape: Tape) -> str:
    """Samples are rows of which most change nothing, at intervals that are much alike."""
    if 2 * tape.quiet <= tape.rows or tape.longest > JITTER * tape.shortest:
        return ON_CHANGE
    return FIXED_RATE if tape.longest <= SAME * tape.shortest + 2 else UNEVEN
