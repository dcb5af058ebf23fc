"""What stands between the contacts and the logic of a design, and its voltages at any corner.

A *section* is a network with the input that reads it.  Its *factors* are all that its tolerances let
vary; a *corner* takes each of them at one of its ends.  The worst corner is found by trying all, so no
sign is guessed, whatever the kind of network.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from simcore.base.check import Z
from simcore.base.compiling import handles
from simcore.base.draws import Part, toleranced
from simcore.base.records import LINE_NAMES
from simcore.design import Design, StageEntry
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import Thresholds, input_thresholds, threshold_spreads, within
from simcore.networks.response import (
    NEVER_SECONDS,
    Drive,
    Node,
    network_idle,
    network_parts,
    node_after,
    node_reaches,
    node_rest,
)
from simcore.networks.single_pole import ASSUMED_PULL_UP

SAME = 1.0e-12
"""Results nearer than this share of themselves are the same."""


def lines_words(lines: tuple[int, ...]) -> str:
    """The lines in words, such as "lines A and B"."""
    names = " and ".join(LINE_NAMES[line] for line in lines)
    return f"line{'s' if len(lines) > 1 else ''} {names}"


class NetworkSection(NamedTuple):
    """The ``lines`` (numbers) that have the same network and input, with their stages' names; an
    ``assumed`` network (1) is not in the scenario.
    """

    lines: tuple[int, ...]
    network_name: str
    network: Any
    input_name: str
    logic: Any
    slowest_edge: float | None
    assumed: int
    kinds: tuple[type, type]
    """Of network and logic: records of different kinds are equal when their numbers are."""

    @property
    def subject(self) -> str:
        return f"{self.network_name}, {lines_words(self.lines)}"

    @property
    def charging(self) -> int:
        """The state of the contact (1 closed) that lets the voltage rise."""
        return 1 - int(network_idle(self.network))


class Factor(NamedTuple):
    """Something that varies: where it goes (``kind``, ``place``), its name, and its ends in words."""

    kind: str
    place: int
    name: str
    ends: tuple[str, str]


class Corner(NamedTuple):
    """One built section: supply (V), contact resistance (ohm), leakage (A), parts, thresholds; and
    which end each factor is at.
    """

    volts: float
    ohms: float
    leak: float
    parts: Any
    logic: Thresholds
    ends: tuple[float, ...]


def sections(design: Design) -> tuple[NetworkSection, ...]:
    """The sections of a design whose networks can be built; lines alike are joined."""
    found: list[NetworkSection] = []
    networks: list[StageEntry | None] = [None, None]
    for entry in design.stages:
        if handles(network_parts, type(entry.item)):
            for line in entry.lines:
                networks[line] = entry
        elif handles(input_thresholds, type(entry.item)):
            for line in entry.lines:
                found.append(_section(networks[line], entry, line))
                networks[line] = None
    joined: dict[Any, tuple[int, ...]] = {}
    for section in found:
        key = section._replace(lines=())
        joined[key] = (*joined.get(key, ()), *section.lines)
    return tuple(key._replace(lines=lines) for key, lines in joined.items())


def _section(network: StageEntry | None, entry: StageEntry, line: int) -> NetworkSection:
    """Without a network of its own an input has a pull-up of 10 kohm, as simcore.design wires it."""
    name = entry.name if network is None else network.name
    item = ASSUMED_PULL_UP if network is None else network.item
    return NetworkSection(
        (line,), name, item, entry.name, entry.item, entry.slowest_edge, int(network is None),
        (type(item), type(entry.item)),
    )  # fmt: skip


def parts_of(network: Any) -> tuple[tuple[str, Part], ...]:
    """The parts of a network, by the names of its fields and in the order of its draws."""
    return tuple((name, value) for name, value in network._asdict().items() if isinstance(value, Part))


@functools.lru_cache(maxsize=256)
def factors_of(supply: Part, resistance: Resistance, section: NetworkSection) -> tuple[Factor, ...]:
    """Everything that varies, supply and contact first."""
    return (*_surroundings(supply, resistance), *_section_factors(section))


def factors(design: Design, section: NetworkSection) -> tuple[Factor, ...]:
    return factors_of(design.supply, design.resistance, section)


def _surroundings(supply: Part, resistance: Resistance) -> Iterator[Factor]:
    if supply.tolerance:
        yield Factor("supply", 0, "supply", within(supply.tolerance))
    if resistance.spread and resistance.median:
        yield Factor("contact", 0, "contact resistance", ("at its least", "at its most"))


def _section_factors(section: NetworkSection) -> Iterator[Factor]:
    for place, (name, part) in enumerate(parts_of(section.network)):
        if part.tolerance:
            yield Factor("part", place, name.replace("_", " "), within(part.tolerance))
    for place, name, ends in threshold_spreads(section.logic):
        yield Factor("logic", place, name, ends)
    if section.logic.leakage.most:
        yield Factor("leak", 3, "leakage", ("out of the input", "into the input"))


def corner_at(
    supply: Part, resistance: Resistance, section: NetworkSection, ends: tuple[float, ...]
) -> Corner:
    """The section with each factor at its low (0) or high (1) end; all else is at its nominal value."""
    found = factors_of(supply, resistance, section)
    at = {(factor.kind, factor.place): float(end) for factor, end in zip(found, ends, strict=True)}
    u = [at.get(("part", place), 0.5) for place in range(8)]
    v = [at.get(("logic", place), 0.5) for place in range(4)]
    volts = toleranced(supply, at.get(("supply", 0), 0.5))
    ohms = resistance.median * math.exp((2.0 * at.get(("contact", 0), 0.5) - 1.0) * Z * resistance.spread)
    leak = section.logic.leakage.most * (2.0 * at.get(("leak", 3), 0.5) - 1.0)
    parts = network_parts(section.network, (u[0], u[1], u[2], u[3]), (u[4], u[5], u[6], u[7]))
    logic = input_thresholds(section.logic, volts, (v[0], v[1], v[2], v[3]))
    return Corner(volts, ohms, leak, parts, logic, ends)


@functools.lru_cache(maxsize=64)
def corners_of(supply: Part, resistance: Resistance, section: NetworkSection) -> tuple[Corner, ...]:
    count = len(factors_of(supply, resistance, section))
    return tuple(
        corner_at(supply, resistance, section, ends) for ends in itertools.product((0, 1), repeat=count)
    )


def corners(design: Design, section: NetworkSection) -> tuple[Corner, ...]:
    return corners_of(design.supply, design.resistance, section)


class Worst(NamedTuple):
    """The corner where a value is worst, the value there, and the corner in words."""

    corner: Corner
    value: float
    words: str


def worst(design: Design, section: NetworkSection, value: Callable[[Corner], float], largest: bool) -> Worst:
    """The corner with the largest, or smallest, ``value``."""
    corner = (max if largest else min)(corners(design, section), key=value)
    return Worst(corner, value(corner), corner_words(design, section, corner, value))


def corner_words(
    design: Design, section: NetworkSection, corner: Corner, value: Callable[[Corner], float]
) -> str:
    """The ends of those factors that make a difference to ``value``."""
    here, words = value(corner), []
    for number, factor in enumerate(factors(design, section)):
        end = corner.ends[number]
        ends = (*corner.ends[:number], 1 - end, *corner.ends[number + 1 :])
        other = value(corner_at(design.supply, design.resistance, section, ends))
        if not (other == here or abs(other - here) <= SAME * abs(here)):
            words.append(f"{factor.name} {factor.ends[int(end)]}")
    return ", ".join(words) or "the same at every corner"


def drive(corner: Corner, closed: int) -> Drive:
    return Drive(closed, corner.volts, corner.ohms, corner.leak)


def rest(corner: Corner, closed: int) -> Node:
    """Where the voltages come to rest (V)."""
    return node_rest(corner.parts, drive(corner, closed))


def delay(corner: Corner, closed: int, volts: float) -> float:
    """Seconds from a contact's change to ``closed``, the line being at rest, until the input's voltage
    is at ``volts``; infinite if it never is.
    """
    seconds = node_reaches(corner.parts, drive(corner, closed), rest(corner, 1 - closed), volts)
    return math.inf if seconds == NEVER_SECONDS else seconds


def turning(section: NetworkSection, corner: Corner, closed: int) -> float:
    """Seconds from a contact's change to ``closed`` until the input turns over."""
    up = closed == section.charging
    return delay(corner, closed, corner.logic.rising if up else corner.logic.falling)


def voltage_after(corner: Corner, closed: int, seconds: float) -> float:
    """The input's voltage ``seconds`` after a contact's change to ``closed``, from rest."""
    return float(node_after(corner.parts, drive(corner, closed), rest(corner, 1 - closed), seconds).x)


@functools.lru_cache(maxsize=64)
def turning_ends(
    supply: Part, resistance: Resistance, section: NetworkSection, closed: int
) -> dict[float, tuple[tuple[float, Corner], tuple[float, Corner]]]:
    """For each supply voltage that occurs the shortest and the longest time (s) until the input turns over
    after a contact's change to ``closed``, with their corners.
    """
    found: dict[float, list[tuple[float, Corner]]] = {}
    for corner in corners_of(supply, resistance, section):
        found.setdefault(corner.volts, []).append((turning(section, corner, closed), corner))
    return {volts: (min(times, key=_seconds), max(times, key=_seconds)) for volts, times in found.items()}


def _seconds(timed: tuple[float, Corner]) -> float:
    return timed[0]
