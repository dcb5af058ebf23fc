"""A recorded trace as read, independent of the format of its file."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from scenarios.traces.rows import Columns, Layout, Tape, TraceFile

if TYPE_CHECKING:
    from simcore.base.records import Ints

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

    Of a value change dump: the layout DUMP, no header, how many variables it declares, which of
    them are A and B (the column of times is -1), and its timescale.
    """

    layout: Layout
    header: list[list[str]]
    width: int
    columns: Columns
    unit: int | Fraction
    unit_from: str


class Pauses(NamedTuple):
    """How often a dump stopped dumping, and for how many ticks in all."""

    number: int
    ticks: int


@dataclass(frozen=True)
class Notes:
    """How a trace was read, for reports.

    ``rows`` of numbers, or times of a dump; ``comments`` left out; ``whole_times`` when every time
    is a whole number; ``start`` tick of the first row on the recorder's own clock; ``duration``
    ticks to the last row; ``kind`` ON_CHANGE, FIXED_RATE or UNEVEN, with the ``shortest`` and
    ``longest`` interval between rows (ticks); ``together`` how often A and B change at the same
    tick, and the first such tick after the first row; ``volts`` of A and B, None for a trace of 0
    and 1; ``pauses`` of a dump.
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
    pauses: Pauses


@dataclass(frozen=True)
class Trace:
    """Two recorded lines: the level of each (0 or 1) at first, and the ``times`` (int64 ticks
    after the first row, never falling) at which each changes.
    """

    path: str
    first: tuple[int, int]
    times: tuple[Ints, Ints]
    notes: Notes


def finished(
    source: TraceFile, form: Form, tape: Tape, whole: bool, volts: tuple[Volts, Volts] | None,
    kind: str, pauses: Pauses,
) -> Trace:  # fmt: skip
    """The trace that a tape holds; both lines have a level.  ``whole``: every time is a whole number."""
    import numpy as np

    a, b = (np.array(changes, np.int64) for changes in tape.changes)
    common = np.intersect1d(a, b)
    notes = Notes(
        form, tape.rows, source.comments, whole, tape.start, tape.last, kind,
        min(tape.shortest, tape.longest), tape.longest,
        int(common.size), int(common[0]) if common.size else None, volts, pauses,
    )  # fmt: skip
    return Trace(source.path, (int(tape.firsts[0] or 0), int(tape.firsts[1] or 0)), (a, b), notes)


def kind_of_rows(tape: Tape) -> str:
    """Samples are rows of which most change nothing, at intervals that are nearly equal."""
    if 2 * tape.quiet <= tape.rows or tape.longest > JITTER * tape.shortest:
        return ON_CHANGE
    return FIXED_RATE if tape.longest <= SAME * tape.shortest + 2 else UNEVEN
