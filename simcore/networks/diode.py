"""A steering diode across the series resistor: one way fast, the other slow.

The diode is ideal but for its drop: it carries nothing as long as the series resistor drops less than
that, and holds the drop there otherwise.  With the source (E, R) at the joint, a leakage L out of the
capacitor, s = 1 for a diode that lets the charge pass and -1 for one that lets the discharge pass,

    off:  tau = (R + series) C,  tends to E - L (R + series)
    on:   tau = R C,             tends to E - s drop - L R
    on while  s (E - v) > drop (R + series) / series

so the voltage is one exponential up to the border and another one from there.  It never turns back:
its rate of change depends on nothing but itself, without a step at the border.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from simcore.base.check import FARAD, OHM, VOLT
from simcore.base.compiling import member, rule
from simcore.base.description import RESISTOR, VOLTS, Key, NetworkDescription, Word, part_of
from simcore.base.draws import Part, toleranced
from simcore.networks.response import (
    NEVER_SECONDS,
    Drive,
    Facing,
    Node,
    Uniforms,
    beside,
    contact_source,
    facing,
    joint_volts,
    network_parts,
    node_after,
    node_crosses,
    node_rest,
    relaxed,
    relaxes_through,
)
from simcore.networks.single_pole import CAPACITOR_TO_GROUND, PULL_UP, SERIES, tolerances
from simcore.stages.facts import (
    Component,
    StageDrawing,
    components,
    drawing,
    network_values,
    parts_list,
    values_to_vary,
)


class DiodeCapacitor(NamedTuple):
    """Pull-up at the contact, series resistor into the capacitor, a diode across that resistor.

    ``drop`` (V) is the diode's; ``charging`` is 1 when it conducts while the capacitor charges (its
    cathode at the capacitor), 0 when it conducts while the capacitor discharges.
    """

    pull_up: Part
    series: Part
    capacitor: Part
    drop: Part
    charging: int


PARTS = (
    PULL_UP,
    Key("series", RESISTOR, f"{SERIES.meaning}, bridged by the diode one way"),
    CAPACITOR_TO_GROUND,
    # 0.6 V for a small silicon diode: common practice, no source.
    Key("drop", VOLTS, "voltage across the diode while it conducts", 0.6),
)

RC_WITH_DIODE = NetworkDescription(
    name="rc with diode",
    meaning="Pull-up at the contact, series resistor with a diode across it into the capacitor.",
    keys=(
        *PARTS,
        Key(
            "conducts",
            Word(("charging", "discharging")),
            "which way is fast: the diode conducts while the capacitor is charging or discharging",
        ),
        tolerances(*PARTS),
    ),
    build=lambda values: DiodeCapacitor(
        part_of(values, "pull_up"),
        part_of(values, "series"),
        part_of(values, "capacitor"),
        part_of(values, "drop"),
        int(values.conducts == "charging"),
    ),
)


class DiodePole(NamedTuple):
    """One built unit: ohms, ohms, farads, volts, and which way the diode lies."""

    pull: float
    series: float
    farads: float
    drop: float
    charging: int


class Phase(NamedTuple):
    """One of the two exponentials: volts tended to, time constant (s), and the volts from there to the
    border (signed, and free of cancellation).
    """

    target: float
    tau: float
    left: float


class DiodeBorder(NamedTuple):
    """Where the diode turns on or off: volts, and whether the voltage runs there through the border
    into conduction (1), out of it (-1), or only comes to rest at it (0).
    """

    volts: float
    into: int


@member(network_parts, DiodeCapacitor)
def diode_parts(network: DiodeCapacitor, u: Uniforms, w: Uniforms) -> DiodePole:
    return DiodePole(
        toleranced(network.pull_up, u[0]),
        toleranced(network.series, u[1]),
        toleranced(network.capacitor, u[2]),
        toleranced(network.drop, u[3]),
        network.charging,
    )


@rule
def held_back(parts: DiodePole, drive: Drive) -> float:
    """Leakage less the current at which the diode begins to conduct (A): times ohms it is the distance
    from the end of a phase to the border.
    """
    onset = parts.drop / parts.series
    return drive.leak - (onset if parts.charging else -onset)


@rule
def diode_phase(parts: DiodePole, drive: Drive, on: int) -> Phase:
    """The exponential with the diode conducting or not."""
    source = contact_source(parts.pull, 0.0, 0, drive)
    if parts.series <= 0.0:
        return Phase(source.volts - drive.leak * source.ohms, source.ohms * parts.farads, 0.0)
    if on:
        drop = parts.drop if parts.charging else -parts.drop
        target = source.volts - drop - drive.leak * source.ohms
        return Phase(target, source.ohms * parts.farads, source.ohms * held_back(parts, drive))
    ohms = source.ohms + parts.series
    return Phase(source.volts - drive.leak * ohms, ohms * parts.farads, ohms * held_back(parts, drive))


@rule
def diode_border(parts: DiodePole, drive: Drive) -> DiodeBorder:
    """The border; meaningless without a series resistor, which leaves the diode nothing to do."""
    source = contact_source(parts.pull, 0.0, 0, drive)
    drop = parts.drop if parts.charging else -parts.drop
    volts = source.volts - drop * (source.ohms + parts.series) / parts.series
    held = held_back(parts, drive)
    toward = held if parts.charging else -held
    return DiodeBorder(volts, 1 if toward > 0.0 else (-1 if toward < 0.0 else 0))


@rule
def conducts(parts: DiodePole, drive: Drive, x: float) -> int:
    """1 when the diode carries current with ``x`` volts on the capacitor."""
    if parts.series <= 0.0:
        return 0
    border = diode_border(parts, drive)
    beyond = border.volts - x if parts.charging else x - border.volts
    return 1 if beyond > 0.0 or (beyond == 0.0 and border.into > 0) else 0


@rule
def diode_turns(parts: DiodePole, drive: Drive, x: float) -> float:
    """Seconds until the diode turns on or off, NEVER_SECONDS when it stays as it is."""
    on = conducts(parts, drive, x)
    if parts.series <= 0.0 or diode_border(parts, drive).into != (-1 if on else 1):
        return NEVER_SECONDS
    phase = diode_phase(parts, drive, on)
    share = (x - phase.target) / phase.left if phase.left != 0.0 else 1.0
    return phase.tau * math.log(share) if phase.tau > 0.0 and share > 1.0 else 0.0


@member(node_rest, DiodePole)
def diode_rest(parts: DiodePole, drive: Drive) -> Node:
    """Conducting at rest only when the leakage alone drops more over the resistor than the diode."""
    on = 1 if parts.series > 0.0 and diode_border(parts, drive).into > 0 else 0
    return Node(diode_phase(parts, drive, on).target, 0.0)


@member(node_after, DiodePole)
def diode_after(parts: DiodePole, drive: Drive, node: Node, seconds: float) -> Node:
    """One exponential, or one up to the border and the other from there."""
    on = conducts(parts, drive, node.x)
    turns = diode_turns(parts, drive, node.x)
    phase = diode_phase(parts, drive, on)
    if turns == NEVER_SECONDS or seconds < turns:
        return Node(relaxed(node.x, phase.target, phase.tau, seconds), 0.0)
    border = diode_border(parts, drive).volts
    phase = diode_phase(parts, drive, 1 - on)
    return Node(relaxed(border, phase.target, phase.tau, seconds - turns), 0.0)


@member(node_crosses, DiodePole)
def diode_crosses(parts: DiodePole, drive: Drive, node: Node, volts: float, up: int) -> float:
    """Before the border by the one exponential, from there on by the other."""
    on = conducts(parts, drive, node.x)
    turns = diode_turns(parts, drive, node.x)
    phase = diode_phase(parts, drive, on)
    if turns == NEVER_SECONDS:
        return relaxes_through(node.x, phase.target, phase.tau, volts, up)
    border = diode_border(parts, drive).volts
    if volts < border if up else volts > border:
        return relaxes_through(node.x, phase.target, phase.tau, volts, up)
    if node.x > border if up else node.x < border:
        return NEVER_SECONDS
    phase = diode_phase(parts, drive, 1 - on)
    rest = relaxes_through(border, phase.target, phase.tau, volts, up)
    return NEVER_SECONDS if rest == NEVER_SECONDS else turns + rest


@facing.register
def diode_facing(parts: DiodePole, volts: float, node: Node) -> Facing:
    """A diode that lets the discharge pass holds the joint no lower than its drop below the capacitor."""
    path = parts.series if parts.farads > 0.0 else math.inf
    across = joint_volts(parts.pull, path, volts, node.x)
    steers = not parts.charging and parts.series > 0.0 and parts.farads > 0.0
    held = node.x - parts.drop if steers else -math.inf
    return Facing(across, beside(parts.pull, path), parts.pull, parts.farads, held)


@parts_list.register
def diode_components(network: DiodeCapacitor) -> tuple[Component, ...]:
    return components(network, pull_up=OHM, series=OHM, capacitor=FARAD, drop=VOLT)


values_to_vary.register(DiodeCapacitor, network_values)


@drawing.register
def diode_drawing(network: DiodeCapacitor) -> StageDrawing:
    way = "charges" if network.charging else "discharges"
    return StageDrawing(
        (("supply", "pull_up", "contact"), ("contact", "series", "input")), (("input", "capacitor"),),
        "ground",
        f"a diode of {{drop}} across the {{series}}, which conducts while the capacitor {way}",
    )  # fmt: skip
