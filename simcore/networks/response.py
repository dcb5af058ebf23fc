"""How a built network answers: the contract between a network and whatever reads its voltage.

A network is drawn once per unit (`network_parts`).  Under a constant `Drive` (state of the contact,
supply, contact resistance, leakage) the voltages of its nodes then follow a law that is known in closed
form, so time is not stepped:

* ``node_rest(parts, drive)`` where the nodes come to rest;
* ``node_after(parts, drive, node, seconds)`` where they are after a time;
* ``node_crosses(parts, drive, node, volts, up)`` when the input's node passes a voltage upward
  (``up`` 1) or downward (0).  A network may turn back once under a constant drive, never twice: each of
  the two crossings happens once or not at all, so after one of them the other can be computed
  without finding the first again;
* ``node_reaches(parts, drive, node, volts)`` when it first has a voltage, from whichever side.

Any change of the drive is an event: take the node from `node_after` and go on under the new drive.  A
node without capacitance takes its new voltage at once, whatever the seconds, even 0.
"""

from __future__ import annotations

import math
from functools import singledispatch
from typing import Any, NamedTuple

from simcore.base.compiling import family, family_with_default, member, rule

NEVER_SECONDS = -1.0
"""Instead of a time (s): it does not happen."""

Uniforms = tuple[float, float, float, float]


class Drive(NamedTuple):
    """What acts on a network: the contact (1 closed), the supply (V), the resistance of the closed
    contact (ohm) and the current that the input draws out of its node (A, signed).
    """

    closed: int
    volts: float
    ohms: float
    leak: float


class Node(NamedTuple):
    """Volts of the node that the input sees, and of a second node (0.0 where there is none)."""

    x: float
    y: float


class SinglePole(NamedTuple):
    """Parts of one built network with one capacitor or none.

    ``pull`` (ohm) joins a rail to a joint; ``outer`` (ohm) the joint to the contact, which closes to the
    other rail; ``series`` (ohm) the joint to the input's node, where ``farads`` sit.  ``to_supply`` is 1
    for a pull-down and a contact to the supply, 0 for a pull-up and a contact to ground.
    """

    pull: float
    outer: float
    series: float
    farads: float
    to_supply: int


class TheveninSource(NamedTuple):
    """A Thevenin source: volts behind ohms."""

    volts: float
    ohms: float


class PoleSources(NamedTuple):
    """The two Thevenin sources: volts tended to and time constants (s)."""

    v_open: float
    tau_open: float
    v_closed: float
    tau_closed: float


@family
def network_parts(network: Any, u: Uniforms, w: Uniforms) -> Any:
    """The parts of one built unit.

    Draws ``u`` are taken first, in the order of the network's fields; ``w`` from the fifth part on.  A
    caller takes ``u`` from the stage's draws 0 and ``w`` from its draws 2; number 1 belongs to the input.
    """
    raise NotImplementedError


@family_with_default
def network_idle(network: Any) -> int:
    """The level that the line rests at with its contact open: high, behind a pull-up."""
    return 1


@family_with_default
def single_pole(network: Any) -> int:
    """1 for a network whose parts are a SinglePole, so that an Analogue can take it."""
    return 0


@family
def node_rest(parts: Any, drive: Drive) -> Node:
    """The voltages that the nodes tend to (V)."""
    raise NotImplementedError


@family
def node_after(parts: Any, drive: Drive, node: Node, seconds: float) -> Node:
    """The voltages (V) ``seconds`` (s, not negative) after they were ``node``."""
    raise NotImplementedError


@family
def node_crosses(parts: Any, drive: Drive, node: Node, volts: float, up: int) -> float:
    """Seconds until the input's node passes ``volts`` upward (``up`` 1) or downward (0).

    0.0 if it leaves ``volts`` in that direction at once, or jumps across; NEVER_SECONDS if it only
    tends to ``volts``, or is beyond them and does not come back to cross again.
    """
    raise NotImplementedError


@family_with_default
def node_jumps(parts: Any, ohms: float) -> int:
    """Whether the input's node may jump at a change of the contact, whose resistance when closed is
    ``ohms``; 1 if it says nothing.
    """
    return 1


@rule
def node_reaches(parts: Any, drive: Drive, node: Node, volts: float) -> float:
    """Seconds until the input's node first has ``volts``, or jumps across them; 0.0 if it has them
    now, NEVER_SECONDS if it never has.
    """
    if node.x == volts:
        return 0.0
    return node_crosses(parts, drive, node, volts, 1 if node.x < volts else 0)


@rule
def divided(volts: float, upper: float, lower: float) -> float:
    """Voltage across ``lower`` of a divider."""
    return volts * lower / (upper + lower)


@rule
def parallel(x: float, y: float) -> float:
    return x * y / (x + y)


