"""The hand: gestures become movements, drawn anew for every run.

A movement is a row of numbers.  Most gestures make one row of each movement; some make several,
joined rows, of which only the first begins new steps (see simcore.hand.gestures).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import singledispatch
from typing import Any, NamedTuple

from simcore.base.compiling import family, family_with_default, kernel, member, rule
from simcore.base.description import Count, Word
from simcore.base.draws import HEADING, MOVE, four, lognormal, normal_pair, purpose
from simcore.base.records import Floats, Ints
from simcore.base.ticks import ticks

CLICK, TWIST, SPIN, CREEP, ROCK, REST = range(6)
GESTURE_KINDS = ("click", "twist", "spin", "creep", "rock", "rest")

UP, DOWN, EITHER, ALTERNATE = 1, -1, 0, 2
HEADINGS = {"up": UP, "down": DOWN, "either": EITHER, "alternate": ALTERNATE}
DIRECTION = Word(tuple(HEADINGS))
MOST_MOVES = 10_000
"""Movements of one run at most."""
MOVES = Count(1, MOST_MOVES)

# Columns of a movement row.
DURATION, DISTANCE, STEADY, RIPPLE, DWELL, JOINED, MEANT, ENTER, LEAVE = range(9)
MOVE_COLUMNS = 9

MINIMUM_JERK, CONSTANT, CUBIC = range(3)
"""Laws of speed, in the column STEADY."""
NEW_STEPS, SAME_STEPS, AT_REST = range(3)
"""What a row begins, in the column JOINED."""


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
    """One row: ticks it lasts, signed steps, law of speed, ripple, ticks of rest after it; what it
    begins (``joined``: NEW_STEPS, SAME_STEPS as the row before, or AT_REST, one step in which
    nothing is meant); ``meant``, the signed steps of the whole movement that it begins, joined rows
    included; and for the law CUBIC the speeds with which it begins and ends, in units of its mean.
    """

    duration: int
    distance: float
    steady: int
    ripple: float
    dwell: int
    joined: int
    meant: float
    enter: float
    leave: float


class Extent(NamedTuple):
    """About how much a gesture makes of one run: rows, steps begun, steps of shaft turned whichever
    way, and seconds.
    """

    rows: float
    steps: float
    travel: float
    seconds: float


@family
def gesture_move(gesture: Any, seed: int, run: int, slot: int, k: int) -> Movement:
    """Row number ``k`` of the gesture in place ``slot`` of the hand, for one run."""
    raise NotImplementedError


@family_with_default
def gesture_extent(gesture: Any, moves: int) -> Extent:
    """The extent of ``moves`` rows, from the gesture's ``steps``, ``duration`` and ``dwell``."""
    steps = abs(gesture.steps)
    return Extent(moves, moves * math.ceil(steps), moves * steps, moves * (gesture.duration + gesture.dwell))


@family_with_default
def gesture_words(gesture: Any, moves: int) -> str:
    """What ``moves`` rows come to, in words that follow the gesture's name; "" for no steps."""
    return f"{moves} x {gesture.steps:g}" if gesture.steps else ""


@member(gesture_words, Gesture)
def plain_words(gesture: Gesture, moves: int) -> str:
    """A rock's two rows are one."""
    if gesture.kind == ROCK:
        return f"{moves // 2} x there and back"
    return f"{moves} x {gesture.steps:g}" if gesture.steps else ""


@rule
def heading_sign(heading: int, seed: int, run: int, slot: int, k: int) -> int:
    """+1 or -1 for movement ``k``."""
    if heading == EITHER:
        return 1 if four(seed, run, purpose(HEADING, slot), 0)[0] < 0.5 else -1
    if heading == ALTERNATE:
        return 1 if k % 2 == 0 else -1
    return heading


@member(gesture_move, Gesture)
def hand_move(gesture: Gesture, seed: int, run: int, slot: int, k: int) -> Movement:
    """The built-in gestures differ in settings only; a rock's odd movements go back."""
    back = k % 2 if gesture.kind == ROCK else 0
    turn = k // 2 if gesture.kind == ROCK else k
    u = four(seed, run, purpose(MOVE, slot), 2 * k)
    pace, stay = normal_pair(u[0], u[1])
    reach = four(seed, run, purpose(MOVE, slot), 2 * turn + 1)[0] if gesture.kind == ROCK else 1.0
    distance = gesture.steps_low + (gesture.steps - gesture.steps_low) * reach
    signed = distance * (heading_sign(gesture.heading, seed, run, slot, turn) * (1 - 2 * back))
    return Movement(
        max(ticks(lognormal(gesture.duration, gesture.duration_spread, pace)), 1),
        signed,
        gesture.steady,
        gesture.ripple,
        ticks(lognormal(gesture.dwell, gesture.dwell_spread, stay)),
        back,
        signed,
        0.0,
        0.0,
    )


@kernel
def fill_moves(gesture: Any, slot: int, columns: Ints, seed: int, first_run: int, moves: Floats) -> None:
    """Write a gesture's rows into ``moves`` (runs, rows of a run, MOVE_COLUMNS); its row ``k``
    becomes row ``columns[k]`` of the run.
    """
    for r in range(moves.shape[0]):
        for k in range(columns.size):
            move = gesture_move(gesture, seed, first_run + r, slot, k)
            row = moves[r, columns[k]]
            row[DURATION] = move.duration
            row[DISTANCE] = move.distance
            row[STEADY] = move.steady
            row[RIPPLE] = move.ripple
            row[DWELL] = move.dwell
            row[JOINED] = move.joined
            row[MEANT] = move.meant
            row[ENTER] = move.enter
            row[LEAVE] = move.leave


class Law(NamedTuple):
    """One movement: seconds, signed steps, law of speed, ripple, and for a cubic the
    speeds at both ends; ``dwell`` (s) follows it.
    """

    seconds: float
    steps: float
    steady: int
    ripple: float
    enter: float
    leave: float
    dwell: float


Laws = tuple[Law, ...]


@singledispatch
def gesture_laws(gesture: Any, z: float) -> tuple[Laws, ...] | None:
    """Movements that may follow one another, with all times at quantile ``z`` (in standard deviations of
    their logarithms; 0 for the median); none if nothing turns, None for a gesture that does not say.
    """
    return None


@singledispatch
def gesture_swing(gesture: Any) -> float:
    """The median swing (steps) of a shaft that shakes about its rest position."""
    return 0.0


@gesture_laws.register
def hand_laws(gesture: Gesture, z: float) -> tuple[Laws, ...]:
    """Onward and back; a rock there and back at ways from the shortest to the longest."""
    if gesture.kind == REST or gesture.steps == 0.0:
        return ()
    seconds = gesture.duration * math.exp(z * gesture.duration_spread)
    dwell = gesture.dwell * math.exp(z * gesture.dwell_spread)
    steady = CONSTANT if gesture.steady else MINIMUM_JERK
    law = Law(seconds, gesture.steps, steady, gesture.ripple, 0.0, 0.0, dwell)
    if gesture.kind == ROCK:
        return tuple(_rock(law, gesture.steps_low))
    return (law, law), (law, _back(law))


def _back(law: Law) -> Law:
    return law._replace(steps=-law.steps)


def _rock(law: Law, least: float) -> Iterator[Laws]:
    for i in range(5):
        there = law._replace(steps=least + (law.steps - least) * i / 4.0)
        yield there, _back(there), there
