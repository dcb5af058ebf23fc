"""Recorded traces in value change dumps (IEEE Std 1364-2005, clause 18).

Each change of a variable is a change of the trace, also where several come at one time.  A line
that is x or z has no level: that is allowed before its first level, and while dumping is off
($dumpoff to $dumpon), when the line is taken to stay as it was and the pause is noted.

The reader (pyvcd) accepts a file that was cut off.  A comment of our own is therefore appended to the file:
the file is whole if the reader finds exactly that comment at the end.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from vcd.common import Timescale, VarType
from vcd.reader import Token, TokenKind, VarDecl, VCDParseError, VectorChange, tokenize

from scenarios.loading.messages import hint, listed, quoted, shown
from scenarios.traces.record import ON_CHANGE, Form, Pauses, Trace, Volts, finished
from scenarios.traces.rows import (
    ALIASES,
    DUMP,
    Columns,
    LayoutError,
    Slicer,
    Tape,
    Threshold,
    TraceError,
    TraceFile,
    plain_name,
)
from simcore.base.ticks import TICKS_PER_SECOND

BLANK = b" \t\n\r\v\f"
LONGEST_WORD = 1_000_000
"""Characters; vectors of 65,536 bits must be possible."""
_MARK = "that was the whole file"
_TAIL = f"\n\n$comment {_MARK} $end\n".encode()
_BOM = b"\xef\xbb\xbf"
_WORDS = re.compile(rb"[ \t\n\r\v\f]+")

CUT = "the file ends in the middle of an entry, so it was cut off; a value change dump ends with a whole line"


def is_dump(raw: io.BufferedReader) -> bool:
    """Whether a file begins as a value change dump: with a keyword behind a dollar sign."""
    return re.match(rb"(?:\xef\xbb\xbf)?\s*\$[A-Za-z]", raw.peek(1024)) is not None


class _Stream(io.RawIOBase):
    """The file's bytes, then the mark.  ``lines`` counts those begun, ``last`` is the last byte."""

    def __init__(self, source: TraceFile, raw: io.BufferedReader) -> None:
        super().__init__()
        self.source, self.raw = source, raw
        self.ended = False
        self.last = b"\n"
        self.word = 0
        self.breaks = 0
        if raw.peek(3)[:3] == _BOM:
            raw.read(3)

    @property
    def lines(self) -> int:
        return self.breaks + (self.last != b"\n")

    def readinto(self, buffer: Any) -> int:
        data = b"" if self.ended else self.raw.read1(len(buffer))
        if data:
            self._check(data)
        elif not self.ended:
            self.ended, data = True, _TAIL
        buffer[: len(data)] = data
        return len(data)

    def _check(self, data: bytes) -> None:
        self.source.number = self.lines
        if b"\0" in data:
            raise self.source.error("", "this is not text; expected a CSV file or a value change dump")
        words = _WORDS.split(data)
        if len(words) == 1:
            self.word += len(data)
        else:
            self.word = len(words[-1])
        if self.word > LONGEST_WORD:
            raise self.source.error("", f"expected at most {LONGEST_WORD:,} characters in a word")
        self.last = data[-1:]
        self.breaks += data.count(b"\n")


def words(source: TraceFile, raw: io.BufferedReader) -> Iterator[Token]:
    """The entries of a dump, with the line of each in ``source.number``.  Raises TraceError."""
    stream = _Stream(source, raw)
    entries = tokenize(stream)
    while (token := _next(source, stream, entries)) is not None:
        source.number = token.span.start.line
        if stream.ended and token.span.end.line > stream.lines + 1:
            if token.kind is TokenKind.COMMENT and token.comment == _MARK:
                break
            raise _cut(source, stream)
        if stream.ended and token.span.end.line > stream.lines and stream.last not in BLANK:
            raise _cut(source, stream)
        yield token
    else:
        raise _cut(source, stream)
    if stream.last not in BLANK:
        raise _cut(source, stream)


