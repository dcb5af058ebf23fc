"""A design as the engines take it: what is turned, what lies between, and what counts; and its chain, which
says what is wired to what and is computed once.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from simcore.base.compiling import handles
from simcore.base.draws import Part, named_address
from simcore.base.ledger_text import described
from simcore.base.records import LINE_NAMES
from simcore.base.ticks import NEVER
from simcore.contacts.crossing import Sliding
from simcore.counters.base import (
    Coin,
    Range,
    counter_edge,
    counter_expire,
    counter_ideal,
    counter_rate,
    counter_rests,
    counter_start,
    counter_wake,
)
from simcore.hand.base import GESTURE_KINDS, Extent, gesture_extent, gesture_words
from simcore.hand.geometry import Geometry, angles_of, first_boundary, resting_state
from simcore.networks.analogue import Analogue, Resistance
from simcore.networks.inputs import TIGHT, Leakage, input_thresholds
from simcore.networks.response import network_idle, network_parts, single_pole
from simcore.networks.single_pole import ASSUMED_PULL_UP
from simcore.networks.supply import STEADY, Dips
from simcore.networks.waveform import Waveform
from simcore.stages.base import stage_build, stage_turns
from simcore.stages.delay import PROMPT
from simcore.stages.facts import with_source
from simcore.stages.pair import pair_build


@dataclass(frozen=True)
class HandEntry:
    """One gesture of the hand under its name in reports.

    The ``gesture`` record has at least ``steps`` (the most steps of one movement), ``duration`` and
    ``dwell`` (s, of one movement); ``moves`` are its rows in a run (see simcore.hand.base); ``word`` says
    its kind if it is none of simcore.hand.base's own.  Neighbouring entries with the same ``mix`` (a name,
    "" for none) take turns: as many of their rows as the gesture's ``rows`` come at each turn.
    """

    name: str
    gesture: Any
    moves: int
    word: str = ""
    mix: str = ""

    @property
    def kind(self) -> str:
        return self.word or GESTURE_KINDS[self.gesture.kind]

    @property
    def extent(self) -> Extent:
        return gesture_extent(self.gesture, self.moves)

    @property
    def words(self) -> str:
        """What it comes to in one run, to follow its name."""
        return gesture_words(self.gesture, self.moves)


@dataclass(frozen=True)
class StageEntry:
    """One stage as the scenario lists it: its name, what it is, and the lines it serves; for an input the
    slowest edge (s, 10 to 90 %) that it is said to take, None if nothing is said.
    """

    name: str
    item: Any
    lines: tuple[int, ...] = (0, 1)
    slowest_edge: float | None = None


class ContactRatings(NamedTuple):
    """What the contacts are said to take: ``most`` and ``least`` current (A), and ``energy`` (J) at a
    closure; None for what is not said.
    """

    most: float | None
    least: float | None
    energy: float | None


UNRATED = ContactRatings(None, None, None)


@dataclass(frozen=True)
class Design:
    """Everything that one simulation needs to know.

    ``counts_per_step`` is what the user wants one detent to count; with ``power_up`` 1 the supply
    comes up at tick 0, before which all capacitors were empty; ``driven`` is what the counter drives,
    such as simcore.counters.driven.Driven, None if the design does not say; ``ratings`` are for
    simcore.checks and change nothing that is simulated.
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
    dips: Dips = STEADY
    power_up: int = 0
    driven: Any = None
    ratings: ContactRatings = UNRATED

    @functools.cached_property
    def chain(self) -> Chain:
        """What is wired to what; WiringError where the stages cannot be joined."""
        return wire(self)

    @functools.cached_property
    def text(self) -> str:
        """All of it as text, which two designs never share (see simcore.base.ledger_text)."""
        return described(self)


DELAYS = 32768
"""Added to the address of an input for the layer of its delays."""


class WiringError(ValueError):
    """The stages cannot be joined; ``stage`` names the one at fault ("" for the whole)."""

    def __init__(self, stage: str, message: str) -> None:
        super().__init__(message)
        self.stage = stage


