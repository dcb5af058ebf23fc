"""``--vary PATH=VALUES``: the values that a sweep gives to one key, and the numbers behind what is written.

Values come as a list ("10n, 22n, 47n"), in a range, or in a list of both.  A range goes from LOW..HIGH,
both included: ``:E6`` takes the values of a series of IEC 60063 between them, ``:9`` nine values at even
steps, ``:log 9`` nine at even ratios; of a key that takes whole numbers, LOW..HIGH alone takes each.
Numbers are put in rising order, words stay in theirs.
"""

from __future__ import annotations

import copy
import itertools
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from scenarios.loading.merging import give_names, name_members
from scenarios.loading.messages import listed, quoted, shown
from scenarios.loading.validation import readers_of, tables_in
from scenarios.quantities import SHARE, VOLTAGE, Dimension, QuantityError, write_quantity
from scenarios.schema.document import ScenarioDocument
from scenarios.schema.readers import QuantityReader, Reader, SwitchReader, WordReader
from scenarios.schema.tables import SchemaTable, fields_of
from simcore.base.description import Count, LevelValue, PlainNumber, Share, SupplyLevel
from simcore.base.preferred import SERIES, above, below, between

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
        """The number that ``text`` means; QuantityError when the key does not take it."""
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
        raise QuantityError(shown(text), f'"m" may be milli or {other}; {dimension.expectation}')
    return text.rstrip() + dimension.unit


def document_of(resolved: dict[str, Any]) -> ScenarioDocument:
    raw = copy.deepcopy(resolved)
    give_names(raw)
    name_members(raw)
    return ScenarioDocument.model_validate(raw)


def reader_at_path(document: ScenarioDocument, words: Sequence[str]) -> Reader | None:
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


def _table_at(
    document: ScenarioDocument, words: Sequence[str]
) -> tuple[type[SchemaTable] | None, Sequence[str]]:
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
    return (type(found), words[1:]) if isinstance(found, SchemaTable) else (None, ())


MOST_VALUES = 2000
"""Values of one key."""
HOW = '":E6" for those of a series, ":9" for nine at even steps or ":log 9" for nine at even ratios'
EXAMPLE = '"10n, 22n, 47n" or "10n..1u:E6"'

_STEPS = re.compile(r"(?P<log>log\s*)?(?P<count>[0-9]{1,99})", re.IGNORECASE)
_SERIES = re.compile(r"E\s*(?P<series>[0-9]{1,4})", re.IGNORECASE)


@dataclass(frozen=True)
class Axis:
    """A key and the values that it takes in a sweep.

    ``given`` is what the command line said of them, ``values`` are texts as ``--set`` takes them; if they
    are numbers, ``numbers`` has them in ``unit``, rising, else it is None.
    """

    path: str
    given: str
    values: tuple[str, ...]
    numbers: tuple[float, ...] | None
    unit: str = ""


@dataclass(frozen=True)
class _Value:
    """One value: its text, and its number with the scale it is on, if it is one."""

    text: str
    number: float = math.nan
    scale: Scale | None = None


def axis_of(path: str, given: str, reader: Reader | None) -> Axis:
    """The axis that ``given`` means for a key that is read by ``reader`` (None: any word is taken).

    QuantityError for what cannot be used of it.
    """
    values = [value for item in _items(given) for value in _values(item, reader)]
    scales = {value.scale and value.scale.dimension for value in values}
    numeric = len(scales) == 1 and values[0].scale is not None
    if numeric:
        values.sort(key=lambda value: value.number)
    _refuse_twice([value.text for value in values])
    if len(values) > MOST_VALUES:
        raise QuantityError(f"{len(values)} values", f"expected at most {MOST_VALUES} values of one key")
    return Axis(
        path,
        given,
        tuple(value.text for value in values),
        tuple(value.number for value in values) if numeric else None,
        values[0].scale.unit if numeric and values[0].scale else "",
    )


def _items(given: str) -> Iterator[str]:
    """The items of a list, separated by commas outside brackets and quotes."""
    depth, quote, item = 0, "", ""
    for letter in given:
        if quote or letter in "\"'":
            quote = "" if letter == quote else quote or letter
        elif letter in "[{":
            depth += 1
        elif letter in "]}":
            depth -= 1
        elif letter == "," and depth == 0:
            yield _filled(item, given)
            item = ""
            continue
        item += letter
    yield _filled(item, given)


def _filled(item: str, given: str) -> str:
    if not item.strip():
        where = "there is an empty value" if given.strip() else "there is no value"
        raise QuantityError(shown(given), f"{where}; expected values such as {EXAMPLE}")
    return item.strip()


