"""[[stage]]: gates between the inputs and the counter."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from scenarios.fields import Timing, Tolerance
from scenarios.schema_stage import Stage
from scenarios.schema_table import Table
from simcore.base.draws import Part
from simcore.stages import delay


class GateTolerance(Table):
    """Part to part, both ways."""

    rising: Tolerance = Field(default=0.0, description="of the delay of a rise")
    falling: Tolerance = Field(default=0.0, description="of the delay of a fall")


class GateDelay(Stage):
    """A gate's propagation delay, which swallows pulses that are no longer than it."""

    kind: Literal["gate delay"]
    rising: Timing = Field(description="from an input edge to a rise of the output")
    falling: Timing = Field(description="from an input edge to a fall of the output")
    tolerance: GateTolerance = Field(default=GateTolerance(), description="part to part")

    def item(self) -> delay.GateDelay:
        """The delay."""
        return delay.GateDelay(
            Part(self.rising, self.tolerance.rising), Part(self.falling, self.tolerance.falling)
        )


GATES: tuple[type[Stage], ...] = (GateDelay,)
