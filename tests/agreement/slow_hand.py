"""The hand and the shaft, slowly: every boundary of a movement is listed and found by bisection."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from simcore.design import Design
from simcore.hand.geometry import Geometry

from .slow_draws import GEOMETRY, picoseconds, uniforms
from .slow_gestures import Movement, movements

FIRST_MOVEMENT = picoseconds(10e-3)


@dataclass
class Step:
    """One intended step: hand entry, direction, whether a whole detent, closest edges (ticks) or None;
    or a rest in which nothing is intended.
    """

    entry: int
    direction: int
    whole: bool
    spacing: int | None = None
    at_rest: bool = False


@dataclass
class Transition:
    """One boundary crossed, ``boundary`` by its number; ``doubt`` is how far (ticks) float rounding can
    move it.
    """

    time: int
    channel: int
    closed: bool
    step: int
    direction: int
    speed: float
    until: int
    travel: float
    boundary: int
    doubt: float = 0.0


@dataclass
class Truth:
    """What really happened: transitions, steps, whether contacts A and B are closed at the start,
    and the tick at which the hand is done.
    """

    transitions: list[Transition]
    steps: list[Step]
    closed: tuple[bool, bool]
    end: int


def boundary_angles(geometry: Geometry, seed: int, run: int) -> list[float]:
    """Angles, in cycles from rest, at which A closes, B closes, A opens, B opens when turning up.

    With no rest error the start lies midway between B's opening and A's closing.
    """
    u = uniforms(seed, run, GEOMETRY, 0, 0)
    errors = [2.0 * x - 1.0 for x in u]
    closed_a = geometry.closed + geometry.closed_spread * errors[0]
    closed_b = geometry.closed + geometry.closed_spread * errors[1]
    phase = geometry.phase + geometry.phase_spread * errors[2]
    rest = geometry.rest + geometry.rest_spread * errors[3]
    centre_a = 0.5 - 0.5 * phase - rest
    centre_b = 0.5 + 0.5 * phase - rest
    angles = [
        centre_a - closed_a / 2,
        centre_b - closed_b / 2,
        centre_a + closed_a / 2,
        centre_b + closed_b / 2,
    ]
    assert angles == sorted(angles), "boundaries out of order"
    assert angles[3] <= angles[0] + 1.0, "spans overlap from one cycle to the next"
    return angles


def is_closed(closes: float, opens: float, pitch: float, place: float) -> bool:
    """Whether a contact with these two boundaries is closed at ``place`` (steps)."""
    around = math.floor(place * pitch)
    spans = [((closes + n) / pitch, (opens + n) / pitch) for n in range(around - 4, around + 5)]
    return any(begin <= place < end for begin, end in spans)


def bisect(low: float, high: float, too_high: Callable[[float], bool]) -> float:
    """The point between ``low`` and ``high`` where ``too_high`` becomes true, to the last bit."""
    while True:
        middle = low + (high - low) / 2
        if middle in (low, high):
            return middle
        if too_high(middle):
            high = middle
        else:
            low = middle


def jerk_time(share: float) -> float:
    """Time share at which 10 s^3 - 15 s^4 + 6 s^5 reaches ``share``, from its nearer end."""
    if share > 0.5:
        return 1.0 - jerk_time(1.0 - share)
    if share <= 0.0:
        return 0.0
    return bisect(0.0, 0.5, lambda s: 10 * s**3 - 15 * s**4 + 6 * s**5 > share)


def cubic_done(s: float, enter: float, leave: float) -> float:
    """Hermite's cubic from 0 to 1 with these slopes at its ends."""
    return enter * s * (1 - s) ** 2 + s**2 * (3 - 2 * s) - leave * s**2 * (1 - s)


def cubic_slope(s: float, enter: float, leave: float) -> float:
    """Its slope."""
    return enter * (1 - s) * (1 - 3 * s) + 6 * s * (1 - s) - leave * s * (2 - 3 * s)


def cubic_time(share: float, enter: float, leave: float) -> float:
    """Time share at which it reaches ``share``."""
    if share >= 1.0:
        return 1.0
    return bisect(0.0, 1.0, lambda s: cubic_done(s, enter, leave) > share)


def smooth_place(turned: float, ripple: float) -> float:
    """The u with u - ripple / (2 pi) sin(2 pi u) = ``turned``."""
    tau = 2 * math.pi
    return bisect(
        turned - ripple / tau, turned + ripple / tau, lambda u: u - ripple / tau * math.sin(tau * u) > turned
    )


def when(turned: float, distance: float, move: Movement) -> tuple[float, float]:
    """Time share and speed (in units of the mean) when ``turned`` of ``distance`` steps are done."""
    smooth = smooth_place(turned, move.ripple) if move.ripple else turned
    pace = 1.0 - move.ripple * math.cos(2 * math.pi * smooth)
    if move.law == "steady":
        return min(smooth / distance, 1.0), pace
    if move.law == "cubic":
        s = cubic_time(min(smooth / distance, 1.0), *move.speeds)
        return s, pace * cubic_slope(s, *move.speeds)
    s = jerk_time(smooth / distance)
    return s, pace * 30.0 * s**2 * (1.0 - s) ** 2


def whole_if_near(place: float) -> float:
    """Rounding errors of a place removed."""
    return float(round(place)) if abs(place - round(place)) < 1e-9 else place


