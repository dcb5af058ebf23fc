"""Recorded traces in value change dumps (IEEE Std 1364-2005, clause 18).

Each change of a variable is a change of the trace, also where several come at one time.  A line
that is x or z has no level: that is allowed before its first level, and while dumping is off
($dumpoff to $dumpon), when the line is taken to stay as it was and the pause is noted.
"""

from __future__ import annotations

import io
import math
from fractions import Fraction

from vcd.reader import Token, TokenKind, VectorChange

from scenarios.dump_variables import LOGIC, REAL, Declared, Line, find_lines, read_declarations
from scenarios.dump_words import is_dump as is_dump
from scenarios.dump_words import words
from scenarios.trace_layout import DUMP, Columns
from scenarios.trace_record import ON_CHANGE, Form, Pauses, Trace, Volts, finished
from scenarios.trace_rows import Slicer, Source, Tape, Threshold
from scenarios.words import hint, quoted, shown
from simcore.base.ticks import TICKS_PER_SECOND

_VALUES = (TokenKind.CHANGE_SCALAR, TokenKind.CHANGE_VECTOR, TokenKind.CHANGE_REAL, TokenKind.CHANGE_STRING)
_BLOCKS = (TokenKind.DUMPALL, TokenKind.DUMPOFF, TokenKind.DUMPON, TokenKind.DUMPVARS)


def read_dump(
    source: Source, raw: io.BufferedReader, asked: str | None, unit: int | None, threshold: Threshold | None
) -> Trace:
    """Read a value change dump; the arguments are those of scenarios.traces.read_trace, with the
    file as bytes.  Raises TraceError or LayoutError.
    """
    tokens = words(source, raw)
    declared = read_declarations(source, tokens)
    a, b, found = find_lines(declared.variables, asked, threshold is not None)
    scale = _scale(source, declared, unit)
    reader = _Changes(source, declared, (a, b), scale, threshold)
    for token in tokens:
        reader.take(token)
    reader.finish()
    columns = Columns((-1, a.variable.number - 1, b.variable.number - 1), ("", a.name, b.name), found)
    form = Form(DUMP, [], len(declared.variables), columns, scale, "header" if unit is None else "asked")
    low_high = [Volts(slicer.low, slicer.high) for slicer in reader.slicers]
    volts = None if threshold is None else (low_high[0], low_high[1])
    return finished(source, form, reader.tape, True, volts, ON_CHANGE, Pauses(reader.pauses, reader.paused))


def _scale(source: Source, declared: Declared, unit: int | None) -> Fraction:
    if unit is not None:
        return Fraction(unit)
    if declared.unit is None:
        raise source.error("", "the file states no $timescale; --unit states one", whole=True)
    return declared.unit


