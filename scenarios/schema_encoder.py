"""[encoder]: the angles of the encoder, and its step as the shaft sees it."""

from __future__ import annotations

from typing import Annotated

from pydantic import model_validator

from scenarios.fields import Offset, Span
from scenarios.markers import Count
from scenarios.quantities import ANGLE, QuantityError, write_quantity
from scenarios.schema_table import Table
from simcore.hand.geometry import Geometry

CYCLE = 360.0
"""Electrical degrees of one quadrature cycle."""


class EncoderTolerance(Table):
    """Half widths of the errors that belong to the unit, in electrical degrees."""

    closed: Span = 0.0
    phase: Span = 0.0
    rest: Span = 0.0


class Encoder(Table):
    """Detents (0: none) and quadrature cycles per revolution, and the electrical angles.

    ``closed``: span over which each contact is closed; ``phase``: from A's span to B's;
    ``rest``: where a detent lies, from the middle of the span with both contacts open.
    """

    detents: Annotated[int, Count(0, 1000)]
    cycles: Annotated[int, Count(1, 1000)]
    closed: Span = 180.0
    phase: Span = 90.0
    rest: Offset = 0.0
    tolerance: EncoderTolerance = EncoderTolerance()

    @model_validator(mode="after")
    def _order(self) -> Encoder:
        """A closes, B closes, A opens, B opens, within one cycle, whatever the unit."""
        wide = self.closed + self.tolerance.closed
        narrow = self.closed - self.tolerance.closed
        late = self.phase + self.tolerance.phase
        early = self.phase - self.tolerance.phase
        if early - self.tolerance.closed <= 0.0:
            self._refuse("phase", "B would not follow A, but close or open before it")
        if narrow <= late:
            self._refuse("phase", "A would open before B closes, so both are never closed at once")
        if late + wide >= CYCLE:
            self._refuse("closed", "B would open after A closes again, so both are never open at once")
        return self

    def _refuse(self, key: str, what: str) -> None:
        tolerance = self.tolerance
        texts = [
            f"{name} {write_quantity(value, ANGLE)} +- {write_quantity(half, ANGLE)}"
            for name, value, half in (
                ("closed", self.closed, tolerance.closed),
                ("phase", self.phase, tolerance.phase),
            )
        ]
        raise QuantityError(
            ", ".join(texts),
            f"{what}; allowed is phase above the tolerances of phase and closed together, below "
            "closed less these tolerances, and closed + phase + tolerances below 360 deg",
            key,
        )

    @property
    def steps_per_turn(self) -> int:
        """Detents per revolution, or cycles where there are no detents."""
        return self.detents or self.cycles

    @property
    def cycles_per_step(self) -> float:
        """Quadrature cycles from one detent to the next."""
        return self.cycles / self.steps_per_turn

    def build(self) -> Geometry:
        """The same for the simulator, angles as shares of a cycle."""
        return Geometry(
            float(self.steps_per_turn),
            self.cycles_per_step,
            self.closed / CYCLE,
            self.tolerance.closed / CYCLE,
            self.phase / CYCLE,
            self.tolerance.phase / CYCLE,
            self.rest / CYCLE,
            self.tolerance.rest / CYCLE,
        )
