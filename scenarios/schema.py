"""What a scenario may say, as a whole.  The tables stand in the files schema_*.py."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from scenarios.fields import Share, Timing, Tolerance, Volts
from scenarios.markers import Count, Number, Switch, Text
from scenarios.more_markers import Rate, RateValue
from scenarios.quantities import SHARE, TIME, QuantityError, write_quantity
from scenarios.schema_contacts import AnyContacts
from scenarios.schema_counters import AnyCounter
from scenarios.schema_encoder import Encoder
from scenarios.schema_gestures import AnyGesture
from scenarios.schema_stages import AnyStage
from scenarios.schema_stop import Stopping
from scenarios.schema_table import Table
from simcore.base.draws import Part
from simcore.stages.supply import STEADY, Dips

MOST_RUNS = 100_000_000


class Supply(Table):
    """The supply of pull-ups and inputs."""

    voltage: Volts = Field(default=3.3, description="of pull-ups, and of thresholds that are shares of it")
    tolerance: Tolerance = Field(default=0.0, description="unit to unit, both ways")
    dips: Annotated[float, Number(0.0, 10_000.0)] = Field(
        default=0.0, description="sudden dips per second of undisturbed supply, at random"
    )
    dip_depth: Share = Field(default=0.0, description="share of the voltage that is missing in a dip")
    dip_length: Timing = Field(default=0.0, description="how long every dip lasts")
    power_up: Annotated[bool, Switch()] = Field(
        default=False, description="true: the supply comes up as the run begins, 10 ms before the hand"
    )

    @model_validator(mode="after")
    def _dips_have_a_size(self) -> Supply:
        if self.dips > 0.0:
            for key, value, dimension in (
                ("dip_depth", self.dip_depth, SHARE), ("dip_length", self.dip_length, TIME),
            ):  # fmt: skip
                if value == 0.0:
                    raise QuantityError(
                        write_quantity(value, dimension),
                        "dips need a depth and a length, both above 0; write them, or leave dips out",
                        key,
                    )
        return self

    def build(self) -> Part:
        """The supply for the simulator."""
        return Part(self.voltage, self.tolerance)

    def build_dips(self) -> Dips:
        """Its dips for the simulator."""
        return Dips(self.dips, self.dip_depth, self.dip_length) if self.dips > 0.0 else STEADY


class Target(Table):
    """What the user wants to reach."""

    wrong: Annotated[RateValue, Rate()]


class Document(Table):
    """A scenario."""

    title: Annotated[str, Text(200)] = ""
    seed: Annotated[int, Count(0, 2**63 - 1)] = 1
    runs: Annotated[int, Count(1, MOST_RUNS)] = 5000
    supply: Supply = Supply()
    encoder: Encoder
    contacts: AnyContacts
    hand: list[AnyGesture]
    stage: list[AnyStage] = Field(default_factory=list)
    counter: AnyCounter
    target: Target | None = None
    stop: Stopping | None = None
