"""Single-pole networks between the contact and the input: each is two sources into one capacitor.

In either state of the contact such a network is a Thevenin source: a voltage that the capacitor
tends to and a time constant it takes.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.compiling import member
from simcore.base.description import (
    CAPACITOR,
    RESISTOR,
    SERIES_RESISTOR,
    Key,
    NetworkDescription,
    part_of,
    tolerance,
)
from simcore.base.draws import Part, toleranced
from simcore.networks.response import SinglePole, Uniforms, network_idle, network_parts, single_pole
from simcore.stages.facts import (
    StageDrawing,
    drawing,
    network_components,
    network_values,
    parts_list,
    values_to_vary,
    with_resistor,
)


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


PULL_UP = Key("pull_up", RESISTOR, "resistor from the contact to the supply; the contact closes to ground")
PULL_DOWN = Key(
    "pull_down", RESISTOR, "resistor from the contact to ground; the contact closes to the supply"
)
SERIES = Key("series", SERIES_RESISTOR, "resistor from the contact into the capacitor")
CAPACITOR_TO_GROUND = Key("capacitor", CAPACITOR, "from the input to ground")
PART_TO_PART = "part to part, as a share of the value"


def tolerances(*keys: Key) -> Key:
    return tolerance(**{key.name: PART_TO_PART for key in keys})


def network(record: Any, name: str, meaning: str, *keys: Key) -> NetworkDescription:
    """A network of parts alone, each with a tolerance, in the order of the record's fields."""
    names = tuple(key.name for key in keys)
    return NetworkDescription(
        name=name,
        meaning=meaning,
        keys=(*keys, tolerances(*keys)),
        build=lambda values: record(*(part_of(values, each) for each in names)),
    )


RC = network(
    SeriesCapacitor, "rc", "Pull-up at the contact, series resistor into the capacitor.",
    PULL_UP, SERIES, CAPACITOR_TO_GROUND,
)  # fmt: skip
ACROSS_CONTACT = network(
    AcrossCapacitor, "capacitor across contact", "Pull-up, and the capacitor straight across the contact.",
    PULL_UP, Key("capacitor", CAPACITOR, "across the contact, which discharges it in a spike"),
)  # fmt: skip
PULL_UP_ONLY = network(Direct, "pull-up", "A pull-up and nothing else.", PULL_UP)
RC_AT_CAPACITOR = network(
    AtCapacitor, "rc at capacitor",
    "Pull-up at the capacitor, series resistor from there to the contact.",
    Key("pull_up", RESISTOR, "resistor from the capacitor to the supply"),
    Key("series", SERIES_RESISTOR, "resistor from the capacitor to the contact"),
    CAPACITOR_TO_GROUND,
)  # fmt: skip
RC_TO_SUPPLY = network(
    PullDownSeries, "rc to supply",
    "Contact to the supply with a pull-down, series resistor into the capacitor.",
    PULL_DOWN, SERIES, CAPACITOR_TO_GROUND,
)  # fmt: skip
BESIDE_PULL_DOWN = network(
    PullDownAcross, "capacitor beside pull-down",
    "Contact to the supply with a pull-down, and the capacitor beside the pull-down.",
    PULL_DOWN, Key("capacitor", CAPACITOR, "from the contact to ground; the contact charges it in a spike"),
)  # fmt: skip
PULL_DOWN_ONLY = network(
    PullDownDirect, "pull-down", "Contact to the supply with a pull-down and nothing else.", PULL_DOWN
)

ASSUMED_PULL_UP = Direct(Part(10.0e3, 0.0))
"""What an input without a network has: the pull-up (ohm) inside many a chip; common practice, no source."""


@member(network_idle, PullDownDirect)
@member(network_idle, PullDownSeries)
@member(network_idle, PullDownAcross)
def pull_down_idle(network: Any) -> int:
    return 0


@member(single_pole, Direct)
@member(single_pole, SeriesCapacitor)
@member(single_pole, AcrossCapacitor)
@member(single_pole, AtCapacitor)
@member(single_pole, PullDownDirect)
@member(single_pole, PullDownSeries)
@member(single_pole, PullDownAcross)
def one_pole(network: Any) -> int:
    return 1


