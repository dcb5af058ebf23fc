"""[contacts]: how a contact makes, breaks and slides.

The defaults are those of an ordinary contact; they are chosen so that the edges behave as
practice has it (see tests/scenarios), no recording of an encoder stands behind them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field, model_validator

from scenarios.fields import Burst, EnergyRating, Rating, SeriesResistor, Share, Spread, Zone
from scenarios.list_markers import BurstList, Quantities
from scenarios.markers import Count, Number, Quantity, Text, Word
from scenarios.plugins import added
from scenarios.quantities import CURRENT, SPEED, TIME, QuantityError, write_quantity
from scenarios.schema_table import Table, one_of
from simcore.contacts import bursts, recorded
from simcore.contacts import crossing as sim
from simcore.design import ContactRatings
from simcore.stages.analogue import Resistance

PairCount = Annotated[float, Number(0.0, float(bursts.MOST_PAIRS))]
PacketCount = Annotated[float, Number(0.0, float(bursts.MOST_PACKETS))]


class Side(Table):
    """A wiping contact's habits at makes or at breaks, as in simcore.contacts.crossing.WipingSide."""

    zone: Zone = Field(default=0.25, description="angle of shaft within which contact comes and goes")
    pairs: PairCount = Field(default=0.8, description="mean number of extra changes in it, in pairs")
    rebound: Share = Field(default=0.5, description="chance that the contact rebounds")
    flight: Burst = Field(default=60.0e-6, description="length of the first flight")
    restitution: Annotated[float, Number(0.0, 1.0, below=True)] = Field(
        default=0.35, description="length of each flight over that of the one before"
    )
    pause: Burst = Field(default=20.0e-6, description="closed pause before the first flight")
    packets: PacketCount = Field(default=0.05, description="mean number of further packets of chatter")
    packet_pairs: PairCount = Field(default=2.0, description="mean pairs of changes in a packet, at least 1")
    packet_length: Burst = Field(default=100.0e-6, description="length of a packet")
    gap_low: Burst = Field(default=150.0e-6, description="shortest quiet gap before a packet")
    gap_high: Burst = Field(default=640.0e-6, description="longest quiet gap")
    straggler: Share = Field(default=0.003, description="chance of one last pair of changes")
    straggler_low: Burst = Field(default=2.0e-3, description="its earliest time after the crossing")
    straggler_high: Burst = Field(default=4.0e-3, description="its latest time")
    straggler_length: Burst = Field(default=60.0e-6, description="longest time between its two changes")

    @model_validator(mode="after")
    def _ordered(self) -> Side:
        for name in ("gap", "straggler"):
            low, high = getattr(self, f"{name}_low"), getattr(self, f"{name}_high")
            if low > high:
                raise QuantityError(
                    write_quantity(high, TIME),
                    f"{name}_high must not be below {name}_low, which is {write_quantity(low, TIME)}",
                    f"{name}_high",
                )
        return self

    def build(self, wear: float) -> bursts.WipingSide:
        """The same for the simulator; wear multiplies numbers and lengths, not gaps and pauses."""
        return bursts.WipingSide(
            zone=self.zone * wear,
            pairs=self.pairs * wear,
            rebound=self.rebound,
            flight=self.flight * wear,
            restitution=self.restitution,
            pause=self.pause,
            packets=self.packets * wear,
            packet_pairs=self.packet_pairs * wear,
            packet_length=self.packet_length * wear,
            gap_low=self.gap_low,
            gap_high=self.gap_high,
            straggler=min(self.straggler * wear, 1.0),
            straggler_low=self.straggler_low,
            straggler_high=self.straggler_high,
            straggler_length=self.straggler_length * wear,
        )


class BreakSide(Side):
    """A break: chatter in the edge zone, no rebound."""

    pairs: PairCount = Field(default=1.2, description="mean number of extra changes in it, in pairs")
    rebound: Share = Field(default=0.0, description="chance that the contact rebounds")


class Sliding(Table):
    """Short opens of a closed contact under way: ``rate`` per revolution, their length."""

    rate: Annotated[float, Number(0.0, 10_000.0)] = Field(default=0.0, description="opens per revolution")
    length: Burst = Field(default=50.0e-6, description="median length of an open")
    spread: Spread = Field(default=0.8, description="spread of its logarithm")
    most: Burst = Field(default=2.0e-3, description="longest open")
    angle: Zone = Field(default=0.0, description="turned under an open: makes it longer, the more the slower")


class BadPad(Table):
    """One pad of the revolution whose bursts are those of a contact that is worn more."""

    pad: Annotated[int, Count(1, 1000)] = Field(description="counted upward; 1 is the first above the start")
    factor: Annotated[float, Number(0.0, 1000.0)] = Field(default=10.0, description="on the wear")


