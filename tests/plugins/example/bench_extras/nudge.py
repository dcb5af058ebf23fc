"""A gesture: steps one by one, each with a pause as long as a draw says."""

from __future__ import annotations

from typing import NamedTuple

from simcore.base.compiling import member
from simcore.base.description import DURATION, PAUSE, Count, GestureDescription, Key
from simcore.base.draws import MOVE, between, four, purpose
from simcore.base.ticks import ticks
from simcore.hand.base import MINIMUM_JERK, NEW_STEPS, Law, Laws, Movement, gesture_laws, gesture_move


class Nudges(NamedTuple):
    """Seconds that a step takes, the longest pause after it, and the most steps of a movement (1)."""

    duration: float
    dwell: float
    steps: float


NUDGE = GestureDescription(
    name="nudge",
    meaning="Steps one by one at a set pace, with pauses of random length.",
    keys=(
        Key("nudges", Count(1, 1000), "steps to turn", 4),
        Key("duration", DURATION, "of one step", 30.0e-3),
        Key("longest_pause", PAUSE, "longest pause after a step; the shortest is half of it", 0.2),
    ),
    build=lambda values, steps_per_turn: Nudges(values.duration, values.longest_pause, 1.0),
    moves=lambda values: int(values.nudges),
)


@member(gesture_move, Nudges)
def move(gesture: Nudges, seed: int, run: int, slot: int, k: int) -> Movement:
    """One step upward, then a pause."""
    u = four(seed, run, purpose(MOVE, slot), k)
    pause = ticks(between(0.5 * gesture.dwell, gesture.dwell, u[0]))
    return Movement(ticks(gesture.duration), 1.0, MINIMUM_JERK, 0.0, pause, NEW_STEPS, 1.0, 0.0, 0.0)


@gesture_laws.register
def nudge_laws(gesture: Nudges, z: float) -> tuple[Laws, ...]:
    """One step after the other, with the shortest pause."""
    law = Law(gesture.duration, 1.0, MINIMUM_JERK, 0.0, 0.0, 0.0, 0.5 * gesture.dwell)
    return ((law, law),)
