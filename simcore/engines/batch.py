"""The batch engine: stage by stage over blocks of runs, compiled.

Recorded traces are sent through the layers of a chain in the same way.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from simcore.base.records import Edges, Ints, Pulses, empty_edges, empty_pulses
from simcore.contacts.crossing import SCRATCH, drive_contact
from simcore.counters.base import drive_counter
from simcore.design import Chain, Design, Layer
from simcore.engines.blocks import BlockDetail, BlockResult, Judge, Lines, as_logic, seen_by_counter
from simcore.engines.gauging import Gauger, is_probed
from simcore.engines.truth import Truth, TruthMaker, transitions_per_run
from simcore.stages.base import UNREAD, drive_stage, room_for_readings
from simcore.stages.pair import drive_pair

MOST_EDGES = 200_000_000
"""Limit on the edges of a block (2.4 GB of memory)."""


class Store:
    """One edge array that is used again from block to block and grows when one needs more."""

    def __init__(self, room: int, runs: int) -> None:
        self.runs = runs
        self.kept = empty_edges(room, runs)

    def view(self, runs: int) -> Edges:
        return self.kept._replace(offsets=self.kept.offsets[: runs + 1], first=self.kept.first[:runs])

    def grow(self) -> None:
        """Twice the room; RuntimeError once that can only come of a rule without end."""
        if self.kept.times.size > MOST_EDGES:
            raise RuntimeError(f"over {MOST_EDGES} edges in a block of {self.runs} runs: a stage without end")
        self.kept = empty_edges(2 * self.kept.times.size + 1024, self.runs)

    def fill(self, runs: int, work: Callable[[Edges], int]) -> Edges:
        """Let ``work`` (which returns the runs that found room) fill the array."""
        while True:
            out = self.view(runs)
            if work(out) == runs:
                return out
            self.grow()


class ChainRunner:
    """Sends blocks of up to ``runs`` runs through ``chain``; results hold until the next block.

    If ``probed``, ``readings`` holds the voltages of A and of B, where a line has any.
    """

    def __init__(self, chain: Chain, room: int, runs: int, *, probed: bool = False) -> None:
        self.chain = chain
        self.probed = probed
        self.readings = [UNREAD, UNREAD]
        self.stores = [(Store(room, runs), Store(room, runs)) for _ in chain.layers]

    def send(self, contacts: tuple[Edges, Edges], ends: Ints, seed: int, first_run: int) -> Lines:
        """For both lines the contact's edges (level 1: closed), then those after each stage.

        ``ends`` (runs,) are the ticks at which the hand is done.
        """
        passed = ([contacts[0]], [contacts[1]])
        for layer, stores in zip(self.chain.layers, self.stores, strict=True):
            a, b = (
                edges[-1] if len(edges) > 1 else as_logic(self.chain, line, edges[0])
                for line, edges in enumerate(passed)
            )
            if layer.pair is not None:
                outs = self._pair(layer, stores, (a, b), ends, seed, first_run)
                for line in (0, 1):
                    passed[line].append(outs[line])
                continue
            for line, source in enumerate((a, b)):
                if layer.line[line] is not None:
                    through = partial(self._stage, layer, line, source, ends, seed, first_run)
                    passed[line].append(stores[line].fill(int(ends.size), through))
        return tuple(passed[0]), tuple(passed[1])

    def _stage(
        self, layer: Layer, line: int, source: Edges, ends: Ints, seed: int, first_run: int, out: Edges
    ) -> int:
        spec, readings = layer.line[line], UNREAD
        if self.probed and is_probed(spec):
            readings = self.readings[line] = room_for_readings(self.readings[line], source)
        return drive_stage(spec, seed, first_run, layer.address + line, source, ends, out, readings)

    def _pair(
        self,
        layer: Layer,
        stores: tuple[Store, Store],
        sources: tuple[Edges, Edges],
        ends: Ints,
        seed: int,
        first_run: int,
    ) -> tuple[Edges, Edges]:
        runs = int(ends.size)
        while True:
            outs = stores[0].view(runs), stores[1].view(runs)
            done = drive_pair(layer.pair, seed, first_run, layer.address, *sources, ends, *outs)
            if done == runs:
                return outs
            for store in stores:
                store.grow()


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
        self.runner = ChainRunner(self.chain, room, runs, probed=margins)
        self.pulses = empty_pulses(room, runs)
        self.cuts = np.zeros((2, runs), np.int64)
        self.burst = (np.zeros(SCRATCH, np.int64), np.zeros(SCRATCH, np.int32))

    def run(self, seed: int, first_run: int, runs: int) -> BlockResult:
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
        lines = self.runner.send(contacts, truth.transitions.ends, seed, first_run)
        pulses = self._count(lines, truth, seed, first_run, runs)
        margins = None
        if self.gauger is not None:
            margins = self.gauger(truth.transitions, lines, self.runner.readings, seed, first_run)
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
