"""A gesture that follows a table of angles over time."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from simcore.base.description import (
    PAUSE,
    SPREAD,
    Conflict,
    GestureDescription,
    Key,
    Quantities,
    Quantity,
    Word,
)
from simcore.compiling import member
from simcore.draws import MOVE, four, lognormal, normal_pair, purpose
from simcore.edges import Floats, Ints
from simcore.hand import (
    CONSTANT,
    CUBIC,
    DIRECTION,
    HEADINGS,
    MOVES,
    NEW_STEPS,
    SAME_STEPS,
    Extent,
    Law,
    Laws,
    Movement,
    gesture_extent,
    gesture_laws,
    gesture_move,
    gesture_words,
    heading_sign,
)
from simcore.paths import table_speeds
from simcore.ticks import ticks


class Path(NamedTuple):
    """A table of places over time, turned into one row from each point to the next.

    Per row: ``ends`` (s from the beginning of a turn), ``distances`` (steps), what it begins
    (``joined``) with the steps that are ``meant``, and its speeds at both ends in units of its mean.
    ``steady`` is CONSTANT or CUBIC; ``pace_spread`` the standard deviation of the logarithm of a
    factor on all times of a turn; ``dwell`` the seconds of rest after it.
    """

    ends: Floats
    distances: Floats
    joined: Ints
    meant: Floats
    enter: Floats
    leave: Floats
    steady: int
    heading: int
    pace_spread: float
    dwell: float
    dwell_spread: float

    @property
    def steps(self) -> float:
        """The most steps that one row begins."""
        return float(np.abs(self.meant).max())

    @property
    def duration(self) -> float:
        """Seconds of one turn."""
        return float(self.ends[-1])

    def __eq__(self, other: object) -> bool:
        """Equal in every number."""
        if not isinstance(other, Path):
            return NotImplemented
        return all(np.array_equal(np.asarray(a), np.asarray(b)) for a, b in zip(self, other, strict=True))

    def __ne__(self, other: object) -> bool:
        """Unequal in some number."""
        return not self == other

    def __hash__(self) -> int:
        """By the numbers."""
        return hash(tuple(tuple(np.atleast_1d(part)) for part in self))


def path_of(
    times: Sequence[float], places: Sequence[float], smooth: bool, heading: int,
    pace_spread: float, dwell: float, dwell_spread: float,
) -> Path:  # fmt: skip
    """The path through ``places`` (steps) at ``times`` (s, rising from 0), two points at least.

    Straight pieces, or a smooth path that is at rest at both ends (see simcore.paths).  From each
    turning point on the path is a movement of its own that begins new steps, counted from there:
    the last of them is a whole one only if the way to the next turning point is a whole number of
    steps.  A hold turns nothing back; the steps go on after it.
    """
    spans = np.diff(np.array(times, np.float64))
    distances = np.diff(np.array(places, np.float64))
    joined = np.full(distances.size, SAME_STEPS, np.int64)
    meant = np.zeros(distances.size)
    first, sign = 0, 0.0
    for i, distance in enumerate(distances):
        if distance != 0.0 and np.sign(distance) != sign:
            first, sign = i, np.sign(distance)
            joined[i] = NEW_STEPS
        meant[first] += distance
    enter, leave = np.ones(distances.size), np.ones(distances.size)
    if smooth:
        speeds = table_speeds(times, places)
        for i, (before, after) in enumerate(itertools.pairwise(speeds)):
            mean = distances[i] / spans[i]
            enter[i], leave[i] = (before / mean, after / mean) if mean else (0.0, 0.0)
    return Path(
        np.array(times[1:], np.float64), distances, joined, meant, enter, leave,
        CUBIC if smooth else CONSTANT, heading, pace_spread, dwell, dwell_spread,
    )  # fmt: skip


MOST_POINTS = 1000
"""Points of one path."""


def table_conflict(values: Any) -> Conflict | None:
    """One angle to each time, and some way to go."""
    if len(values.times) != len(values.angles):
        return Conflict(
            "angles",
            f"allowed is one angle for each of the {len(values.times)} times",
            f"{len(values.angles)} angles",
        )
    if len(set(values.angles)) == 1:
        return Conflict(
            "angles",
            "a path must turn the shaft; the gesture for that is rest",
            "the same angle throughout",
        )
    return None


def path(values: Any, steps_per_turn: int) -> Path:
    """The same in steps from where the shaft is."""
    places = [(angle - values.angles[0]) * steps_per_turn / 360.0 for angle in values.angles]
    return path_of(
        values.times, places, values.interpolation == "smooth", HEADINGS[values.direction],
        values.pace_spread, values.dwell, values.dwell_spread,
    )  # fmt: skip


PATH = GestureDescription(
    name="path",
    meaning="The angle of the shaft as a table over time, with as many turns back as it has.",
    keys=(
        Key(
            "times",
            Quantities(PAUSE, 2, MOST_POINTS, rising=True),
            "of the points, from 0 s on",
        ),
        Key(
            "angles",
            Quantities(Quantity("angle", -36_000.0, 36_000.0), 2, MOST_POINTS),
            "of the shaft at these times; only their differences count",
        ),
        Key(
            "interpolation",
            Word(("smooth", "linear")),
            "between points; smooth is at rest at both ends and at turning points",
            "smooth",
        ),
        Key("repeats", MOVES, "how often the hand does it", 1),
        Key("direction", DIRECTION, "up as the table has it, down the other way round", "up"),
        Key("pace_spread", SPREAD, "standard deviation of the logarithm of a factor on all times", 0.0),
        Key("dwell", PAUSE, "rest after it", 0.3),
        Key("dwell_spread", SPREAD, "standard deviation of its logarithm", 0.0),
    ),
    build=path,
    check=table_conflict,
    moves=lambda values: int(values.repeats * (len(values.times) - 1)),
    mixable=True,
)


@member(gesture_move, Path)
def follow(gesture: Path, seed: int, run: int, slot: int, k: int) -> Movement:
    """One piece of the table."""
    pieces = gesture.ends.size
    i, turn = k % pieces, k // pieces
    u = four(seed, run, purpose(MOVE, slot), 2 * turn)
    pace, stay = normal_pair(u[0], u[1])
    factor = lognormal(1.0, gesture.pace_spread, pace)
    begins = ticks(factor * gesture.ends[i - 1]) if i > 0 else 0
    dwell = ticks(lognormal(gesture.dwell, gesture.dwell_spread, stay)) if i == pieces - 1 else 0
    sign = float(heading_sign(gesture.heading, seed, run, slot, turn))
    return Movement(
        max(ticks(factor * gesture.ends[i]) - begins, 1), sign * gesture.distances[i], gesture.steady,
        0.0, dwell, gesture.joined[i], sign * gesture.meant[i], gesture.enter[i], gesture.leave[i],
    )  # fmt: skip


@member(gesture_extent, Path)
def extent_of_path(gesture: Path, moves: int) -> Extent:
    """As the table has it."""
    turns = moves / gesture.ends.size
    steps = float(np.ceil(np.abs(gesture.meant)).sum())
    travel = float(np.abs(gesture.distances).sum())
    return Extent(moves, turns * steps, turns * travel, turns * (gesture.duration + gesture.dwell))


@member(gesture_words, Path)
def words_of_path(gesture: Path, moves: int) -> str:
    """Turns and points."""
    return f"{moves // gesture.ends.size} x a path of {gesture.ends.size + 1} points"


@gesture_laws.register
def laws_of_path(path: Path, z: float) -> tuple[Laws, ...]:
    """The parts of the table between two turning points."""
    return tuple(_ways(tuple(_pieces(path, z))))


def _pieces(path: Path, z: float) -> Iterator[Law]:
    """The rows of a table; each begins where the one before ended, without a pause."""
    factor, before = math.exp(z * path.pace_spread), 0.0
    for i in range(path.ends.size):
        seconds, steps = factor * (float(path.ends[i]) - before), float(path.distances[i])
        before = float(path.ends[i])
        yield Law(seconds, steps, path.steady, 0.0, float(path.enter[i]), float(path.leave[i]), 0.0)


def _ways(pieces: Laws) -> Iterator[Laws]:
    way: list[Law] = []
    for law in pieces:
        if law.steps and any(law.steps * before.steps < 0.0 for before in way):
            yield tuple(way)
            way = []
        way.append(law)
    yield tuple(way)
