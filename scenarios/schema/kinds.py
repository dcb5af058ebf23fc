"""The tables of all kinds, made from their descriptions: what the kinds of a section share is here, the rest
beside each kind's own rules.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from pydantic import Field

from scenarios.plugins import all_kinds
from scenarios.schema.readers import reader_of
from scenarios.schema.tables import NameText, SchemaTable, one_of, table_of
from simcore import kinds
from simcore.base.description import (
    CURRENT_RATING,
    ENERGY_RATING,
    RESISTOR,
    SERIES_RESISTOR,
    SLOWEST_EDGE,
    SMALL_ANGLE,
    SPREAD,
    TIMING,
    TOLERANCE,
    Conflict,
    ContactsDescription,
    Count,
    CounterDescription,
    GestureDescription,
    InputDescription,
    Key,
    LineNumbers,
    PlainNumber,
    Share,
    StageDescription,
    Word,
)
from simcore.base.draws import Part
from simcore.contacts.bursts import BadPad
from simcore.contacts.crossing import Sliding
from simcore.counters.base import Range
from simcore.counters.driven import Driven
from simcore.counters.prescaled import MOST_DIVISOR, Prescaled
from simcore.design import ContactRatings, HandEntry, StageEntry
from simcore.networks.analogue import Resistance


class StageTable(SchemaTable):
    """What all stages share."""

    description: ClassVar[StageDescription]
    name: NameText
    lines: Annotated[tuple[int, ...], reader_of(LineNumbers())] = Field(
        default=(0, 1), description="lines that the stage works on"
    )

    def build(self) -> StageEntry:
        """The stage for the simulator; an input has a rating, which decides nothing that is simulated."""
        slowest = getattr(self, "slowest_edge", None)
        return StageEntry(self.name, self.description.build(self), self.lines, slowest)


BOTH_LINES = Key("lines", LineNumbers(both=True), "always both", (0, 1))
EDGE_RATING = Key(
    "slowest_edge",
    SLOWEST_EDGE,
    "rating: slowest edge that it takes, from 10 to 90 % of the way; used by check only",
    None,
)


class ResistanceTolerance(SchemaTable):
    """Part to part, both ways."""

    end_to_end: Annotated[float, reader_of(TOLERANCE)] = Field(
        default=0.0, description="of the whole resistance"
    )
    wiper: Annotated[float, reader_of(TOLERANCE)] = Field(
        default=0.0, description="of the wiper's resistance"
    )


class TappedResistance(SchemaTable):
    """The potentiometer whose taps the counter's positions choose."""

    end_to_end: Annotated[float, reader_of(RESISTOR)] = Field(description="end to end")
    wiper: Annotated[float, reader_of(SERIES_RESISTOR)] = Field(0.0, description="of the switch at the tap")
    step_error: Annotated[float, reader_of(Share())] = Field(
        default=0.0, description="tolerance of a step's share of the resistance"
    )
    tolerance: ResistanceTolerance = Field(ResistanceTolerance(), description="from unit to unit")

    def build(self) -> Driven:
        return Driven(
            Part(self.end_to_end, self.tolerance.end_to_end),
            Part(self.wiper, self.tolerance.wiper),
            Part(1.0, self.step_error),
        )


def _range_conflict(counter: CounterTable) -> Conflict | None:
    positions, start = counter.positions, counter.start
    if positions and start is not None and not 0 <= start < positions:
        return Conflict("start", f"expected a start from 0 to {positions - 1}, within the positions")
    if counter.prescale_phase >= counter.prescale:
        return Conflict(
            "prescale_phase",
            f"expected 0 to {counter.prescale - 1}, less than prescale, which is {counter.prescale}",
        )
    if counter.resistance is not None and (positions < 2 or counter.ends != "stop"):
        return Conflict(
            "resistance",
            'a tapped resistance: expected 2 positions or more, and ends = "stop"',
            f'positions = {positions}, ends = "{counter.ends}"',
        )
    return None


