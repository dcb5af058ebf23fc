"""The shaft: movements become transitions.

The shaft's position is counted in steps (detents; quadrature cycles where there are no
detents) from where the run starts.  A movement is inverted for the instant of every
contact boundary it crosses; time is never stepped.

A movement may consist of several joined rows, each with its law of speed, and turn back between them.
Its steps are counted from where it began, one for each whole step of its way, and a transition belongs
to the furthest step that the movement had begun by then: a way back, however far, belongs to the step in
which the hand turned back, and so does the same way gone again.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from simcore.base.compiling import kernel, rule
from simcore.base.records import NOTHING_MEANT, Floats, Ints, Steps, Transitions, whole
from simcore.base.ticks import NEVER
from simcore.hand.base import (
    AT_REST,
    CONSTANT,
    CUBIC,
    DISTANCE,
    DURATION,
    DWELL,
    ENTER,
    JOINED,
    LEAVE,
    MEANT,
    RIPPLE,
    SAME_STEPS,
    STEADY,
)
from simcore.hand.geometry import Angles, Geometry, boundaries, boundary_place, first_boundary, resting_state
from simcore.hand.paths import (
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


class OneWayStretch(NamedTuple):
    """Rows in which the shaft goes one way without a stop: the ``last`` of them, and when (tick) and
    where it ends.
    """

    last: int
    until: int
    goal: float


@rule
def stretch_from(moves: Floats, r: int, k: int, end: int, target: float) -> OneWayStretch:
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
    return OneWayStretch(k, end, target)


class MovementStart(NamedTuple):
    """A movement under way: its first step, the furthest step yet, where it began and which way."""

    first_step: int
    reached: int
    origin: float
    sense: float


@rule
def way_of(
    geometry: Geometry,
    row: Floats,
    time: int,
    place: float,
    stretch: OneWayStretch,
    begun: MovementStart,
    end_step: int,
) -> Way:
    """The way of one row that starts at ``time`` and ``place``; steps up to ``end_step`` are open."""
    return Way(
        time, time + int(row[DURATION]), place, snapped(place + row[DISTANCE]), stretch.until, stretch.goal,
        begun.first_step, begun.reached, end_step - 1,
        begun.origin, begun.sense,
        row[STEADY], row[RIPPLE], row[ENTER], row[LEAVE],
        geometry.cycles_per_step, 360.0 / geometry.steps_per_turn,
    )  # fmt: skip


LEAD = 10_000_000_000
"""Ticks (10 ms) of stillness before the first movement of a run."""


@rule
def open_steps(row: Floats, gesture: int, m: int, steps: Steps) -> int:
    """Write the steps that a movement begins; returns the next free row, or -1 without room."""
    distance = abs(row[MEANT])
    at_rest = row[JOINED] == AT_REST
    count = 1 if at_rest else int(math.ceil(distance - 1.0e-9))
    if m + count > steps.gestures.size:
        return -1
    for i in range(count):
        steps.gestures[m + i] = gesture
        steps.directions[m + i] = -1 if row[MEANT] < 0.0 else 1
        steps.whole[m + i] = 1 if i + 1 <= distance + 1.0e-9 else 0
        if at_rest:
            steps.whole[m + i] = NOTHING_MEANT
        steps.spacings[m + i] = NEVER
    return m + count


@rule
def write_transition(
    out: Transitions, n: int, way: Way, angles: Angles, crossed: int, at: float, latest: int
) -> int:
    """Fill row ``n`` for boundary ``crossed``, which lies at ``at``; returns its tick."""
    up = way.target > way.place
    distance = abs(way.target - way.place)
    beyond = boundary_place(angles, way.pitch, crossed + (2 if up else -2))
    turned = min(abs(at - way.place), distance)
    share, pace = crossing(turned, distance, way)
    duration = way.end - way.start
    part = crossed % 4
    out.times[n] = max(way.start + int(math.floor(share * duration + 0.5)), latest)
    out.channels[n] = part % 2
    out.closed[n] = 1 if (part < 2) == up else 0
    out.steps[n] = step_at(way, at)
    out.directions[n] = 1 if up else -1
    out.speeds[n] = pace * distance * way.degrees * 1.0e12 / duration
    out.until[n] = way.until
    out.travel[n] = min(abs(beyond - at), abs(way.goal - at)) * way.degrees
    out.boundaries[n] = crossed
    return whole(out.times[n])


@rule
def cross_move(
    out: Transitions, steps: Steps, way: Way, angles: Angles, n: int, j: int, latest: int
) -> tuple[int, int, int]:
    """Write all transitions of one row; returns the next row (-1 without room), the next
    boundary upward, and the tick of the latest transition of the run (-1: none yet).
    """
    up = way.target > way.place
    while way.target != way.place:
        crossed = j if up else j - 1
        at = boundary_place(angles, way.pitch, crossed)
        if (up and at > way.target) or (not up and at <= way.target):
            break
        if n >= out.times.size:
            return -1, j, latest
        time = write_transition(out, n, way, angles, crossed, at, latest)
        step = out.steps[n]
        if latest >= 0:
            steps.spacings[step] = min(steps.spacings[step], time - latest)
        latest = time
        n += 1
        j += 1 if up else -1
    return n, j, latest


@rule
def cross_run(
    geometry: Geometry, gestures: Ints, moves: Floats, angles: Angles, r: int, out: Transitions,
    steps: Steps, n: int, m: int,
) -> tuple[int, int]:  # fmt: skip
    """Turn the rows of run ``r`` into transitions and steps; returns their next rows, or -1."""
    j = first_boundary(angles, geometry.cycles_per_step)
    out.first[r] = resting_state(j)
    time, place, latest = LEAD, 0.0, -1
    begun, stretch = MovementStart(m, m, 0.0, 1.0), OneWayStretch(-1, 0, 0.0)
    for k in range(moves.shape[1]):
        row = moves[r, k]
        if row[JOINED] != SAME_STEPS:
            begun = MovementStart(m, m, place, -1.0 if row[MEANT] < 0.0 else 1.0)
            m = open_steps(row, gestures[k], m, steps)
        if m < 0:
            return -1, -1
        if k > stretch.last:
            stretch = stretch_from(moves, r, k, time + int(row[DURATION]), snapped(place + row[DISTANCE]))
        way = way_of(geometry, row, time, place, stretch, begun, m)
        n, j, latest = cross_move(out, steps, way, angles, n, j, latest)
        if n < 0:
            return -1, -1
        reached = max(begun.reached, step_at(way, way.target))
        begun = MovementStart(begun.first_step, reached, begun.origin, begun.sense)
        place = way.target
        time = way.end + int(row[DWELL])
    out.ends[r] = time
    return n, m


@kernel
def cross(
    geometry: Geometry,
    gestures: Ints,
    moves: Floats,
    seed: int,
    first_run: int,
    out: Transitions,
    steps: Steps,
) -> int:
    """Turn movements into transitions and steps, run by run; returns the runs that found room.

    ``gestures`` (rows of a run,) names each row's gesture.  Fewer runs than asked for
    means that ``out`` or ``steps`` is too short.
    """
    n, m = 0, 0
    for r in range(moves.shape[0]):
        base = m
        angles = boundaries(geometry, seed, first_run + r)
        n, m = cross_run(geometry, gestures, moves, angles, r, out, steps, n, m)
        if n < 0:
            return r
        for i in range(out.offsets[r], n):
            out.steps[i] -= base
        out.offsets[r + 1] = n
        steps.offsets[r + 1] = m
    return int(moves.shape[0])
