"""Gestures to movements, slowly: turn by turn, each turn a plain list of movements."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from typing import Any

from simcore.design import Design
from simcore.hand.base import ALTERNATE, EITHER, ROCK, Gesture
from simcore.hand.gestures import Member, Reversing, Vibration
from simcore.hand.paths import Path

from .slow_draws import HEADING, MIX, MOVE, REVERSAL, SHAKE, lognormal, normals, picoseconds, uniforms


@dataclass
class Movement:
    """One way of the shaft: signed ``distance`` in steps, ``duration`` and ``dwell`` in ticks.

    ``law`` is "jerk", "steady" or "cubic", the latter with its speeds at both ends in units of its
    mean.  ``meant`` are the signed steps of the movement that begins here, all of its ways together;
    None for a way that goes on with one, "rest" for a shaking shaft of which nothing is wanted.
    """

    entry: int
    distance: float
    duration: int
    dwell: int
    law: str
    ripple: float
    meant: float | str | None
    speeds: tuple[float, float] = (1.0, 1.0)


class Turns:
    """The turns of one entry of the hand in one run."""

    def __init__(self, seed: int, run: int, entry: int) -> None:
        self.place = seed, run
        self.entry = entry

    def draw(self, what: int, index: int) -> tuple[float, float, float, float]:
        """Four numbers for this entry."""
        return uniforms(*self.place, what, self.entry, index)

    def sign(self, heading: int, turn: int) -> int:
        """+1 or -1."""
        if heading == EITHER:
            return +1 if self.draw(HEADING, 0)[0] < 0.5 else -1
        if heading == ALTERNATE:
            return +1 if turn % 2 == 0 else -1
        return heading

    def of(self, gesture: Any, turn: int) -> list[Movement]:
        """What the gesture does at one turn."""
        if isinstance(gesture, Reversing):
            return self.reversing(gesture, turn)
        if isinstance(gesture, Vibration):
            return self.shaking(gesture, turn)
        if isinstance(gesture, Path):
            return self.table(gesture, turn)
        return self.plain(gesture, turn)

    def plain(self, g: Gesture, turn: int) -> list[Movement]:
        """One movement, or a rock's two, of which the second undoes the first."""
        found = []
        rocking = g.kind == ROCK
        for way in range(2 if rocking else 1):
            number = 2 * turn + way if rocking else turn
            pace, stay = normals(*self.draw(MOVE, 2 * number)[:2])
            share = self.draw(MOVE, 2 * turn + 1)[0] if rocking else 1.0
            distance = (g.steps_low + (g.steps - g.steps_low) * share) * self.sign(g.heading, turn)
            duration = max(1, picoseconds(lognormal(g.duration, g.duration_spread, pace)))
            dwell = picoseconds(lognormal(g.dwell, g.dwell_spread, stay))
            law = "steady" if g.steady == 1 else "jerk"
            signed = -distance if way else distance
            meant = None if way else distance
            found.append(Movement(self.entry, signed, duration, dwell, law, g.ripple, meant))
        return found

    def reversing(self, g: Reversing, turn: int) -> list[Movement]:
        """The whole movement, or out, back and on, each at its mean speed."""
        (whole,) = self.plain(g.gesture, turn)
        chance, way, slip, _ = self.draw(REVERSAL, turn)
        if chance >= g.chance:
            return [whole]
        length = abs(whole.distance)
        out = way * length
        back = min(g.back_low + (g.back_high - g.back_low) * slip, out)
        parts = []
        for part, distance in enumerate((out, -back, length - out + back)):
            parts.append(
                replace(
                    whole, ripple=0.0, distance=distance if whole.distance > 0 else -distance,
                    duration=max(1, int(whole.duration * abs(distance) / length + 0.5)),
                    dwell=whole.dwell if part == 2 else 0, meant=None if part else whole.distance,
                )
            )  # fmt: skip
        return parts

    def shaking(self, g: Vibration, turn: int) -> list[Movement]:
        """From the rest position through turning points on either side, back to it."""
        u = self.draw(MOVE, 2 * turn)
        whole = lognormal(g.duration, g.duration_spread, normals(u[0], u[1])[0])
        side = 1.0 if u[2] < 0.5 else -1.0
        places = [0.0]
        for i in range(g.swings - 1):
            v = self.draw(SHAKE, turn * g.swings + i)
            far = lognormal(g.amplitude, g.amplitude_spread, normals(v[0], v[1])[0])
            places.append(side * min(far, 0.5))
            side = -side
        places.append(0.0)
        ends = [picoseconds(whole * i / g.swings) for i in range(g.swings + 1)]
        return [
            Movement(
                self.entry, places[i + 1] - places[i], max(1, ends[i + 1] - ends[i]), 0, "jerk", 0.0,
                None if i else "rest",
            )
            for i in range(g.swings)
        ]  # fmt: skip

    def table(self, g: Path, turn: int) -> list[Movement]:
        """From point to point; each turning point begins a movement."""
        pace, stay = normals(*self.draw(MOVE, 2 * turn)[:2])
        factor, sign = lognormal(1.0, g.pace_spread, pace), self.sign(g.heading, turn)
        instants = [0, *(picoseconds(factor * float(end)) for end in g.ends)]
        distances = [sign * float(distance) for distance in g.distances]
        found = []
        for i, distance in enumerate(distances):
            earlier = [other for other in distances[:i] if other]
            turns = bool(distance) and not (earlier and earlier[-1] * distance > 0.0)
            against = [j for j, other in enumerate(distances) if j > i and other * distance < 0.0]
            way = distances[i : against[0] if against else None]
            speeds = float(g.enter[i]), float(g.leave[i])
            last = i == len(distances) - 1
            dwell = picoseconds(lognormal(g.dwell, g.dwell_spread, stay)) if last else 0
            duration = max(1, instants[i + 1] - instants[i])
            law = "steady" if g.steady == 1 else "cubic"
            meant = sum(way) if turns else None
            found.append(Movement(self.entry, distance, duration, dwell, law, 0.0, meant, speeds))
        return found


def turns_of(gesture: Any, moves: int) -> int:
    """Turns that so many rows of the simulator stand for."""
    if isinstance(gesture, Member):
        return moves // gesture.rows
    if isinstance(gesture, Reversing):
        return moves // 3
    if isinstance(gesture, Vibration):
        return moves // gesture.swings
    if isinstance(gesture, Path):
        return moves // len(gesture.ends)
    return moves // 2 if gesture.kind == ROCK else moves


def movements(design: Design, seed: int, run: int) -> list[Movement]:
    """All movements of a run in order."""
    found: list[Movement] = []
    numbered = list(enumerate(design.hand))
    for mix, group in itertools.groupby(numbered, lambda item: item[1].mix):
        members = list(group)
        if not mix:
            for entry, hand in members:
                turns = Turns(seed, run, entry)
                for turn in range(turns_of(hand.gesture, hand.moves)):
                    found += turns.of(hand.gesture, turn)
            continue
        for turn in range(turns_of(members[0][1].gesture, members[0][1].moves)):
            for entry, hand in members:
                found += of_mix(hand.gesture, turn, Turns(seed, run, entry))
    return found


def of_mix(member: Member, turn: int, turns: Turns) -> list[Movement]:
    """What a gesture of a mix does at a turn: nothing unless it falls to it."""
    drawn = uniforms(*turns.place, MIX, member.mix, turn)[0]
    if not member.low <= drawn < member.high:
        return []
    each = turns_of(member.gesture, member.rows)
    return [move for number in range(each) for move in turns.of(member.gesture, each * turn + number)]
