"""A scenario as a whole, and its tables that have no kinds."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from scenarios.quantities import ANGLE, write_quantity
from scenarios.schema.kinds import AnyContacts, AnyCounter, AnyGesture, AnyStage
from scenarios.schema.readers import RateValue, StepRate, reader_of
from scenarios.schema.tables import SchemaTable
from simcore.base.description import (
    TIMING,
    TOLERANCE,
    VOLTS,
    Conflict,
    Count,
    PlainNumber,
    Quantity,
    Share,
    Switch,
    Text,
)
from simcore.base.draws import Part
from simcore.hand.geometry import Geometry
from simcore.networks.supply import STEADY, Dips
from simcore.statistics.stopping import Stop

MOST_RUNS = 100_000_000

SPAN = Quantity("angle", 0.0, 360.0)
CYCLE = 360.0
"""Electrical degrees of one quadrature cycle."""


class EncoderTolerance(SchemaTable):
    """Half widths of the errors that belong to the unit, in electrical degrees."""

    closed: Annotated[float, reader_of(SPAN)] = 0.0
    phase: Annotated[float, reader_of(SPAN)] = 0.0
    rest: Annotated[float, reader_of(SPAN)] = 0.0


def _out_of_order(encoder: Encoder) -> Conflict | None:
    """A closes, B closes, A opens, B opens, within one cycle, in every unit."""
    tolerance = encoder.tolerance
    wide, narrow = encoder.closed + tolerance.closed, encoder.closed - tolerance.closed
    late, early = encoder.phase + tolerance.phase, encoder.phase - tolerance.phase
    if early - tolerance.closed <= 0.0:
        key, what = "phase", "B would not follow A, but close or open before it"
    elif narrow <= late:
        key, what = "phase", "A would open before B closes, so both are never closed at once"
    elif late + wide >= CYCLE:
        key, what = "closed", "B would open after A closes again, so both are never open at once"
    else:
        return None
    return Conflict(
        key,
        f"{what}; expected a phase above the tolerances of phase and closed together, below "
        "closed less these tolerances, and closed + phase + tolerances below 360 deg",
        ", ".join(
            f"{name} {write_quantity(getattr(encoder, name), ANGLE)} +- "
            f"{write_quantity(getattr(tolerance, name), ANGLE)}"
            for name in ("closed", "phase")
        ),
    )


class Encoder(SchemaTable):
    """Detents (0: none) and quadrature cycles per revolution, and the electrical angles.

    ``closed``: span over which each contact is closed; ``phase``: from A's span to B's;
    ``rest``: where a detent lies, from the middle of the span with both contacts open.
    """

    checks = (_out_of_order,)
    detents: Annotated[int, reader_of(Count(0, 1000))]
    cycles: Annotated[int, reader_of(Count(1, 1000))]
    closed: Annotated[float, reader_of(SPAN)] = 180.0
    phase: Annotated[float, reader_of(SPAN)] = 90.0
    rest: Annotated[float, reader_of(Quantity("angle", -180.0, 180.0))] = 0.0
    tolerance: EncoderTolerance = EncoderTolerance()

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


def _dips_without_size(supply: Supply) -> Conflict | None:
    for key in ("dip_depth", "dip_length"):
        if supply.dips > 0.0 and getattr(supply, key) == 0.0:
            return Conflict(key, "dips: expected a depth and a length above 0; write them, or leave dips out")
    return None


class Supply(SchemaTable):
    """The supply of pull-ups and inputs."""

    checks = (_dips_without_size,)
    voltage: Annotated[float, reader_of(VOLTS)] = Field(
        default=3.3, description="of pull-ups, and of thresholds that are shares of it"
    )
    tolerance: Annotated[float, reader_of(TOLERANCE)] = Field(
        default=0.0, description="unit to unit, both ways"
    )
    dips: Annotated[float, reader_of(PlainNumber(0.0, 10_000.0))] = Field(
        default=0.0, description="dips per second of undisturbed supply, at random times"
    )
    dip_depth: Annotated[float, reader_of(Share())] = Field(
        default=0.0, description="share of the voltage by which a dip lowers it"
    )
    dip_length: Annotated[float, reader_of(TIMING)] = Field(default=0.0, description="length of every dip")
    power_up: Annotated[bool, reader_of(Switch())] = Field(
        default=False, description="true: the supply rises as the run begins, 10 ms before the first gesture"
    )

    def build(self) -> Part:
        return Part(self.voltage, self.tolerance)

    def build_dips(self) -> Dips:
        return Dips(self.dips, self.dip_depth, self.dip_length) if self.dips > 0.0 else STEADY


ERRORS = reader_of(Count(1, 1_000_000_000))
PRECISION = reader_of(Share(1.0e-4, 1.0))
LASTING = reader_of(Quantity("time", 0.0, 1.0e6, above=True))


class Stopping(SchemaTable):
    """What ends a simulation; of several rules the first one that is met."""

    errors: Annotated[int | None, ERRORS] = Field(default=None, description="number of wrong steps")
    precision: Annotated[float | None, PRECISION] = Field(
        default=None,
        description="the 95 % confidence interval is within this share of the rate, to either side",
    )
    time: Annotated[float | None, LASTING] = Field(default=None, description="elapsed time")

    def build(self, runs: int) -> Stop:
        """The rules for the simulator; ``runs`` end it at the latest."""
        return Stop(runs, self.errors, self.precision, self.time)


class TargetTable(SchemaTable):
    """The largest acceptable rate of wrong steps."""

    wrong: Annotated[RateValue, reader_of(StepRate())]


class ScenarioDocument(SchemaTable):
    """A scenario."""

    title: Annotated[str, reader_of(Text(200))] = ""
    seed: Annotated[int, reader_of(Count(0, 2**63 - 1))] = 1
    runs: Annotated[int, reader_of(Count(1, MOST_RUNS))] = 5000
    supply: Supply = Supply()
    encoder: Encoder
    contacts: AnyContacts
    hand: list[AnyGesture]
    stage: list[AnyStage] = Field(default_factory=list)
    counter: AnyCounter
    target: TargetTable | None = None
    stop: Stopping | None = None
