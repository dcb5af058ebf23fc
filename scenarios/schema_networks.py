"""[[stage]]: networks of resistors, capacitors and a diode between a contact and an input."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from scenarios.fields import Capacitor, Resistor, SeriesResistor, Tolerance, Volts
from scenarios.markers import Word
from scenarios.schema_stage import Stage
from scenarios.schema_table import Table
from simcore.base.draws import Part
from simcore.stages import diode, ladder, network

SPREAD = "part to part, as a share of the value"
PULL_UP = "resistor from the contact to the supply; the contact closes to ground"
PULL_DOWN = "resistor from the contact to ground; the contact closes to the supply"
INTO = "resistor from the contact into the capacitor"
TO_GROUND = "from the input to ground"


class RcTolerance(Table):
    """Part to part, both ways."""

    pull_up: Tolerance = Field(default=0.0, description=SPREAD)
    series: Tolerance = Field(default=0.0, description=SPREAD)
    capacitor: Tolerance = Field(default=0.0, description=SPREAD)


class Rc(Stage):
    """Pull-up at the contact, series resistor into the capacitor."""

    kind: Literal["rc"]
    pull_up: Resistor = Field(description=PULL_UP)
    series: SeriesResistor = Field(description=INTO)
    capacitor: Capacitor = Field(description=TO_GROUND)
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

    pull_up: Tolerance = Field(default=0.0, description=SPREAD)
    capacitor: Tolerance = Field(default=0.0, description=SPREAD)


class AcrossContact(Stage):
    """Pull-up, and the capacitor straight across the contact."""

    kind: Literal["capacitor across contact"]
    pull_up: Resistor = Field(description=PULL_UP)
    capacitor: Capacitor = Field(description="across the contact, which discharges it in a spike")
    tolerance: AcrossTolerance = AcrossTolerance()

    def item(self) -> network.AcrossCapacitor:
        """The network."""
        return network.AcrossCapacitor(
            Part(self.pull_up, self.tolerance.pull_up), Part(self.capacitor, self.tolerance.capacitor)
        )


class PullUpTolerance(Table):
    """Part to part, both ways."""

    pull_up: Tolerance = Field(default=0.0, description=SPREAD)


class PullUp(Stage):
    """A pull-up and nothing else."""

    kind: Literal["pull-up"]
    pull_up: Resistor = Field(description=PULL_UP)
    tolerance: PullUpTolerance = PullUpTolerance()

    def item(self) -> network.Direct:
        """The network."""
        return network.Direct(Part(self.pull_up, self.tolerance.pull_up))


class RcAtCapacitor(Stage):
    """Pull-up at the capacitor, series resistor from there to the contact."""

    kind: Literal["rc at capacitor"]
    pull_up: Resistor = Field(description="resistor from the capacitor to the supply")
    series: SeriesResistor = Field(description="resistor from the capacitor to the contact")
    capacitor: Capacitor = Field(description=TO_GROUND)
    tolerance: RcTolerance = RcTolerance()

    def item(self) -> network.AtCapacitor:
        """The network."""
        return network.AtCapacitor(
            Part(self.pull_up, self.tolerance.pull_up),
            Part(self.series, self.tolerance.series),
            Part(self.capacitor, self.tolerance.capacitor),
        )


class RcDownTolerance(Table):
    """Part to part, both ways."""

    pull_down: Tolerance = Field(default=0.0, description=SPREAD)
    series: Tolerance = Field(default=0.0, description=SPREAD)
    capacitor: Tolerance = Field(default=0.0, description=SPREAD)


class RcToSupply(Stage):
    """Contact to the supply with a pull-down, series resistor into the capacitor."""

    kind: Literal["rc to supply"]
    pull_down: Resistor = Field(description=PULL_DOWN)
    series: SeriesResistor = Field(description=INTO)
    capacitor: Capacitor = Field(description=TO_GROUND)
    tolerance: RcDownTolerance = RcDownTolerance()

    def item(self) -> network.PullDownSeries:
        """The network."""
        return network.PullDownSeries(
            Part(self.pull_down, self.tolerance.pull_down),
            Part(self.series, self.tolerance.series),
            Part(self.capacitor, self.tolerance.capacitor),
        )


class AcrossDownTolerance(Table):
    """Part to part, both ways."""

    pull_down: Tolerance = Field(default=0.0, description=SPREAD)
    capacitor: Tolerance = Field(default=0.0, description=SPREAD)


class CapacitorBesidePullDown(Stage):
    """Contact to the supply with a pull-down, and the capacitor beside the pull-down."""

    kind: Literal["capacitor beside pull-down"]
    pull_down: Resistor = Field(description=PULL_DOWN)
    capacitor: Capacitor = Field(description="from the contact to ground; the contact charges it in a spike")
    tolerance: AcrossDownTolerance = AcrossDownTolerance()

    def item(self) -> network.PullDownAcross:
        """The network."""
        return network.PullDownAcross(
            Part(self.pull_down, self.tolerance.pull_down), Part(self.capacitor, self.tolerance.capacitor)
        )


class PullDownTolerance(Table):
    """Part to part, both ways."""

    pull_down: Tolerance = Field(default=0.0, description=SPREAD)


class PullDown(Stage):
    """Contact to the supply with a pull-down and nothing else."""

    kind: Literal["pull-down"]
    pull_down: Resistor = Field(description=PULL_DOWN)
    tolerance: PullDownTolerance = PullDownTolerance()

    def item(self) -> network.PullDownDirect:
        """The network."""
        return network.PullDownDirect(Part(self.pull_down, self.tolerance.pull_down))


class DiodeTolerance(Table):
    """Part to part, both ways."""

    pull_up: Tolerance = Field(default=0.0, description=SPREAD)
    series: Tolerance = Field(default=0.0, description=SPREAD)
    capacitor: Tolerance = Field(default=0.0, description=SPREAD)
    drop: Tolerance = Field(default=0.0, description=SPREAD)


class RcWithDiode(Stage):
    """Pull-up at the contact, series resistor with a diode across it into the capacitor."""

    kind: Literal["rc with diode"]
    pull_up: Resistor = Field(description=PULL_UP)
    series: Resistor = Field(description=f"{INTO}, bridged by the diode one way")
    capacitor: Capacitor = Field(description=TO_GROUND)
    # 0.6 V for a small silicon diode: common practice, no source.
    drop: Volts = Field(default=0.6, description="voltage across the diode while it conducts")
    conducts: Annotated[str, Word(("charging", "discharging"))] = Field(
        description="which way is fast: the diode conducts while the capacitor is charging or discharging"
    )
    tolerance: DiodeTolerance = DiodeTolerance()

    def item(self) -> diode.DiodeCapacitor:
        """The network."""
        return diode.DiodeCapacitor(
            Part(self.pull_up, self.tolerance.pull_up),
            Part(self.series, self.tolerance.series),
            Part(self.capacitor, self.tolerance.capacitor),
            Part(self.drop, self.tolerance.drop),
            int(self.conducts == "charging"),
        )


class TwoSectionTolerance(Table):
    """Part to part, both ways."""

    pull_up: Tolerance = Field(default=0.0, description=SPREAD)
    first_series: Tolerance = Field(default=0.0, description=SPREAD)
    first_capacitor: Tolerance = Field(default=0.0, description=SPREAD)
    second_series: Tolerance = Field(default=0.0, description=SPREAD)
    second_capacitor: Tolerance = Field(default=0.0, description=SPREAD)


class TwoSectionRc(Stage):
    """Pull-up at the contact, and two sections of resistor and capacitor one after the other."""

    kind: Literal["two-section rc"]
    pull_up: Resistor = Field(description=PULL_UP)
    first_series: SeriesResistor = Field(description="resistor from the contact into the first capacitor")
    first_capacitor: Capacitor = Field(description="from between the resistors to ground")
    second_series: SeriesResistor = Field(description="resistor from the first capacitor into the second")
    second_capacitor: Capacitor = Field(description=TO_GROUND)
    tolerance: TwoSectionTolerance = TwoSectionTolerance()

    def item(self) -> ladder.TwoSection:
        """The network."""
        return ladder.TwoSection(
            Part(self.pull_up, self.tolerance.pull_up),
            Part(self.first_series, self.tolerance.first_series),
            Part(self.first_capacitor, self.tolerance.first_capacitor),
            Part(self.second_series, self.tolerance.second_series),
            Part(self.second_capacitor, self.tolerance.second_capacitor),
        )


NETWORKS: tuple[type[Stage], ...] = (
    Rc, AcrossContact, PullUp, RcAtCapacitor, RcToSupply, CapacitorBesidePullDown, PullDown, RcWithDiode,
    TwoSectionRc,
)  # fmt: skip