def _next(source: TraceFile, stream: _Stream, entries: Iterator[Token]) -> Token | None:
    """One entry, None at the end of the file."""
    try:
        return next(entries, None)
    except TraceError:
        raise
    except VCDParseError as error:
        if stream.ended and error.loc.line > stream.lines:
            raise _cut(source, stream) from None
        # On a line's end the reader is already in the next line, at its column 1.
        source.number = max(error.loc.line - (error.loc.column == 1), 1)
        what = str(error).split(": ", 1)[-1]
        raise source.error("", f"expected an entry of a value change dump ({what})") from None
    except UnicodeDecodeError:
        raise source.error("", "from here on there is a character that is not ASCII, in a word") from None
    except ValueError:
        raise source.error("", "from here on there is a number of too many digits") from None


def _cut(source: TraceFile, stream: _Stream) -> TraceError:
    source.number = stream.lines
    return source.error("", CUT)


TICKS = {
    "s": Fraction(10**12), "ms": Fraction(10**9), "us": Fraction(10**6), "ns": Fraction(1000),
    "ps": Fraction(1), "fs": Fraction(1, 1000),
}  # fmt: skip
"""Ticks in one of each unit that a timescale may have."""
MOST_VARIABLES = 200_000
LOGIC, REAL, OTHER = "logic", "real", "other"
_REALS = (VarType.real, VarType.realtime, VarType.shortreal, VarType.real_parameter)
_OTHERS = (VarType.event, VarType.string)
BARE = ("contacts", "contact")
"""A scope of this name holds the bare contacts, which a replay wants before any other line."""


class Variable(NamedTuple):
    """A declared variable: number (from 1), ``scope``, ``name`` within it, identifier ``code``,
    ``sort`` (LOGIC, REAL or OTHER), type, size in bits, and the numbers of its first and last bit.
    """

    number: int
    scope: str
    name: str
    code: str
    sort: str
    type: str
    size: int
    left: int
    right: int

    @property
    def full(self) -> str:
        return f"{self.scope}.{self.name}" if self.scope else self.name


class DumpLine(NamedTuple):
    """What a line is read from: a variable, one of its bits (counted from the right) and its name."""

    variable: Variable
    bit: int
    name: str


class Declarations(NamedTuple):
    """All variables, and the ticks in one count of time, None where the file does not say."""

    variables: tuple[Variable, ...]
    unit: Fraction | None


def read_declarations(source: TraceFile, tokens: Iterator[Token]) -> Declarations:
    """Everything up to $enddefinitions.  Raises TraceError."""
    variables: list[Variable] = []
    sizes: dict[str, int] = {}
    scopes: list[str] = []
    unit: Fraction | None = None
    for token in tokens:
        if token.kind is TokenKind.VAR:
            variables.append(_variable(source, token.var, ".".join(scopes), len(variables) + 1, sizes))
        elif token.kind is TokenKind.SCOPE:
            scopes.append(token.scope.ident)
        elif token.kind is TokenKind.UPSCOPE:
            if not scopes:
                raise source.error("$upscope", "expected $upscope only within a scope")
            scopes.pop()
        elif token.kind is TokenKind.TIMESCALE:
            unit = _unit(source, token.timescale, unit)
        elif token.kind is TokenKind.ENDDEFINITIONS:
            if not variables:
                raise source.error("", "no variable is declared; expected those of two lines", whole=True)
            return Declarations(tuple(variables), unit)
        else:
            _pass_over(source, token)
    raise source.error("", "the file ends before $enddefinitions; it holds no value", whole=True)


def _pass_over(source: TraceFile, token: Token) -> None:
    if token.kind is TokenKind.COMMENT:
        source.comments += 1
    elif token.kind not in (TokenKind.DATE, TokenKind.VERSION, TokenKind.ATTRBEGIN, TokenKind.ATTREND):
        raise source.error("", "a time or a value among the declarations; expected it after $enddefinitions")