class Contacts(Table):
    """What all kinds share: wear, resistance of the closed contact (median ohm), sliding."""

    wear: Annotated[float, Number(0.0, 100.0)] = Field(
        default=1.0, description="multiplies numbers and lengths of bounces"
    )
    resistance: SeriesResistor = Field(default=0.5, description="of the closed contact, median")
    resistance_spread: Spread = Field(default=0.5, description="spread of its logarithm")
    resistance_per: Annotated[str, Word(("unit", "closure"))] = Field(
        default="unit", description="whether a unit keeps its resistance, or has another at each closure"
    )
    sliding: Sliding = Sliding()
    bad_pad: BadPad | None = Field(default=None, description="a pad that is worse than the others, if any")
    most_current: Rating = Field(default=None, description="rating: largest current; for check only")
    least_current: Rating = Field(
        default=None, description="rating: least current that keeps the contact clean; for check only"
    )
    most_energy: EnergyRating = Field(
        default=None, description="rating: largest energy of a closure; for check only"
    )

    @model_validator(mode="after")
    def _least_below_most(self) -> Contacts:
        most, least = self.most_current, self.least_current
        if most is not None and least is not None and least > most:
            raise QuantityError(
                write_quantity(least, CURRENT),
                f"least_current must not be above most_current, which is {write_quantity(most, CURRENT)}",
                "least_current",
            )
        return self

    def build(self) -> Any:
        """The contact for the simulator, all pads alike."""
        raise NotImplementedError

    def build_pads(self, cycles: int) -> Any:
        """The contact for the simulator, with its bad pad if it has one of ``cycles`` pads."""
        if self.bad_pad is None:
            return self.build()
        worn = self.model_copy(update={"wear": self.wear * self.bad_pad.factor})
        return bursts.BadPad(self.build(), worn.build(), self.bad_pad.pad - 1, cycles)

    def build_sliding(self) -> sim.Sliding:
        """The opens under way for the simulator."""
        slide = self.sliding
        return sim.Sliding(
            slide.rate * self.wear, slide.length * self.wear, slide.spread, slide.most * self.wear,
            slide.angle * self.wear,
        )  # fmt: skip

    def build_ratings(self) -> ContactRatings:
        """What they are said to take."""
        return ContactRatings(self.most_current, self.least_current, self.most_energy)

    def build_resistance(self) -> Resistance:
        """The closed contact's resistance for the simulator."""
        return Resistance(self.resistance, self.resistance_spread, int(self.resistance_per == "closure"))


class CleanContacts(Contacts):
    """One change at each crossing."""

    kind: Literal["clean"]

    def build(self) -> bursts.Clean:
        """The contact for the simulator."""
        return bursts.Clean(1)


class WipingContacts(Contacts):
    """A wiper on a pad."""

    kind: Literal["wiping"]
    make: Side = Side()
    break_: BreakSide = Field(default=BreakSide(), alias="break")

    def build(self) -> bursts.Wiping:
        """The contact for the simulator."""
        return bursts.Wiping(self.make.build(self.wear), self.break_.build(self.wear))


class TelegraphSide(Table):
    """Changes spread evenly over a burst of random length, at most ``most``."""

    pairs: PairCount = Field(default=3.0, description="mean extra changes, in pairs")
    length: Burst = Field(default=1.0e-3, description="median length of a burst")
    length_spread: Spread = Field(default=0.5, description="spread of its logarithm")
    most: Burst = Field(default=2.0e-3, description="longest burst")

    def build(self, wear: float) -> bursts.TelegraphSide:
        """The same for the simulator; wear multiplies number and lengths."""
        return bursts.TelegraphSide(
            self.pairs * wear, self.length * wear, self.length_spread, self.most * wear
        )


class TelegraphContacts(Contacts):
    """For work from the limit that a data sheet states."""

    kind: Literal["telegraph"]
    make: TelegraphSide = TelegraphSide()
    break_: TelegraphSide = Field(default=TelegraphSide(), alias="break")

    def build(self) -> bursts.Telegraph:
        """The contact for the simulator."""
        return bursts.Telegraph(self.make.build(self.wear), self.break_.build(self.wear))


BURST = Quantities(Quantity(TIME, 0.0, 1.0), 1, recorded.MOST_CHANGES, rising=True)
BURSTS = BurstList(BURST, 10_000)
Recording = Annotated[tuple[tuple[float, ...], ...], BURSTS]
RECORDING_SPEED = Quantity(SPEED, 0.0, 1000.0, above=True)
Stretch = Annotated[float, Number(0.001, 1000.0)]


class RecordedContacts(Contacts):
    """Repeats the bursts of a library, drawn at random."""

    kind: Literal["recorded"]
    library: Annotated[str, Text(400)] = Field(
        default="", description="a ready library, or a file of one; where its bursts come from"
    )
    make: Recording = Field(description="bursts at makes, each a list of times of changes after the crossing")
    break_: Recording = Field(alias="break", description="bursts at breaks")
    recorded_at: Annotated[float | None, RECORDING_SPEED] = Field(
        default=None, description="speed of the recording; given, bursts stretch as the shaft turns slower"
    )
    stretch_least: Stretch = Field(default=0.2, description="smallest factor that speed may bring")
    stretch_most: Stretch = Field(default=5.0, description="largest factor that speed may bring")

    @model_validator(mode="after")
    def _ordered(self) -> RecordedContacts:
        if self.stretch_least > self.stretch_most:
            raise QuantityError(
                f"{self.stretch_most:g}",
                f"stretch_most must not be below stretch_least, which is {self.stretch_least:g}",
                "stretch_most",
            )
        return self

    def build(self) -> recorded.Recorded:
        """The same for the simulator; wear multiplies the lengths."""
        speed = 0.0 if self.recorded_at is None else 360.0 * self.recorded_at
        return recorded.Recorded(
            self._bursts(self.make), self._bursts(self.break_), speed, self.stretch_least, self.stretch_most
        )

    def _bursts(self, recording: tuple[tuple[float, ...], ...]) -> recorded.Bursts:
        """A side's library; without any wear the contact is clean."""
        return recorded.bursts_of(recording if self.wear > 0.0 else [[0.0]], self.wear)


OWN_CONTACTS: tuple[type[Contacts], ...] = (
    CleanContacts, WipingContacts, TelegraphContacts, RecordedContacts,
)  # fmt: skip
CONTACTS = (*OWN_CONTACTS, *added("contacts", Contacts, OWN_CONTACTS))
"""Every kind, in the order in which messages and lists name them."""

if TYPE_CHECKING:
    AnyContacts = Contacts
else:
    AnyContacts = one_of(CONTACTS)