def crossings(angles: list[float], pitch: float, start: float, end: float) -> list[tuple[float, int, int]]:
    """(place, cycle, which boundary) on the way from ``start`` to ``end`` in the order they are met.

    A boundary lies just below the place that bears its number: going up it is met on arriving
    there, going down on leaving.
    """
    low, high = min(start, end), max(start, end)
    cycles = range(math.floor(low * pitch) - 4, math.ceil(high * pitch) + 5)
    places = [((angles[which] + n) / pitch, n, which) for n in cycles for which in range(4)]
    met = [found for found in places if low < found[0] <= high]
    met.sort(key=lambda found: (found[0], found[1], found[2]), reverse=end < start)
    return met


def open_steps(entry: int, meant: float, steps: list[Step]) -> None:
    """Append the steps that a movement is meant to make."""
    left = abs(meant)
    while left > 1e-9:
        steps.append(Step(entry, 1 if meant > 0 else -1, left >= 1.0 - 1e-9))
        left -= 1.0


class Shaft:
    """Turns movements into transitions, keeping time and place, and of the movement under way its
    origin, its sense and how far (steps) it has come.
    """

    def __init__(self, design: Design, seed: int, run: int) -> None:
        self.pitch = design.geometry.cycles_per_step
        self.degrees = 360.0 / design.geometry.steps_per_turn
        self.angles = boundary_angles(design.geometry, seed, run)
        self.time = FIRST_MOVEMENT
        self.place = 0.0
        self.latest: int | None = None
        self.transitions: list[Transition] = []
        self.steps: list[Step] = []
        self.first_step = 0
        self.origin, self.sense, self.furthest = 0.0, 1, 0.0

    def closed(self, channel: int) -> bool:
        """State of a contact where the shaft is now."""
        return is_closed(self.angles[channel], self.angles[channel + 2], self.pitch, self.place)

    def begin(self, move: Movement) -> None:
        """A new movement begins, or a rest."""
        self.first_step = len(self.steps)
        self.origin, self.sense, self.furthest = self.place, 1, 0.0
        if isinstance(move.meant, float):
            self.sense = 1 if move.meant >= 0.0 else -1
            open_steps(move.entry, move.meant, self.steps)
        else:
            self.steps.append(Step(move.entry, 1, False, at_rest=True))

    def ahead(self, moves: list[Movement], number: int) -> tuple[int, float]:
        """Tick and place at which the shaft stops or turns back after movement ``number`` began."""
        time, place = self.time, self.place
        while True:
            move = moves[number]
            time, place = time + move.duration, whole_if_near(place + move.distance)
            number += 1
            onward = number < len(moves) and moves[number].meant is None and move.dwell == 0
            if not onward or move.distance * moves[number].distance <= 0.0:
                return time, place

    def move(self, moves: list[Movement], number: int) -> None:
        """Carry one movement out."""
        move = moves[number]
        if move.meant is not None:
            self.begin(move)
        target = whole_if_near(self.place + move.distance)
        if target != self.place:
            stop = self.ahead(moves, number)
            for at, cycle, which in crossings(self.angles, self.pitch, self.place, target):
                self.cross(move, target, stop, at, cycle, which)
            self.come(target)
        self.place = target
        self.time += move.duration + move.dwell

    def come(self, place: float) -> None:
        """The movement has come to ``place``."""
        self.furthest = max(self.furthest, (place - self.origin) * self.sense)

    def cross(
        self, move: Movement, target: float, stop: tuple[int, float], at: float, cycle: int, which: int
    ) -> None:
        """Append one transition."""
        up = target > self.place
        distance = abs(target - self.place)
        turned = min(abs(at - self.place), distance)
        share, pace = when(turned, distance, move)
        time = self.time + math.floor(share * move.duration + 0.5)
        if self.latest is not None:
            time = max(time, self.latest)
        following = cycle * 4 + which + (2 if up else -2)
        beyond = (self.angles[following % 4] + following // 4) / self.pitch
        left = min(abs(beyond - at), abs(stop[1] - at)) * self.degrees
        speed = pace * distance * self.degrees * 1e12 / move.duration
        self.come(at)
        step = min(self.first_step + int(self.furthest), len(self.steps) - 1)
        per_tick = pace * distance / move.duration
        # Where the shaft stands still, at the very ends of a movement, nothing is left to round.
        doubt = 1e-15 * (1.0 + abs(at) + abs(self.place)) / per_tick if per_tick else 0.0
        self.transitions.append(
            Transition(
                time, which % 2, (which < 2) == up, step, 1 if up else -1, speed,
                stop[0], left, 4 * cycle + which, doubt,
            )
        )  # fmt: skip
        if self.latest is not None:
            note_spacing(self.steps[step], time - self.latest)
        self.latest = time


def note_spacing(step: Step, gap: int) -> None:
    """Keep the closest two neighbouring transitions of a step."""
    step.spacing = gap if step.spacing is None else min(step.spacing, gap)


def truth(design: Design, seed: int, run: int) -> Truth:
    """Everything that the shaft does in one run."""
    shaft = Shaft(design, seed, run)
    closed = shaft.closed(0), shaft.closed(1)
    state = list(closed)
    moves = movements(design, seed, run)
    for number in range(len(moves)):
        shaft.move(moves, number)
        for channel in (0, 1):
            changes = [t for t in shaft.transitions if t.channel == channel]
            if changes:
                state[channel] = changes[-1].closed
            assert state[channel] == shaft.closed(channel), "a contact is not where the shaft left it"
    return Truth(shaft.transitions, shaft.steps, closed, shaft.time)
