"""How a kind of stage, counter, contact or gesture describes itself: its keys, and what they become.

A description is plain data beside the kind's record and rules.  The reader of scenarios, lists of kinds
and pages are made from it; nothing here reads or writes text.

A key holds a value of one *sort*.  Checked values reach the functions of a description as attributes of
one object: ``values.time``, ``values.tolerance.time``; a key that is a Python keyword has an underscore
behind it (``values.break_``).  Quantities are numbers in the SI unit of their dimension (angles in degrees,
speeds in revolutions per second, shares as fractions).
"""

from __future__ import annotations

import keyword
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from simcore.base.draws import Part

HOUR = 3600.0


@dataclass(frozen=True)
class Quantity:
    """A number with a unit of ``dimension``, from ``low`` to ``high``; ``above`` excludes ``low``."""

    dimension: str
    low: float
    high: float
    above: bool = False


@dataclass(frozen=True)
class PlainNumber:
    """A number without a unit, from ``low`` to ``high``; ``below`` excludes ``high``."""

    low: float
    high: float
    below: bool = False


@dataclass(frozen=True)
class Share:
    """A probability or fraction, from ``low`` to ``high``."""

    low: float = 0.0
    high: float = 1.0


@dataclass(frozen=True)
class Count:
    """A whole number from ``low`` to ``high``."""

    low: int
    high: int


@dataclass(frozen=True)
class Word:
    """One of a few words."""

    allowed: tuple[str, ...]


@dataclass(frozen=True)
class Switch:
    """True or false."""


@dataclass(frozen=True)
class Text:
    """At most ``most`` characters on one line."""

    most: int


class LevelValue(NamedTuple):
    """A voltage (V), or a share of the supply (a fraction) when ``of_supply`` is 1."""

    value: float
    of_supply: int

    def volts(self, supply: float) -> float:
        return self.value * supply if self.of_supply else self.value


@dataclass(frozen=True)
class SupplyLevel:
    """A threshold in volts or as a share of the supply: a LevelValue."""


@dataclass(frozen=True)
class LineNumbers:
    """Lines as a tuple of numbers, A 0 and B 1; ``both`` where neither will do alone."""

    both: bool = False


@dataclass(frozen=True)
class Quantities:
    """A tuple of ``least`` to ``most`` quantities; ``rising`` ones begin with 0 and go up."""

    each: Quantity
    least: int
    most: int
    rising: bool = False


@dataclass(frozen=True)
class BurstList:
    """A library of 1 to ``most`` bursts: tuples of times of changes, each of an odd number."""

    burst: Quantities
    most: int


@dataclass(frozen=True)
class Conflict:
    """Values that are sound one by one but not together: the ``key`` at fault and what is expected.

    ``message`` may name keys of the same table in braces, which stand for their values as a person
    writes them; ``like`` gives further such names: a number, and the key that it is written like.
    ``read`` is what was found, the key's own value if it is None.
    """

    key: str
    message: str
    read: str | None = None
    like: Mapping[str, tuple[str, float]] = field(default_factory=dict)


FindConflict = Callable[[Any], Conflict | None]
"""From the checked values of a table to what is wrong with them together."""


@dataclass(frozen=True)
class Subtable:
    """A table of its own; left out, each of its keys has its default."""

    keys: tuple[Key, ...]
    check: FindConflict = field(default=lambda values: None)


@dataclass(frozen=True)
class GestureTables:
    """Tables of gestures, each under a name of its own: a dict."""


Sort = (
    Quantity | PlainNumber | Share | Count | Word | Switch | Text | SupplyLevel | LineNumbers | Quantities
    | BurstList | Subtable | GestureTables
)  # fmt: skip

REQUIRED: Any = object()
"""The default of a key that has none and must be given."""


@dataclass(frozen=True)
class Key:
    """A key of a table, the ``sort`` of its values, its ``meaning`` in a few words, and its ``default`` as
    a checked value; None for a key that may be absent.
    """

    name: str
    sort: Sort
    meaning: str
    default: Any = REQUIRED

    @property
    def attribute(self) -> str:
        return f"{self.name}_" if keyword.iskeyword(self.name) else self.name


class FormulaValue(NamedTuple):
    """What a formula says of a kind without simulating: a ``value`` (never infinite) in ``unit``, and the
    ``source`` of the formula.
    """

    label: str
    value: float
    unit: str
    source: str


