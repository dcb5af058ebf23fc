"""[[stage]]: logic inputs, where a voltage becomes a level."""

from __future__ import annotations

from typing import Annotated, Literal

from scenarios.fields import Level, Tolerance
from scenarios.markers import LevelValue, Switch
from scenarios.schema_stage import Stage
from scenarios.schema_table import Table
from simcore.draws import Part
from simcore.stages import inputs


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


INPUTS: tuple[type[Stage], ...] = (SchmittInput, PlainInput)
