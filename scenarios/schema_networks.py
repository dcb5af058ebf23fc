"""[[stage]]: networks of resistors and a capacitor between a contact and an input."""

from __future__ import annotations

from typing import Literal

from scenarios.fields import Capacitor, Resistor, SeriesResistor, Tolerance
from scenarios.schema_stage import Stage
from scenarios.schema_table import Table
from simcore.draws import Part
from simcore.stages import network


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


NETWORKS: tuple[type[Stage], ...] = (Rc, AcrossContact, PullUp)
