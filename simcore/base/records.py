"""The arrays that pass through the simulator, and the packing of a cause.

All are ragged over the runs of a block: ``offsets`` has one entry more than there are
runs, and run ``r`` owns the rows ``offsets[r] : offsets[r + 1]``.  Arrays may be longer
than ``offsets[-1]``; the rest is spare room.
"""

from __future__ import annotations

import itertools
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from simcore.base.compiling import rule, special

Ints = npt.NDArray[np.int64]
Causes = npt.NDArray[np.int32]
Levels = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]

A, B = 0, 1
PART, WHOLE, NOTHING_MEANT = range(3)
"""What a step is, in Steps.whole."""
LINE_NAMES = ("A", "B")

# Where a change comes from; kept in the lower four bits of a cause.
(
    MAIN, ZONE, REBOUND, PACKET, STRAGGLER, SLIDING, TELEGRAPH,
    RECORDED, PICK_UP, NOISE, POWER_UP, SUPPLY_DIP,
) = range(12)  # fmt: skip
ORIGIN_NAMES = (
    "the crossing itself",
    "chatter in the edge zone",
    "rebound after a make",
    "a later packet of chatter",
    "a straggler",
    "an open while sliding",
    "telegraph chatter",
    "recorded chatter",
    "pick-up on the line",
    "noise on a slow edge",
    "power-up",
    "a dip of the supply",
)
ORIGINS = 16
"""Room for origins in a cause."""
NO_TRANSITION = -1
NO_CAUSE = -16
"""The packed cause of a change with no transition behind it, origin 0."""

WATCHED = 100_000_000_000
"""Ticks (100 ms) for which the lines are simulated once the hand is done."""


def whole(value: Any) -> int:
    """An entry of any integer array as a full-width whole number."""
    return int(value)


@special
def _teach_whole() -> None:
    """In compiled code int() would keep the width of the array; adding a full-width 0 does not."""
    from numba.extending import overload

    @overload(whole, jit_options={"forceinline": True})
    def choose(value):  # type: ignore[no-untyped-def]
        return lambda value: value + 0


@rule
def fill(array: Any, start: int, stop: int, value: int) -> None:
    """Set ``array[start:stop]``; a loop, because slices take numba long to compile."""
    for i in range(start, stop):
        array[i] = value


@rule
def pack_cause(transition: int, origin: int) -> int:
    """One number for a transition's index (-1: none) and an origin (0 to 15)."""
    return (transition << 4) | origin


@rule
def cause_transition(cause: int) -> int:
    """The transition a cause points at, or -1."""
    return cause >> 4


@rule
def cause_origin(cause: int) -> int:
    """The origin held in a cause, see ORIGIN_NAMES."""
    return cause & 15


class Edges(NamedTuple):
    """Level changes of one line: ``times`` (ticks, never falling within a run), ``causes``
    (packed), ``offsets``, and the level ``first`` of each run before its first edge.
    Levels alternate, so none are stored.
    """

    times: Ints
    causes: Causes
    offsets: Ints
    first: Levels


class Transitions(NamedTuple):
    """The truth: one row per contact boundary that the shaft crosses.

    ``times`` (ticks), ``channels`` (0 A, 1 B), ``closed`` (state after), ``steps`` (index of
    the step within its run), ``directions`` (+1 or -1), ``speeds`` (degrees of shaft per
    second), ``until`` (tick at which this movement ends), ``travel`` (degrees the channel
    still slides in this movement before its next boundary), ``boundaries`` (number of the boundary,
    rising with the place, four to a cycle, 0 to 3 in the cycle whose middle lies above the start),
    ``offsets``, and per run the state of both contacts at the start (``first``, A in bit 0, B in
    bit 1) and ``ends`` (tick at which the hand is done).
    """

    times: Ints
    channels: Levels
    closed: Levels
    steps: Causes
    directions: npt.NDArray[np.int8]
    speeds: Floats
    until: Ints
    travel: Floats
    boundaries: Ints
    offsets: Ints
    first: Levels
    ends: Ints


