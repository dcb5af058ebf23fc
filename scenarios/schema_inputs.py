"""[[stage]]: logic inputs, where a voltage becomes a level."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from scenarios.fields import Amperes, Frequency, Level, NoiseVolts, SlowestEdge, Timing, Tolerance
from scenarios.markers import Switch
from scenarios.more_markers import LevelValue
from scenarios.quantities import FREQUENCY, QuantityError, write_quantity
from scenarios.schema_stage import Stage
from scenarios.schema_table import Table
from simcore.base.draws import Part
from simcore.design import StageEntry
from simcore.stages import inputs
from simcore.stages.delay import GateDelay
from simcore.stages.noise import Noise

INVERTING = "true for an output that is low while the input is high"
LEAKAGE = "largest current that the input draws or gives, either way, each unit its own"
NOISE = "rms value of Gaussian noise on the input"
NOISE_BANDWIDTH = "bandwidth of that noise"
RISE_DELAY = "from the crossing to a rise of the output; a shorter pulse is swallowed"
SLOWEST_EDGE = "rating: slowest edge that it takes, from 10 to 90 % of the way; for check only"
FALL_DELAY = "from the crossing to a fall of the output; a shorter pulse is swallowed"


class PlainTolerance(Table):
    """Part to part, both ways."""

    rise_delay: Tolerance = Field(default=0.0, description="of the delay of a rise")
    fall_delay: Tolerance = Field(default=0.0, description="of the delay of a fall")


class SchmittTolerance(PlainTolerance):
    """Part to part, both ways, each threshold on its own."""

    rising: Tolerance = Field(default=0.0, description="of the rising threshold")
    falling: Tolerance = Field(default=0.0, description="of the falling threshold")


class ComparatorTolerance(Table):
    """Part to part, both ways."""

    threshold: Tolerance = Field(default=0.0, description="of the threshold")
    hysteresis: Tolerance = Field(default=0.0, description="of the hysteresis")
    delay: Tolerance = Field(default=0.0, description="of the delay")


class Input(Stage):
    """What all inputs share."""

    slowest_edge: SlowestEdge = Field(default=None, description=SLOWEST_EDGE)

    def build(self) -> StageEntry:
        """The stage for the simulator, with its rating."""
        return StageEntry(self.name, self.item(), self.lines, self.slowest_edge)

    @model_validator(mode="after")
    def _noise_has_a_bandwidth(self) -> Input:
        bandwidth = getattr(self, "noise_bandwidth", 0.0)
        if getattr(self, "noise", 0.0) > 0.0 and bandwidth == 0.0:
            raise QuantityError(
                write_quantity(bandwidth, FREQUENCY),
                "noise needs a bandwidth above 0 Hz; write one, or leave the noise out",
                "noise_bandwidth",
            )
        return self


class SchmittInput(Input):
    """An input with hysteresis: it turns high above one threshold and low below another."""

    kind: Literal["schmitt input"]
    rising: Level = Field(description="threshold above which a low input turns high")
    falling: Level = Field(description="threshold below which a high input turns low")
    inverting: Annotated[bool, Switch()] = Field(default=False, description=INVERTING)
    leakage: Amperes = Field(default=0.0, description=LEAKAGE)
    noise: NoiseVolts = Field(default=0.0, description=NOISE)
    noise_bandwidth: Frequency = Field(default=0.0, description=NOISE_BANDWIDTH)
    rise_delay: Timing = Field(default=0.0, description=RISE_DELAY)
    fall_delay: Timing = Field(default=0.0, description=FALL_DELAY)
    tolerance: SchmittTolerance = Field(default=SchmittTolerance(), description="part to part")

    def item(self) -> inputs.SchmittInput:
        """The input."""
        return inputs.SchmittInput(
            _level(self.rising, self.tolerance.rising),
            _level(self.falling, self.tolerance.falling),
            int(self.inverting),
            inputs.Leakage(self.leakage),
            Noise(self.noise, self.noise_bandwidth),
            _delay(self.rise_delay, self.fall_delay, self.tolerance),
        )


class PlainInput(Input):
    """An input without hysteresis, whose one threshold lies somewhere between ``low`` and ``high``."""

    kind: Literal["plain input"]
    low: Level = Field(description="surely low below this")
    high: Level = Field(description="surely high above this")
    inverting: Annotated[bool, Switch()] = Field(default=False, description=INVERTING)
    leakage: Amperes = Field(default=0.0, description=LEAKAGE)
    noise: NoiseVolts = Field(default=0.0, description=NOISE)
    noise_bandwidth: Frequency = Field(default=0.0, description=NOISE_BANDWIDTH)
    rise_delay: Timing = Field(default=0.0, description=RISE_DELAY)
    fall_delay: Timing = Field(default=0.0, description=FALL_DELAY)
    tolerance: PlainTolerance = Field(default=PlainTolerance(), description="part to part")

    def item(self) -> inputs.PlainInput:
        """The input."""
        return inputs.PlainInput(
            _level(self.low, 0.0),
            _level(self.high, 0.0),
            int(self.inverting),
            inputs.Leakage(self.leakage),
            Noise(self.noise, self.noise_bandwidth),
            _delay(self.rise_delay, self.fall_delay, self.tolerance),
        )


class Comparator(Input):
    """A comparator: one threshold with a hysteresis around it, and a delay."""

    kind: Literal["comparator"]
    threshold: Level = Field(description="middle of the two thresholds")
    hysteresis: NoiseVolts = Field(default=0.0, description="between the two thresholds")
    delay: Timing = Field(
        default=0.0, description="from the crossing to the output; a shorter pulse is swallowed"
    )
    inverting: Annotated[bool, Switch()] = Field(default=False, description=INVERTING)
    leakage: Amperes = Field(default=0.0, description=LEAKAGE)
    noise: NoiseVolts = Field(default=0.0, description=NOISE)
    noise_bandwidth: Frequency = Field(default=0.0, description=NOISE_BANDWIDTH)
    tolerance: ComparatorTolerance = Field(default=ComparatorTolerance(), description="part to part")

    def item(self) -> inputs.Comparator:
        """The input."""
        delay = Part(self.delay, self.tolerance.delay)
        return inputs.Comparator(
            _level(self.threshold, self.tolerance.threshold),
            Part(self.hysteresis, self.tolerance.hysteresis),
            int(self.inverting),
            inputs.Leakage(self.leakage),
            Noise(self.noise, self.noise_bandwidth),
            GateDelay(delay, delay),
        )


def _level(value: LevelValue, tolerance: float) -> inputs.Level:
    return inputs.Level(Part(value.value, tolerance), value.of_supply)


def _delay(rise: float, fall: float, tolerance: PlainTolerance) -> GateDelay:
    return GateDelay(Part(rise, tolerance.rise_delay), Part(fall, tolerance.fall_delay))


INPUTS: tuple[type[Stage], ...] = (SchmittInput, PlainInput, Comparator)
