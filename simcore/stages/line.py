"""One built line of a Waveform: its parts, its state, and where its voltage is.

See waveform for what it does.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.compiling import member, rule
from simcore.base.draws import RESISTANCE, SUPPLY, Part, four, lognormal, normal_pair, purpose, toleranced
from simcore.stages.analogue import Resistance
from simcore.stages.base import stage_build, stage_draws
from simcore.stages.inputs import Thresholds, input_thresholds, leakage_current
from simcore.stages.noise import noise_step
from simcore.stages.response import Drive, Node, network_parts, node_after
from simcore.stages.supply import Dips, Mains

NOTHING_OWED = -1
"""Nobody had a change coming."""


class Waveform(NamedTuple):
    """Supply, contact, network and input of one line, and the supply's dips; with ``power_up`` 1 the
    capacitors are empty at tick 0; the network's draws are at an address of its own.
    """

    supply: Part
    resistance: Resistance
    network: Any
    logic: Any
    dips: Dips
    power_up: int
    network_address: int = 0


class Place(NamedTuple):
    """Where draws come from."""

    seed: int
    run: int
    line: int


class Line(NamedTuple):
    """One built line.  ``steady`` and ``dipped`` are the thresholds (V) under ``volts`` and ``low_volts``
    of supply; ``sigma`` (V) and ``step`` (ticks, 0 for none) are the noise and its grid; ``ohms`` the
    contact's resistance, as far as it is the unit's.
    """

    place: Place
    parts: Any
    volts: float
    low_volts: float
    steady: Thresholds
    dipped: Thresholds
    resistance: Resistance
    ohms: float
    leak: float
    sigma: float
    step: int
    dips: Dips
    power_up: int


class Blame(NamedTuple):
    """Who is behind the next change: ``owner`` is what moved the voltage last (an origin; MAIN for the
    contact) and ``changes`` 1 when it has had its change; ``owed`` is what had a change coming before
    that (an origin or NOTHING_OWED); ``tag`` is whose the latest change was.
    """

    owner: int
    changes: int
    owed: int
    tag: int


class Wave(NamedTuple):
    """The voltages ``node`` at tick ``time``, under a drive that has been ``fresh`` since then if 1; the
    level ``high`` before inversion; the first instant of the noise's grid yet to decide (``look``).
    """

    time: int
    node: Node
    closed: int
    ohms: float
    high: int
    fresh: int
    look: int
    mains: Mains
    blame: Blame


@member(stage_build, Waveform)
def build(spec: Waveform, seed: int, run: int, address: int) -> Line:
    """Draw one unit with the draws that `Analogue` makes: the supply is common to both lines."""
    place = Place(seed, run, address % 2)
    volts = toleranced(spec.supply, four(seed, run, purpose(SUPPLY, 0), 0)[0])
    low_volts = volts * (1.0 - spec.dips.depth)
    own = spec.network_address + place.line
    v = stage_draws(seed, run, address, 1)
    noise = spec.logic.noise
    return Line(
        place,
        network_parts(spec.network, stage_draws(seed, run, own, 0), stage_draws(seed, run, own, 2)),
        volts,
        low_volts,
        input_thresholds(spec.logic, volts, v),
        input_thresholds(spec.logic, low_volts, v),
        spec.resistance,
        closed_ohms(spec.resistance, place, place.line, 0),
        leakage_current(spec.logic.leakage, v[3]),
        noise.rms,
        noise_step(noise.bandwidth) if noise.rms > 0.0 else 0,
        spec.dips,
        spec.power_up,
    )


@rule
def closed_ohms(resistance: Resistance, place: Place, item: int, index: int) -> float:
    """A closed contact's resistance (ohm), drawn at an address."""
    w = four(place.seed, place.run, purpose(RESISTANCE, item), index)
    return lognormal(resistance.median, resistance.spread, normal_pair(w[0], w[1])[0])


@rule
def ohms_from(params: Line, ohms: float, time: int, level: int) -> float:
    """The contact's resistance from a change at ``time`` on: a new one if it closes and each closure
    has its own.
    """
    if level and params.resistance.per_closure:
        return closed_ohms(params.resistance, params.place, 2 + params.place.line, time)
    return ohms


@rule
def drive_of(params: Line, closed: int, ohms: float, low: int) -> Drive:
    """What acts on the network."""
    return Drive(closed, params.low_volts if low else params.volts, ohms, params.leak)


@rule
def drive_now(params: Line, state: Wave) -> Drive:
    """What acts on the network since the state's own tick."""
    return drive_of(params, state.closed, state.ohms, state.mains.low)


@rule
def node_at(params: Line, state: Wave, time: int) -> Node:
    """The voltages at ``time``, not before the state's own."""
    return node_after(params.parts, drive_now(params, state), state.node, (time - state.time) * 1.0e-12)


@rule
def driven(params: Line, state: Wave, time: int, drive: Drive) -> Node:
    """The voltages at ``time``, once the drive has changed there: what has no capacitance jumps."""
    return node_after(params.parts, drive, node_at(params, state, time), 0.0)
