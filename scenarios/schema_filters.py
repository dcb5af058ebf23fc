"""[[stage]]: time filters, the interlock, and pick-up: what acts on logic levels."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field

from scenarios.fields import Burst, Capacitor, Resistor, Spread, Timing, Tolerance
from scenarios.loading.messages import shown
from scenarios.markers import Number, Switch, Word
from scenarios.more_markers import Lines
from scenarios.quantities import QuantityError
from scenarios.schema_stage import Stage
from scenarios.schema_table import Table
from simcore.base.draws import Part
from simcore.stages import pickup
from simcore.stages.interlock import Interlock
from simcore.stages.quiet import Lockout, OneShot, QuietTime

MOST_RATE = 1.0e6
"""Pulses of pick-up per second; how many a run may have is checked with the rest of its size."""
LEVELS = ("low", "high")
EDGES = ("falling", "rising")


class QuietTimeFilter(Stage):
    """A filter whose output follows once the input has stayed put for a time."""

    kind: Literal["quiet time"]
    time: Timing = Field(description="how long the input must stay put")
    tolerance: Tolerance = Field(default=0.0, description="of the time, part to part, both ways")

    def item(self) -> QuietTime:
        """The filter."""
        return QuietTime(Part(self.time, self.tolerance))


class LockoutFilter(Stage):
    """A filter whose output follows at once and then ignores the input for a time."""

    kind: Literal["lockout"]
    time: Timing = Field(description="how long the input is ignored after each change of the output")
    tolerance: Tolerance = Field(default=0.0, description="of the time, part to part, both ways")

    def item(self) -> Lockout:
        """The filter."""
        return Lockout(Part(self.time, self.tolerance))


class OneShotTolerance(Table):
    """Part to part, both ways."""

    resistor: Tolerance = Field(default=0.0, description="of the timing resistor")
    capacitor: Tolerance = Field(default=0.0, description="of the timing capacitor")


class OneShotStage(Stage):
    """A one-shot that gives a pulse of factor x R x C for each trigger edge of its input."""

    kind: Literal["one-shot"]
    resistor: Resistor = Field(description="the timing resistor")
    capacitor: Capacitor = Field(description="the timing capacitor")
    factor: Annotated[float, Number(0.0, 100.0)] = Field(
        default=math.log(3.0),
        description="pulse length over R x C; ln 3 for a timer that charges to two thirds of its supply",
    )
    trigger: Annotated[str, Word(EDGES)] = Field(
        default="falling", description="edge of the input that starts it"
    )
    output: Annotated[str, Word(LEVELS)] = Field(
        default="low", description="level of the output during the pulse"
    )
    retriggerable: Annotated[bool, Switch()] = Field(
        default=False, description="whether a trigger during the pulse prolongs it or is ignored"
    )
    tolerance: OneShotTolerance = Field(default=OneShotTolerance(), description="part to part, both ways")

    def item(self) -> OneShot:
        """The one-shot."""
        return OneShot(
            Part(self.resistor, self.tolerance.resistor), Part(self.capacitor, self.tolerance.capacitor),
            self.factor, EDGES.index(self.trigger), LEVELS.index(self.output), int(self.retriggerable),
        )  # fmt: skip


@dataclass(frozen=True)
class BothLines(Lines):
    """The lines of a stage that cannot serve one line alone."""

    def read(self, value: Any) -> tuple[int, ...]:
        """Both lines' numbers."""
        found = super().read(value)
        if found != (0, 1):
            raise QuantityError(
                "[" + ", ".join(shown(each) for each in self.write(found)) + "]",
                'this stage works on both lines together; allowed is ["A", "B"], which need not be written',
            )
        return found


class InterlockStage(Stage):
    """Two latches that accept a change of one line only after the other line has changed since."""

    kind: Literal["interlock"]
    lines: Annotated[tuple[int, ...], BothLines()] = Field(default=(0, 1), description="always both")
    # Tens of nanoseconds for a gate: common practice, no source.
    delay: Timing = Field(default=20.0e-9, description="from the opening of a latch to its output following")

    def item(self) -> Interlock:
        """The pair of latches."""
        return Interlock(self.delay)


class PickUpStage(Stage):
    """Pulses that a line catches from outside, given by their effect on the logic level."""

    kind: Literal["pick-up"]
    rate: Annotated[float, Number(0.0, MOST_RATE)] = Field(description="pulses per second on each line")
    width: Burst = Field(description="length of a pulse, the median")
    spread: Spread = Field(default=0.0, description="standard deviation of the logarithm of the length")
    polarity: Annotated[str, Word(pickup.POLARITIES)] = Field(
        default="either", description="a pulse turns the line over, or holds it high or low"
    )

    def item(self) -> pickup.PickUp:
        """The source of pulses."""
        return pickup.PickUp(self.rate, self.width, self.spread, pickup.POLARITIES.index(self.polarity))


FILTERS: tuple[type[Stage], ...] = (
    QuietTimeFilter, LockoutFilter, OneShotStage, InterlockStage, PickUpStage,
)  # fmt: skip