@rule
def contact_source(pull: float, outer: float, to_supply: int, drive: Drive) -> TheveninSource:
    """The source at the joint of a pull resistor and a contact behind ``outer`` (ohm)."""
    if not drive.closed:
        return TheveninSource(0.0 if to_supply else drive.volts, pull)
    ohms = outer + drive.ohms
    if to_supply:
        return TheveninSource(divided(drive.volts, ohms, pull), parallel(pull, ohms))
    return TheveninSource(divided(drive.volts, pull, ohms), parallel(pull, ohms))


@rule
def pole_source(parts: SinglePole, drive: Drive) -> TheveninSource:
    """The source at the input's node; leakage lowers its volts by the drop over its ohms."""
    source = contact_source(parts.pull, parts.outer, parts.to_supply, drive)
    ohms = parts.series + source.ohms
    return TheveninSource(source.volts - drive.leak * ohms, ohms)


@rule
def pole_sources(parts: SinglePole, volts: float, ohms: float, leak: float) -> PoleSources:
    """Both sources of a single pole under a constant supply."""
    opened = pole_source(parts, Drive(0, volts, ohms, leak))
    closed = pole_source(parts, Drive(1, volts, ohms, leak))
    return PoleSources(opened.volts, opened.ohms * parts.farads, closed.volts, closed.ohms * parts.farads)


@rule
def relaxed(start: float, target: float, tau: float, seconds: float) -> float:
    """A voltage on its way from ``start`` to ``target`` (V) with time constant ``tau`` (s)."""
    if tau <= 0.0:
        return target
    return target + (start - target) * math.exp(-seconds / tau)


@rule
def relaxes_through(start: float, target: float, tau: float, volts: float, up: int) -> float:
    """Seconds until that voltage passes ``volts`` upward or downward, else NEVER_SECONDS.

    ``tau ln((start - target) / (volts - target))``: any text on circuits.
    """
    sign = 1.0 if up else -1.0
    swing, left = sign * (target - start), sign * (target - volts)
    if swing <= 0.0 or left > swing or left < 0.0:
        return NEVER_SECONDS
    if tau <= 0.0:
        return 0.0
    if left == 0.0:
        return NEVER_SECONDS
    return tau * math.log(swing / left)


@member(node_rest, SinglePole)
def pole_rest(parts: SinglePole, drive: Drive) -> Node:
    return Node(pole_source(parts, drive).volts, 0.0)


@member(node_after, SinglePole)
def pole_after(parts: SinglePole, drive: Drive, node: Node, seconds: float) -> Node:
    source = pole_source(parts, drive)
    return Node(relaxed(node.x, source.volts, source.ohms * parts.farads, seconds), 0.0)


@member(node_crosses, SinglePole)
def pole_crosses(parts: SinglePole, drive: Drive, node: Node, volts: float, up: int) -> float:
    """One logarithm; a single pole never turns back."""
    source = pole_source(parts, drive)
    return relaxes_through(node.x, source.volts, source.ohms * parts.farads, volts, up)


@member(node_jumps, SinglePole)
def pole_jumps(parts: SinglePole, ohms: float) -> int:
    """Without capacitance, or with one that nothing charges through."""
    slow = parts.farads > 0.0 and parts.pull > 0.0 and parts.series + parts.outer + ohms > 0.0
    return 0 if slow else 1


class Facing(NamedTuple):
    """What a contact faces as it closes: ``volts`` across it, ``ohms`` behind that, the resistance
    ``pull`` through which current goes on to flow, and all capacitance that it moves (F); the closed contact
    has ``held`` volts at least across it, where a diode sees to that (else -infinite).
    """

    volts: float
    ohms: float
    pull: float
    farads: float
    held: float = -math.inf


@singledispatch
def facing(parts: Any, volts: float, node: Node) -> Facing | None:
    """What the contact of a built network faces under a supply of ``volts``, the network being at rest at
    ``node`` with the contact open; None for a network that does not say.
    """
    return None


def joint_volts(pull: float, path: float, rail: float, held: float) -> float:
    """Volts of the joint between a rail behind ``pull`` and a capacitor behind ``path`` (ohm)."""
    return rail if math.isinf(path) else (rail * path + held * pull) / (pull + path)


def beside(pull: float, path: float) -> float:
    """Ohms of both together."""
    return pull if math.isinf(path) else parallel(pull, path)


@facing.register
def pole_facing(parts: SinglePole, volts: float, node: Node) -> Facing:
    """The capacitor behind the series resistor, and all of it behind the outer one."""
    path = parts.series if parts.farads > 0.0 else math.inf
    open_volts = joint_volts(parts.pull, path, 0.0 if parts.to_supply else volts, node.x)
    across = volts - open_volts if parts.to_supply else open_volts
    return Facing(across, parts.outer + beside(parts.pull, path), parts.pull + parts.outer, parts.farads)
