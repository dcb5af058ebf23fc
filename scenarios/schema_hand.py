"""[[hand]]: the gestures of the hand.

The defaults are for 20 detents and follow common practice: a detent's spring turns the shaft,
so the edges of even a slow click lie 2 to 7 ms apart; a fast turn has them about 2 ms apart.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from scenarios.fields import Duration, Pause, Share, Spread, Turning, Zone
from scenarios.markers import Chance, Count, Number, Quantity, Word
from scenarios.quantities import FREQUENCY, SHARE, QuantityError, write_quantity
from scenarios.schema_table import NameText, Table, tag_of
from simcore.design import HandEntry
from simcore.hand import kinds

HEADINGS = {"up": kinds.UP, "down": kinds.DOWN, "either": kinds.EITHER, "alternate": kinds.ALTERNATE}

MOST_MOVES = 10_000
"""Movements of one run at most."""

Moves = Annotated[int, Count(1, MOST_MOVES)]
Ripple = Annotated[float, Chance(0.0, 0.95)]
Direction = Annotated[str, Word(tuple(HEADINGS))]
PartOfStep = Annotated[float, Chance(0.001, 0.999)]
Shaking = Annotated[float, Quantity(FREQUENCY, 0.1, 1000.0)]


class Gesture(Table):
    """What all gestures share."""

    name: NameText

    @property
    def moves(self) -> int:
        """Movements of this gesture."""
        raise NotImplementedError

    @property
    def word(self) -> str:
        """Its kind."""
        return tag_of(type(self))

    def build(self, steps_per_turn: int) -> Any:
        """The gesture for the simulator, for a shaft of so many steps per turn."""
        raise NotImplementedError

    def entries(self, place: int, steps_per_turn: int) -> tuple[HandEntry, ...]:
        """What it becomes in the simulator's hand, from ``place`` on: one entry, or several."""
        return (HandEntry(self.name, self.build(steps_per_turn), self.moves, self.word),)


def _order(low: float, high: float) -> None:
    if low > high:
        raise QuantityError(
            write_quantity(high, SHARE),
            f"high must not be below low, which is {write_quantity(low, SHARE)}",
            "high",
        )


class Reversal(Table):
    """How often a movement turns back after a part of its way, drawn anew, and then goes on to its end."""

    chance: Share = Field(default=0.0, description="of a movement to turn back; 0: none does")
    low: PartOfStep = Field(default=0.1, description="shortest way back, as a share of a detent")
    high: PartOfStep = Field(default=0.5, description="longest way back")

    @model_validator(mode="after")
    def _ordered(self) -> Reversal:
        _order(self.low, self.high)
        return self

    @property
    def rows(self) -> int:
        """Rows that the simulator needs for one movement."""
        return kinds.ROWS_OF_REVERSAL if self.chance > 0.0 else 1

    def around(self, gesture: kinds.Gesture) -> Any:
        """The gesture for the simulator, turning back now and then."""
        if self.chance == 0.0:
            return gesture
        return kinds.Reversing(gesture, self.chance, self.low, self.high)


REVERSAL = Field(default=Reversal(), description="turning back on the way")


class Click(Gesture):
    """One detent at a time, with a pause after each."""

    gesture: Literal["click"]
    clicks: Moves = Field(default=8, description="how many in a run")
    direction: Direction = Field(default="up", description="which way")
    duration: Duration = Field(default=28.0e-3, description="of one click, median")
    duration_spread: Spread = Field(default=0.25, description="spread of its logarithm")
    dwell: Pause = Field(default=0.15, description="rest after it, median")
    dwell_spread: Spread = Field(default=0.3, description="spread of its logarithm")
    reversal: Reversal = REVERSAL

    @property
    def moves(self) -> int:
        """One movement per click."""
        return self.clicks * self.reversal.rows

    def build(self, steps_per_turn: int) -> Any:
        """One step per movement."""
        return self.reversal.around(
            kinds.Gesture(
                kinds.CLICK, self.clicks, 1.0, 1.0, HEADINGS[self.direction],
                self.duration, self.duration_spread, self.dwell, self.dwell_spread, 0, 0.0,
            )
        )  # fmt: skip


class Twist(Gesture):
    """Several detents in one movement; ``duration`` is that of one detent."""

    gesture: Literal["twist"]
    twists: Moves = Field(default=2, description="how many in a run")
    detents: Annotated[int, Count(1, 1000)] = Field(default=5, description="turned by each twist")
    direction: Direction = Field(default="up", description="which way")
    duration: Duration = Field(default=12.0e-3, description="of one detent, median")
    duration_spread: Spread = Field(default=0.15, description="spread of its logarithm")
    dwell: Pause = Field(default=0.3, description="rest after it, median")
    dwell_spread: Spread = Field(default=0.3, description="spread of its logarithm")
    ripple: Ripple = Field(default=0.3, description="how much the detents make the speed uneven")
    reversal: Reversal = REVERSAL

    @property
    def moves(self) -> int:
        """One movement per twist."""
        return self.twists * self.reversal.rows

    def build(self, steps_per_turn: int) -> Any:
        """``detents`` steps per movement; the simulator wants the time of the whole twist."""
        steps = float(self.detents)
        return self.reversal.around(
            kinds.Gesture(
                kinds.TWIST, self.twists, steps, steps, HEADINGS[self.direction],
                self.duration * self.detents, self.duration_spread,
                self.dwell, self.dwell_spread, 0, self.ripple,
            )
        )  # fmt: skip


