"""The hand: gestures become movements, drawn anew for every run.

A movement is a row of numbers.  Most gestures make one row of each movement.  Some make several,
joined rows, of which only the first begins new steps: a shaft that shakes at rest, a hand that turns
back on its way, and a mix of gestures.  A table of angles is in simcore.hand.paths.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from simcore.base.compiling import family, family_with_default, kernel, member, rule
from simcore.base.draws import (
    HEADING,
    MIX,
    MOVE,
    REVERSAL,
    SHAKE,
    between,
    four,
    lognormal,
    normal_pair,
    purpose,
)
from simcore.base.records import Floats, Ints
from simcore.base.ticks import ticks

CLICK, TWIST, SPIN, CREEP, ROCK, REST = range(6)
GESTURE_KINDS = ("click", "twist", "spin", "creep", "rock", "rest")

UP, DOWN, EITHER, ALTERNATE = 1, -1, 0, 2

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
