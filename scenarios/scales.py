"""The numbers behind a key: how what is written becomes one, and back, for ranges of values."""

from __future__ import annotations

import copy
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from scenarios.checking import readers_of, tables_in
from scenarios.merging import give_names, name_members
from scenarios.quantities import SHARE, VOLTAGE, Dimension, QuantityError, write_quantity
from scenarios.schema.document import Document
from scenarios.schema.readers import QuantityReader, Reader
from scenarios.schema.tables import Table, fields_of
from scenarios.words import shown
from simcore.base.description import Count, LevelValue, PlainNumber, Share, SupplyLevel

DOUBTFUL = {"time": "minutes", "resistance": "mega"}
"""What a lone "m" behind a number may mean as well, where it may."""

_LONE = re.compile(r"\s*[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)\s*(?P<prefix>[A-Za-z\u00b5\u03bc])\s*")
_WHOLE = re.compile(r"[-+]?[0-9]{1,18}")


@dataclass(frozen=True)
class Scale:
    """Values of one key as numbers: quantities of a ``dimension``, else plain numbers, ``whole`` or not."""

    reader: Reader
    dimension: Dimension | None = None
    whole: bool = False

    @property
    def unit(self) -> str:
        """The unit that numbers are in: a share is a fraction and has none."""
        if self.dimension is None or self.dimension is SHARE:
            return ""
        return self.dimension.unit

    def read(self, text: str) -> float:
        """The number that ``text`` stands for; QuantityError when the key does not take it."""
        if self.dimension is None or isinstance(self.reader.sort, Share):
            value: Any = plain_number(text)
        else:
            value = with_unit(text, self.dimension)
        found = self.reader.read(value)
        return float(found.value if isinstance(found, LevelValue) else found)

    def write(self, number: float, digits: int | None = None) -> str:
        """A number as the key takes it, exact or to so many significant digits."""
        if self.dimension is not None:
            return write_quantity(number, self.dimension, digits)
        if self.whole or number.is_integer():
            return str(round(number))
        return repr(number) if digits is None else f"{number:.{digits}g}"


def scale_of(reader: Reader | None, text: str) -> Scale | None:
    """The scale of a key for a value such as ``text``; None for a key whose values are no numbers."""
    sort = None if reader is None else reader.sort
    if reader is None:
        return None
    if isinstance(reader, QuantityReader):
        return Scale(reader, reader.dimension)
    if isinstance(sort, SupplyLevel):
        return Scale(reader, SHARE if text.rstrip().endswith("%") else VOLTAGE)
    if isinstance(sort, Share):
        return Scale(reader, SHARE)
    if isinstance(sort, (PlainNumber, Count)):
        return Scale(reader, whole=isinstance(sort, Count))
    return None


def plain_number(text: str) -> int | float | str:
    """The number that a text is, or the text."""
    if _WHOLE.fullmatch(text.strip()):
        return int(text)
    try:
        return float(text) if text.isascii() and "_" not in text else text
    except ValueError:
        return text


def with_unit(text: str, dimension: Dimension) -> str:
    """A number with nothing but a scale factor ("10n") in the dimension's own unit, where that can mean
    nothing else; any other text as it is.
    """
    found = _LONE.fullmatch(text)
    if found is None or found["prefix"] in (*dimension.codes, *dict(dimension.units)):
        return text
    if found["prefix"] not in dimension.prefixes:
        return text
    other = DOUBTFUL.get(dimension.name)
    if found["prefix"] == "m" and other is not None:
        raise QuantityError(shown(text), f'"m" may be milli or {other}; {dimension.wanted}')
    return text.rstrip() + dimension.unit


def document_of(resolved: dict[str, Any]) -> Document:
    """The document that a resolved scenario stands for."""
    raw = copy.deepcopy(resolved)
    give_names(raw)
    name_members(raw)
    return Document.model_validate(raw)


def reader_at_path(document: Document, words: Sequence[str]) -> Reader | None:
    """What reads and writes the value at a path as ``--set`` has it; None where there is no such key, or
    none that holds a single value.
    """
    table, keys = _table_at(document, words)
    if table is None or not keys:
        return None
    for key in keys[:-1]:
        inner = list(tables_in(fields_of(table)[key].annotation)) if key in fields_of(table) else []
        if len(inner) != 1:
            return None
        table = inner[0]
    return readers_of(table).get(keys[-1])


def _table_at(document: Document, words: Sequence[str]) -> tuple[type[Table] | None, Sequence[str]]:
    """The table that a path begins in, and the keys below it."""
    stages = {stage.name: stage for stage in document.stage}
    gestures = {gesture.name: gesture for gesture in document.hand}
    if words[0] in stages:
        return type(stages[words[0]]), words[1:]
    if words[0] == "hand" and len(words) > 1 and words[1] in gestures:
        gesture = gestures[words[1]]
        if len(words) > 3 and words[2] == "of":
            members = getattr(gesture, "of", {})
            return (type(members[words[3]]), words[4:]) if words[3] in members else (None, ())
        return type(gesture), words[2:]
    found = getattr(document, words[0], None)
    return (type(found), words[1:]) if isinstance(found, Table) else (None, ())
