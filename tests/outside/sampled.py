"""Short ways to feed sampled stages: bits, one a sample, and the filters' memories as Markov chains.

If the line is at bit k from k periods to k + 1, then every phase takes each bit just once, bit k by
sample k, and an output edge at tick t belongs to bit ``t // period``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from simcore.base.draws import Part
from simcore.base.records import Edges, Ints, edges_of_runs, empty_edges, trimmed
from simcore.stages.base import drive_stage
from simcore.stages.clock import Clock
from simcore.stages.sampled import Sampled, memory_after, memory_start, samples_left

PERIOD = 1_000_000
"""Ticks."""
CLOCK = Clock(Part(PERIOD * 1e-12, 0.0), 1)


def lines_of(strings: Sequence[Sequence[int]]) -> Edges:
    """One run per string of bits; all lines have been low before."""
    runs: list[tuple[int, list[int], list[int]]] = []
    for bits in strings:
        edges = np.flatnonzero(np.diff(np.asarray(bits), prepend=0)) * PERIOD
        runs.append((0, edges.tolist(), [0] * edges.size))
    return edges_of_runs(runs)


def sent_through(spec: Any, source: Edges, seed: int = 1) -> Edges:
    """What a stage makes of it; each run has a phase of its own."""
    out = empty_edges(2 * source.times.size + 16, source.first.size)
    ends = np.full(source.first.size, 2**62, np.int64)
    assert drive_stage(spec, seed, 0, 0, source, ends, out) == source.first.size
    return trimmed(out)


def first_edges(edges: Edges) -> Ints:
    """Tick of each run's first edge, -1 where there is none."""
    starts = edges.offsets[:-1]
    there = starts < edges.offsets[1:]
    found = np.full(starts.size, -1, np.int64)
    found[there] = edges.times[starts[there]]
    return found


def bits_before_output(rule: Any, strings: npt.NDArray[np.bool_]) -> npt.NDArray[np.int64]:
    """For each row of bits (runs, bits), how many it takes until the output first goes high."""
    edges = first_edges(sent_through(Sampled(CLOCK, rule), lines_of(list(strings))))
    assert (edges >= 0).all(), "longer strings, please"
    counts: npt.NDArray[np.int64] = edges // PERIOD + 1
    return counts


class Chain:
    """The memory of a filter whose output is low, fed with bits that are high with probability ``p``.

    ``inner`` holds the chances of going from memory to memory before the output turns high or, with
    ``both_ends``, the memory is where it is when the line has long been low.
    """

    def __init__(self, rule: Any, p: float, *, both_ends: bool = False, start: int | None = None) -> None:
        bottom = memory_start(rule, 0)
        start = bottom if start is None else start
        self.places = {start: 0}
        moves: list[tuple[int, int | None, float]] = []
        waiting = [start]
        self.to_top: dict[int, float] = {}
        while waiting:
            memory = waiting.pop()
            for bit, chance in ((1, p), (0, 1.0 - p)):
                if bit and samples_left(rule, memory, 1) == 1:
                    self.to_top[self.places[memory]] = chance
                    continue
                after = memory_after(rule, memory, bit, 0, 1)
                if both_ends and after == bottom:
                    continue
                if after not in self.places:
                    self.places[after] = len(self.places)
                    waiting.append(after)
                moves.append((self.places[memory], self.places[after], chance))
        self.inner = np.zeros((len(self.places), len(self.places)))
        for here, there, chance in moves:
            self.inner[here, there] += chance

    def _solve(self, right: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        solved = np.linalg.solve(np.eye(len(self.places)) - self.inner, right)
        return np.asarray(solved, np.float64)

    @property
    def mean(self) -> float:
        """Expected number of bits."""
        return float(self._solve(np.ones(len(self.places)))[0])

    @property
    def variance(self) -> float:
        """Its variance: E n(n - 1) = 2 N (N - 1) 1 for the fundamental matrix N of the chain."""
        steps = self._solve(np.ones(len(self.places)))
        return float(2.0 * self._solve(steps)[0] - steps[0] - steps[0] ** 2)

    @property
    def top_chance(self) -> float:
        """Chance of the output turning high."""
        right = np.zeros(len(self.places))
        for place, chance in self.to_top.items():
            right[place] = chance
        return float(self._solve(right)[0])
