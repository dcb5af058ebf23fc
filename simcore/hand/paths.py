"""How the shaft travels within one movement: minimum jerk, detent ripple, a table of angles, and their
inverses.

``f`` is the share of the way done, ``s`` the share of the time gone, both 0 to 1.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from simcore.base.compiling import member, rule
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
from simcore.base.draws import MOVE, four, lognormal, normal_pair, purpose
from simcore.base.records import Floats, Ints
from simcore.base.ticks import ticks
from simcore.hand.base import (
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

TWO_PI = 6.283185307179586


@rule
def minimum_jerk(s: float) -> float:
    """Share of the way done at time share ``s`` (Flash and Hogan, J. Neurosci. 5 (1985) 1688)."""
    return s * s * s * (10.0 + s * (6.0 * s - 15.0))


@rule
def minimum_jerk_speed(s: float) -> float:
    """Speed in units of the mean speed: 30 s^2 (1 - s)^2, at most 1.875."""
    return 30.0 * s * s * (1.0 - s) * (1.0 - s)


@rule
def minimum_jerk_time(f: float) -> float:
    """The time share at which a minimum-jerk move has done the share ``f`` of its way.

    Near the start f = 10 s^3, so a polynomial in the cube root of ``f`` (our own
    least-squares fit, good to 3 parts in 10,000) starts Newton's method so close that two
    steps reach the last digits (each squares the relative error).
    """
    if f <= 0.0:
        return 0.0
    if f >= 1.0:
        return 1.0
    near = f if f <= 0.5 else 1.0 - f
    y: float = near**0.3333333333333333
    s = y * (0.46411 + y * (0.112975 + y * (-0.013037 + y * (0.336356 + y * (0.401648 * y - 0.530353)))))
    s -= (minimum_jerk(s) - near) / minimum_jerk_speed(s)
    s -= (minimum_jerk(s) - near) / minimum_jerk_speed(s)
    return s if f <= 0.5 else 1.0 - s


CLOSE = 1.0e-8
"""A Newton step this small leaves an error of about its square."""


@rule
def ripple_place(turned: float, ripple: float) -> float:
    """Smooth progress ``u`` (steps) at which the shaft has really turned ``turned`` steps.

    Solves turned = u - (ripple / 2 pi) sin(2 pi u), 0 <= ripple < 1: the detents slow the
    shaft at rest positions and speed it up between them.  Newton's method inside a bracket
    that always holds the root.
    """
    if ripple == 0.0:
        return turned
    reach = ripple / TWO_PI
    low, high = turned - reach, turned + reach
    u = turned + reach * math.sin(TWO_PI * turned)
    for _ in range(60):
        error = u - reach * math.sin(TWO_PI * u) - turned
        if error > 0.0:
            high = u
        else:
            low = u
        following = u - error / (1.0 - ripple * math.cos(TWO_PI * u))
        if following < low or following > high:
            following = 0.5 * (low + high)
        step = abs(following - u)
        u = following
        if step < CLOSE:
            break
    return u


@rule
def ripple_speed(u: float, ripple: float) -> float:
    """Speed of the shaft in units of the smooth speed at smooth progress ``u`` (steps)."""
    return 1.0 - ripple * math.cos(TWO_PI * u)


@rule
def cubic_share(s: float, enter: float, leave: float) -> float:
    """Share of the way done at time share ``s`` of a cubic that begins with the speed ``enter`` and
    ends with ``leave``, both in units of the mean speed; it never turns back while both are 0 to 3.
    """
    return s * (enter + s * (3.0 - 2.0 * enter - leave + s * (enter + leave - 2.0)))


@rule
def cubic_speed(s: float, enter: float, leave: float) -> float:
    """Speed of that cubic in units of the mean speed."""
    return enter + s * (2.0 * (3.0 - 2.0 * enter - leave) + 3.0 * s * (enter + leave - 2.0))


@rule
def cubic_time(f: float, enter: float, leave: float) -> float:
    """The time share at which that cubic has done the share ``f`` of its way, to the last digits:
    Newton's method inside a bracket that always holds the root.
    """
    if f <= 0.0:
        return 0.0
    if f >= 1.0:
        return 1.0
    low, high, s = 0.0, 1.0, f
    for _ in range(100):
        error = cubic_share(s, enter, leave) - f
        if error > 0.0:
            high = s
        else:
            low = s
        slope = cubic_speed(s, enter, leave)
        following = s - error / slope if slope > 0.0 else -1.0
        if following <= low or following >= high:
            following = 0.5 * (low + high)
        if abs(following - s) < 1.0e-16:
            break
        s = following
    return s


def table_speeds(times: Sequence[float], places: Sequence[float]) -> list[float]:
    """Speeds at the points of a table through which a smooth path runs, at rest at both ends.

    The weighted harmonic mean of the slopes on either side, 0 where these differ in sign, after
    F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300: the path then turns back
    nowhere but at points of the table.
    """
    spans = [after - before for before, after in itertools.pairwise(times)]
    slopes = [(b - a) / span for (a, b), span in zip(itertools.pairwise(places), spans, strict=True)]
    speeds = [0.0]
    for i in range(1, len(spans)):
        before, after = slopes[i - 1], slopes[i]
        if before * after <= 0.0:
            speeds.append(0.0)
            continue
        one, other = 2.0 * spans[i] + spans[i - 1], spans[i] + 2.0 * spans[i - 1]
        speeds.append((one + other) / (one / before + other / after))
    return [*speeds, 0.0]


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
        return float(np.abs(self.meant).max())

    @property
    def duration(self) -> float:
        return float(self.ends[-1])

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Path):
            return NotImplemented
        return all(np.array_equal(np.asarray(a), np.asarray(b)) for a, b in zip(self, other, strict=True))

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __hash__(self) -> int:
        return hash(tuple(tuple(np.atleast_1d(part)) for part in self))


def path_of(
    times: Sequence[float], places: Sequence[float], smooth: bool, heading: int,
    pace_spread: float, dwell: float, dwell_spread: float,
) -> Path:  # fmt: skip
    """The path through ``places`` (steps) at ``times`` (s, rising from 0), two points at least.

    Straight pieces, or a smooth path that is at rest at both ends (see simcore.hand.paths).  From each
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
            f"expected one angle for each of the {len(values.times)} times",
            f"{len(values.angles)} angles",
        )
    if len(set(values.angles)) == 1:
        return Conflict(
            "angles",
            "expected angles that turn the shaft; the gesture for a shaft at rest is rest",
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
        Key("times", Quantities(PAUSE, 2, MOST_POINTS, rising=True), "of the points, from 0 s on"),
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
    turns = moves / gesture.ends.size
    steps = float(np.ceil(np.abs(gesture.meant)).sum())
    travel = float(np.abs(gesture.distances).sum())
    return Extent(moves, turns * steps, turns * travel, turns * (gesture.duration + gesture.dwell))


@member(gesture_words, Path)
def words_of_path(gesture: Path, moves: int) -> str:
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