@dataclass(frozen=True)
class Layer:
    """One stage as the engines run it: a ``line`` specification for A, for B or for both, or one
    ``pair`` specification for the two together.  ``address`` is that of its stage's name, whatever its
    place in the design (see simcore.base.draws).
    """

    name: str
    address: int
    line: tuple[Any, Any] = (None, None)
    pair: Any = None

    def serves(self, line: int) -> bool:
        return self.pair is not None or self.line[line] is not None


@dataclass(frozen=True)
class Chain:
    """``layers`` in order.  ``turned`` is 1 for a line whose contact is read as a logic level
    straight away, high for open; ``flips`` is 1 for a line that the counter sees high with its
    contact open.
    """

    layers: tuple[Layer, ...]
    turned: tuple[int, int]
    flips: tuple[int, int]


def geometric_counts(design: Design) -> float:
    """Counts that the geometry gives per step, a whole number when the decoder fits."""
    return counter_rate(design.counter) * design.geometry.cycles_per_step


def levels_at_rest(design: Design) -> tuple[int, int]:
    """What the counter sees of A and B at the detent where a run starts, by nominal angles."""
    geometry, chain = design.geometry, design.chain
    angles = angles_of(geometry.closed, geometry.closed, geometry.phase, geometry.rest)
    closed = resting_state(first_boundary(angles, geometry.cycles_per_step))
    return (closed & 1) ^ chain.flips[0], (closed >> 1) ^ chain.flips[1]


def fits(design: Design) -> bool:
    """Whether one step gives just the counts that the user wants of it, whichever way it goes."""
    if abs(geometric_counts(design) - design.counts_per_step) >= 1.0e-9:
        return False
    return bool(counter_rests(design.counter, *levels_at_rest(design)))


def sense(design: Design) -> int:
    """+1 when the counter counts up as the shaft turns up, -1 when it counts down.

    Found by turning bounce-free contacts up under the counter's own rules, by two cycles and as
    many as it takes to count twice.
    """
    ideal, coin, flips = counter_ideal(design.counter), Coin(0, 0), design.chain.flips
    state = counter_start(ideal, *flips)
    total = 0
    for quarter in range(4 * (2 + math.ceil(2.0 / counter_rate(ideal)))):
        line, closed = quarter % 2, 1 - (quarter % 4) // 2
        level = closed ^ flips[line]
        # A tick is long enough: an ideal counter decides at once.
        state = counter_edge(ideal, state, 2 * quarter, line, level, 0, 1, coin)
        total += state.pulse if state.emit else 0
        if counter_wake(ideal, state, NEVER) == 2 * quarter:
            state = counter_expire(ideal, state, 2 * quarter, coin)
            total += state.pulse if state.emit else 0
    return -1 if total < 0 else 1


def analogue_line(design: Design, network: Any, logic: Any, address: int) -> Any:
    """What joins contact, network (whose draws are at ``address``) and input: the fast Analogue where it
    will do, else a Waveform.
    """
    still = design.dips.rate == 0.0 and not design.power_up and not design.resistance.per_closure
    if still and logic.noise.rms == 0.0 and single_pole(network):
        return Analogue(design.supply, design.resistance, network, logic, address)
    return Waveform(
        design.supply, design.resistance, network, logic, design.dips, design.power_up, address
    )  # fmt: skip


