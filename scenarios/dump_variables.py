"""The declarations of a value change dump, and which of its variables are the lines A and B."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from vcd.common import Timescale, VarType
from vcd.reader import Token, TokenKind, VarDecl

from scenarios.trace_layout import ALIASES, LayoutError, plain_name
from scenarios.trace_rows import Source
from scenarios.words import hint, listed, quoted, shown

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
        """Its name with its scopes."""
        return f"{self.scope}.{self.name}" if self.scope else self.name


class Line(NamedTuple):
    """What a line is read from: a variable, one of its bits (counted from the right) and its name."""

    variable: Variable
    bit: int
    name: str


class Declared(NamedTuple):
    """All variables, and the ticks in one count of time, None where the file does not say."""

    variables: tuple[Variable, ...]
    unit: Fraction | None


def read_declarations(source: Source, tokens: Iterator[Token]) -> Declared:
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
                raise source.error("$upscope", "there is no scope to leave here")
            scopes.pop()
        elif token.kind is TokenKind.TIMESCALE:
            unit = _unit(source, token.timescale, unit)
        elif token.kind is TokenKind.ENDDEFINITIONS:
            if not variables:
                raise source.error("", "no variable is declared; a trace has two lines", whole=True)
            return Declared(tuple(variables), unit)
        else:
            _pass_over(source, token)
    raise source.error("", "the file ends before $enddefinitions; it holds no value", whole=True)


def _pass_over(source: Source, token: Token) -> None:
    if token.kind is TokenKind.COMMENT:
        source.comments += 1
    elif token.kind not in (TokenKind.DATE, TokenKind.VERSION, TokenKind.ATTRBEGIN, TokenKind.ATTREND):
        raise source.error("", "a time or a value stands among the declarations, before $enddefinitions")


def _variable(source: Source, var: VarDecl, scope: str, number: int, sizes: dict[str, int]) -> Variable:
    if number > MOST_VARIABLES:
        raise source.error("", f"more than {MOST_VARIABLES:,} variables")
    if sizes.setdefault(var.id_code, var.size) != var.size:
        raise source.error(
            shown(var.id_code),
            f"this identifier stands for variables of {sizes[var.id_code]} and of {var.size} bits",
        )
    name, left, right = var.reference, var.size - 1, 0
    if isinstance(var.bit_index, tuple):
        left, right = var.bit_index
    elif var.bit_index is not None:
        name = var.ref_str
    sort = REAL if var.type_ in _REALS else OTHER if var.type_ in _OTHERS else LOGIC
    return Variable(number, scope, name, var.id_code, sort, str(var.type_), var.size, left, right)


def _unit(source: Source, timescale: Timescale, before: Fraction | None) -> Fraction:
    """Ticks in one count: 1, 10 or 100 of s to fs (IEEE 1364-2005, 18.2.3.5)."""
    words = f"{timescale.magnitude} {timescale.unit.value}"
    unit = TICKS.get(timescale.unit.value)
    if timescale.magnitude not in (1, 10, 100) or unit is None:
        raise source.error(
            shown(words), f"a timescale is 1, 10 or 100 of {listed(list(TICKS))}; --unit states another"
        )
    if before is not None:
        raise source.error(shown(words), "the timescale is stated twice")
    return unit * timescale.magnitude


def find_lines(variables: Sequence[Variable], asked: str | None, volts: bool) -> tuple[Line, Line, str]:
    """The lines A and B, and how they were found: "asked", "named" or by "order".

    ``asked`` is two names, None to go by the names of variables; ``volts`` for variables of reals.
    Raises LayoutError.
    """
    if asked is not None:
        a, b = (asked_line(variables, word, volts) for word in _asked_words(asked))
        if a[:2] == b[:2]:
            raise LayoutError(f"--columns {shown(asked)}", "A and B are two different lines")
        return a, b, "asked"
    fitting = [each for each in variables if (each.sort == REAL if volts else _one_bit(each))]
    pair = _named(fitting)
    if pair is not None:
        return whole_line(pair[0]), whole_line(pair[1]), "named"
    if len({each.code for each in fitting}) == 2:
        first = fitting[0]
        second = next(each for each in fitting if each.code != first.code)
        return whole_line(first), whole_line(second), "order"
    sort = "of reals" if volts else "of one bit"
    raise LayoutError(
        f"variables {sort}: {quoted([each.full for each in fitting], 8) or 'none'}",
        'which of them are A and B cannot be told; --columns "NAME,NAME" does'
        + _other_sort(variables, volts),
    )


def whole_line(variable: Variable) -> Line:
    """A variable that is a line as it is."""
    return Line(variable, 0, variable.full)


def _one_bit(variable: Variable) -> bool:
    return variable.sort == LOGIC and variable.size == 1


def _other_sort(variables: Sequence[Variable], volts: bool) -> str:
    if not volts and any(each.sort == REAL for each in variables):
        return ", and --threshold reads variables of reals"
    return ""


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
            f'--columns chooses, such as --columns "{chosen[0]}.A,{chosen[0]}.B"',
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
            "of a value change dump, write the names of two variables, for A and B, such as "
            '"contacts.A,contacts.B"',
        )
    return found


def asked_line(variables: Sequence[Variable], word: str, volts: bool) -> Line:
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
            f"no variable is called that{hint(word, [*tails, *names])}; there are {quoted(names, 12)}",
        )
    return _bit_of(vector, int(select[2]), word)


def _by_name(variables: Sequence[Variable], word: str) -> Variable | None:
    """The variable of this name, in full or by its last parts, in the same case or another."""
    for same in (_is_full, _is_tail):
        for fold in (str, str.casefold):
            found = {each.code: each for each in reversed(variables) if same(fold(each.full), fold(word))}
            if len(found) == 1:
                return found.popitem()[1]
            if found:
                names = [each.full for each in reversed(found.values())]
                raise LayoutError(
                    f"--columns {shown(word)}", f"{len(names)} variables are called that: {quoted(names, 8)}"
                )
    return None


def _is_full(name: str, word: str) -> bool:
    return name == word


def _is_tail(name: str, word: str) -> bool:
    return name.endswith("." + word)


def _fit_for_a_line(variable: Variable, word: str, volts: bool) -> Line:
    read = f"--columns {shown(word)}"
    if variable.sort == OTHER:
        raise LayoutError(read, f"a variable of the type {variable.type} has no level")
    if volts and variable.sort == LOGIC:
        raise LayoutError(
            read,
            f"with --threshold a line is a variable of reals, and this one is of the type {variable.type}",
        )
    if variable.sort == LOGIC and variable.size != 1:
        raise LayoutError(
            read,
            f"a vector of {variable.size} bits; name one of them, such as "
            f'"{variable.full}[{variable.right}]"',
        )
    return whole_line(variable)


def _bit_of(vector: Variable, number: int, word: str) -> Line:
    low, high = sorted((vector.left, vector.right))
    if vector.sort != LOGIC or high - low + 1 != vector.size or not low <= number <= high:
        bits = f"its bits are {vector.left} to {vector.right}" if vector.sort == LOGIC else "it has no bits"
        raise LayoutError(f"--columns {shown(word)}", f"{shown(vector.full)} has no such bit; {bits}")
    return Line(vector, abs(number - vector.right), f"{vector.full}[{number}]")
