"""The shaft: movements become transitions.

The shaft's position is counted in steps (detents; quadrature cycles where there are no
detents) from where the run starts.  A movement is inverted for the instant of every
contact boundary it crosses; time is never stepped.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from simcore.compiling import kernel, rule
from simcore.draws import GEOMETRY, four, purpose
from simcore.edges import Floats, Ints, Steps, Transitions, whole
from simcore.hand import (
    ALTERNATE,
    CLICK,
    CREEP,
    DISTANCE,
    DOWN,
    DURATION,
    DWELL,
    EITHER,
    GESTURE_KINDS,
    JOINED,
    MOVE_COLUMNS,
    REST,
    RIPPLE,
    ROCK,
    SPIN,
    STEADY,
    TWIST,
    UP,
    Gesture,
    Movement,
    fill_moves,
    gesture_move,
)
from simcore.paths import minimum_jerk_speed, minimum_jerk_time, ripple_place, ripple_speed
from simcore.ticks import NEVER

__all__ = [
    "ALTERNATE",
    "CLICK",
    "CREEP",
    "DISTANCE",
    "DOWN",
    "DURATION",
    "DWELL",
    "EITHER",
    "GESTURE_KINDS",
    "JOINED",
    "MOVE_COLUMNS",
    "REST",
    "RIPPLE",
    "ROCK",
    "SPIN",
    "STEADY",
    "TWIST",
    "UP",
    "Geometry",
    "Gesture",
    "Movement",
    "boundaries",
    "cross",
    "fill_moves",
    "gesture_move",
]

LEAD = 10_000_000_000
"""Ticks (10 ms) of stillness before the first movement of a run."""

Angles = tuple[float, float, float, float]


class Geometry(NamedTuple):
    """The encoder's angles.  Electrical angles are shares of a quadrature cycle.

    ``closed``: span over which each contact is closed; ``phase``: from A's span to B's;
    ``rest``: rest position, counted from the middle of the span with both contacts open.
    Every ``_spread`` is the half width of a uniform error that belongs to the unit.
    """

    steps_per_turn: float
    cycles_per_step: float
    closed: float
    closed_spread: float
    phase: float
    phase_spread: float
    rest: float
    rest_spread: float


@rule
def boundaries(geometry: Geometry, seed: int, run: int) -> Angles:
    """Electrical angles (cycles from rest) at which A closes, B closes, A opens, B opens, turning up."""
    u = four(seed, run, purpose(GEOMETRY, 0), 0)
    closed_a = geometry.closed + geometry.closed_spread * (2.0 * u[0] - 1.0)
    closed_b = geometry.closed + geometry.closed_spread * (2.0 * u[1] - 1.0)
    phase = geometry.phase + geometry.phase_spread * (2.0 * u[2] - 1.0)
    rest = geometry.rest + geometry.rest_spread * (2.0 * u[3] - 1.0)
    return angles_of(closed_a, closed_b, phase, rest)


@rule
def angles_of(closed_a: float, closed_b: float, phase: float, rest: float) -> Angles:
    """The same from known angles: the spans of A and B, from one to the other, and the rest."""
    middle_a = 0.5 - 0.5 * phase - rest
    middle_b = 0.5 + 0.5 * phase - rest
    return (
        middle_a - 0.5 * closed_a,
        middle_b - 0.5 * closed_b,
        middle_a + 0.5 * closed_a,
        middle_b + 0.5 * closed_b,
    )


@rule
def boundary_place(angles: Angles, cycles_per_step: float, j: int) -> float:
    """Place (steps) of boundary number ``j``; they rise with ``j``, four to a cycle."""
    cycle = j // 4
    part = j - 4 * cycle
    angle = angles[0]
    if part == 1:
        angle = angles[1]
    elif part == 2:
        angle = angles[2]
    elif part == 3:
        angle = angles[3]
    return (angle + cycle) / cycles_per_step


@rule
def first_boundary(angles: Angles, cycles_per_step: float) -> int:
    """Number of the first boundary above the start of the run."""
    j = -8
    while boundary_place(angles, cycles_per_step, j) <= 0.0:
        j += 1
    return j


@rule
def resting_state(j: int) -> int:
    """Contacts closed (A in bit 0, B in bit 1) when boundary ``j`` is the next one up."""
    part = j % 4
    if part == 1:
        return 1
    if part == 2:
        return 3
    if part == 3:
        return 2
    return 0


@rule
def crossing(turned: float, distance: float, steady: float, ripple: float) -> tuple[float, float]:
    """Time share, and speed in units of the mean, when a move has turned ``turned`` of ``distance``."""
    smooth = ripple_place(turned, ripple)
    f = smooth / distance
    pace = ripple_speed(smooth, ripple)
    if steady != 0.0:
        return min(f, 1.0), pace
    s = minimum_jerk_time(f)
    return s, pace * minimum_jerk_speed(s)


@rule
def open_steps(row: Floats, gesture: int, m: int, steps: Steps) -> int:
    """Write the steps that a movement begins; returns the next free row, or -1 without room."""
    distance = abs(row[DISTANCE])
    count = int(math.ceil(distance - 1.0e-9))
    if m + count > steps.gestures.size:
        return -1
    for i in range(count):
        steps.gestures[m + i] = gesture
        steps.directions[m + i] = 1 if row[DISTANCE] > 0.0 else -1
        steps.whole[m + i] = 1 if i + 1 <= distance + 1.0e-9 else 0
        steps.spacings[m + i] = NEVER
    return m + count


@rule
def snapped(place: float) -> float:
    """``place`` rid of rounding, so that a hundred steps of 1.0 end on a whole number."""
    near = math.floor(place + 0.5)
    return near if abs(place - near) < 1.0e-9 else place


class Way(NamedTuple):
    """One movement as it is crossed: where and when it starts, the steps it may use, and its way."""

    start: int
    end: int
    place: float
    target: float
    first_step: int
    last_step: int
    steady: float
    ripple: float
    pitch: float
    degrees: float


@rule
def write_transition(
    out: Transitions, n: int, way: Way, angles: Angles, crossed: int, at: float, latest: int
) -> int:
    """Fill row ``n`` for boundary ``crossed``, which lies at ``at``; returns its tick."""
    up = way.target > way.place
    distance = abs(way.target - way.place)
    beyond = boundary_place(angles, way.pitch, crossed + (2 if up else -2))
    turned = min(abs(at - way.place), distance)
    share, pace = crossing(turned, distance, way.steady, way.ripple)
    duration = way.end - way.start
    part = crossed % 4
    out.times[n] = max(way.start + int(math.floor(share * duration + 0.5)), latest)
    out.channels[n] = part % 2
    out.closed[n] = 1 if (part < 2) == up else 0
    out.steps[n] = min(way.first_step + int(turned), way.last_step)
    out.directions[n] = 1 if up else -1
    out.speeds[n] = pace * distance * way.degrees * 1.0e12 / duration
    out.until[n] = way.end
    out.travel[n] = min(abs(beyond - at), abs(way.target - at)) * way.degrees
    return whole(out.times[n])


@rule
def cross_move(
    out: Transitions, steps: Steps, way: Way, angles: Angles, n: int, j: int, latest: int
) -> tuple[int, int, int]:
    """Write all transitions of one movement; returns the next row (-1 without room), the next
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

    ``gestures`` (movements,) names each movement's gesture.  Fewer runs than asked for
    means that ``out`` or ``steps`` is too short.
    """
    n, m = 0, 0
    for r in range(moves.shape[0]):
        angles = boundaries(geometry, seed, first_run + r)
        j = first_boundary(angles, geometry.cycles_per_step)
        out.first[r] = resting_state(j)
        base, first_step, time, place, latest = m, m, LEAD, 0.0, -1
        for k in range(moves.shape[1]):
            row = moves[r, k]
            if row[JOINED] == 0.0:
                first_step = m
                m = open_steps(row, gestures[k], m, steps)
            if m < 0:
                return r
            target = snapped(place + row[DISTANCE])
            end = time + int(row[DURATION])
            way = Way(
                time, end, place, target, first_step, m - 1,
                row[STEADY], row[RIPPLE], geometry.cycles_per_step, 360.0 / geometry.steps_per_turn,
            )  # fmt: skip
            n, j, latest = cross_move(out, steps, way, angles, n, j, latest)
            if n < 0:
                return r
            place = target
            time = end + int(row[DWELL])
        for i in range(out.offsets[r], n):
            out.steps[i] -= base
        out.offsets[r + 1] = n
        steps.offsets[r + 1] = m
        out.ends[r] = time
    return int(moves.shape[0])
