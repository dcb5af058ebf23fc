"""[stop]: what ends a simulation before all its runs are done."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from scenarios.markers import Chance, Count, Quantity
from scenarios.quantities import TIME
from scenarios.schema_table import Table
from simcore.statistics.stopping import Stop

ERRORS = Count(1, 1_000_000_000)
PRECISION = Chance(1.0e-4, 1.0)
LASTING = Quantity(TIME, 0.0, 1.0e6, above=True)


class Stopping(Table):
    """What ends a simulation; of several rules the first one that is met."""

    errors: Annotated[int | None, ERRORS] = Field(default=None, description="so many wrong steps")
    precision: Annotated[float | None, PRECISION] = Field(
        default=None,
        description="the interval is within this share of the rate, to either side",
    )
    time: Annotated[float | None, LASTING] = Field(default=None, description="so much time has gone by")

    def build(self, runs: int) -> Stop:
        """The rules for the simulator; ``runs`` end it at the latest."""
        return Stop(runs, self.errors, self.precision, self.time)
