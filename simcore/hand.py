"""The hand: gestures become movements, drawn anew for every run."""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.compiling import family, kernel, member, rule
from simcore.draws import HEADING, MOVE, four, lognormal, normal_pair, purpose
from simcore.edges import Floats
from simcore.ticks import ticks

CLICK, TWIST, SPIN, CREEP, ROCK, REST = range(6)
GESTURE_KINDS = ("click", "twist", "spin", "creep", "rock", "rest")

UP, DOWN, EITHER, ALTERNATE = 1, -1, 0, 2

# Columns of a movement row.
DURATION, DISTANCE, STEADY, RIPPLE, DWELL, JOINED = range(6)
MOVE_COLUMNS = 6


class Gesture(NamedTuple):
    """One entry of the hand: ``moves`` movements of ``steps`` steps each.

    ``duration`` and ``dwell`` are medians in seconds, each with the standard deviation of
    its logarithm; ``heading`` is UP, DOWN, EITHER (drawn per run) or ALTERNATE;
    ``steady`` is 1 for constant speed and 0 for minimum jerk; ``ripple`` as in paths.
    """

    kind: int
    moves: int
    steps: float
    steps_low: float
    heading: int
    duration: float
    duration_spread: float
    dwell: float
    dwell_spread: float
    steady: int
    ripple: float


class Movement(NamedTuple):
    """One movement: ticks it lasts, signed steps, speed law, ripple, ticks of rest after it,
    and whether it belongs to the same step as the movement before (the way back of a rock).
    """

    duration: int
    distance: float
    steady: int
    ripple: float
    dwell: int
    joined: int


@family
def gesture_move(gesture: Any, seed: int, run: int, slot: int, k: int) -> Movement:
    """Movement number ``k`` of the gesture in place ``slot`` of the hand, for one run."""
    raise NotImplementedError


@rule
def heading_of(gesture: Gesture, seed: int, run: int, slot: int, k: int) -> int:
    """+1 or -1 for movement ``k``."""
    if gesture.heading == EITHER:
        return 1 if four(seed, run, purpose(HEADING, slot), 0)[0] < 0.5 else -1
    if gesture.heading == ALTERNATE:
        return 1 if k % 2 == 0 else -1
    return gesture.heading


@member(gesture_move, Gesture)
def hand_move(gesture: Gesture, seed: int, run: int, slot: int, k: int) -> Movement:
    """The built-in gestures differ in settings only; a rock's odd movements go back."""
    back = k % 2 if gesture.kind == ROCK else 0
    turn = k // 2 if gesture.kind == ROCK else k
    u = four(seed, run, purpose(MOVE, slot), 2 * k)
    pace, stay = normal_pair(u[0], u[1])
    reach = four(seed, run, purpose(MOVE, slot), 2 * turn + 1)[0] if gesture.kind == ROCK else 1.0
    distance = gesture.steps_low + (gesture.steps - gesture.steps_low) * reach
    heading = heading_of(gesture, seed, run, slot, turn) * (1 - 2 * back)
    return Movement(
        max(ticks(lognormal(gesture.duration, gesture.duration_spread, pace)), 1),
        distance * heading,
        gesture.steady,
        gesture.ripple,
        ticks(lognormal(gesture.dwell, gesture.dwell_spread, stay)),
        back,
    )


@kernel
def fill_moves(
    gesture: Any, slot: int, count: int, first_column: int, seed: int, first_run: int, moves: Floats
) -> None:
    """Write a gesture's ``count`` movements into ``moves`` (runs, movements, MOVE_COLUMNS)."""
    for r in range(moves.shape[0]):
        for k in range(count):
            move = gesture_move(gesture, seed, first_run + r, slot, k)
            row = moves[r, first_column + k]
            row[DURATION] = move.duration
            row[DISTANCE] = move.distance
            row[STEADY] = move.steady
            row[RIPPLE] = move.ripple
            row[DWELL] = move.dwell
            row[JOINED] = move.joined