class CounterTable(SchemaTable):
    """What all counters share: range, start, prescaler, expected counts per step, what it drives."""

    description: ClassVar[CounterDescription]
    checks = (_range_conflict,)
    positions: Annotated[int, reader_of(Count(0, 2**31 - 1))] = Field(
        0, description="number of positions; 0: no bounds"
    )
    start: Annotated[int | None, reader_of(Count(-(2**31), 2**31 - 1))] = Field(
        None, description="position at the start; default: the middle"
    )
    ends: Annotated[str, reader_of(Word(("stop", "wrap")))] = Field(
        "stop", description="stop at the ends, or continue from the other end"
    )
    counts_per_step: Annotated[int | None, reader_of(Count(1, 1_000_000))] = Field(
        None, description="expected counts per detent; default: by the geometry"
    )
    prescale: Annotated[int, reader_of(Count(1, MOST_DIVISOR))] = Field(
        1, description="counts of the decoder for one count of the position"
    )
    prescale_phase: Annotated[int, reader_of(Count(0, MOST_DIVISOR - 1))] = Field(
        0, description="state of the prescaler at the start"
    )
    resistance: TappedResistance | None = Field(
        None, description="the tapped potentiometer that the positions set"
    )

    @property
    def start_position(self) -> int:
        return self.positions // 2 if self.start is None else self.start

    def build_range(self) -> Range:
        return Range(self.positions, self.start_position, int(self.ends == "wrap"))

    def build_driven(self) -> Driven | None:
        return None if self.resistance is None else self.resistance.build()

    def build(self) -> Any:
        """The counter for the simulator, behind its prescaler if it has one."""
        inner = self.description.build(self)
        return inner if self.prescale == 1 else Prescaled(inner, self.prescale, self.prescale_phase)


class SlidingTable(SchemaTable):
    """Short opens of a closed contact under way: ``rate`` per revolution, their length."""

    rate: Annotated[float, reader_of(PlainNumber(0.0, 10_000.0))] = Field(
        default=0.0, description="opens per revolution"
    )
    length: Annotated[float, reader_of(TIMING)] = Field(
        default=50.0e-6, description="median length of an open"
    )
    spread: Annotated[float, reader_of(SPREAD)] = Field(
        default=0.8, description="standard deviation of its logarithm"
    )
    most: Annotated[float, reader_of(TIMING)] = Field(default=2.0e-3, description="longest open")
    angle: Annotated[float, reader_of(SMALL_ANGLE)] = Field(
        default=0.0, description="angle turned during an open: lengthens it at slow speed"
    )


class BadPadTable(SchemaTable):
    """One pad of the revolution whose bursts are those of a contact that is worn more."""

    pad: Annotated[int, reader_of(Count(1, 1000))] = Field(
        description="counted upward; 1 is the first above the start"
    )
    factor: Annotated[float, reader_of(PlainNumber(0.0, 1000.0))] = Field(10.0, description="on the wear")


def _ratings_conflict(contacts: ContactsTable) -> Conflict | None:
    most, least = contacts.most_current, contacts.least_current
    if most is None or least is None or least <= most:
        return None
    return Conflict("least_current", "expected at most most_current, which is {most_current}")


class ContactsTable(SchemaTable):
    """What all kinds share: wear, resistance of the closed contact (median ohm), sliding.

    The defaults are those of an ordinary contact; they are not measured.
    """

    description: ClassVar[ContactsDescription]
    checks = (_ratings_conflict,)
    wear: Annotated[float, reader_of(PlainNumber(0.0, 100.0))] = Field(
        1.0, description="multiplies numbers and lengths of bounces"
    )
    resistance: Annotated[float, reader_of(SERIES_RESISTOR)] = Field(
        0.5, description="of the closed contact, median"
    )
    resistance_spread: Annotated[float, reader_of(SPREAD)] = Field(
        0.5, description="standard deviation of its logarithm"
    )
    resistance_per: Annotated[str, reader_of(Word(("unit", "closure")))] = Field(
        "unit", description="unit: one value for each unit; closure: another at each closure"
    )
    sliding: SlidingTable = SlidingTable()
    bad_pad: BadPadTable | None = Field(None, description="a pad that is worn more than the others")
    most_current: Annotated[float | None, reader_of(CURRENT_RATING)] = Field(
        None, description="rating: largest current; used by check only"
    )
    least_current: Annotated[float | None, reader_of(CURRENT_RATING)] = Field(
        None, description="rating: least current that keeps the contact clean; used by check only"
    )
    most_energy: Annotated[float | None, reader_of(ENERGY_RATING)] = Field(
        None, description="rating: largest energy of a closure; used by check only"
    )

    def build(self, cycles: int) -> Any:
        """The contact for the simulator, with its bad pad if it has one of ``cycles`` pads."""
        sound = self.description.build(self)
        if self.bad_pad is None:
            return sound
        worn = self.model_copy(update={"wear": self.wear * self.bad_pad.factor})
        return BadPad(sound, self.description.build(worn), self.bad_pad.pad - 1, cycles)

    def build_sliding(self) -> Sliding:
        slide = self.sliding
        return Sliding(
            slide.rate * self.wear, slide.length * self.wear, slide.spread, slide.most * self.wear,
            slide.angle * self.wear,
        )  # fmt: skip

    def build_ratings(self) -> ContactRatings:
        return ContactRatings(self.most_current, self.least_current, self.most_energy)

    def build_resistance(self) -> Resistance:
        return Resistance(self.resistance, self.resistance_spread, int(self.resistance_per == "closure"))


