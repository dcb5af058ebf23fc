"""The batch engine: stage by stage over blocks of runs, compiled."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from simcore.blocks import BlockDetail, BlockResult, Judge, seen_by_counter
from simcore.chain import Design, Link, wire
from simcore.contacts import SCRATCH, drive_contact
from simcore.counters.base import drive_counter
from simcore.edges import Edges, Pulses, empty_edges, empty_pulses
from simcore.stages.base import drive_stage
from simcore.truth import Truth, TruthMaker, transitions_per_run

ROOM = 8
"""Edges per transition to make room for at first; arrays grow when a block needs more."""


class BatchEngine:
    """Runs blocks of up to ``runs`` runs of one design.

    Holds arrays that are used again, so one engine per thread.
    """

    def __init__(self, design: Design, runs: int) -> None:
        self.design = design
        self.chain = wire(design)
        self.runs = runs
        self.truth = TruthMaker(design, self.chain, runs)
        self.judge = Judge(design, self.chain)
        room = ROOM * runs * transitions_per_run(design)
        self.edges = [
            [empty_edges(room, runs) for _ in range(1 + len(self.chain.links[line]))] for line in (0, 1)
        ]
        self.pulses = empty_pulses(room, runs)
        self.cuts = np.zeros((2, runs), np.int64)
        self.burst = (np.zeros(SCRATCH, np.int64), np.zeros(SCRATCH, np.int32))

    def run(self, seed: int, first_run: int, runs: int) -> BlockResult:
        """Simulate and judge ``runs`` runs from ``first_run`` on."""
        return self._block(seed, first_run, runs, False).result

    def detail(self, seed: int, first_run: int, runs: int) -> BlockDetail:
        """The same, with every edge, pulse and verdict; valid until the next call."""
        return self._block(seed, first_run, runs, True)

    def _block(self, seed: int, first_run: int, runs: int, keep: bool) -> BlockDetail:
        if not 1 <= runs <= self.runs:
            raise ValueError(f"a block of {runs} runs in an engine for 1 to {self.runs}")
        truth = self.truth.make(seed, first_run, runs)
        lines = (
            self._line(0, truth, seed, first_run, runs),
            self._line(1, truth, seed, first_run, runs),
        )
        a, b = (seen_by_counter(self.chain, line, lines[line][-1]) for line in (0, 1))
        pulses = self._count(a, b, truth, seed, first_run, runs)
        cut = int(self.cuts[:, :runs].sum())
        return self.judge(truth, lines, pulses, cut, keep)

    def _line(self, line: int, truth: Truth, seed: int, first_run: int, runs: int) -> tuple[Edges, ...]:
        design = self.design

        def contact(out: Edges) -> int:
            return drive_contact(
                design.contact, design.sliding, seed, first_run, line,
                truth.transitions, self.burst[0], self.burst[1], out, self.cuts[line, :runs],
            )  # fmt: skip

        passed = [self._fill(line, 0, runs, contact)]
        for number, link in enumerate(self.chain.links[line], start=1):
            through = _through(link, seed, first_run, line, passed[-1])
            passed.append(self._fill(line, number, runs, through))
        return tuple(passed)

    def _fill(self, line: int, number: int, runs: int, work: Callable[[Edges], int]) -> Edges:
        """Let ``work`` fill an edge array, with more room until it is enough."""
        while True:
            kept = self.edges[line][number]
            out = kept._replace(offsets=kept.offsets[: runs + 1], first=kept.first[:runs])
            if work(out) == runs:
                return out
            self.edges[line][number] = empty_edges(2 * kept.times.size + 1024, self.runs)

    def _count(self, a: Edges, b: Edges, truth: Truth, seed: int, first_run: int, runs: int) -> Pulses:
        design = self.design
        while True:
            kept = self.pulses
            out = kept._replace(offsets=kept.offsets[: runs + 1])
            done = drive_counter(design.counter, design.range, seed, first_run, a, b, truth.transitions, out)
            if done == runs:
                return out
            self.pulses = empty_pulses(2 * kept.times.size + 1024, self.runs)


def _through(link: Link, seed: int, first_run: int, line: int, source: Edges) -> Any:
    def work(out: Edges) -> int:
        return drive_stage(link.spec, seed, first_run, line, source, out)

    return work
