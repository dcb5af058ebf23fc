"""[[hand]]: the gestures of the hand.

The defaults are for 20 detents and follow common practice: a detent's spring turns the shaft,
so the edges of even a slow click lie 2 to 7 ms apart; a fast turn has them about 2 ms apart.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import model_validator

from scenarios.fields import Duration, Pause, Spread, Turning
from scenarios.markers import Chance, Count, Number, Word
from scenarios.plugins import added
from scenarios.quantities import SHARE, QuantityError, write_quantity
from scenarios.schema_table import NameText, Table, one_of
from simcore import shaft

HEADINGS = {"up": shaft.UP, "down": shaft.DOWN, "either": shaft.EITHER, "alternate": shaft.ALTERNATE}

MOST_MOVES = 10_000
"""Movements of one run at most."""

Moves = Annotated[int, Count(1, MOST_MOVES)]
Ripple = Annotated[float, Chance(0.0, 0.95)]
Direction = Annotated[str, Word(tuple(HEADINGS))]
PartOfStep = Annotated[float, Chance(0.001, 0.999)]


class Gesture(Table):
    """What all gestures share."""

    name: NameText

    @property
    def moves(self) -> int:
        """Movements of this gesture."""
        raise NotImplementedError

    def build(self, steps_per_turn: int) -> Any:
        """The gesture for the simulator, for a shaft of so many steps per turn."""
        raise NotImplementedError


class Click(Gesture):
    """One detent at a time, with a pause after each."""

    gesture: Literal["click"]
    clicks: Moves = 8
    direction: Direction = "up"
    duration: Duration = 28.0e-3
    duration_spread: Spread = 0.25
    dwell: Pause = 0.15
    dwell_spread: Spread = 0.3

    @property
    def moves(self) -> int:
        """One movement per click."""
        return self.clicks

    def build(self, steps_per_turn: int) -> shaft.Gesture:
        """One step per movement."""
        return shaft.Gesture(
            shaft.CLICK, self.clicks, 1.0, 1.0, HEADINGS[self.direction],
            self.duration, self.duration_spread, self.dwell, self.dwell_spread, 0, 0.0,
        )  # fmt: skip


class Twist(Gesture):
    """Several detents in one movement; ``duration`` is that of one detent."""

    gesture: Literal["twist"]
    twists: Moves = 2
    detents: Annotated[int, Count(1, 1000)] = 5
    direction: Direction = "up"
    duration: Duration = 12.0e-3
    duration_spread: Spread = 0.15
    dwell: Pause = 0.3
    dwell_spread: Spread = 0.3
    ripple: Ripple = 0.3

    @property
    def moves(self) -> int:
        """One movement per twist."""
        return self.twists

    def build(self, steps_per_turn: int) -> shaft.Gesture:
        """``detents`` steps per movement; the simulator wants the time of the whole twist."""
        steps = float(self.detents)
        return shaft.Gesture(
            shaft.TWIST, self.twists, steps, steps, HEADINGS[self.direction],
            self.duration * self.detents, self.duration_spread,
            self.dwell, self.dwell_spread, 0, self.ripple,
        )  # fmt: skip


class Spin(Gesture):
    """Turning at constant speed, as a machine does."""

    gesture: Literal["spin"]
    speed: Turning = 1.0
    speed_spread: Spread = 0.0
    turns: Annotated[float, Number(0.0, 1000.0)] = 1.0
    direction: Direction = "up"
    dwell: Pause = 0.3
    dwell_spread: Spread = 0.0
    ripple: Ripple = 0.0

    @property
    def moves(self) -> int:
        """One movement."""
        return 1

    def build(self, steps_per_turn: int) -> shaft.Gesture:
        """All turns in one movement."""
        steps = float(round(self.turns * steps_per_turn))
        return shaft.Gesture(
            shaft.SPIN, 1, steps, steps, HEADINGS[self.direction],
            self.turns / self.speed, self.speed_spread, self.dwell, self.dwell_spread, 1, self.ripple,
        )  # fmt: skip


class Creep(Gesture):
    """One detent at a time, slowly, held by the fingers."""

    gesture: Literal["creep"]
    crossings: Moves = 4
    direction: Direction = "up"
    duration: Duration = 0.15
    duration_spread: Spread = 0.25
    dwell: Pause = 0.2
    dwell_spread: Spread = 0.3

    @property
    def moves(self) -> int:
        """One movement per crossing."""
        return self.crossings

    def build(self, steps_per_turn: int) -> shaft.Gesture:
        """One step per movement."""
        return shaft.Gesture(
            shaft.CREEP, self.crossings, 1.0, 1.0, HEADINGS[self.direction],
            self.duration, self.duration_spread, self.dwell, self.dwell_spread, 0, 0.0,
        )  # fmt: skip


class Extent(Table):
    """How far a rock goes, as shares of a detent."""

    low: PartOfStep = 0.1
    high: PartOfStep = 0.6

    @model_validator(mode="after")
    def _ordered(self) -> Extent:
        if self.low > self.high:
            raise QuantityError(
                write_quantity(self.high, SHARE),
                f"high must not be below low, which is {write_quantity(self.low, SHARE)}",
                "high",
            )
        return self


class Rock(Gesture):
    """Turned part of the way to the next detent and let back."""

    gesture: Literal["rock"]
    rocks: Annotated[int, Count(1, MOST_MOVES // 2)] = 4
    extent: Extent = Extent()
    direction: Direction = "either"
    duration: Duration = 60.0e-3
    duration_spread: Spread = 0.25
    dwell: Pause = 0.1
    dwell_spread: Spread = 0.3

    @property
    def moves(self) -> int:
        """There and back."""
        return 2 * self.rocks

    def build(self, steps_per_turn: int) -> shaft.Gesture:
        """Two movements per rock."""
        return shaft.Gesture(
            shaft.ROCK, 2 * self.rocks, self.extent.high, self.extent.low, HEADINGS[self.direction],
            self.duration, self.duration_spread, self.dwell, self.dwell_spread, 0, 0.0,
        )  # fmt: skip


class Rest(Gesture):
    """No movement for a time."""

    gesture: Literal["rest"]
    duration: Duration = 0.5
    duration_spread: Spread = 0.0

    @property
    def moves(self) -> int:
        """One, of no steps."""
        return 1

    def build(self, steps_per_turn: int) -> shaft.Gesture:
        """No steps."""
        return shaft.Gesture(
            shaft.REST, 1, 0.0, 0.0, shaft.UP, self.duration, self.duration_spread, 0.0, 0.0, 0, 0.0
        )


OWN_GESTURES: tuple[type[Gesture], ...] = (Click, Twist, Spin, Creep, Rock, Rest)
GESTURES = (*OWN_GESTURES, *added("hand", Gesture, OWN_GESTURES))
"""Every kind, in the order in which messages and lists name them."""

if TYPE_CHECKING:
    AnyGesture = Gesture
else:
    AnyGesture = one_of(GESTURES, "gesture")
