"""What a scenario may say, as a whole.  The tables stand in the files schema_*.py."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from scenarios.fields import Tolerance, Volts
from scenarios.markers import Count, Rate, RateValue, Text
from scenarios.schema_contacts import AnyContacts
from scenarios.schema_counters import AnyCounter
from scenarios.schema_encoder import Encoder
from scenarios.schema_gestures import AnyGesture
from scenarios.schema_stages import AnyStage
from scenarios.schema_table import Table
from simcore.draws import Part

MOST_RUNS = 100_000_000


class Supply(Table):
    """The supply of pull-ups and inputs."""

    voltage: Volts = 3.3
    tolerance: Tolerance = 0.0

    def build(self) -> Part:
        """The supply for the simulator."""
        return Part(self.voltage, self.tolerance)


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
