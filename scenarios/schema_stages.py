"""[[stage]]: what lies between the contacts and the counter."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from scenarios.fields import Capacitor, Level, Resistor, SeriesResistor, Tolerance
from scenarios.markers import LevelValue, Lines, Switch
from scenarios.schema_table import NameText, Table
from simcore.chain import StageEntry
from simcore.draws import Part
from simcore.stages import inputs, network


class Stage(Table):
    """What all stages share."""

    name: NameText
    lines: Annotated[tuple[int, ...], Lines()] = (0, 1)

    def item(self) -> Any:
        """The stage's record for the simulator."""
        raise NotImplementedError

    def build(self) -> StageEntry:
        """The stage for the simulator."""
        return StageEntry(self.name, self.item(), self.lines)


class RcTolerance(Table):
    """Part to part, both ways."""

    pull_up: Tolerance = 0.0
    series: Tolerance = 0.0
    capacitor: Tolerance = 0.0


class Rc(Stage):
    """Pull-up at the contact, series resistor into the capacitor."""

    kind: Literal["rc"]
    pull_up: Resistor
    series: SeriesResistor
    capacitor: Capacitor
    tolerance: RcTolerance = RcTolerance()

    def item(self) -> network.SeriesCapacitor:
        """The network."""
        return network.SeriesCapacitor(
            Part(self.pull_up, self.tolerance.pull_up),
            Part(self.series, self.tolerance.series),
            Part(self.capacitor, self.tolerance.capacitor),
        )


class AcrossTolerance(Table):
    """Part to part, both ways."""

    pull_up: Tolerance = 0.0
    capacitor: Tolerance = 0.0


class AcrossContact(Stage):
    """Pull-up, and the capacitor straight across the contact."""

    kind: Literal["capacitor across contact"]
    pull_up: Resistor
    capacitor: Capacitor
    tolerance: AcrossTolerance = AcrossTolerance()

    def item(self) -> network.AcrossCapacitor:
        """The network."""
        return network.AcrossCapacitor(
            Part(self.pull_up, self.tolerance.pull_up), Part(self.capacitor, self.tolerance.capacitor)
        )


class PullUpTolerance(Table):
    """Part to part, both ways."""

    pull_up: Tolerance = 0.0


class PullUp(Stage):
    """A pull-up and nothing else."""

    kind: Literal["pull-up"]
    pull_up: Resistor
    tolerance: PullUpTolerance = PullUpTolerance()

    def item(self) -> network.Direct:
        """The network."""
        return network.Direct(Part(self.pull_up, self.tolerance.pull_up))


class SchmittTolerance(Table):
    """Part to part, both ways, each threshold on its own."""

    rising: Tolerance = 0.0
    falling: Tolerance = 0.0


class SchmittInput(Stage):
    """An input with hysteresis."""

    kind: Literal["schmitt input"]
    rising: Level
    falling: Level
    inverting: Annotated[bool, Switch()] = False
    tolerance: SchmittTolerance = SchmittTolerance()

    def item(self) -> inputs.SchmittInput:
        """The input."""
        return inputs.SchmittInput(
            _level(self.rising, self.tolerance.rising),
            _level(self.falling, self.tolerance.falling),
            int(self.inverting),
        )


class PlainInput(Stage):
    """An input without hysteresis; its threshold lies somewhere between ``low`` and ``high``."""

    kind: Literal["plain input"]
    low: Level
    high: Level
    inverting: Annotated[bool, Switch()] = False

    def item(self) -> inputs.PlainInput:
        """The input."""
        return inputs.PlainInput(_level(self.low, 0.0), _level(self.high, 0.0), int(self.inverting))


def _level(value: LevelValue, tolerance: float) -> inputs.Level:
    return inputs.Level(Part(value.value, tolerance), value.of_supply)


AnyStage = Annotated[Rc | AcrossContact | PullUp | SchmittInput | PlainInput, Field(discriminator="kind")]
