"""How close the fastest hand brings the edges of an encoder, in closed form.

Each gesture is taken at the pace that one movement in a thousand exceeds (see FASTEST); the places of
all boundaries follow from the angles, and their times from the inverse of the law of movement, as in
simcore.hand.shaft.  The angles are tried at the ends of their tolerances, the phase and the rest position
also between, because the fastest place of a movement may lie there.

Movements of one kind follow one another, onward as well as back, after a pause that is as short as the
movement is fast.

What is left out: a hand that turns back on its way (at rest there, it may cross a boundary twice in no
time), a shaft that shakes, a gesture after one of another kind, and gestures from other packages, of
which `Fastest.left_out` tells.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Any, NamedTuple

from simcore.base.check import NONE, Shortest, Z
from simcore.design import Design
from simcore.hand.base import CONSTANT, CUBIC, Law, Laws, gesture_laws
from simcore.hand.geometry import Angles, Geometry, angles_of, boundary_place, first_boundary
from simcore.hand.paths import cubic_time, minimum_jerk_time, ripple_place

Edge = tuple[int, int]
"""A line (0 A, 1 B) and what its contact does (1 closes, 0 opens)."""

RESTS = 7
"""Rest positions tried within their tolerance."""
MOST_STARTS = 8
"""Rest positions of the encoder, different in their angles, from which a movement is tried."""
WHOLE_STEPS = 3
"""Steps looked at on either side of the middle of a long movement, besides its two ends."""


class Fastest(NamedTuple):
    """The shortest times between edges of bounce-free contacts.

    ``apart`` is keyed by two neighbouring edges; ``dwell`` by the edge that begins the level and holds
    the time until the same contact's next one; ``cycle`` by an edge, until the next one like it.
    ``left_out`` names gestures that were not looked at.
    """

    apart: dict[tuple[Edge, Edge], Shortest]
    dwell: dict[Edge, Shortest]
    cycle: dict[Edge, Shortest]
    left_out: tuple[str, ...]

    def closest(self) -> Shortest:
        return min((found for (a, b), found in self.apart.items() if a[0] != b[0]), default=NONE)

    def shortest_cycle(self, lines: tuple[int, ...]) -> Shortest:
        """The shortest time from an edge of any of these lines to the next like it."""
        return min((found for edge, found in self.cycle.items() if edge[0] in lines), default=NONE)

    def shortest_level(self, lines: tuple[int, ...] = (0, 1)) -> Shortest:
        return min((found for edge, found in self.dwell.items() if edge[0] in lines), default=NONE)


def fastest(design: Design) -> Fastest:
    found = Fastest({}, {}, {}, tuple(e.name for e in design.hand if gesture_laws(e.gesture, -Z) is None))
    for entry in design.hand:
        for laws in gesture_laws(entry.gesture, -Z) or ():
            for geometry, closed_b in corners_of(design.geometry):
                _look(found, entry.name, laws, geometry, closed_b)
    return found


def corners_of(geometry: Geometry) -> Iterator[tuple[Geometry, float]]:
    """Geometries without tolerances: spans at their ends, phase and rest also between.

    Yields the geometry with B's span beside it.
    """
    spans = _ends(geometry.closed, geometry.closed_spread, 2)
    phases = _ends(geometry.phase, geometry.phase_spread, 3)
    rests = _ends(geometry.rest, geometry.rest_spread, RESTS)
    for a, b, phase, rest in itertools.product(spans, spans, phases, rests):
        yield (
            geometry._replace(
                closed=a, closed_spread=0.0, phase=phase, phase_spread=0.0, rest=rest, rest_spread=0.0
            ),
            b,
        )


def _ends(middle: float, half: float, count: int) -> tuple[float, ...]:
    if half == 0.0:
        return (middle,)
    return tuple(middle + half * (2.0 * i / (count - 1) - 1.0) for i in range(count))


def time_at(law: Law, turned: float) -> float:
    """Seconds from the start until the shaft has turned ``turned`` steps, whichever way."""
    share = ripple_place(turned, law.ripple) / abs(law.steps)
    if law.steady == CONSTANT:
        return law.seconds * min(share, 1.0)
    if law.steady == CUBIC:
        return law.seconds * cubic_time(share, law.enter, law.leave)
    return law.seconds * minimum_jerk_time(share)


def _look(found: Fastest, gesture: str, laws: Laws, exact: Geometry, closed_b: float) -> None:
    """Note the times of movements, both ways, from every rest position that differs."""
    angles = angles_of(exact.closed, closed_b, exact.phase, exact.rest)
    for start, sense in itertools.product(range(starts(exact)), (1.0, -1.0)):
        began, place, tail = 0.0, float(start), Timed()
        for law in laws:
            parts = crossings(law, exact.cycles_per_step, angles, place, sense)
            shifted = [[(began + time, edge) for time, edge in part] for part in parts]
            for part in [tail + shifted[0], *shifted[1:]]:
                _note(found, gesture, part)
            tail = shifted[-1] if len(shifted) > 1 else tail + shifted[0]
            place += sense * law.steps
            began += law.seconds + law.dwell


def starts(geometry: Geometry) -> int:
    """Rest positions until the angles repeat, at most MOST_STARTS."""
    for count in range(1, MOST_STARTS):
        cycles = count * geometry.cycles_per_step
        if abs(cycles - round(cycles)) < 1.0e-9:
            return count
    return MOST_STARTS


Timed = list[tuple[float, Edge]]


def crossings(law: Law, pitch: float, angles: Angles, start: float, sense: float) -> list[Timed]:
    """Edges of a movement from ``start`` (s from its beginning, edge) in order; a long one as several
    stretches.
    """
    up, found = sense * law.steps > 0.0, []
    for near, far in stretches(abs(law.steps)):
        low, high = (start + near, start + far) if up else (start - far, start - near)
        j = first_boundary(angles, pitch) + 4 * math.floor((low - 1.0) * pitch)
        edges, place = Timed(), boundary_place(angles, pitch, j)
        while place <= high:
            if place > low:
                edge = (j % 2, int((j % 4 < 2) == up))
                edges.append((time_at(law, abs(place - start)), edge))
            j += 1
            place = boundary_place(angles, pitch, j)
        found.append(edges if up else edges[::-1])
    return found


def stretches(steps: float) -> tuple[tuple[float, float], ...]:
    """The parts of a movement worth looking at: all of a short one; both ends and the middle else."""
    if steps <= 4 * WHOLE_STEPS:
        return ((0.0, steps),)
    middle = math.floor(steps / 2.0)
    return (
        (0.0, float(WHOLE_STEPS)),
        (float(middle - WHOLE_STEPS), float(middle + WHOLE_STEPS)),
        (steps - WHOLE_STEPS, steps),
    )


def _note(found: Fastest, gesture: str, edges: Timed) -> None:
    latest: dict[int, float] = {}
    same: dict[Edge, float] = {}
    before: tuple[float, Edge] | None = None
    for time, edge in edges:
        if before is not None:
            _keep(found.apart, (before[1], edge), time - before[0], gesture)
        if edge[0] in latest:
            _keep(found.dwell, (edge[0], 1 - edge[1]), time - latest[edge[0]], gesture)
        if edge in same:
            _keep(found.cycle, edge, time - same[edge], gesture)
        before, latest[edge[0]], same[edge] = (time, edge), time, time


def _keep(table: dict[Any, Shortest], key: Any, seconds: float, gesture: str) -> None:
    if seconds < table.get(key, NONE).seconds:
        table[key] = Shortest(seconds, gesture)
