"""Gestures of several joined rows: a shaft that shakes at rest, a hand that turns back on its way, and
a mix of gestures.  A table of angles has a file of its own, simcore.tabled.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from simcore.compiling import member, rule
from simcore.draws import MIX, MOVE, REVERSAL, SHAKE, between, four, lognormal, normal_pair, purpose
from simcore.hand import (
    AT_REST,
    MINIMUM_JERK,
    NEW_STEPS,
    SAME_STEPS,
    Extent,
    Gesture,
    Laws,
    Movement,
    gesture_extent,
    gesture_laws,
    gesture_move,
    gesture_swing,
    gesture_words,
)
from simcore.ticks import ticks

FARTHEST = 0.5
"""A shaft at rest shakes no farther (steps) than midway to the next rest position."""
ROWS_OF_REVERSAL = 3


@rule
def idle() -> Movement:
    """A row in which nothing happens and no time passes."""
    return Movement(0, 0.0, MINIMUM_JERK, 0.0, 0, SAME_STEPS, 0.0, 0.0, 0.0)


class Vibration(NamedTuple):
    """A rest of median ``duration`` (s) during which the shaft swings about its rest position.

    It is made of ``swings`` rows (two at least), from one turning point to the next, on either side
    in turn: each lies ``amplitude`` steps (median, with the standard deviation of its logarithm,
    never beyond FARTHEST) from the rest position, in which the first row begins and the last ends.
    """

    swings: int
    amplitude: float
    amplitude_spread: float
    duration: float
    duration_spread: float

    @property
    def steps(self) -> float:
        """The most steps of one movement: nothing is meant."""
        return 0.0

    @property
    def dwell(self) -> float:
        """The rest ends with the shaking."""
        return 0.0


@rule
def turning_point(gesture: Vibration, seed: int, run: int, slot: int, k: int) -> float:
    """Place (steps) at which row ``k`` ends but for its side; each turn begins on a drawn side."""
    i = k % gesture.swings
    if i == gesture.swings - 1:
        return 0.0
    u = four(seed, run, purpose(SHAKE, slot), k)
    stretch, _ = normal_pair(u[0], u[1])
    return min(lognormal(gesture.amplitude, gesture.amplitude_spread, stretch), FARTHEST)


@member(gesture_move, Vibration)
def shake(gesture: Vibration, seed: int, run: int, slot: int, k: int) -> Movement:
    """One swing; all of a turn are one step in which nothing is meant."""
    i, turn = k % gesture.swings, k // gesture.swings
    u = four(seed, run, purpose(MOVE, slot), 2 * turn)
    pace, _ = normal_pair(u[0], u[1])
    whole = lognormal(gesture.duration, gesture.duration_spread, pace)
    ends = ticks(whole * (i + 1) / gesture.swings)
    side = 1.0 if (u[2] < 0.5) == (i % 2 == 0) else -1.0
    before = turning_point(gesture, seed, run, slot, k - 1) if i > 0 else 0.0
    after = turning_point(gesture, seed, run, slot, k)
    return Movement(
        max(ends - ticks(whole * i / gesture.swings), 1), side * (after + before), MINIMUM_JERK, 0.0, 0,
        SAME_STEPS if i > 0 else AT_REST, 0.0, 0.0, 0.0,
    )  # fmt: skip


@member(gesture_extent, Vibration)
def extent_of_vibration(gesture: Vibration, moves: int) -> Extent:
    """One step of every turn."""
    turns = moves / gesture.swings
    swing = 2.0 * min(gesture.amplitude * math.exp(0.5 * gesture.amplitude_spread**2), FARTHEST)
    return Extent(moves, turns, moves * swing, turns * gesture.duration)


@member(gesture_words, Vibration)
def words_of_vibration(gesture: Vibration, moves: int) -> str:
    """Only that it shakes."""
    return "with vibration"


class Reversing(NamedTuple):
    """A gesture whose movements may turn back on their way, each with a ``chance``: after a part of
    the way, uniform between none and all, the hand turns back by ``back_low`` to ``back_high`` steps
    (uniform; not beyond where the movement began) and then goes on to its end.

    Three rows for each movement.  The rows of a reversed one run at its mean speed each, with
    minimum jerk and without the ripple of detents; the steps are those of the whole movement.
    """

    gesture: Gesture
    chance: float
    back_low: float
    back_high: float

    @property
    def steps(self) -> float:
        """The most steps of one movement."""
        return self.gesture.steps

    @property
    def duration(self) -> float:
        """Seconds of one movement that does not turn back."""
        return self.gesture.duration

    @property
    def dwell(self) -> float:
        """Seconds of rest after it."""
        return self.gesture.dwell


@member(gesture_move, Reversing)
def maybe_reverse(gesture: Reversing, seed: int, run: int, slot: int, k: int) -> Movement:
    """Out, back and on; or the whole movement and two idle rows."""
    number, part = k // ROWS_OF_REVERSAL, k % ROWS_OF_REVERSAL
    move = gesture_move(gesture.gesture, seed, run, slot, number)
    u = four(seed, run, purpose(REVERSAL, slot), number)
    if u[0] >= gesture.chance:
        return move if part == 0 else idle()
    out = u[1] * abs(move.distance)
    back = min(between(gesture.back_low, gesture.back_high, u[2]), out)
    way = out if part == 0 else -back if part == 1 else abs(move.distance) - out + back
    sign = 1.0 if move.distance > 0.0 else -1.0
    duration = int(float(move.duration) * abs(way) / abs(move.distance) + 0.5)
    return Movement(
        max(duration, 1), sign * way, move.steady, 0.0, move.dwell if part == 2 else 0,
        NEW_STEPS if part == 0 else SAME_STEPS, move.meant if part == 0 else 0.0, 0.0, 0.0,
    )  # fmt: skip


@member(gesture_extent, Reversing)
def extent_of_reversing(gesture: Reversing, moves: int) -> Extent:
    """That of the gesture, and the ways back and on again."""
    plain = gesture_extent(gesture.gesture, moves // ROWS_OF_REVERSAL)
    more = gesture.chance * (gesture.back_low + gesture.back_high) * moves / ROWS_OF_REVERSAL
    pace = gesture.duration / max(gesture.steps, 1.0e-9)
    return Extent(moves, plain.steps, plain.travel + more, plain.seconds + more * pace)


@member(gesture_words, Reversing)
def words_of_reversing(gesture: Reversing, moves: int) -> str:
    """As if nothing turned back."""
    return gesture_words(gesture.gesture, moves // ROWS_OF_REVERSAL)


class Member(NamedTuple):
    """A gesture that makes ``rows`` rows at each turn of a mix that falls to it, and idle ones else.

    A turn falls to it when the mix's draw, addressed by the place ``mix`` in the hand and the turn,
    is at least ``low`` and below ``high``.
    """

    gesture: Any
    rows: int
    mix: int
    low: float
    high: float

    @property
    def steps(self) -> float:
        """The most steps of one movement."""
        return float(self.gesture.steps)

    @property
    def duration(self) -> float:
        """Seconds of one movement."""
        return float(self.gesture.duration)

    @property
    def dwell(self) -> float:
        """Seconds of rest after it."""
        return float(self.gesture.dwell)

    @property
    def share(self) -> float:
        """The share of turns that fall to it."""
        return min(self.high, 1.0) - self.low


@member(gesture_move, Member)
def take_turn(gesture: Member, seed: int, run: int, slot: int, k: int) -> Movement:
    """The gesture's own row if the turn falls to it."""
    u = four(seed, run, purpose(MIX, gesture.mix), k // gesture.rows)[0]
    if gesture.low <= u < gesture.high:
        return gesture_move(gesture.gesture, seed, run, slot, k)
    return idle()


@member(gesture_extent, Member)
def extent_of_member(gesture: Member, moves: int) -> Extent:
    """Its share on the average; the idle rows are there all the same."""
    whole = gesture_extent(gesture.gesture, moves)
    return Extent(
        moves, gesture.share * whole.steps, gesture.share * whole.travel, gesture.share * whole.seconds
    )


@member(gesture_words, Member)
def words_of_member(gesture: Member, moves: int) -> str:
    """Its share of the turns."""
    of_turn = gesture_words(gesture.gesture, gesture.rows)
    return f"{100.0 * gesture.share:.0f} % of {moves // gesture.rows} turns, each {of_turn or 'a rest'}"


@gesture_laws.register
def laws_of_vibration(gesture: Vibration, z: float) -> tuple[Laws, ...]:
    """Nothing turns."""
    return ()


@gesture_swing.register
def swing_of_vibration(gesture: Vibration) -> float:
    """As stated."""
    return gesture.amplitude


@gesture_swing.register
def swing_within(gesture: Member) -> float:
    """That of the gesture in it."""
    return gesture_swing(gesture.gesture)


@gesture_laws.register
def laws_within(gesture: Reversing | Member, z: float) -> tuple[Laws, ...] | None:
    """Those of the gesture in it; where the hand turns back on its way is left out."""
    return gesture_laws(gesture.gesture, z)
