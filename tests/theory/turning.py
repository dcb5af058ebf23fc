"""Helper: the truth of a hand from the plain rules, as plain lists."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simcore.base.records import Floats, empty_steps, empty_transitions
from simcore.design import HandEntry
from simcore.engines.truth import columns_of
from simcore.hand.base import MOVE_COLUMNS, fill_moves
from simcore.hand.geometry import Geometry
from simcore.hand.shaft import cross

WHOLE_CYCLE = Geometry(20.0, 1.0, 0.5, 0.0, 0.25, 0.0, 0.0, 0.0)
ROOM = 5000


@dataclass(frozen=True)
class Crossed:
    """One transition: tick, boundary number, direction, step of the run, speed, and where the shaft
    stops next (tick, degrees that the channel still slides).
    """

    time: int
    boundary: int
    direction: int
    step: int
    speed: float
    until: int
    travel: float


@dataclass(frozen=True)
class Turned:
    """One run: its transitions, its steps as (hand entry, direction, what it is), and its end."""

    crossed: tuple[Crossed, ...]
    steps: tuple[tuple[int, int, int], ...]
    end: int


def rows_of(hand: tuple[HandEntry, ...], seed: int, run: int) -> Floats:
    """All rows of one run (rows, MOVE_COLUMNS)."""
    moves = np.zeros((1, sum(entry.moves for entry in hand), MOVE_COLUMNS))
    for slot, (entry, columns) in enumerate(zip(hand, columns_of(hand), strict=True)):
        fill_moves.plain(entry.gesture, slot, columns, seed, run, moves)  # type: ignore[attr-defined]
    found: Floats = moves[0]
    return found


def turned(hand: tuple[HandEntry, ...], seed: int, run: int, geometry: Geometry = WHOLE_CYCLE) -> Turned:
    """What the shaft does in one run."""
    moves = rows_of(hand, seed, run)[None]
    gestures = np.zeros(moves.shape[1], np.int64)
    for slot, columns in enumerate(columns_of(hand)):
        gestures[columns] = slot
    out, steps = empty_transitions(ROOM, 1), empty_steps(ROOM, 1)
    done = cross.plain(geometry, gestures, moves, seed, run, out, steps)  # type: ignore[attr-defined]
    assert done == 1
    crossed = tuple(
        Crossed(
            int(out.times[i]), int(out.boundaries[i]), int(out.directions[i]), int(out.steps[i]),
            float(out.speeds[i]), int(out.until[i]), float(out.travel[i]),
        )
        for i in range(int(out.offsets[1]))
    )  # fmt: skip
    meant = tuple(
        (int(steps.gestures[m]), int(steps.directions[m]), int(steps.whole[m]))
        for m in range(int(steps.offsets[1]))
    )
    return Turned(crossed, meant, int(out.ends[0]))