class GestureTable(SchemaTable):
    """What all gestures share."""

    description: ClassVar[GestureDescription]
    name: NameText

    def entries(self, place: int, steps_per_turn: int) -> tuple[HandEntry, ...]:
        """What it becomes in the simulator's hand, from ``place`` on: one entry, or several."""

        def entry(values: GestureTable) -> HandEntry:
            kind = values.description
            gesture = kind.build(values, steps_per_turn)
            return HandEntry(values.name, gesture, kind.moves(values), kind.name)

        return self.description.entries(self, place, entry)


def _made(
    description: Any, base: type[SchemaTable], keys: tuple[Key, ...], tag: str = "kind", gestures: Any = None
) -> Any:
    made = table_of(
        description.name,
        keys,
        base,
        checks=(description.check,),
        tag=(tag, description.name),
        gestures=gestures,
    )
    made.description = description
    return made


def stage_table(description: StageDescription) -> type[StageTable]:
    shared = (BOTH_LINES,) if description.both_lines else ()
    if isinstance(description, InputDescription):
        shared = (*shared, EDGE_RATING)
    made: type[StageTable] = _made(description, StageTable, (*shared, *description.keys))
    return made


def _member_table(description: GestureDescription) -> type[GestureTable]:
    """A gesture as one of a mix: it has a weight, and makes one movement at its turn unless it says
    otherwise.
    """
    keys = tuple(
        dataclasses.replace(key, default=1, meaning="at each turn")
        if key.name == description.repeats
        else key
        for key in description.keys
    )
    weight = Key("weight", PlainNumber(0.0, 1.0e6), "relative frequency of this gesture", 1.0)
    made: type[GestureTable] = _made(description, GestureTable, (*keys, weight), "gesture")
    return made


STAGES = tuple(stage_table(each) for each in all_kinds(StageDescription, kinds.STAGES, StageTable))
COUNTERS: tuple[type[CounterTable], ...] = tuple(
    _made(each, CounterTable, each.keys)
    for each in all_kinds(CounterDescription, kinds.COUNTERS, CounterTable)
)
CONTACTS: tuple[type[ContactsTable], ...] = tuple(
    _made(each, ContactsTable, each.keys)
    for each in all_kinds(ContactsDescription, kinds.CONTACTS, ContactsTable)
)
_GESTURES = all_kinds(GestureDescription, kinds.GESTURES, GestureTable)
_MEMBER = one_of([_member_table(each) for each in _GESTURES if each.mixable], "gesture")
GESTURES: tuple[type[GestureTable], ...] = tuple(
    _made(each, GestureTable, each.keys, "gesture", _MEMBER) for each in _GESTURES
)
"""The tables of every kind, in the order in which messages and lists name them."""

if TYPE_CHECKING:
    AnyStage = StageTable
    AnyCounter = CounterTable
    AnyContacts = ContactsTable
    AnyGesture = GestureTable
else:
    AnyStage, AnyCounter, AnyContacts = one_of(STAGES), one_of(COUNTERS), one_of(CONTACTS)
    AnyGesture = one_of(GESTURES, "gesture")