@dataclass(frozen=True, kw_only=True)
class Description:
    """A kind: the word that names it, its ``meaning`` in one sentence, its keys beside those that all
    kinds of its section share, and ``build``, which makes its record from checked values.
    """

    name: str
    meaning: str
    keys: tuple[Key, ...] = ()
    build: Callable[..., Any]
    check: FindConflict = field(default=lambda values: None)


@dataclass(frozen=True, kw_only=True)
class StageDescription(Description):
    """A stage.  ``figures`` computes what a formula says of it; ``both_lines`` where it cannot serve one
    line alone.
    """

    figures: Callable[[Any], tuple[FormulaValue, ...]] = field(default=lambda values: ())
    both_lines: bool = False


@dataclass(frozen=True, kw_only=True)
class NetworkDescription(StageDescription):
    """A network between a contact and an input."""


@dataclass(frozen=True, kw_only=True)
class InputDescription(StageDescription):
    """An input, where a voltage becomes a level; ``levels`` finds thresholds that do not go together under
    a nominal ``supply`` (V).
    """

    levels: Callable[[Any, float], Conflict | None] = field(default=lambda values, supply: None)


@dataclass(frozen=True, kw_only=True)
class CounterDescription(Description):
    """A counter; ``settled`` gives the values of keys that are absent but follow from others."""

    settled: Callable[[Any], Mapping[str, Any]] = field(default=lambda values: {})


@dataclass(frozen=True, kw_only=True)
class ContactsDescription(Description):
    """A model of how contacts make and break; its values hold ``wear`` as well."""


@dataclass(frozen=True, kw_only=True)
class GestureDescription(Description):
    """A gesture: ``build`` takes the values and the shaft's steps per turn, and ``moves`` says how many
    rows it has in a run (see simcore.hand.base).

    ``on_shaft`` finds values that a shaft of so many steps per turn does not allow.  ``entries`` gives what
    the hand holds, from ``place`` in it on, with ``entry`` to make an entry of a gesture's values.
    ``mixable`` if it may be one of several in a mix, where the key ``repeats``, if it has one, is 1 unless
    it is given.
    """

    moves: Callable[[Any], int]
    on_shaft: Callable[[Any, int], Conflict | None] = field(default=lambda values, steps: None)
    entries: Callable[[Any, int, Callable[[Any], Any]], tuple[Any, ...]] = field(
        default=lambda values, place, entry: (entry(values),)
    )
    mixable: bool = False
    repeats: str = ""


# Sorts in common use, with their limits.
TIMING = Quantity("time", 0.0, 1.0)
CLOCK_PERIOD = Quantity("time", 1.0e-9, 1.0)
DURATION = Quantity("time", 0.0, HOUR, above=True)
PAUSE = Quantity("time", 0.0, HOUR)
SPREAD = Share()
TOLERANCE = Quantity("share", 0.0, 0.9)
RESISTOR = Quantity("resistance", 0.0, 1.0e9, above=True)
SERIES_RESISTOR = Quantity("resistance", 0.0, 1.0e9)
CAPACITOR = Quantity("capacitance", 0.0, 1.0)
VOLTS = Quantity("voltage", 0.0, 1000.0, above=True)
NOISE_VOLTS = Quantity("voltage", 0.0, 1000.0)
AMPERES = Quantity("current", 0.0, 1.0)
CURRENT_RATING = Quantity("current", 0.0, 1000.0, above=True)
ENERGY_RATING = Quantity("energy", 0.0, 1000.0, above=True)
SLOWEST_EDGE = Quantity("time", 0.0, 1.0, above=True)
FREQUENCY = Quantity("frequency", 0.0, 1.0e8)
TURNING = Quantity("speed of turning", 0.0, 1000.0, above=True)
SMALL_ANGLE = Quantity("angle", 0.0, 45.0)


def tolerance(**meanings: str) -> Key:
    """The key ``tolerance``: a table of half widths from unit to unit, 0 each unless given."""
    keys = tuple(Key(name, TOLERANCE, meaning, 0.0) for name, meaning in meanings.items())
    return Key("tolerance", Subtable(keys), "part to part, both ways")


def part_of(values: Any, key: str) -> Part:
    return Part(getattr(values, key), getattr(values.tolerance, key))
