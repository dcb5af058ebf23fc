"""One line, slowly: contact, capacitor and input as one object that knows its voltage."""

from __future__ import annotations

import math
from dataclasses import dataclass

from simcore.design import Design
from simcore.networks.inputs import Level, PlainInput, SchmittInput
from simcore.networks.single_pole import AcrossCapacitor, Direct, SeriesCapacitor

from .slow_draws import RESISTANCE, STAGE, SUPPLY, Four, item_of, lognormal, normals, toleranced, uniforms

TOO_FAR = 4.0e6
"""Crossings later than this (s) count as never."""


@dataclass
class Edge:
    """A level change: tick, the transition it came from (None: no movement) and its origin."""

    time: int
    transition: int | None
    origin: int


@dataclass
class Unit:
    """One built line: volts and time constants (s) with the contact open and closed, thresholds."""

    open_volts: float
    open_tau: float
    closed_volts: float
    closed_tau: float
    rising: float
    falling: float
    inverting: bool

    def __post_init__(self) -> None:
        assert self.open_volts >= self.closed_volts >= 0.0, "a closed contact pulls the line down"
        assert self.open_tau >= 0.0
        assert self.closed_tau >= 0.0
        assert self.falling <= self.rising


@dataclass
class Parts:
    """What the design puts on one line: where the draws of each are, the network (None) and the input."""

    network_item: int
    logic_item: int
    network: Direct | SeriesCapacitor | AcrossCapacitor | None
    logic: SchmittInput | PlainInput


def parts_of(design: Design, line: int) -> Parts | None:
    """The network and the input of a line, or None for a line read straight off the contact."""
    network, network_item = None, 0
    for entry in design.stages:
        if line not in entry.lines:
            continue
        if isinstance(entry.item, (SchmittInput, PlainInput)):
            return Parts(network_item + line, item_of(entry.name) + line, network, entry.item)
        network, network_item = entry.item, item_of(entry.name)
    assert network is None, "a network without an input"
    return None


def volts_of(level: Level, supply: float, u: float) -> float:
    """A threshold in volts."""
    value = toleranced(level.part, u)
    return value * supply if level.of_supply else value


def thresholds(logic: SchmittInput | PlainInput, supply: float, u: Four) -> tuple[float, float]:
    """Rising and falling threshold of one built input."""
    if isinstance(logic, SchmittInput):
        rising = volts_of(logic.rising, supply, u[0])
        return rising, min(rising, volts_of(logic.falling, supply, u[1]))
    low, high = volts_of(logic.low, supply, 0.5), volts_of(logic.high, supply, 0.5)
    threshold = low + (high - low) * u[0]
    return threshold, threshold


def build(design: Design, parts: Parts, seed: int, run: int, line: int) -> Unit:
    """Draw one unit of a line."""
    supply = toleranced(design.supply, uniforms(seed, run, SUPPLY, 0, 0)[0])
    w = uniforms(seed, run, RESISTANCE, line, 0)
    contact = lognormal(design.resistance.median, design.resistance.spread, normals(w[0], w[1])[0])
    u = uniforms(seed, run, STAGE, parts.network_item, 0)
    rising, falling = thresholds(parts.logic, supply, uniforms(seed, run, STAGE, parts.logic_item, 1))
    pull_up, farads, series = 10e3, 0.0, 0.0
    if parts.network is not None:
        pull_up = toleranced(parts.network.pull_up, u[0])
    if isinstance(parts.network, SeriesCapacitor):
        series = toleranced(parts.network.series, u[1])
        farads = toleranced(parts.network.capacitor, u[2])
    if isinstance(parts.network, AcrossCapacitor):
        farads = toleranced(parts.network.capacitor, u[1])
    both = pull_up * contact / (pull_up + contact)
    return Unit(
        supply, (pull_up + series) * farads,
        supply * contact / (pull_up + contact), (series + both) * farads,
        rising, falling, parts.logic.inverting == 1,
    )  # fmt: skip


class Line:
    """A capacitor that charges and discharges, and an input that watches it.

    ``volts`` held at tick ``since``; ``doubt`` is how far (ticks) float rounding can have moved
    the crossing announced last.
    """

    def __init__(self, unit: Unit, closed: bool) -> None:
        self.unit = unit
        self.closed = closed
        self.since = 0
        self.volts = unit.closed_volts if closed else unit.open_volts
        self.high = self.volts >= unit.rising
        self.latest: Edge | None = None

    @property
    def output(self) -> int:
        """The level behind the input."""
        return int(self.high != self.unit.inverting)

    def target(self) -> tuple[float, float]:
        """Where the voltage is going, and with what time constant (s)."""
        if self.closed:
            return self.unit.closed_volts, self.unit.closed_tau
        return self.unit.open_volts, self.unit.open_tau

    def contact_changes(self, edge: Edge) -> None:
        """The contact opens or closes; the voltage goes on from where it is."""
        assert edge.time >= self.since, "time runs backward"
        goal, tau = self.target()
        gone = (edge.time - self.since) * 1e-12
        self.volts = goal + (self.volts - goal) * math.exp(-gone / tau) if tau > 0.0 else goal
        assert self.unit.closed_volts - 1e-9 <= self.volts <= self.unit.open_volts + 1e-9
        self.since = edge.time
        self.closed = not self.closed
        self.latest = edge

    def next_crossing(self) -> int | None:
        """The tick at which the input turns over if the contact stays put, or None."""
        goal, tau = self.target()
        if self.high and goal < self.unit.falling:
            threshold = self.unit.falling
        elif not self.high and goal > self.unit.rising:
            threshold = self.unit.rising
        else:
            return None
        beyond = self.volts <= threshold if self.high else self.volts >= threshold
        if beyond or tau == 0.0:
            return self.since
        delay = tau * math.log((self.volts - goal) / (threshold - goal))
        assert delay >= 0.0
        return None if delay >= TOO_FAR else self.since + math.floor(delay * 1e12 + 0.5)

    def turn_over(self) -> None:
        """The input changes its mind."""
        self.high = not self.high
