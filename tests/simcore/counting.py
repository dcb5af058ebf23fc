"""Drives a counter over the edges of two logic lines, in plain Python."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Any, NamedTuple, cast

import numpy as np

from simcore.base.records import edges_of_runs, empty_pulses, empty_transitions, pack_cause
from simcore.counters.base import Range, drive_counter

UNBOUNDED = Range(0, 0, 0)
Change = tuple[int, int]
"""Tick and line (0 A, 1 B) of an edge."""


class Counted(NamedTuple):
    """One pulse: tick, what it asked for, what it moved, the number of the edge behind it, doubts."""

    time: int
    asked: int
    moved: int
    edge: int
    flags: int


def counted(
    spec: Any, changes: Sequence[Change], first: tuple[int, int] = (1, 1), *,
    place: Range = UNBOUNDED, seed: int = 0, run: int = 0,
) -> list[Counted]:  # fmt: skip
    """The pulses of one run.  At equal ticks A comes before B, so hand them over in that order."""
    lines = []
    for line in (0, 1):
        own = [(time, number) for number, (time, which) in enumerate(changes) if which == line]
        times, causes = [time for time, _ in own], [pack_cause(number, 0) for _, number in own]
        lines.append(edges_of_runs([(first[line], times, causes)]))
    rows = empty_transitions(len(changes) + 1, 1)
    rows.directions[:] = 1
    rows.offsets[1] = len(changes)
    pulses = empty_pulses(4 * len(changes) + 16, 1)
    done = cast(Any, drive_counter).plain(spec, place, seed, run, *lines, rows, pulses)
    assert done == 1
    columns = (pulses.times, pulses.asked, pulses.moved, pulses.causes >> 4, pulses.flags)
    used = int(pulses.offsets[1])
    return [Counted(*row) for row in zip(*(column[:used].tolist() for column in columns), strict=True)]


def net(pulses: Sequence[Counted]) -> int:
    """Sum of what the pulses asked for."""
    return sum(pulse.asked for pulse in pulses)


def turned(quarters: Sequence[int], spacing: int, start: int = 0) -> list[Change]:
    """Edges of a shaft that goes quarter by quarter (+1 up, -1 down) from both contacts open, one
    each ``spacing`` ticks; upward A changes out of the even quarters.
    """
    place, changes = start, []
    for number, quarter in enumerate(quarters):
        line = (place if quarter > 0 else place - 1) % 2
        place += quarter
        changes.append(((number + 1) * spacing, line))
    return changes


def levels_after(changes: Sequence[Change], first: tuple[int, int] = (1, 1)) -> list[tuple[int, int]]:
    """Both levels after each edge."""
    flips = np.array([[line == 0, line == 1] for _, line in changes], np.int64).reshape(-1, 2)
    summed = np.cumsum(flips, axis=0) + np.array(first)
    return [(int(a) & 1, int(b) & 1) for a, b in summed]


def gaps_to_changes(gaps: Sequence[tuple[int, int]]) -> list[Change]:
    """Edges from (ticks since the edge before, line), sorted A before B at equal ticks."""
    times = itertools.accumulate(gap for gap, _ in gaps)
    return sorted((time, line) for time, (_, line) in zip(times, gaps, strict=True))
