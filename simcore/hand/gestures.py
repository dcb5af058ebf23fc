"""The gestures that a scenario names, but for the table of angles (simcore.hand.paths): plain ones, a shaft
that shakes at rest, a hand that turns back on its way, and a mix of gestures.

The defaults are for 20 detents and follow common practice: a detent's spring turns the shaft, so the edges
of even a slow click lie 2 to 7 ms apart; a fast turn has them about 2 ms apart.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Callable
from typing import Any, NamedTuple

from simcore.base.compiling import member, rule
from simcore.base.description import (
    DURATION,
    PAUSE,
    SMALL_ANGLE,
    SPREAD,
    TURNING,
    Conflict,
    Count,
    GestureDescription,
    GestureTables,
    Key,
    PlainNumber,
    Quantity,
    Share,
    Subtable,
)
from simcore.base.draws import MIX, MOVE, REVERSAL, SHAKE, between, four, lognormal, normal_pair, purpose
from simcore.base.ticks import ticks
from simcore.hand.base import (
    AT_REST,
    CLICK,
    CREEP,
    DIRECTION,
    HEADINGS,
    MINIMUM_JERK,
    MOST_MOVES,
    MOVES,
    NEW_STEPS,
    REST,
    ROCK,
    SAME_STEPS,
    SPIN,
    TWIST,
    UP,
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
        return 0.0

    @property
    def dwell(self) -> float:
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
        return self.gesture.steps

    @property
    def duration(self) -> float:
        return self.gesture.duration

    @property
    def dwell(self) -> float:
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
    plain = gesture_extent(gesture.gesture, moves // ROWS_OF_REVERSAL)
    more = gesture.chance * (gesture.back_low + gesture.back_high) * moves / ROWS_OF_REVERSAL
    pace = gesture.duration / max(gesture.steps, 1.0e-9)
    return Extent(moves, plain.steps, plain.travel + more, plain.seconds + more * pace)


@member(gesture_words, Reversing)
def words_of_reversing(gesture: Reversing, moves: int) -> str:
    return gesture_words(gesture.gesture, moves // ROWS_OF_REVERSAL)


PART_OF_STEP = Share(0.001, 0.999)
RIPPLE = Key("ripple", Share(0.0, 0.95), "how much the detents make the speed uneven", 0.0)


def way_in_order(values: Any) -> Conflict | None:
    """The longest way is not below the shortest."""
    if values.low <= values.high:
        return None
    return Conflict("high", "expected at least low, which is {low}")


REVERSAL_KEY = Key(
    "reversal",
    Subtable(
        (
            Key("chance", Share(), "of a movement to turn back; 0: none does", 0.0),
            Key("low", PART_OF_STEP, "shortest way back, as a share of a detent", 0.1),
            Key("high", PART_OF_STEP, "longest way back", 0.5),
        ),
        way_in_order,
    ),
    "turning back on the way",
)


def reversing(values: Any, gesture: Gesture) -> Any:
    """The gesture, turning back now and then if its values say so."""
    back = values.reversal
    return gesture if back.chance == 0.0 else Reversing(gesture, back.chance, back.low, back.high)


def rows(values: Any) -> int:
    return ROWS_OF_REVERSAL if values.reversal.chance > 0.0 else 1


def pace(
    of: str, duration: float, duration_spread: float, dwell: float, dwell_spread: float
) -> tuple[Key, ...]:
    """How long a movement takes and the rest after it."""
    return (
        Key("duration", DURATION, f"of {of}, median", duration),
        Key("duration_spread", SPREAD, "spread of its logarithm", duration_spread),
        Key("dwell", PAUSE, "rest after it, median", dwell),
        Key("dwell_spread", SPREAD, "spread of its logarithm", dwell_spread),
    )


def plain(
    values: Any, kind: int, moves: int, steps: float, duration: float | None = None, ripple: float = 0.0
) -> Gesture:
    return Gesture(
        kind, moves, steps, steps, HEADINGS[values.direction],
        values.duration if duration is None else duration, values.duration_spread,
        values.dwell, values.dwell_spread, 0, ripple,
    )  # fmt: skip


CLICK_GESTURE = GestureDescription(
    name="click",
    meaning="One detent at a time, with a pause after each.",
    keys=(
        Key("clicks", MOVES, "how many in a run", 8),
        Key("direction", DIRECTION, "which way", "up"),
        *pace("one click", 28.0e-3, 0.25, 0.15, 0.3),
        REVERSAL_KEY,
    ),
    build=lambda values, steps_per_turn: reversing(values, plain(values, CLICK, values.clicks, 1.0)),
    moves=lambda values: values.clicks * rows(values),
    mixable=True,
    repeats="clicks",
)

TWIST_GESTURE = GestureDescription(
    name="twist",
    meaning="Several detents in one movement; duration is that of one detent.",
    keys=(
        Key("twists", MOVES, "how many in a run", 2),
        Key("detents", Count(1, 1000), "turned by each twist", 5),
        Key("direction", DIRECTION, "which way", "up"),
        *pace("one detent", 12.0e-3, 0.15, 0.3, 0.3),
        dataclasses.replace(RIPPLE, default=0.3),
        REVERSAL_KEY,
    ),
    build=lambda values, steps_per_turn: reversing(
        values,
        plain(
            values, TWIST, values.twists, float(values.detents), values.duration * values.detents,
            values.ripple,
        ),
    ),
    moves=lambda values: values.twists * rows(values),
    mixable=True,
    repeats="twists",
)  # fmt: skip


def spin(values: Any, steps_per_turn: int) -> Gesture:
    steps = float(round(values.turns * steps_per_turn))
    return Gesture(
        SPIN, 1, steps, steps, HEADINGS[values.direction], values.turns / values.speed, values.speed_spread,
        values.dwell, values.dwell_spread, 1, values.ripple,
    )  # fmt: skip


def part_of_a_step(values: Any, steps_per_turn: int) -> Conflict | None:
    """A spin ends on a whole step."""
    steps = values.turns * steps_per_turn
    if round(steps) >= 1 and math.isclose(steps, round(steps), rel_tol=1e-9):
        return None
    return Conflict(
        "turns",
        f"{values.turns:g} turns are {steps:g} steps of the shaft; expected turns that end on a whole "
        "step, at least one",
        f"{values.turns:g}",
    )


SPIN_GESTURE = GestureDescription(
    name="spin",
    meaning="Turning at constant speed, as a machine does.",
    keys=(
        Key("speed", TURNING, "median speed", 1.0),
        Key("speed_spread", SPREAD, "spread of its logarithm", 0.0),
        Key("turns", PlainNumber(0.0, 1000.0), "revolutions", 1.0),
        Key("direction", DIRECTION, "which way", "up"),
        Key("dwell", PAUSE, "rest after it, median", 0.3),
        Key("dwell_spread", SPREAD, "spread of its logarithm", 0.0),
        RIPPLE,
    ),
    build=spin,
    moves=lambda values: 1,
    on_shaft=part_of_a_step,
    mixable=True,
)

CREEP_GESTURE = GestureDescription(
    name="creep",
    meaning="One detent at a time, slowly, held by the fingers.",
    keys=(
        Key("crossings", MOVES, "how many in a run", 4),
        Key("direction", DIRECTION, "which way", "up"),
        *pace("one crossing", 0.15, 0.25, 0.2, 0.3),
        REVERSAL_KEY,
    ),
    build=lambda values, steps_per_turn: reversing(values, plain(values, CREEP, values.crossings, 1.0)),
    moves=lambda values: values.crossings * rows(values),
    mixable=True,
    repeats="crossings",
)

ROCK_GESTURE = GestureDescription(
    name="rock",
    meaning="Turned part of the way to the next detent and let back.",
    keys=(
        Key("rocks", Count(1, MOST_MOVES // 2), "how many in a run", 4),
        Key(
            "extent",
            Subtable(
                (
                    Key("low", PART_OF_STEP, "shortest way, as a share of a detent", 0.1),
                    Key("high", PART_OF_STEP, "longest way", 0.6),
                ),
                way_in_order,
            ),
            "how far it goes",
        ),
        Key("direction", DIRECTION, "which way first", "either"),
        *pace("each way", 60.0e-3, 0.25, 0.1, 0.3),
    ),
    build=lambda values, steps_per_turn: plain(values, ROCK, 2 * values.rocks, values.extent.high)._replace(
        steps_low=values.extent.low
    ),
    # There and back.
    moves=lambda values: 2 * values.rocks,
    mixable=True,
    repeats="rocks",
)


def swings(values: Any) -> int:
    """Ways from one turning point of a vibration to the next."""
    return max(2, round(2.0 * values.frequency * values.duration)) if values.vibration > 0.0 else 0


def rest(values: Any, steps_per_turn: int) -> Any:
    if swings(values):
        return Vibration(
            swings(values), values.vibration * steps_per_turn / 360.0, values.vibration_spread,
            values.duration, values.duration_spread,
        )  # fmt: skip
    return Gesture(REST, 1, 0.0, 0.0, UP, values.duration, values.duration_spread, 0.0, 0.0, 0, 0.0)


def shakes_too_far(values: Any, steps_per_turn: int) -> Conflict | None:
    """A shaft at rest stays nearer to its rest position than to the next."""
    pitch = 360.0 / steps_per_turn
    if values.vibration < FARTHEST * pitch:
        return None
    return Conflict(
        "vibration",
        f"steps of the shaft lie {pitch:g} deg apart; expected a vibration that swings less than half as "
        "far to either side",
    )


REST_GESTURE = GestureDescription(
    name="rest",
    meaning="No movement for a time, or a shaft that shakes about its rest position.",
    keys=(
        Key("duration", DURATION, "how long, median", 0.5),
        Key("duration_spread", SPREAD, "spread of its logarithm", 0.0),
        Key("vibration", SMALL_ANGLE, "how far the shaft swings to either side", 0.0),
        Key("vibration_spread", SPREAD, "standard deviation of the swings' logarithm", 0.3),
        Key("frequency", Quantity("frequency", 0.1, 1000.0), "swings to and fro per second", 25.0),
    ),
    build=rest,
    # One of no steps, or one for each swing.
    moves=lambda values: swings(values) or 1,
    on_shaft=shakes_too_far,
    mixable=True,
)


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
        return float(self.gesture.steps)

    @property
    def duration(self) -> float:
        return float(self.gesture.duration)

    @property
    def dwell(self) -> float:
        return float(self.gesture.dwell)

    @property
    def share(self) -> float:
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
    of_turn = gesture_words(gesture.gesture, gesture.rows)
    return f"{100.0 * gesture.share:.0f} % of {moves // gesture.rows} turns, each {of_turn or 'a rest'}"


MOST_MEMBERS = 20
"""Gestures of one mix."""


def members_conflict(values: Any) -> Conflict | None:
    """Neither none nor too many, and some weight."""
    if not 1 <= len(values.of) <= MOST_MEMBERS:
        return Conflict(
            "of", f"expected a mix of 1 to {MOST_MEMBERS}, each in [hand.of.NAME]",
            f"{len(values.of)} gestures",
        )  # fmt: skip
    if sum(each.weight for each in values.of.values()) == 0.0:
        return Conflict(
            "of", "expected a mix in which one weight at least is above 0", "weights that are all 0"
        )
    return None


def mix_entries(values: Any, place: int, entry: Callable[[Any], Any]) -> tuple[Any, ...]:
    """One entry for each gesture, under the mix's name and its own."""
    total = sum(each.weight for each in values.of.values())
    ends = [*itertools.accumulate(each.weight / total for each in values.of.values())][:-1]
    entries = []
    # The last bound lies beyond all draws, whatever the rounding of the sum.
    for (name, each), low, high in zip(values.of.items(), [0.0, *ends], [*ends, 2.0], strict=True):
        own = entry(each)
        entries.append(
            dataclasses.replace(
                own, name=f"{values.name}: {name}", gesture=Member(own.gesture, own.moves, place, low, high),
                moves=values.turns * own.moves, mix=values.name,
            )
        )  # fmt: skip
    return tuple(entries)


def no_gesture(values: Any, steps_per_turn: int) -> Any:
    """A mix is several entries and no gesture itself."""
    raise TypeError("a mix has no gesture of its own")


MIX_OF_GESTURES = GestureDescription(
    name="mix",
    meaning="Turn after turn one of several gestures, drawn by their weights.",
    keys=(
        Key("turns", MOVES, "how many movements are drawn in a run", 12),
        Key("of", GestureTables(), "the gestures, each in a table [hand.of.NAME]"),
    ),
    build=no_gesture,
    check=members_conflict,
    moves=lambda values: 0,
    entries=mix_entries,
)


@gesture_laws.register
def laws_of_vibration(gesture: Vibration, z: float) -> tuple[Laws, ...]:
    return ()


@gesture_swing.register
def swing_of_vibration(gesture: Vibration) -> float:
    return gesture.amplitude


@gesture_swing.register
def swing_within(gesture: Member) -> float:
    return gesture_swing(gesture.gesture)


@gesture_laws.register
def laws_within(gesture: Reversing | Member, z: float) -> tuple[Laws, ...] | None:
    """Those of the gesture in it; where the hand turns back on its way is left out."""
    return gesture_laws(gesture.gesture, z)