class Steps(NamedTuple):
    """What the hand meant: per step its ``gestures`` (index), ``directions`` (+1, -1),
    ``whole`` (WHOLE: a whole detent, PART: turned part of the way or let back, NOTHING_MEANT: at
    rest, where no count is expected; its direction is +1), ``spacings`` (ticks, the closest
    two neighbouring transitions; NEVER if there is no pair), ``offsets``.
    """

    gestures: npt.NDArray[np.int16]
    directions: npt.NDArray[np.int8]
    whole: Levels
    spacings: Ints
    offsets: Ints


class Pulses(NamedTuple):
    """What the counter did: ``times`` (ticks), ``asked`` (counts; 0 undecided or ignored),
    ``moved`` (what the position did; differs from ``asked`` at an end stop), ``causes``,
    ``flags`` (see simcore.counters.base), ``offsets``.
    """

    times: Ints
    asked: npt.NDArray[np.int8]
    moved: npt.NDArray[np.int8]
    causes: Causes
    flags: Levels
    offsets: Ints


def empty_edges(room: int, runs: int) -> Edges:
    """Room for ``room`` edges of ``runs`` runs, contents undefined."""
    return Edges(
        np.empty(room, np.int64),
        np.empty(room, np.int32),
        np.zeros(runs + 1, np.int64),
        np.zeros(runs, np.uint8),
    )


def trimmed(edges: Edges) -> Edges:
    used = int(edges.offsets[-1])
    return edges._replace(times=edges.times[:used], causes=edges.causes[:used])


def empty_transitions(room: int, runs: int) -> Transitions:
    """Room for ``room`` transitions of ``runs`` runs, contents undefined."""
    return Transitions(
        np.empty(room, np.int64),
        np.empty(room, np.uint8),
        np.empty(room, np.uint8),
        np.empty(room, np.int32),
        np.empty(room, np.int8),
        np.empty(room, np.float64),
        np.empty(room, np.int64),
        np.empty(room, np.float64),
        np.empty(room, np.int64),
        np.zeros(runs + 1, np.int64),
        np.zeros(runs, np.uint8),
        np.zeros(runs, np.int64),
    )


def empty_steps(room: int, runs: int) -> Steps:
    """Room for ``room`` steps of ``runs`` runs, contents undefined."""
    return Steps(
        np.empty(room, np.int16),
        np.empty(room, np.int8),
        np.empty(room, np.uint8),
        np.empty(room, np.int64),
        np.zeros(runs + 1, np.int64),
    )


def empty_pulses(room: int, runs: int) -> Pulses:
    """Room for ``room`` pulses of ``runs`` runs, contents undefined."""
    return Pulses(
        np.empty(room, np.int64),
        np.empty(room, np.int8),
        np.empty(room, np.int8),
        np.empty(room, np.int32),
        np.empty(room, np.uint8),
        np.zeros(runs + 1, np.int64),
    )


def edges_of_runs(runs: list[tuple[int, list[int], list[int]]]) -> Edges:
    """Edges from plain lists, one (first level, times, causes) per run.

    Raises ValueError, with the run and the two times, when times fall.
    """
    offsets = np.zeros(len(runs) + 1, np.int64)
    for number, (_, times, causes) in enumerate(runs):
        if len(times) != len(causes):
            raise ValueError(f"run {number}: {len(times)} times but {len(causes)} causes")
        for earlier, after in itertools.pairwise(times):
            if after < earlier:
                raise ValueError(f"run {number}: time runs backward, {earlier} then {after}")
        offsets[number + 1] = offsets[number] + len(times)
    return Edges(
        np.array([t for _, times, _ in runs for t in times], np.int64),
        np.array([c for _, _, causes in runs for c in causes], np.int32),
        offsets,
        np.array([first for first, _, _ in runs], np.uint8),
    )