def _variable(source: TraceFile, var: VarDecl, scope: str, number: int, sizes: dict[str, int]) -> Variable:
    if number > MOST_VARIABLES:
        raise source.error("", f"expected at most {MOST_VARIABLES:,} variables")
    if sizes.setdefault(var.id_code, var.size) != var.size:
        raise source.error(
            shown(var.id_code),
            f"this identifier is that of variables of {sizes[var.id_code]} and of {var.size} bits",
        )
    name, left, right = var.reference, var.size - 1, 0
    if isinstance(var.bit_index, tuple):
        left, right = var.bit_index
    elif var.bit_index is not None:
        name = var.ref_str
    sort = REAL if var.type_ in _REALS else OTHER if var.type_ in _OTHERS else LOGIC
    return Variable(number, scope, name, var.id_code, sort, str(var.type_), var.size, left, right)


def _unit(source: TraceFile, timescale: Timescale, before: Fraction | None) -> Fraction:
    """Ticks in one count: 1, 10 or 100 of s to fs (IEEE 1364-2005, 18.2.3.5)."""
    words = f"{timescale.magnitude} {timescale.unit.value}"
    unit = TICKS.get(timescale.unit.value)
    if timescale.magnitude not in (1, 10, 100) or unit is None:
        raise source.error(
            shown(words), f"expected a timescale of 1, 10 or 100 {listed(list(TICKS))}; --unit states another"
        )
    if before is not None:
        raise source.error(shown(words), "the timescale is stated twice; expected it once")
    return unit * timescale.magnitude


def find_lines(
    variables: Sequence[Variable], asked: str | None, volts: bool
) -> tuple[DumpLine, DumpLine, str]:
    """The lines A and B, and how they were found: "asked", "named" or by "order".

    ``asked`` is two names, None to go by the names of variables; ``volts`` for variables of reals.
    Raises LayoutError.
    """
    if asked is not None:
        a, b = (asked_line(variables, word, volts) for word in _asked_words(asked))
        if a[:2] == b[:2]:
            raise LayoutError(f"--columns {shown(asked)}", "expected two different lines for A and B")
        return a, b, "asked"
    fitting = [
        each for each in variables if (each.sort == REAL if volts else (each.sort, each.size) == (LOGIC, 1))
    ]
    pair = _named(fitting)
    if pair is not None:
        return whole_line(pair[0]), whole_line(pair[1]), "named"
    if len({each.code for each in fitting}) == 2:
        first = fitting[0]
        second = next(each for each in fitting if each.code != first.code)
        return whole_line(first), whole_line(second), "order"
    sort = "of reals" if volts else "of one bit"
    reals = "" if volts or all(each.sort != REAL for each in variables) else "; --threshold reads reals"
    raise LayoutError(
        f"variables {sort}: {quoted([each.full for each in fitting], 8) or 'none'}",
        f'A and B are not evident; expected --columns "NAME,NAME"{reals}',
    )


def whole_line(variable: Variable) -> DumpLine:
    return DumpLine(variable, 0, variable.full)


def _named(fitting: Sequence[Variable]) -> tuple[Variable, Variable] | None:
    """The variables called A and B: of the only scope that has both, or of the bare contacts."""
    scopes: dict[str, tuple[dict[str, Variable], dict[str, Variable]]] = {}
    for each in fitting:
        for line in (0, 1):
            if plain_name(each.name) in ALIASES[1 + line]:
                scopes.setdefault(each.scope, ({}, {}))[line][each.code] = each
    pairs = {
        scope: (*found[0].values(), *found[1].values())
        for scope, found in scopes.items()
        if len(found[0]) == len(found[1]) == 1
    }
    bare = [scope for scope in pairs if plain_name(scope.rpartition(".")[2]) in BARE]
    chosen = bare if len(bare) == 1 else list(pairs)
    if len(chosen) > 1:
        raise LayoutError(
            f"lines A and B in the scopes {quoted(chosen, 8)}",
            f'expected one scope, or --columns, such as --columns "{chosen[0]}.A,{chosen[0]}.B"',
        )
    if not chosen:
        return None
    a, b = pairs[chosen[0]]
    return a, b