class Spin(Gesture):
    """Turning at constant speed, as a machine does."""

    gesture: Literal["spin"]
    speed: Turning = Field(default=1.0, description="median speed")
    speed_spread: Spread = Field(default=0.0, description="spread of its logarithm")
    turns: Annotated[float, Number(0.0, 1000.0)] = Field(default=1.0, description="revolutions")
    direction: Direction = Field(default="up", description="which way")
    dwell: Pause = Field(default=0.3, description="rest after it, median")
    dwell_spread: Spread = Field(default=0.0, description="spread of its logarithm")
    ripple: Ripple = Field(default=0.0, description="how much the detents make the speed uneven")

    @property
    def moves(self) -> int:
        """One movement."""
        return 1

    def build(self, steps_per_turn: int) -> kinds.Gesture:
        """All turns in one movement."""
        steps = float(round(self.turns * steps_per_turn))
        return kinds.Gesture(
            kinds.SPIN, 1, steps, steps, HEADINGS[self.direction],
            self.turns / self.speed, self.speed_spread, self.dwell, self.dwell_spread, 1, self.ripple,
        )  # fmt: skip


class Creep(Gesture):
    """One detent at a time, slowly, held by the fingers."""

    gesture: Literal["creep"]
    crossings: Moves = Field(default=4, description="how many in a run")
    direction: Direction = Field(default="up", description="which way")
    duration: Duration = Field(default=0.15, description="of one crossing, median")
    duration_spread: Spread = Field(default=0.25, description="spread of its logarithm")
    dwell: Pause = Field(default=0.2, description="rest after it, median")
    dwell_spread: Spread = Field(default=0.3, description="spread of its logarithm")
    reversal: Reversal = REVERSAL

    @property
    def moves(self) -> int:
        """One movement per crossing."""
        return self.crossings * self.reversal.rows

    def build(self, steps_per_turn: int) -> Any:
        """One step per movement."""
        return self.reversal.around(
            kinds.Gesture(
                kinds.CREEP, self.crossings, 1.0, 1.0, HEADINGS[self.direction],
                self.duration, self.duration_spread, self.dwell, self.dwell_spread, 0, 0.0,
            )
        )  # fmt: skip


class Extent(Table):
    """How far a rock goes, as shares of a detent."""

    low: PartOfStep = Field(default=0.1, description="shortest way, as a share of a detent")
    high: PartOfStep = Field(default=0.6, description="longest way")

    @model_validator(mode="after")
    def _ordered(self) -> Extent:
        _order(self.low, self.high)
        return self


class Rock(Gesture):
    """Turned part of the way to the next detent and let back."""

    gesture: Literal["rock"]
    rocks: Annotated[int, Count(1, MOST_MOVES // 2)] = Field(default=4, description="how many in a run")
    extent: Extent = Extent()
    direction: Direction = Field(default="either", description="which way first")
    duration: Duration = Field(default=60.0e-3, description="of each way, median")
    duration_spread: Spread = Field(default=0.25, description="spread of its logarithm")
    dwell: Pause = Field(default=0.1, description="rest after it, median")
    dwell_spread: Spread = Field(default=0.3, description="spread of its logarithm")

    @property
    def moves(self) -> int:
        """There and back."""
        return 2 * self.rocks

    def build(self, steps_per_turn: int) -> kinds.Gesture:
        """Two movements per rock."""
        return kinds.Gesture(
            kinds.ROCK, 2 * self.rocks, self.extent.high, self.extent.low, HEADINGS[self.direction],
            self.duration, self.duration_spread, self.dwell, self.dwell_spread, 0, 0.0,
        )  # fmt: skip


class Rest(Gesture):
    """No movement for a time, or a shaft that shakes about its rest position."""

    gesture: Literal["rest"]
    duration: Duration = Field(default=0.5, description="how long, median")
    duration_spread: Spread = Field(default=0.0, description="spread of its logarithm")
    vibration: Zone = Field(default=0.0, description="how far the shaft swings to either side")
    vibration_spread: Spread = Field(default=0.3, description="standard deviation of the swings' logarithm")
    frequency: Shaking = Field(default=25.0, description="swings to and fro per second")

    @property
    def swings(self) -> int:
        """Ways from one turning point to the next."""
        return max(2, round(2.0 * self.frequency * self.duration)) if self.vibration > 0.0 else 0

    @property
    def moves(self) -> int:
        """One of no steps, or one for each swing."""
        return self.swings or 1

    def build(self, steps_per_turn: int) -> Any:
        """No steps are meant."""
        if self.swings:
            return kinds.Vibration(
                self.swings, self.vibration * steps_per_turn / 360.0, self.vibration_spread,
                self.duration, self.duration_spread,
            )  # fmt: skip
        return kinds.Gesture(
            kinds.REST, 1, 0.0, 0.0, kinds.UP, self.duration, self.duration_spread, 0.0, 0.0, 0, 0.0
        )