class _Wiring:
    """The state of wiring: what each line has met so far."""

    def __init__(self, design: Design) -> None:
        self.design = design
        self.layers: list[Layer] = []
        self.network: list[StageEntry | None] = [None, None]
        self.logic = [False, False]
        self.turned = [0, 0]
        self.flips = [1, 1]
        self.addresses: dict[int, StageEntry] = {}

    def add(self, entry: StageEntry) -> None:
        kind, address = type(entry.item), self._address(entry)
        if handles(network_parts, kind):
            for line in entry.lines:
                self._add_network(entry, line)
        elif handles(input_thresholds, kind):
            self._add_input(address, entry)
        elif handles(pair_build, kind):
            self._read_as_logic(entry, (0, 1))
            self.layers.append(Layer(entry.name, address, pair=entry.item))
        elif handles(stage_build, kind):
            self._add_line_stage(address, entry)
        else:
            raise TypeError(f"unknown stage {kind.__name__}")

    def _address(self, entry: StageEntry) -> int:
        """The address of a stage's name, or another if a stage before it has that one."""
        again = 0
        while (address := named_address(entry.name, again)) in self.addresses:
            again += 1
        self.addresses[address] = entry
        return address

    def _address_of(self, network: StageEntry) -> int:
        return next(address for address, entry in self.addresses.items() if entry is network)

    def _add_network(self, entry: StageEntry, line: int) -> None:
        if self.logic[line] or self.network[line] is not None:
            raise WiringError(
                entry.name,
                f"the network {entry.name!r} must be the first thing after contact "
                f"{LINE_NAMES[line]}, one to a line",
            )
        self.network[line] = entry
        self.flips[line] = network_idle(entry.item)

    def _add_input(self, address: int, entry: StageEntry) -> None:
        specs: list[Any] = [None, None]
        networks = dict.fromkeys(self.network[line] for line in entry.lines)
        name = " and ".join(network.name for network in networks if network is not None)
        for line in entry.lines:
            if self.logic[line]:
                raise WiringError(
                    entry.name,
                    f"the input {entry.name!r} on line {LINE_NAMES[line]} reads a line that is "
                    "a logic level already; one input to a line",
                )
            network = self.network[line]
            item = ASSUMED_PULL_UP if network is None else network.item
            own = address if network is None else self._address_of(network)
            specs[line] = analogue_line(self.design, item, entry.item, own)
            self.network[line] = None
            self.logic[line] = True
            self.flips[line] ^= entry.item.inverting
        name = f"{name} into {entry.name}" if name else entry.name
        self.layers.append(Layer(name, address, (specs[0], specs[1])))
        delay = entry.item.delay
        if delay != PROMPT:
            a, b = (delay if line in entry.lines else None for line in (0, 1))
            self.layers.append(Layer(f"{entry.name} delay", address + DELAYS, (a, b)))

    def _add_line_stage(self, address: int, entry: StageEntry) -> None:
        self._read_as_logic(entry, entry.lines)
        item = with_source(entry.item, address // 2)
        for line in entry.lines:
            self.flips[line] ^= stage_turns(item)
        a, b = (item if line in entry.lines else None for line in (0, 1))
        self.layers.append(Layer(entry.name, address, (a, b)))

    def _read_as_logic(self, entry: StageEntry | None, lines: tuple[int, ...]) -> None:
        for line in lines:
            network = self.network[line]
            if network is not None:
                raise WiringError(
                    network.name,
                    f"the network {network.name!r} gives a voltage on line {LINE_NAMES[line]} that "
                    "nothing reads; put an input after it",
                )
            if not self.logic[line]:
                self.logic[line] = True
                self.turned[line] = 1

    def done(self) -> Chain:
        """The finished chain; the counter reads what is left as logic."""
        self._read_as_logic(None, (0, 1))
        turned, flips = self.turned, self.flips
        return Chain(tuple(self.layers), (turned[0], turned[1]), (flips[0], flips[1]))


def wire(design: Design) -> Chain:
    """Join networks with the inputs that read them; WiringError when that cannot be done.

    ``design.chain`` does so once.
    """
    wiring = _Wiring(design)
    for entry in design.stages:
        wiring.add(entry)
    return wiring.done()


def without_tolerances(design: Design) -> Design:
    """The same design with every part, threshold and angle at its nominal value."""
    geometry = design.geometry._replace(closed_spread=0.0, phase_spread=0.0, rest_spread=0.0)
    stages = tuple(replace(entry, item=_nominal(entry.item)) for entry in design.stages)
    return replace(
        design,
        resistance=design.resistance._replace(spread=0.0, per_closure=0),
        geometry=geometry,
        supply=_nominal(design.supply),
        stages=stages,
        counter=_nominal(design.counter),
        driven=_nominal(design.driven),
    )


def _nominal(item: Any) -> Any:
    """A record with the tolerances of all parts in it set to zero."""
    if isinstance(item, Part):
        return item._replace(tolerance=0.0)
    if isinstance(item, Leakage):
        return TIGHT
    names: tuple[str, ...] = getattr(item, "_fields", ())
    if not names:
        return item
    return item._replace(**{name: _nominal(getattr(item, name)) for name in names})