def _asked_words(asked: str) -> list[str]:
    try:
        found = [word.strip() for word in next(csv.reader([asked], skipinitialspace=True, strict=True), [])]
    except csv.Error:
        found = []
    if len(found) == 3 and plain_name(found[0]) in ALIASES[0]:
        found = found[1:]
    if len(found) != 2 or not all(found):
        raise LayoutError(
            f"--columns {shown(asked)}",
            'expected the names of two variables of the dump, for A and B, such as "contacts.A,contacts.B"',
        )
    return found


def asked_line(variables: Sequence[Variable], word: str, volts: bool) -> DumpLine:
    """The line that a word names: a variable, with as many of its scopes as it takes, or a bit of a
    vector, such as "bus[3]".  Raises LayoutError.
    """
    found = _by_name(variables, word)
    if found is not None:
        return _fit_for_a_line(found, word, volts)
    select = re.fullmatch(r"(.+?)\s*\[\s*(-?[0-9]{1,9})\s*\]", word)
    vector = None if select is None else _by_name(variables, select[1])
    if select is None or vector is None:
        names = list(dict.fromkeys(each.full for each in variables))
        tails = [each.name for each in variables]
        raise LayoutError(
            f"--columns {shown(word)}",
            f"there is no such variable; expected {quoted(names, 12)}{hint(word, [*tails, *names])}",
        )
    return _bit_of(vector, int(select[2]), word)


def _by_name(variables: Sequence[Variable], word: str) -> Variable | None:
    """The variable of this name, in full or by its last parts, in the same case or another."""
    for same in (str.__eq__, lambda name, word: name.endswith("." + word)):
        for fold in (str, str.casefold):
            found = {each.code: each for each in reversed(variables) if same(fold(each.full), fold(word))}
            if len(found) == 1:
                return found.popitem()[1]
            if found:
                names = [each.full for each in reversed(found.values())]
                raise LayoutError(
                    f"--columns {shown(word)}",
                    f"{len(names)} variables have this name; expected one of {quoted(names, 8)}",
                )
    return None


def _fit_for_a_line(variable: Variable, word: str, volts: bool) -> DumpLine:
    read = f"--columns {shown(word)}"
    if variable.sort == OTHER:
        raise LayoutError(read, f"expected a variable that has a level, not one of the type {variable.type}")
    if volts and variable.sort == LOGIC:
        raise LayoutError(
            read,
            f"expected a variable of reals with --threshold, not one of the type {variable.type}",
        )
    if variable.sort == LOGIC and variable.size != 1:
        raise LayoutError(
            read,
            f"this is a vector of {variable.size} bits; expected one of them, such as "
            f'"{variable.full}[{variable.right}]"',
        )
    return whole_line(variable)


def _bit_of(vector: Variable, number: int, word: str) -> DumpLine:
    low, high = sorted((vector.left, vector.right))
    if vector.sort != LOGIC or high - low + 1 != vector.size or not low <= number <= high:
        bits = (
            f"a bit from {vector.left} to {vector.right}" if vector.sort == LOGIC else "a variable with bits"
        )
        raise LayoutError(
            f"--columns {shown(word)}", f"{shown(vector.full)} has no such bit; expected {bits}"
        )
    return DumpLine(vector, abs(number - vector.right), f"{vector.full}[{number}]")


_VALUES = (TokenKind.CHANGE_SCALAR, TokenKind.CHANGE_VECTOR, TokenKind.CHANGE_REAL, TokenKind.CHANGE_STRING)
_BLOCKS = (TokenKind.DUMPALL, TokenKind.DUMPOFF, TokenKind.DUMPON, TokenKind.DUMPVARS)


