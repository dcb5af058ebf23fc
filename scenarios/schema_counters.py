"""[counter]: the counter, its timing, its range, its prescaler and what it drives."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field, model_validator

from scenarios.fields import Resistor, SeriesResistor, Share, Timing, Tolerance
from scenarios.markers import Count, Quantity, Word
from scenarios.plugins import added
from scenarios.quantities import TIME, QuantityError, write_quantity
from scenarios.schema_table import Table, one_of
from simcore.base.draws import Part
from simcore.base.ticks import ticks
from simcore.counters.base import DOUBT_POLICIES, SHORT_POLICIES, Range
from simcore.counters.clocked import DOUBLE_POLICIES, ClockedQuadrature
from simcore.counters.driven import Driven
from simcore.counters.prescaled import MOST_DIVISOR, Prescaled
from simcore.counters.quadrature import Quadrature
from simcore.counters.step_direction import StepDirection
from simcore.counters.two_clock import TwoClock
from simcore.counters.whole_cycle import WholeCycle

CLOCKS = {"A falling": (0, 0), "A rising": (0, 1), "B falling": (1, 0), "B rising": (1, 1)}
DECODINGS = {"x1": 1, "x2": 2, "x4": 4}
LEADS = {"A leads": 1, "B leads": -1}

Wanted = Annotated[int | None, Count(1, 1_000_000)]
Span = Annotated[float, Quantity(TIME, 1.0e-9, 1.0)]
Clock = Annotated[str, Word(tuple(CLOCKS))]
HighLow = Annotated[str, Word(("high", "low"))]
Decoding = Annotated[str, Word(tuple(DECODINGS))]
Leads = Annotated[str, Word(tuple(LEADS))]


class ResistanceTolerance(Table):
    """Part to part, both ways."""

    end_to_end: Tolerance = Field(default=0.0, description="of the whole resistance")
    wiper: Tolerance = Field(default=0.0, description="of the wiper's resistance")


class TappedResistance(Table):
    """The potentiometer whose taps the counter's positions choose."""

    end_to_end: Resistor = Field(description="from one end to the other")
    wiper: SeriesResistor = Field(0.0, description="of the switch to the tap")
    step_error: Share = Field(0.0, description="how far a step may differ from its even share")
    tolerance: ResistanceTolerance = Field(ResistanceTolerance(), description="from unit to unit")

    def build(self) -> Driven:
        """The same for the simulator."""
        return Driven(
            Part(self.end_to_end, self.tolerance.end_to_end),
            Part(self.wiper, self.tolerance.wiper),
            Part(1.0, self.step_error),
        )


class Counter(Table):
    """What all counters share: range, start, prescaler, what one detent ought to count, what it drives."""

    positions: Annotated[int, Count(0, 2**31 - 1)] = Field(0, description="how many there are; 0: no bounds")
    start: Annotated[int | None, Count(-(2**31), 2**31 - 1)] = Field(
        None, description="position at the start; the middle if not given"
    )
    ends: Annotated[str, Word(("stop", "wrap"))] = Field(
        "stop", description="whether the count stops at the ends or goes on from the other one"
    )
    counts_per_step: Wanted = Field(
        None, description="what one detent ought to count; what the geometry gives if not given"
    )
    prescale: Annotated[int, Count(1, MOST_DIVISOR)] = Field(
        1, description="counts of the decoder for one of the position"
    )
    prescale_phase: Annotated[int, Count(0, MOST_DIVISOR - 1)] = Field(
        0, description="what the prescaler holds at the start"
    )
    resistance: TappedResistance | None = Field(
        None, description="the tapped potentiometer that the positions set, if any"
    )

    @model_validator(mode="after")
    def _inside(self) -> Counter:
        if self.positions and self.start is not None and not 0 <= self.start < self.positions:
            raise QuantityError(
                str(self.start), f"allowed is a start from 0 to {self.positions - 1}, within the positions",
                "start",
            )  # fmt: skip
        if self.prescale_phase >= self.prescale:
            raise QuantityError(
                str(self.prescale_phase),
                f"allowed is 0 to {self.prescale - 1}, less than prescale, which is {self.prescale}",
                "prescale_phase",
            )
        if self.resistance is not None and (self.positions < 2 or self.ends != "stop"):
            raise QuantityError(
                f'positions = {self.positions}, ends = "{self.ends}"',
                'a tapped resistance needs positions of 2 or more, and ends = "stop"',
                "resistance",
            )
        return self

    @property
    def start_position(self) -> int:
        """Where the count starts."""
        return self.positions // 2 if self.start is None else self.start

    def build_range(self) -> Range:
        """The range for the simulator."""
        return Range(self.positions, self.start_position, int(self.ends == "wrap"))

    def build_driven(self) -> Driven | None:
        """What it drives, for the simulator."""
        return None if self.resistance is None else self.resistance.build()

    def build(self) -> Any:
        """The counter for the simulator, behind its prescaler if it has one."""
        inner = self.decoder()
        return inner if self.prescale == 1 else Prescaled(inner, self.prescale, self.prescale_phase)

    def decoder(self) -> Any:
        """The counter without a prescaler."""
        raise NotImplementedError