def _values(item: str, reader: Reader | None) -> Sequence[_Value]:
    if ".." in item and reader is not None and not item.startswith(("[", '"', "'")):
        return _range(item, reader)
    scale = scale_of(reader, item)
    if scale is not None:
        number = scale.read(item)
        return [_Value(scale.write(number), number, scale)]
    if isinstance(reader, WordReader):
        return [_Value(reader.read(item))]
    if isinstance(reader, SwitchReader):
        return [_Value("true" if reader.read({"true": True, "false": False}.get(item, item)) else "false")]
    return [_Value(item)]


def _refuse_twice(texts: Sequence[str]) -> None:
    seen: set[str] = set()
    for text in texts:
        if text in seen:
            raise QuantityError(shown(text), "expected each value once")
        seen.add(text)


def _range(item: str, reader: Reader) -> Sequence[_Value]:
    ends, _, how = item.partition(":")
    low_text, _, high_text = (part.strip() for part in ends.partition(".."))
    scale = scale_of(reader, low_text)
    if scale is None:
        raise QuantityError(
            shown(item),
            f"this key takes no numbers, so it has no range; expected a list of {reader.takes}",
        )
    if not low_text or not high_text or ".." in high_text:
        raise QuantityError(shown(item), f"expected a range with two ends, as in {EXAMPLE}")
    low, high = scale.read(low_text), scale.read(high_text)
    if low >= high:
        what = "the range is empty, for its ends are equal" if low == high else "the range falls"
        raise QuantityError(shown(item), f"{what}; expected LOW..HIGH with the lower end first")
    return _between(item, scale, (low, high), " ".join(how.split()))


def _between(item: str, scale: Scale, ends: tuple[float, float], how: str) -> Sequence[_Value]:
    series, steps = _SERIES.fullmatch(how), _STEPS.fullmatch(how)
    if series is not None:
        return _of_series(item, scale, ends, int(series["series"]))
    if steps is not None:
        return _of_steps(item, scale, ends, int(steps["count"]), even=steps["log"] is None)
    if scale.whole and not how:
        return _of_steps(item, scale, ends, round(ends[1] - ends[0]) + 1, even=True)
    reason = "unknown way to fill a range" if how else "a range says which of the values between its ends"
    raise QuantityError(shown(how or item), f"{reason}; expected {HOW}")


def _of_series(item: str, scale: Scale, ends: tuple[float, float], series: int) -> Sequence[_Value]:
    """Preferred values (IEC 60063)."""
    if series not in SERIES:
        raise QuantityError(shown(f"E{series}"), f"expected {listed([f'E{each}' for each in SERIES])}")
    if scale.whole:
        raise QuantityError(
            shown(item), 'whole numbers have no series; expected a range such as "1..8" or "1..9:3"'
        )
    _require_positive(item, scale, ends[0], "a series")
    found = between(*ends, series)
    if not found:
        near = quoted([scale.write(below(ends[0], series)), scale.write(above(ends[1], series))])
        raise QuantityError(
            shown(item), f"no value of E{series} lies in this range; expected one that holds {near}"
        )
    return [_Value(scale.write(number), number, scale) for number in found]


def _of_steps(
    item: str, scale: Scale, ends: tuple[float, float], count: int, *, even: bool
) -> Sequence[_Value]:
    if not 2 <= count <= MOST_VALUES:
        raise QuantityError(shown(item), f"expected 2 to {MOST_VALUES} values, the ends included")
    low, high = ends
    if even:
        numbers = [low + (high - low) * i / (count - 1) for i in range(count)]
    else:
        _require_positive(item, scale, low, "even ratios")
        numbers = [low * (high / low) ** (i / (count - 1)) for i in range(count)]
    texts = _texts([low, *numbers[1:-1], high], scale)
    if len(set(texts)) < count:
        raise QuantityError(
            shown(item),
            f"expected at most {len(set(texts))} values, for these {count} round to no more whole numbers",
        )
    return [_Value(text, scale.read(text), scale) for text in texts]


def _require_positive(item: str, scale: Scale, low: float, what: str) -> None:
    if low <= 0.0:
        raise QuantityError(
            shown(item), f"{what} cannot begin at {scale.write(low)}; expected a lower end above 0"
        )


def _texts(numbers: Sequence[float], scale: Scale) -> list[str]:
    """Numbers in as few digits as put each within a hundredth of a step of its place; the ends exactly."""
    step = min(after - before for before, after in itertools.pairwise(numbers))
    for digits in range(3, 18):
        texts = [scale.write(number, digits) for number in numbers]
        if all(abs(scale.read(t) - n) <= 0.01 * step for t, n in zip(texts, numbers, strict=True)):
            break
        if scale.whole:
            break
    return [scale.write(numbers[0]), *texts[1:-1], scale.write(numbers[-1])]