def read_dump(
    source: TraceFile,
    raw: io.BufferedReader,
    asked: str | None,
    unit: int | None,
    threshold: Threshold | None,
) -> Trace:
    """Read a value change dump; the arguments are those of scenarios.traces.reading.read_trace, with the
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


def _scale(source: TraceFile, declared: Declarations, unit: int | None) -> Fraction:
    if unit is not None:
        return Fraction(unit)
    if declared.unit is None:
        raise source.error("", "the file states no $timescale; --unit states one", whole=True)
    return declared.unit


class _Changes:
    """The entries after the declarations, onto a tape."""

    def __init__(
        self, source: TraceFile, declared: Declarations, lines: tuple[DumpLine, DumpLine], scale: Fraction,
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
        if token.kind is TokenKind.CHANGE_TIME:
            self._stamp(token.time_change)
        elif token.kind in _VALUES:
            self._value(token)
        elif token.kind in _BLOCKS:
            self._begin(token.kind)
        elif token.kind is TokenKind.END:
            if not self.in_block:
                raise self.source.error("$end", "expected $end only behind a block of values")
            self.in_block = False
        elif token.kind is TokenKind.COMMENT:
            self.source.comments += 1
        else:
            raise self.source.error("", "expected no declaration after $enddefinitions")

    def finish(self) -> None:
        """At the end of the file.  Raises TraceError where something is missing."""
        error = self.source.error
        if self.in_block:
            raise error("", "a block of values ($dumpvars and the like) has no $end; the file was cut off")
        if self.tape.rows < 2:
            read = "one time" if self.tape.rows else "no time"
            raise error(read, "expected two times or more", whole=True)
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
                f"time runs backward, by {float(back):g} s; expected no time earlier than the one before it",
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
                f"no variable has this identifier; expected a declared one, {quoted(sorted(self.codes), 8)}"
                f"{hint(code, self.codes)}",
            )
        if self.off_since is not None:
            if not self.in_block:
                raise self.source.error(
                    shown(code), "expected no change while dumping is off, before $dumpon"
                )
            return
        for number, line in enumerate(self.lines):
            if line.variable.code == code:
                self._line(number, line, token, value)

    def _line(self, number: int, line: DumpLine, token: Token, value: str | float) -> None:
        sort = REAL if token.kind is TokenKind.CHANGE_REAL else LOGIC
        if sort != line.variable.sort or token.kind is TokenKind.CHANGE_STRING:
            raise self.source.error(
                shown(str(value)),
                f"expected a value of the type {line.variable.type}, as which {shown(line.name)} is declared",
            )
        if isinstance(value, float):
            self.tape.change(number, self._sliced(number, line, value))
        else:
            self.tape.change(number, self._level(number, line, value))

    def _sliced(self, number: int, line: DumpLine, value: float) -> int | None:
        if not math.isfinite(value):
            raise self.source.error(
                shown(str(value)), f"expected a finite number of volts for {shown(line.name)}"
            )
        slicer = self.slicers[number]
        slicer.level = slicer.of(value, str(value))
        return slicer.level

    def _level(self, number: int, line: DumpLine, value: str) -> int | None:
        """The level of a line's bit in a value, which may leave out equal bits on the left."""
        size = line.variable.size
        if len(value.lstrip("0")) > size:
            raise self.source.error(
                shown(value), f"{len(value)} bits; expected at most {size} for {shown(line.name)}"
            )
        pad = value[0] if value[0] in "xXzZ" else "0"
        bit = value[-1 - line.bit] if line.bit < len(value) else pad
        if bit in "01":
            return int(bit)
        if self.tape.levels[number] is not None:
            raise self.source.error(
                shown(bit),
                f"line {'AB'[number]} ({shown(line.name)}) had a level before; expected 0 or 1",
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