class StepDirectionCounter(Counter):
    """Counts on one edge of the clock line, up or down by the level of the direction line."""

    kind: Literal["step-direction"]
    clock: Clock = Field("A falling", description="the line and the edge that count")
    direction: Annotated[str | None, Word(("A", "B"))] = Field(
        None, description="the other line, which says which way"
    )
    up_when: HighLow = Field("high", description="level of the direction line that counts up")
    setup: Timing = Field(0.0, description="how long the direction must be steady before the edge")
    hold: Timing = Field(0.0, description="how long the direction must be steady after the edge")
    minimum_low: Timing = Field(0.0, description="shortest low level of the clock that is taken")
    minimum_high: Timing = Field(0.0, description="shortest high level of the clock that is taken")
    undecided: Annotated[str, Word(DOUBT_POLICIES)] = Field(
        "coin", description="which way it counts if set-up or hold was not met"
    )
    short_pulse: Annotated[str, Word(SHORT_POLICIES)] = Field(
        "ignored", description="what becomes of a clock level that was too short"
    )

    @model_validator(mode="after")
    def _two_lines(self) -> StepDirectionCounter:
        if self.direction == self.clock[0]:
            raise QuantityError(
                f'"{self.direction}"',
                f'the clock is "{self.clock}", so the direction must be the other line, "{self.other_line}"',
                "direction",
            )
        return self

    @property
    def other_line(self) -> str:
        """The line that is not the clock."""
        return "B" if self.clock[0] == "A" else "A"

    def decoder(self) -> StepDirection:
        """The counter for the simulator."""
        line, active = CLOCKS[self.clock]
        return StepDirection(
            line, active, int(self.up_when == "high"),
            ticks(self.setup), ticks(self.hold), ticks(self.minimum_low), ticks(self.minimum_high),
            DOUBT_POLICIES.index(self.undecided), SHORT_POLICIES.index(self.short_pulse),
        )  # fmt: skip


class TwoClockCounter(Counter):
    """Counts pulses that gates form from one line's edge and steer to an up or a down clock by the other."""

    kind: Literal["two-clock"]
    clock: Clock = Field("A falling", description="the line and the edge that form a pulse")
    up_when: HighLow = Field("high", description="level of the other line that steers to the up clock")
    pulse: Span = Field(5.0e-6, description="length of the pulse; it counts at its end")
    minimum: Timing = Field(0.0, description="shortest pulse on either clock that is taken")

    @model_validator(mode="after")
    def _long_enough(self) -> TwoClockCounter:
        if self.minimum > self.pulse:
            raise QuantityError(
                write_quantity(self.minimum, TIME),
                f"allowed is at most the pulse, which is {write_quantity(self.pulse, TIME)}; "
                "else nothing ever counts",
                "minimum",
            )
        return self

    def decoder(self) -> TwoClock:
        """The counter for the simulator."""
        line, active = CLOCKS[self.clock]
        return TwoClock(line, active, int(self.up_when == "high"), ticks(self.pulse), ticks(self.minimum))


class QuadratureCounter(Counter):
    """Counts one, two or four of the edges of a cycle."""

    kind: Literal["quadrature"]
    decoding: Decoding = Field("x4", description="counts per cycle")
    up_when: Leads = Field("A leads", description="which line comes first when counting up")

    def decoder(self) -> Quadrature:
        """The counter for the simulator."""
        return Quadrature(DECODINGS[self.decoding], LEADS[self.up_when])


class ClockTolerance(Table):
    """Unit to unit, both ways."""

    period: Tolerance = Field(default=0.0, description="of the clock's period")


class ClockedCounter(Counter):
    """Counts one, two or four of the edges of a cycle, looking at both lines at the ticks of a clock only."""

    kind: Literal["clocked quadrature"]
    period: Span = Field(description="from one sample to the next")
    tolerance: ClockTolerance = Field(ClockTolerance(), description="from unit to unit")
    decoding: Decoding = Field("x4", description="counts per cycle")
    up_when: Leads = Field("A leads", description="which line comes first when counting up")
    double_change: Annotated[str, Word(DOUBLE_POLICIES)] = Field(
        "ignore", description="what it makes of both lines changing between two samples"
    )

    def decoder(self) -> ClockedQuadrature:
        """The counter for the simulator."""
        return ClockedQuadrature(
            DECODINGS[self.decoding], LEADS[self.up_when], Part(self.period, self.tolerance.period),
            DOUBLE_POLICIES.index(self.double_change),
        )  # fmt: skip


class WholeCycleCounter(Counter):
    """Counts only when a cycle has been gone through all the way, from rest to rest."""

    kind: Literal["whole-cycle"]
    rest: HighLow = Field("high", description="level of both lines at rest, from where cycles are counted")
    up_when: Leads = Field("A leads", description="which line comes first when counting up")

    def decoder(self) -> WholeCycle:
        """The counter for the simulator."""
        return WholeCycle(int(self.rest == "high"), LEADS[self.up_when])


OWN_COUNTERS: tuple[type[Counter], ...] = (
    StepDirectionCounter, TwoClockCounter, QuadratureCounter, ClockedCounter, WholeCycleCounter,
)  # fmt: skip
COUNTERS = (*OWN_COUNTERS, *added("counter", Counter, OWN_COUNTERS))
"""Every kind, in the order in which messages and lists name them."""

if TYPE_CHECKING:
    AnyCounter = Counter
else:
    AnyCounter = one_of(COUNTERS)
