"""Recorded traces of two lines, read from CSV files of many layouts and from value change dumps.

The first character of a file says which of the two it is, whatever its name.  A file is read once, line
by line, and nothing but the changes is kept.  Times become whole picoseconds after the first row, so
that recorders whose clock starts far from 0 lose nothing.
"""

from __future__ import annotations

import csv
import io
import itertools
from collections.abc import Iterator
from typing import TYPE_CHECKING

from scenarios.loading.messages import hint, listed, shown
from scenarios.quantities import TIME, VOLTAGE, QuantityError, read_quantity
from scenarios.traces.dumps import is_dump, read_dump
from scenarios.traces.record import Form, Pauses, Trace, Volts, finished, kind_of_rows
from scenarios.traces.rows import (
    LONGEST_TRACE,
    UNITS,
    LayoutError,
    Slicer,
    Tape,
    Threshold,
    TraceFile,
    find_columns,
    find_header,
    find_layout,
    first_row,
    header_millivolts,
    header_unit,
    read_rows,
    row_width,
    split_rows,
)
from simcore.base.ticks import TICKS_PER_SECOND

if TYPE_CHECKING:
    from simcore.base.records import Edges

HEAD = 400
"""Lines from which the layout is decided; the numbers must begin within them."""


def read_unit(text: str) -> int:
    """Ticks in one count of the time column: a unit ("us") or a time ("5 us").  QuantityError."""
    word = text.strip()
    if word in UNITS:
        return UNITS[word]
    if word.isalpha():
        raise QuantityError(shown(text), f"expected a unit of time, {listed(list(UNITS))}{hint(word, UNITS)}")
    ticks = round(read_quantity(text, TIME) * TICKS_PER_SECOND)
    if not 1 <= ticks <= LONGEST_TRACE:
        raise QuantityError(shown(text), "expected a count of the time column from 1 ps to 46 days")
    return ticks


def read_threshold(text: str) -> Threshold:
    """One voltage, or the rising and the falling one: "1.5 V", "1.9 V,1.2 V".  QuantityError."""
    parts = text.replace(";", ",").split(",")
    if len(parts) > 2:
        raise QuantityError(shown(text), 'expected one voltage, "1.5 V", or two, "1.9 V,1.2 V"')
    volts = [read_quantity(part, VOLTAGE) for part in parts]
    if volts[0] < volts[-1]:
        raise QuantityError(shown(text), "expected the rising threshold first, not below the falling one")
    return Threshold(volts[0], volts[-1])


def read_trace(
    path: str, *, columns: str | None = None, unit: int | None = None, threshold: Threshold | None = None
) -> Trace:
    """Read a recorded trace.

    ``columns``: three names or numbers (from 1) for time, A and B, None to find them; of a dump,
    the names of two variables; ``unit``: ticks in one count of the time column, None to go by the
    header, else seconds; ``threshold`` for lines in volts.  Raises TraceError.
    """
    source = TraceFile(path)
    try:
        with source.opened() as raw:
            if is_dump(raw):
                return read_dump(source, raw, columns, unit, threshold)
            with source.text(raw) as handle:
                return _read(source, handle, columns, unit, threshold)
    except LayoutError as error:
        raise source.error(error.read, error.message, whole=True) from None
    except csv.Error as error:
        raise source.error(
            "", f"{error}; expected a quoted cell to end with a quote, on the same line"
        ) from None
    except UnicodeError:
        raise source.error("", "this is not text; expected a CSV file of numbers") from None
    except OSError as error:
        raise source.error("", f"cannot be read: {error.strerror or error}", whole=True) from None


def contact_edges(trace: Trace, closed: int) -> tuple[Edges, Edges]:
    """Both lines as simcore's edges (level 1: contact closed, one run, no causes); ``closed`` is
    the recorded level that means a closed contact.
    """
    import numpy as np

    from simcore.base.records import Edges

    def line(number: int) -> Edges:
        times = trace.times[number]
        level = np.array([trace.first[number] == closed], np.uint8)
        return Edges(times, np.zeros(times.size, np.int32), np.array([0, times.size], np.int64), level)

    return line(0), line(1)


def _read(
    source: TraceFile,
    handle: io.TextIOWrapper,
    columns: str | None,
    unit: int | None,
    threshold: Threshold | None,
) -> Trace:
    lines = source.lines(handle)
    head = list(itertools.islice(lines, HEAD))
    if not any(line.strip() for line in head):
        raise source.error("", "the file is empty; expected two rows or more", whole=True)
    form = _form(head, columns, unit)
    source.number = 0
    filled = source.filled(itertools.chain(_numbered(source, head), lines), form.layout)
    rows = split_rows(itertools.islice(filled, len(form.header), None), form.layout)
    a, b = (
        Slicer(
            source,
            name,
            form.layout.decimal,
            threshold,
            1.0e-3 if header_millivolts(form.header, column) else 1.0,
        )
        for name, column in zip("AB", form.columns.indices[1:], strict=True)
    )
    tape = Tape(source)
    whole = read_rows(source, rows, form.columns, form.layout.decimal, int(form.unit), (a, b), tape)
    if tape.rows < 2:
        raise source.error(
            "one row" if tape.rows else "no row of numbers", "expected two rows or more", whole=True
        )
    volts = None if threshold is None else (Volts(a.low, a.high), Volts(b.low, b.high))
    if None in tape.firsts:
        line = "AB"[tape.firsts.index(None)]
        raise source.error("", f"line {line} never leaves the band between the thresholds", whole=True)
    return finished(source, form, tape, whole, volts, kind_of_rows(tape), Pauses(0, 0))


def _numbered(source: TraceFile, head: list[str]) -> Iterator[str]:
    """Lines that were read ahead, once more."""
    for number, line in enumerate(head, start=1):
        source.number = number
        yield line


def _form(head: list[str], asked: str | None, unit: int | None) -> Form:
    layout, numbers = find_layout(head)
    header = find_header(head, layout)
    if numbers < 3:
        raise LayoutError(
            f"{numbers} column{'s' if numbers > 1 else ''} of numbers, separated by {layout.words}",
            "expected a time, the level of A and the level of B in a row",
        )
    columns = find_columns(header, asked)
    header = header[: first_row(header, layout, columns)]
    width = row_width(head, layout, len(header))
    if unit is not None:
        return Form(layout, header, width, columns, unit, "asked")
    stated = header_unit(header, columns.indices[0])
    return Form(layout, header, width, columns, UNITS[stated or "s"], "header" if stated else "assumed")
