"""The bounce-free reading of two recorded lines: bursts, and the transitions behind them.

A line counts as settled once it has stood still for a given time.  Changes that follow each
other faster are one burst.  A burst that leaves the line in another state than before is
one transition, at the burst's first change; a burst that comes back is a glitch.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from simcore.edges import (
    LINE_NAMES,
    MAIN,
    TELEGRAPH,
    Edges,
    Ints,
    Transitions,
    empty_transitions,
    pack_cause,
)
from simcore.ticks import NEVER


class Burst(NamedTuple):
    """Changes of one ``line`` (0 A, 1 B) that belong together.

    ``first`` is the line's number of the first one and ``changes`` how many there are;
    ``start`` and ``end`` are the ticks of the first and the last; ``closed`` is the contact's
    state afterwards, ``moved`` 1 when that differs from before (a transition) and 0 for a glitch;
    ``settled`` is 0 when the trace ends before the line has stood still long enough.
    """

    line: int
    first: int
    changes: int
    start: int
    end: int
    closed: int
    moved: int
    settled: int

    @property
    def length(self) -> int:
        """Ticks from the first change to the last."""
        return self.end - self.start

    @property
    def words(self) -> str:
        """What the contact did, such as "A closes"."""
        action = ("opens", "closes")[self.closed] if self.moved else "glitches"
        return f"{LINE_NAMES[self.line]} {action}"


@dataclass(frozen=True)
class Reading:
    """A trace with its bursts.

    ``bursts`` in order of their start, A before B at the same tick; ``lines`` the recorded
    edges (level 1: closed), each with the number of its burst as cause; ``clean`` the same
    two lines with one edge per transition; ``movements`` one row per burst, glitches
    included with direction 0, so that causes point at rows.  ``longest_gap`` is the longest
    stillness (ticks) inside any burst and ``shortest_pause`` the shortest between two bursts
    of one line (NEVER without two): how far the settling time could move and group alike.
    """

    bursts: tuple[Burst, ...]
    lines: tuple[Edges, Edges]
    clean: tuple[Edges, Edges]
    movements: Transitions
    longest_gap: int
    shortest_pause: int


def read_bursts(a: Edges, b: Edges, settle: int, end: int) -> Reading:
    """The bounce-free reading of one run of two lines (level 1: contact closed).

    ``settle`` is in ticks, at least 1; ``end`` is the tick at which the recording ends.
    Raises ValueError for other than one run or a settling time below 1.
    """
    if a.first.size != 1 or b.first.size != 1:
        raise ValueError(f"one run is read at a time; got {a.first.size} of A and {b.first.size} of B")
    if settle < 1:
        raise ValueError(f"the settling time is {settle} ticks; it must be 1 or more")
    found = sorted(
        [*_line_bursts(a, 0, settle, end), *_line_bursts(b, 1, settle, end)],
        key=lambda burst: (burst.start, burst.line),
    )
    lines = (_with_causes(a, 0, found), _with_causes(b, 1, found))
    clean = (_clean_line(a, 0, found), _clean_line(b, 1, found))
    start = int(a.first[0]) | int(b.first[0]) << 1
    gaps = np.concatenate((np.diff(_times(a)), np.diff(_times(b))))
    return Reading(
        tuple(found),
        lines,
        clean,
        _movements(found, start, end),
        int(gaps[gaps < settle].max(initial=0)),
        int(gaps[gaps >= settle].min(initial=NEVER)),
    )


def _times(line: Edges) -> Ints:
    return line.times[: int(line.offsets[-1])]


def _line_bursts(line: Edges, number: int, settle: int, end: int) -> list[Burst]:
    times = _times(line)
    if times.size == 0:
        return []
    starts = np.concatenate(([0], np.flatnonzero(np.diff(times) >= settle) + 1))
    stops = np.append(starts[1:], times.size)
    level = int(line.first[0])
    bursts = []
    for lo, hi in zip(starts.tolist(), stops.tolist(), strict=True):
        moved = (hi - lo) & 1
        level ^= moved
        last = int(times[hi - 1])
        settled = 1 if hi < times.size or end - last >= settle else 0
        bursts.append(Burst(number, lo, hi - lo, int(times[lo]), last, level, moved, settled))
    return bursts


def _with_causes(line: Edges, number: int, bursts: list[Burst]) -> Edges:
    """The line with each change pointing at its burst; later changes bear another origin."""
    causes = np.zeros(_times(line).size, np.int32)
    for index, burst in enumerate(bursts):
        if burst.line == number:
            causes[burst.first : burst.first + burst.changes] = pack_cause(index, TELEGRAPH)
            causes[burst.first] = pack_cause(index, MAIN)
    return line._replace(times=_times(line), causes=causes)


def _clean_line(line: Edges, number: int, bursts: list[Burst]) -> Edges:
    chosen = [(i, burst) for i, burst in enumerate(bursts) if burst.line == number and burst.moved]
    return Edges(
        np.array([burst.start for _, burst in chosen], np.int64),
        np.array([pack_cause(i, MAIN) for i, _ in chosen], np.int32),
        np.array([0, len(chosen)], np.int64),
        line.first,
    )


def _movements(bursts: list[Burst], start: int, end: int) -> Transitions:
    """One row per burst; a movement is upward when A leads B."""
    rows = empty_transitions(len(bursts), 1)
    rows.offsets[1] = len(bursts)
    rows.first[0] = start
    rows.ends[0] = end
    rows.speeds[:] = 0.0
    rows.travel[:] = 0.0
    rows.steps[:] = 0
    closed = [start & 1, start >> 1]
    for i, burst in enumerate(bursts):
        direction = 0
        if burst.moved:
            leads = burst.closed != closed[1] if burst.line == 0 else burst.closed == closed[0]
            direction = 1 if leads else -1
            closed[burst.line] = burst.closed
        rows.times[i] = burst.start
        rows.channels[i] = burst.line
        rows.closed[i] = burst.closed
        rows.directions[i] = direction
        rows.until[i] = burst.end
    return rows
