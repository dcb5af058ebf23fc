"""A gesture: steps one by one, each with a pause as long as a draw says."""

from __future__ import annotations

from typing import Annotated, Literal, NamedTuple

from pydantic import Field

from scenarios.fields import Duration, Pause
from scenarios.markers import Count
from scenarios.schema_hand import Gesture
from simcore.base.compiling import member
from simcore.base.draws import MOVE, between, four, purpose
from simcore.base.ticks import ticks
from simcore.hand.kinds import MINIMUM_JERK, NEW_STEPS, Movement, gesture_move


class Nudges(NamedTuple):
    """Seconds that a step takes, the longest pause after it, and the most steps of a movement (1)."""

    duration: float
    dwell: float
    steps: float


@member(gesture_move, Nudges)
def move(gesture: Nudges, seed: int, run: int, slot: int, k: int) -> Movement:
    """One step upward, then a pause."""
    u = four(seed, run, purpose(MOVE, slot), k)
    pause = ticks(between(0.5 * gesture.dwell, gesture.dwell, u[0]))
    return Movement(ticks(gesture.duration), 1.0, MINIMUM_JERK, 0.0, pause, NEW_STEPS, 1.0, 0.0, 0.0)


class Nudge(Gesture):
    """Steps one by one at a set pace, with pauses of random length."""

    gesture: Literal["nudge"]
    nudges: Annotated[int, Count(1, 1000)] = Field(4, description="steps to turn")
    duration: Duration = Field(30.0e-3, description="of one step")
    longest_pause: Pause = Field(0.2, description="longest pause after a step; the shortest is half of it")

    @property
    def moves(self) -> int:
        """One movement per step."""
        return self.nudges

    def build(self, steps_per_turn: int) -> Nudges:
        """The gesture for the simulator."""
        return Nudges(self.duration, self.longest_pause, 1.0)