@member(network_parts, Direct)
def direct_parts(network: Direct, u: Uniforms, w: Uniforms) -> SinglePole:
    return SinglePole(toleranced(network.pull_up, u[0]), 0.0, 0.0, 0.0, 0)


@member(network_parts, SeriesCapacitor)
def series_parts(network: SeriesCapacitor, u: Uniforms, w: Uniforms) -> SinglePole:
    """The series resistor lies between joint and input."""
    return SinglePole(
        toleranced(network.pull_up, u[0]),
        0.0,
        toleranced(network.series, u[1]),
        toleranced(network.capacitor, u[2]),
        0,
    )


@member(network_parts, AcrossCapacitor)
def across_parts(network: AcrossCapacitor, u: Uniforms, w: Uniforms) -> SinglePole:
    return SinglePole(toleranced(network.pull_up, u[0]), 0.0, 0.0, toleranced(network.capacitor, u[1]), 0)


@member(network_parts, AtCapacitor)
def at_capacitor_parts(network: AtCapacitor, u: Uniforms, w: Uniforms) -> SinglePole:
    """The series resistor lies on the contact's side of the joint."""
    return SinglePole(
        toleranced(network.pull_up, u[0]),
        toleranced(network.series, u[1]),
        0.0,
        toleranced(network.capacitor, u[2]),
        0,
    )


@member(network_parts, PullDownDirect)
def direct_down_parts(network: PullDownDirect, u: Uniforms, w: Uniforms) -> SinglePole:
    return SinglePole(toleranced(network.pull_down, u[0]), 0.0, 0.0, 0.0, 1)


@member(network_parts, PullDownSeries)
def series_down_parts(network: PullDownSeries, u: Uniforms, w: Uniforms) -> SinglePole:
    return SinglePole(
        toleranced(network.pull_down, u[0]),
        0.0,
        toleranced(network.series, u[1]),
        toleranced(network.capacitor, u[2]),
        1,
    )


@member(network_parts, PullDownAcross)
def across_down_parts(network: PullDownAcross, u: Uniforms, w: Uniforms) -> SinglePole:
    return SinglePole(toleranced(network.pull_down, u[0]), 0.0, 0.0, toleranced(network.capacitor, u[1]), 1)


FROM_SUPPLY, TO_GROUND = ("supply", "pull_up", "contact"), ("supply", "contact", "pull_down", "ground")
INTO_INPUT, INTO_CAPACITOR = ("contact", "input"), ("contact", "series", "input")
AT_INPUT, AT_CONTACT = (("input", "capacitor"),), (("contact", "capacitor"),)
DRAWINGS = {
    Direct: StageDrawing((FROM_SUPPLY, INTO_INPUT), closes_to="ground"),
    SeriesCapacitor: StageDrawing((FROM_SUPPLY, INTO_CAPACITOR), AT_INPUT, "ground"),
    AcrossCapacitor: StageDrawing((FROM_SUPPLY, INTO_INPUT), AT_CONTACT, "ground"),
    AtCapacitor: StageDrawing(
        (("supply", "pull_up", "input"), ("input", "series", "contact")), AT_INPUT, "ground"
    ),
    PullDownDirect: StageDrawing((TO_GROUND, INTO_INPUT), closes_to="supply"),
    PullDownSeries: StageDrawing((TO_GROUND, INTO_CAPACITOR), AT_INPUT, "supply"),
    PullDownAcross: StageDrawing((TO_GROUND, INTO_INPUT), AT_CONTACT, "supply"),
}
for _kind in DRAWINGS:
    parts_list.register(_kind, network_components)
    values_to_vary.register(_kind, network_values)
    drawing.register(_kind, lambda network: DRAWINGS[type(network)])


@with_resistor.register
def across_with_resistor(network: AcrossCapacitor, ohms: float) -> tuple[str, SeriesCapacitor]:
    return "rc", SeriesCapacitor(network.pull_up, Part(ohms, 0.0), network.capacitor)


@with_resistor.register
def across_down_with_resistor(network: PullDownAcross, ohms: float) -> tuple[str, PullDownSeries]:
    return "rc to supply", PullDownSeries(network.pull_down, Part(ohms, 0.0), network.capacitor)
