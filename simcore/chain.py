"""What is wired to what: a design, and the chain of stages on each line that follows from it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from simcore.contacts import Sliding
from simcore.counters.base import (
    Coin,
    Range,
    counter_edge,
    counter_expire,
    counter_ideal,
    counter_start,
    counter_wake,
)
from simcore.counters.quadrature import Quadrature
from simcore.counters.step_direction import StepDirection
from simcore.draws import Part
from simcore.edges import LINE_NAMES
from simcore.shaft import GESTURE_KINDS, Geometry
from simcore.stages.analogue import Analogue, Resistance
from simcore.stages.inputs import PlainInput, SchmittInput
from simcore.stages.network import AcrossCapacitor, Direct, SeriesCapacitor
from simcore.ticks import NEVER

NETWORKS = (SeriesCapacitor, AcrossCapacitor, Direct)
INPUTS = (SchmittInput, PlainInput)


class WiringError(ValueError):
    """The stages cannot be joined; ``stage`` names the one at fault ("" for the whole)."""

    def __init__(self, stage: str, message: str) -> None:
        super().__init__(message)
        self.stage = stage


@dataclass(frozen=True)
class HandEntry:
    """One gesture of the hand under the name by which reports speak of it."""

    name: str
    gesture: Any
    moves: int

    @property
    def kind(self) -> str:
        """The gesture's kind in words."""
        return GESTURE_KINDS[self.gesture.kind]


@dataclass(frozen=True)
class StageEntry:
    """One stage as the scenario lists it: its name, what it is, and the lines it serves."""

    name: str
    item: Any
    lines: tuple[int, ...] = (0, 1)


@dataclass(frozen=True)
class Design:
    """Everything that one simulation needs to know.

    ``counts_per_step`` is what the user wants one detent to count.
    """

    geometry: Geometry
    hand: tuple[HandEntry, ...]
    contact: Any
    sliding: Sliding
    resistance: Resistance
    supply: Part
    stages: tuple[StageEntry, ...]
    counter: Any
    range: Range
    counts_per_step: int = 1


@dataclass(frozen=True)
class Link:
    """One stage of one line as the engines run it."""

    name: str
    spec: Any


@dataclass(frozen=True)
class Chain:
    """``links[line]`` in order; ``follows`` is 1 for a line that is read straight off the
    contact; ``flips`` is 1 for a line that the counter sees high with its contact open.
    """

    links: tuple[tuple[Link, ...], tuple[Link, ...]]
    follows: tuple[int, int]
    flips: tuple[int, int]


def counts_per_cycle(counter: Any) -> int:
    """Counts that a counter gives for one quadrature cycle."""
    if isinstance(counter, Quadrature):
        return counter.counts
    if isinstance(counter, StepDirection):
        return 1
    raise TypeError(f"unknown counter {type(counter).__name__}")


def geometric_counts(design: Design) -> float:
    """Counts that the geometry gives per step, a whole number when the decoder fits."""
    return counts_per_cycle(design.counter) * design.geometry.cycles_per_step


def fits(design: Design) -> bool:
    """Whether one step gives just the counts that the user wants of it."""
    return abs(geometric_counts(design) - design.counts_per_step) < 1.0e-9


def sense(design: Design, chain: Chain) -> int:
    """+1 when the counter counts up as the shaft turns up, -1 when it counts down.

    Found by turning bounce-free contacts up by two cycles under the counter's own rules.
    """
    ideal, coin = counter_ideal(design.counter), Coin(0, 0)
    state = counter_start(ideal, *chain.flips)
    total = 0
    for quarter in range(8):
        line, closed = quarter % 2, 1 - (quarter % 4) // 2
        level = closed ^ chain.flips[line]
        # A tick is long enough: an ideal counter decides at once.
        state = counter_edge(ideal, state, 2 * quarter, line, level, 0, 1, coin)
        total += state.pulse if state.emit else 0
        if counter_wake(ideal, state, NEVER) == 2 * quarter:
            state = counter_expire(ideal, state, 2 * quarter, coin)
            total += state.pulse if state.emit else 0
    return -1 if total < 0 else 1


def wire(design: Design) -> Chain:
    """Join networks with the inputs that read them; WiringError when that cannot be done."""
    lines = [_wire_line(design, line) for line in (0, 1)]
    return Chain((lines[0][0], lines[1][0]), (lines[0][1], lines[1][1]), (lines[0][2], lines[1][2]))


def _wire_line(design: Design, line: int) -> tuple[tuple[Link, ...], int, int]:
    links: list[Link] = []
    flip = 1
    network: StageEntry | None = None
    for place, entry in enumerate(design.stages):
        if line not in entry.lines:
            continue
        if isinstance(entry.item, NETWORKS):
            if links or network is not None:
                raise WiringError(
                    entry.name,
                    f"the network {entry.name!r} must be the first thing after contact "
                    f"{LINE_NAMES[line]}, one to a line",
                )
            network = entry
        elif isinstance(entry.item, INPUTS):
            flip ^= entry.item.inverting
            if links:
                raise WiringError(
                    entry.name,
                    f"the input {entry.name!r} on line {LINE_NAMES[line]} reads a line that is "
                    "a logic level already; one input to a line",
                )
            links.append(_analogue(design, place, network, entry))
            network = None
        else:
            raise TypeError(f"unknown stage {type(entry.item).__name__}")
    if network is not None:
        raise WiringError(
            network.name,
            f"the network {network.name!r} gives a voltage on line {LINE_NAMES[line]} that "
            "nothing reads; put an input after it",
        )
    return tuple(links), 0 if links else 1, flip


def _analogue(design: Design, place: int, network: StageEntry | None, entry: StageEntry) -> Link:
    item = Direct(Part(10e3, 0.0)) if network is None else network.item
    name = entry.name if network is None else f"{network.name} into {entry.name}"
    return Link(name, Analogue(place, design.supply, design.resistance, item, entry.item))


def without_tolerances(design: Design) -> Design:
    """The same design with every part, threshold and angle at its nominal value."""
    geometry = design.geometry._replace(closed_spread=0.0, phase_spread=0.0, rest_spread=0.0)
    stages = tuple(replace(entry, item=_nominal(entry.item)) for entry in design.stages)
    return replace(
        design,
        geometry=geometry,
        resistance=design.resistance._replace(spread=0.0),
        supply=_nominal(design.supply),
        stages=stages,
    )


def _nominal(item: Any) -> Any:
    """A record with the tolerances of all parts in it set to zero."""
    if isinstance(item, Part):
        return item._replace(tolerance=0.0)
    names: tuple[str, ...] = getattr(item, "_fields", ())
    if not names:
        return item
    return item._replace(**{name: _nominal(getattr(item, name)) for name in names})