class _Changes:
    """What stands behind the declarations, entry by entry, onto a tape."""

    def __init__(
        self, source: Source, declared: Declared, lines: tuple[Line, Line], scale: Fraction,
        threshold: Threshold | None,
    ) -> None:  # fmt: skip
        self.source, self.lines, self.scale = source, lines, scale
        self.codes = {each.code for each in declared.variables}
        self.tape = Tape(source)
        self.slicers = [Slicer(source, name, ".", threshold, 1.0) for name in "AB"]
        self.time = 0
        self.in_block = False
        self.off_since: int | None = None
        self.pauses = self.paused = 0

    def take(self, token: Token) -> None:
        """One entry.  Raises TraceError."""
        if token.kind is TokenKind.CHANGE_TIME:
            self._stamp(token.time_change)
        elif token.kind in _VALUES:
            self._value(token)
        elif token.kind in _BLOCKS:
            self._begin(token.kind)
        elif token.kind is TokenKind.END:
            if not self.in_block:
                raise self.source.error("$end", "there is nothing to end here")
            self.in_block = False
        elif token.kind is TokenKind.COMMENT:
            self.source.comments += 1
        else:
            raise self.source.error("", "a declaration stands behind $enddefinitions")

    def finish(self) -> None:
        """At the end of the file.  Raises TraceError where something is missing."""
        error = self.source.error
        if self.in_block:
            raise error("", "a block of values ($dumpvars and the like) has no $end; the file was cut off")
        if self.tape.rows < 2:
            read = "one time" if self.tape.rows else "no time"
            raise error(read, "a trace has two times or more", whole=True)
        if self.off_since is not None:
            self.paused += self.tape.last - self.off_since
        for line, name, first in zip(self.lines, "AB", self.tape.firsts, strict=True):
            if first is None:
                raise error("", f"line {name} ({shown(line.name)}) never has a known level", whole=True)

    def _stamp(self, time: int) -> None:
        back = (self.time - time) * self.scale / TICKS_PER_SECOND
        if self.tape.rows and back > 0:
            raise self.source.error(
                f"#{shown(time)}",
                f"time runs backward, by {float(back):g} s; no time may be earlier than the one before it",
            )
        self.time = time
        above, below = self.scale.as_integer_ratio()
        self.tape.stamp((2 * time * above + below) // (2 * below))

    def _begin(self, kind: TokenKind) -> None:
        if self.in_block:
            raise self.source.error("", "a block of values begins within another one; $end ends a block")
        self.in_block = True
        if kind is TokenKind.DUMPOFF and self.off_since is None:
            self.off_since = self.tape.last
            self.pauses += 1
        elif kind is TokenKind.DUMPON and self.off_since is not None:
            self.paused += self.tape.last - self.off_since
            self.off_since = None

    def _value(self, token: Token) -> None:
        code, value = _code_and_value(token)
        if code not in self.codes:
            raise self.source.error(
                shown(code),
                f"no variable has this identifier{hint(code, self.codes)}; it is declared by $var above, and "
                f"the declared ones are {quoted(sorted(self.codes), 8)}",
            )
        if self.off_since is not None:
            if not self.in_block:
                raise self.source.error(shown(code), "a value changes while dumping is off, before $dumpon")
            return
        for number, line in enumerate(self.lines):
            if line.variable.code == code:
                self._line(number, line, token, value)

    def _line(self, number: int, line: Line, token: Token, value: str | float) -> None:
        sort = REAL if token.kind is TokenKind.CHANGE_REAL else LOGIC
        if sort != line.variable.sort or token.kind is TokenKind.CHANGE_STRING:
            raise self.source.error(
                shown(str(value)),
                f"{shown(line.name)} is declared as {line.variable.type}, which has no such value",
            )
        if isinstance(value, float):
            self.tape.change(number, self._sliced(number, line, value))
        else:
            self.tape.change(number, self._level(number, line, value))

    def _sliced(self, number: int, line: Line, value: float) -> int | None:
        if not math.isfinite(value):
            raise self.source.error(shown(str(value)), f"{shown(line.name)} is no number of volts")
        slicer = self.slicers[number]
        slicer.level = slicer.of(value, str(value))
        return slicer.level

    def _level(self, number: int, line: Line, value: str) -> int | None:
        """The level of a line's bit in a value, which may leave out equal bits on the left."""
        size = line.variable.size
        if len(value.lstrip("0")) > size:
            raise self.source.error(
                shown(value), f"{len(value)} bits for {shown(line.name)}, which has {size}"
            )
        pad = value[0] if value[0] in "xXzZ" else "0"
        bit = value[-1 - line.bit] if line.bit < len(value) else pad
        if bit in "01":
            return int(bit)
        if self.tape.levels[number] is not None:
            raise self.source.error(
                shown(bit),
                f"line {'AB'[number]} ({shown(line.name)}) is neither 0 nor 1 after it was one of them",
            )
        return None


def _code_and_value(token: Token) -> tuple[str, str | float]:
    """The identifier, and the value: bits as text, first bit first, or a real."""
    if token.kind is TokenKind.CHANGE_SCALAR:
        return token.scalar_change
    if token.kind is TokenKind.CHANGE_REAL:
        return token.real_change
    if token.kind is TokenKind.CHANGE_STRING:
        return token.string_change
    change: VectorChange = token.vector_change
    return change.id_code, change.value if isinstance(change.value, str) else f"{change.value:b}"
