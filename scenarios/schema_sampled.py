"""[[stage]]: stages that look at their lines at the ticks of a clock."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from scenarios.fields import ClockPeriod, Timing, Tolerance
from scenarios.figures import Figure
from scenarios.markers import Count, Quantity, Switch
from scenarios.quantities import TIME, QuantityError, write_quantity
from scenarios.schema_stage import Stage
from scenarios.schema_table import Table
from simcore.base.draws import Part
from simcore.stages import sampled
from simcore.stages.clock import Clock
from simcore.stages.synchroniser import LONGEST, Synchroniser, failure_interval

FittedTime = Annotated[float | None, Quantity(TIME, 0.0, 1.0e6, above=True)]
"""A constant fitted to measured failures; its window may be longer than any clock period."""


class ClockTolerance(Table):
    """Part to part, both ways."""

    period: Tolerance = Field(default=0.0, description="of the clock's period")


class Clocked(Stage):
    """What all sampled stages share."""

    period: ClockPeriod = Field(description="time from one sample to the next")
    shared_clock: Annotated[bool, Switch()] = Field(
        default=True,
        description="true: one clock samples both lines; false: each line has a clock of its own",
    )
    tolerance: ClockTolerance = Field(default=ClockTolerance(), description="part to part, both ways")

    def clock(self) -> Clock:
        """The clock for the simulator."""
        return Clock(Part(self.period, self.tolerance.period), int(self.shared_clock))


class Agree(Clocked):
    """A shift register whose output follows the line once so many consecutive samples agree."""

    kind: Literal["agree"]
    samples: Annotated[int, Count(1, 64)] = Field(description="consecutive samples that must agree")

    def item(self) -> sampled.Sampled:
        """The filter."""
        return sampled.Sampled(self.clock(), sampled.Agree(self.samples))


class Integrate(Clocked):
    """A counter that goes up at each high sample and down at each low one, and whose stops set the output."""

    kind: Literal["integrate"]
    samples: Annotated[int, Count(1, 1_000_000)] = Field(description="samples from one stop to the other")

    def item(self) -> sampled.Sampled:
        """The filter."""
        return sampled.Sampled(self.clock(), sampled.Integrate(self.samples))


class Majority(Clocked):
    """A vote of the last samples, in which the output follows the level that enough of them have."""

    kind: Literal["majority"]
    samples: Annotated[int, Count(1, 62)] = Field(description="how many of the last samples vote")
    needed: Annotated[int, Count(1, 62)] = Field(
        description="how many of them must be alike, more than half of all"
    )

    @model_validator(mode="after")
    def _more_than_half(self) -> Majority:
        least = self.samples // 2 + 1
        if not least <= self.needed <= self.samples:
            raise QuantityError(
                str(self.needed),
                f"allowed is a majority of {self.samples} samples, {least} to {self.samples}",
                "needed",
            )
        return self

    def item(self) -> sampled.Sampled:
        """The filter."""
        return sampled.Sampled(self.clock(), sampled.Majority(self.samples, self.needed))


FAILURE_KEYS = ("settling", "settling_constant", "failure_window", "change_every")
"""What the computed time between failures takes, which nothing else does."""


class SynchroniserStage(Clocked):
    """A row of flip-flops that brings a line into step with a clock."""

    kind: Literal["synchroniser"]
    flip_flops: Annotated[int, Count(1, 62)] = Field(default=2, description="flip-flops in the row")
    window: Timing = Field(
        default=0.0,
        description="a change within this time before a sample leaves the sampled level to chance",
    )
    settling: FittedTime = Field(
        default=None,
        description="time a flip-flop has for settling before the next one, or the counter, looks",
    )
    settling_constant: FittedTime = Field(
        default=None, description="tau, the flip-flop's settling time constant"
    )
    failure_window: FittedTime = Field(
        default=None, description="T0, the flip-flop's fitted window of failure"
    )
    change_every: FittedTime = Field(
        default=None, description="mean time from one change of the line to the next"
    )

    @model_validator(mode="after")
    def _sound(self) -> SynchroniserStage:
        shortest = self.period * (1.0 - self.tolerance.period)
        if self.window >= shortest:
            raise QuantityError(
                write_quantity(self.window, TIME),
                f"allowed is a window below the shortest period, {write_quantity(shortest, TIME, 6)}",
                "window",
            )
        given = [key for key in FAILURE_KEYS if getattr(self, key) is not None]
        missing = [key for key in FAILURE_KEYS if key not in given]
        if given and missing:
            raise QuantityError(
                f"no {missing[0]}",
                f"the time between failures needs {', '.join(FAILURE_KEYS)}; give all of them or none",
                given[0],
            )
        return self

    def item(self) -> Synchroniser:
        """The synchroniser."""
        return Synchroniser(self.clock(), self.flip_flops, self.window)

    def figures(self) -> tuple[Figure, ...]:
        """The mean time between failures, if all that it takes is given."""
        values: list[Any] = [getattr(self, key) for key in FAILURE_KEYS]
        if None in values:
            return ()
        settling, tau, window, change_every = values
        stages = max(self.flip_flops - 1, 1)
        seconds = failure_interval(stages * settling, tau, window, 1.0 / self.period, 1.0 / change_every)
        label = "mean time between failures of one line"
        if seconds == LONGEST:
            label += ", at least"
        source = "exp(t_r / tau) / (T0 f a), Wakerly, Digital Design (from memory)"
        if stages > 1:
            source += "; t_r summed over the stages of settling, for which other forms are in print too"
        return (Figure(label, seconds, "s", source),)


SAMPLED: tuple[type[Stage], ...] = (Agree, Integrate, Majority, SynchroniserStage)
