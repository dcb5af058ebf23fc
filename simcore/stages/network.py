"""Networks between the contact and the input: each is two sources into one capacitor.

In either state of the contact a single-pole network is a Thevenin source: a voltage that
the capacitor tends to and a time constant it takes.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.compiling import family, family_with_default, member, rule
from simcore.base.draws import Part, toleranced


class Direct(NamedTuple):
    """No capacitor: a pull-up, and the line follows the contact at once."""

    pull_up: Part


class SeriesCapacitor(NamedTuple):
    """Pull-up, series resistor into the capacitor.

    Open: (pull-up + series) C to the supply.  Closed: (series + contact) C to about 0.
    """

    pull_up: Part
    series: Part
    capacitor: Part


class AcrossCapacitor(NamedTuple):
    """Capacitor straight across the contact.

    Open: pull-up x C to the supply.  Closed: contact resistance x C, a current spike.
    """

    pull_up: Part
    capacitor: Part


class AtCapacitor(NamedTuple):
    """Pull-up at the capacitor, series resistor from there to the contact.

    Open: pull-up x C to the supply.  Closed: (series + contact) in parallel with the pull-up, times C, to
    what that divider leaves.
    """

    pull_up: Part
    series: Part
    capacitor: Part


class PullDownDirect(NamedTuple):
    """Direct mirrored: a pull-down, and a contact to the supply."""

    pull_down: Part


class PullDownSeries(NamedTuple):
    """SeriesCapacitor mirrored: pull-down and contact to the supply, series resistor into the capacitor.

    Open: (pull-down + series) C to 0.  Closed: (series + contact) C to about the supply.
    """

    pull_down: Part
    series: Part
    capacitor: Part


class PullDownAcross(NamedTuple):
    """AcrossCapacitor mirrored: capacitor from the line to ground, beside the pull-down.

    Under a constant supply its line moves as with the capacitor straight across the contact, but it
    holds the line up against ground, so a dip of the supply does not reach through it.
    Open: pull-down x C to 0.  Closed: contact resistance x C, a current spike.
    """

    pull_down: Part
    capacitor: Part


class Sources(NamedTuple):
    """The two Thevenin sources: volts tended to and time constants (s)."""

    v_open: float
    tau_open: float
    v_closed: float
    tau_closed: float


@family
def network_sources(network: Any, volts: float, ohms: float, u: tuple[float, float, float, float]) -> Sources:
    """The sources of one built unit: supply ``volts``, contact resistance ``ohms``, draws ``u``."""
    raise NotImplementedError


@family_with_default
def network_idle(network: Any) -> int:
    """The level that the line rests at with its contact open: high, behind a pull-up."""
    return 1


@member(network_idle, PullDownDirect)
def direct_down_idle(network: PullDownDirect) -> int:
    """Low, by the pull-down."""
    return 0


@member(network_idle, PullDownSeries)
def series_down_idle(network: PullDownSeries) -> int:
    """Low, by the pull-down."""
    return 0


@member(network_idle, PullDownAcross)
def across_down_idle(network: PullDownAcross) -> int:
    """Low, by the pull-down."""
    return 0


@rule
def divided(volts: float, upper: float, lower: float) -> float:
    """Voltage across ``lower`` of a divider."""
    return volts * lower / (upper + lower)


@rule
def parallel(x: float, y: float) -> float:
    """Two resistances in parallel (ohm)."""
    return x * y / (x + y)


@member(network_sources, Direct)
def direct_sources(
    network: Direct, volts: float, ohms: float, u: tuple[float, float, float, float]
) -> Sources:
    """Time constants of zero."""
    return Sources(volts, 0.0, divided(volts, toleranced(network.pull_up, u[0]), ohms), 0.0)


@member(network_sources, SeriesCapacitor)
def series_sources(
    network: SeriesCapacitor, volts: float, ohms: float, u: tuple[float, float, float, float]
) -> Sources:
    """The contact pulls the far end of the series resistor down."""
    pull_up = toleranced(network.pull_up, u[0])
    series = toleranced(network.series, u[1])
    farads = toleranced(network.capacitor, u[2])
    return Sources(
        volts,
        (pull_up + series) * farads,
        divided(volts, pull_up, ohms),
        (series + parallel(pull_up, ohms)) * farads,
    )


@member(network_sources, AcrossCapacitor)
def across_sources(
    network: AcrossCapacitor, volts: float, ohms: float, u: tuple[float, float, float, float]
) -> Sources:
    """Only the contact's own resistance limits the discharge."""
    pull_up = toleranced(network.pull_up, u[0])
    farads = toleranced(network.capacitor, u[1])
    return Sources(volts, pull_up * farads, divided(volts, pull_up, ohms), parallel(pull_up, ohms) * farads)


@member(network_sources, AtCapacitor)
def at_capacitor_sources(
    network: AtCapacitor, volts: float, ohms: float, u: tuple[float, float, float, float]
) -> Sources:
    """The series resistor helps the contact's own."""
    pull_up = toleranced(network.pull_up, u[0])
    lower = toleranced(network.series, u[1]) + ohms
    farads = toleranced(network.capacitor, u[2])
    return Sources(volts, pull_up * farads, divided(volts, pull_up, lower), parallel(pull_up, lower) * farads)


@member(network_sources, PullDownDirect)
def direct_down_sources(
    network: PullDownDirect, volts: float, ohms: float, u: tuple[float, float, float, float]
) -> Sources:
    """Time constants of zero."""
    return Sources(0.0, 0.0, divided(volts, ohms, toleranced(network.pull_down, u[0])), 0.0)


@member(network_sources, PullDownSeries)
def series_down_sources(
    network: PullDownSeries, volts: float, ohms: float, u: tuple[float, float, float, float]
) -> Sources:
    """The contact pulls the far end of the series resistor up."""
    pull_down = toleranced(network.pull_down, u[0])
    series = toleranced(network.series, u[1])
    farads = toleranced(network.capacitor, u[2])
    return Sources(
        0.0,
        (pull_down + series) * farads,
        divided(volts, ohms, pull_down),
        (series + parallel(pull_down, ohms)) * farads,
    )


@member(network_sources, PullDownAcross)
def across_down_sources(
    network: PullDownAcross, volts: float, ohms: float, u: tuple[float, float, float, float]
) -> Sources:
    """Only the contact's own resistance limits the charge."""
    pull_down = toleranced(network.pull_down, u[0])
    farads = toleranced(network.capacitor, u[1])
    return Sources(
        0.0, pull_down * farads, divided(volts, ohms, pull_down), parallel(pull_down, ohms) * farads
    )
