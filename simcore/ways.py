"""One row of the hand as the shaft goes it: its law of speed, and the steps that it belongs to."""

from __future__ import annotations

import math
from typing import NamedTuple

from simcore.compiling import rule
from simcore.edges import Floats
from simcore.geometry import Geometry
from simcore.hand import (
    CONSTANT,
    CUBIC,
    DISTANCE,
    DURATION,
    DWELL,
    ENTER,
    JOINED,
    LEAVE,
    RIPPLE,
    SAME_STEPS,
    STEADY,
)
from simcore.paths import (
    cubic_speed,
    cubic_time,
    minimum_jerk_speed,
    minimum_jerk_time,
    ripple_place,
    ripple_speed,
)


@rule
def snapped(place: float) -> float:
    """``place`` rid of rounding, so that a hundred steps of 1.0 end on a whole number."""
    near = math.floor(place + 0.5)
    return near if abs(place - near) < 1.0e-9 else place


class Way(NamedTuple):
    """One row as it is crossed: when and where it starts and ends, its law, and the steps that its
    transitions may belong to.

    ``until`` and ``goal`` are tick and place at which the shaft stops or turns back, which may lie
    some rows on.  ``origin`` is where the movement began, ``sense`` 1 if it goes up and -1 if down,
    ``reached`` its furthest step yet.
    """

    start: int
    end: int
    place: float
    target: float
    until: int
    goal: float
    first_step: int
    reached: int
    last_step: int
    origin: float
    sense: float
    steady: float
    ripple: float
    enter: float
    leave: float
    pitch: float
    degrees: float


@rule
def crossing(turned: float, distance: float, way: Way) -> tuple[float, float]:
    """Time share, and speed in units of the mean, when a row has turned ``turned`` of ``distance``."""
    smooth = ripple_place(turned, way.ripple)
    f = smooth / distance
    pace = ripple_speed(smooth, way.ripple)
    if way.steady == CONSTANT:
        return min(f, 1.0), pace
    if way.steady == CUBIC:
        s = cubic_time(f, way.enter, way.leave)
        return s, pace * cubic_speed(s, way.enter, way.leave)
    s = minimum_jerk_time(f)
    return s, pace * minimum_jerk_speed(s)


@rule
def step_at(way: Way, place: float) -> int:
    """The step that the movement has begun once the shaft comes to ``place``."""
    begun = way.first_step + int((place - way.origin) * way.sense)
    return max(way.reached, min(begun, way.last_step))


class Stretch(NamedTuple):
    """Rows in which the shaft goes one way without a stop: the ``last`` of them, and when (tick) and
    where it ends.
    """

    last: int
    until: int
    goal: float


@rule
def stretch_from(moves: Floats, r: int, k: int, end: int, target: float) -> Stretch:
    """The stretch that begins with row ``k`` of run ``r``, which ends at ``end`` and ``target``."""
    while (
        k + 1 < moves.shape[1]
        and moves[r, k + 1, JOINED] == SAME_STEPS
        and moves[r, k + 1, DISTANCE] * moves[r, k, DISTANCE] > 0.0
        and moves[r, k, DWELL] == 0.0
    ):
        k += 1
        end += int(moves[r, k, DURATION])
        target = snapped(target + moves[r, k, DISTANCE])
    return Stretch(k, end, target)


class Begun(NamedTuple):
    """A movement under way: its first step, the furthest step yet, where it began and which way."""

    first_step: int
    reached: int
    origin: float
    sense: float


@rule
def way_of(
    geometry: Geometry, row: Floats, time: int, place: float, stretch: Stretch, begun: Begun, end_step: int
) -> Way:
    """The way of one row that starts at ``time`` and ``place``; steps up to ``end_step`` are open."""
    return Way(
        time, time + int(row[DURATION]), place, snapped(place + row[DISTANCE]), stretch.until, stretch.goal,
        begun.first_step, begun.reached, end_step - 1,
        begun.origin, begun.sense,
        row[STEADY], row[RIPPLE], row[ENTER], row[LEAVE],
        geometry.cycles_per_step, 360.0 / geometry.steps_per_turn,
    )  # fmt: skip
