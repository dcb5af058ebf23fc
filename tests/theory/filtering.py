"""Stages of one line and of both, driven in plain Python on single runs of edges."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.base.records import Edges, edges_of_runs, empty_edges, pack_cause
from simcore.stages.base import drive_stage
from simcore.stages.pair import drive_pair

FAR = 2**60
"""The tick at which the hand is done, later than everything."""
START = 10**9


def exact(ticks: int) -> Part:
    """A time of so many ticks, without tolerance."""
    return Part(ticks * 1e-12, 0.0)


class Trace(NamedTuple):
    """One line: its first level, and its edges as (tick, packed cause)."""

    first: int
    edges: tuple[tuple[int, int], ...]

    @property
    def times(self) -> list[int]:
        """The ticks alone."""
        return [time for time, _ in self.edges]

    @property
    def changes(self) -> list[tuple[int, int]]:
        """(tick, level after it)."""
        return [(time, (self.first + i + 1) & 1) for i, (time, _) in enumerate(self.edges)]

    def level_at(self, time: int) -> int:
        """The level just after ``time``."""
        return (self.first + sum(t <= time for t in self.times)) & 1


def trace(first: int, times: list[int]) -> Trace:
    """Edges at ``times``, number i caused by transition i."""
    return Trace(first, tuple((time, pack_cause(i, 0)) for i, time in enumerate(times)))


def through(spec: Any, source: Trace, seed: int = 1, run: int = 0, address: int = 0, end: int = FAR) -> Trace:
    """What a stage of one line makes of ``source``."""
    ends = np.array([end], np.int64)
    room = 64
    while True:
        out = empty_edges(room, 1)
        plain = drive_stage.plain  # type: ignore[attr-defined]
        if plain(spec, seed, run, address, as_edges(source), ends, out) == 1:
            return trace_of(out)
        room *= 4


def through_pair(spec: Any, a: Trace, b: Trace, seed: int = 1, run: int = 0) -> tuple[Trace, Trace]:
    """What a stage of both lines makes of them."""
    ends = np.array([FAR], np.int64)
    room = 2 * (len(a.edges) + len(b.edges)) + 16
    outs = empty_edges(room, 1), empty_edges(room, 1)
    plain = drive_pair.plain  # type: ignore[attr-defined]
    assert plain(spec, seed, run, 0, as_edges(a), as_edges(b), ends, *outs) == 1
    return trace_of(outs[0]), trace_of(outs[1])


def as_edges(source: Trace) -> Edges:
    """The same as a batch of one run."""
    return edges_of_runs([(source.first, source.times, [cause for _, cause in source.edges])])


def trace_of(edges: Edges) -> Trace:
    """The only run of a batch."""
    rows = range(int(edges.offsets[1]))
    return Trace(int(edges.first[0]), tuple((int(edges.times[i]), int(edges.causes[i])) for i in rows))


def times_of(gaps: list[int], start: int = START) -> list[int]:
    """Ticks from the gaps between them."""
    times, now = [], start
    for gap in [*gaps, 0]:
        times.append(now)
        now += gap
    return times


@st.composite
def traces(draw: st.DrawFn, longest: int = 60, most: int = 40) -> Trace:
    """Edges with gaps of 0 to ``longest`` ticks, some of them moved by nothing."""
    gaps = draw(st.lists(st.integers(0, longest), max_size=most))
    times = times_of(gaps)
    causes = [
        draw(st.sampled_from([pack_cause(i, 0), pack_cause(i // 3, 1), pack_cause(-1, 8), pack_cause(-1, 9)]))
        for i in range(len(times))
    ]
    return Trace(draw(st.integers(0, 1)), tuple(zip(times, causes, strict=True)))
