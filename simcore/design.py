"""A design as the engines take it: what is turned, what lies between, and what counts."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from simcore.base.draws import Part
from simcore.base.ledger_text import described
from simcore.chain import Chain, wire
from simcore.contacts.crossing import Sliding
from simcore.counters.base import Range
from simcore.hand.base import GESTURE_KINDS, Extent, gesture_extent, gesture_words
from simcore.hand.geometry import Geometry
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import TIGHT, Leakage
from simcore.networks.supply import STEADY, Dips


@dataclass(frozen=True)
class HandEntry:
    """One gesture of the hand under the name by which reports speak of it.

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
        """The gesture's kind in words."""
        return self.word or GESTURE_KINDS[self.gesture.kind]

    @property
    def extent(self) -> Extent:
        """About how much it makes of one run."""
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
        """What is wired to what, found out once; WiringError where the stages cannot be joined."""
        return wire(self)

    @functools.cached_property
    def text(self) -> str:
        """All of it as text, which two designs never share (see simcore.base.ledger_text)."""
        return described(self)


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
