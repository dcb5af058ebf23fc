"""The batch engine: stage by stage over blocks of runs, compiled."""

from __future__ import annotations

import numpy as np

from simcore.blocks import BlockDetail, BlockResult, Judge, Lines, seen_by_counter
from simcore.contacts import SCRATCH, drive_contact
from simcore.counters.base import drive_counter
from simcore.design import Design
from simcore.edges import Edges, Pulses, empty_pulses
from simcore.gauging import Gauger
from simcore.passage import Passage, Store
from simcore.truth import Truth, TruthMaker, transitions_per_run

ROOM = 8
"""Edges per transition to make room for at first; arrays grow when a block needs more."""


class BatchEngine:
    """Runs blocks of up to ``runs`` runs of one design.

    Holds arrays that are used again, so one engine per thread.  Gathers ``margins`` if asked to.
    """

    def __init__(self, design: Design, runs: int, *, margins: bool = False) -> None:
        self.design = design
        self.chain = design.chain
        self.runs = runs
        self.truth = TruthMaker(design, self.chain, runs)
        self.judge = Judge(design, self.chain)
        room = ROOM * runs * transitions_per_run(design)
        self.contacts = (Store(room, runs), Store(room, runs))
        self.gauger = Gauger(design, self.chain) if margins else None
        self.passage = Passage(self.chain, room, runs, probed=margins)
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
        contacts = (
            self._contact(0, truth, seed, first_run, runs),
            self._contact(1, truth, seed, first_run, runs),
        )
        lines = self.passage.send(contacts, truth.transitions.ends, seed, first_run)
        pulses = self._count(lines, truth, seed, first_run, runs)
        margins = None
        if self.gauger is not None:
            margins = self.gauger(truth.transitions, lines, self.passage.readings, seed, first_run)
        return self.judge(truth, lines, pulses, int(self.cuts[:, :runs].sum()), keep, margins)

    def _contact(self, line: int, truth: Truth, seed: int, first_run: int, runs: int) -> Edges:
        design = self.design

        def work(out: Edges) -> int:
            return drive_contact(
                design.contact, design.sliding, seed, first_run, line,
                truth.transitions, *self.burst, out, self.cuts[line, :runs],
            )  # fmt: skip

        return self.contacts[line].fill(runs, work)

    def _count(self, lines: Lines, truth: Truth, seed: int, first_run: int, runs: int) -> Pulses:
        design = self.design
        a, b = seen_by_counter(self.chain, lines)
        while True:
            kept = self.pulses
            out = kept._replace(offsets=kept.offsets[: runs + 1])
            done = drive_counter(design.counter, design.range, seed, first_run, a, b, truth.transitions, out)
            if done == runs:
                return out
            self.pulses = empty_pulses(2 * kept.times.size + 1024, self.runs)
