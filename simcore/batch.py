"""The batch engine: stage by stage over blocks of runs, compiled."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from simcore.blocks import BlockDetail, BlockResult, Judge, Lines, as_logic, seen_by_counter
from simcore.chain import Design, Layer, wire
from simcore.contacts import SCRATCH, drive_contact
from simcore.counters.base import drive_counter
from simcore.edges import Edges, Pulses, empty_edges, empty_pulses
from simcore.stages.base import drive_stage
from simcore.stages.pair import drive_pair
from simcore.truth import Truth, TruthMaker, transitions_per_run

ROOM = 8
"""Edges per transition to make room for at first; arrays grow when a block needs more."""


@dataclass(frozen=True)
class _Block:
    """A block under way: its runs, their truth, and the edges that each line has sent so far."""

    seed: int
    first_run: int
    runs: int
    truth: Truth
    passed: tuple[list[Edges], list[Edges]]


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
        self.edges: tuple[list[Edges], list[Edges]] = ([], [])
        for line in (0, 1):
            served = sum(layer.serves(line) for layer in self.chain.layers)
            self.edges[line].extend(empty_edges(room, runs) for _ in range(1 + served))
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
        block = _Block(seed, first_run, runs, self.truth.make(seed, first_run, runs), ([], []))
        for line in (0, 1):
            self._contact(block, line)
        for layer in self.chain.layers:
            if layer.pair is not None:
                self._pass_pair(block, layer)
            else:
                self._pass_lines(block, layer)
        lines = (tuple(block.passed[0]), tuple(block.passed[1]))
        pulses = self._count(block, lines)
        return self.judge(block.truth, lines, pulses, int(self.cuts[:, :runs].sum()), keep)

    def _contact(self, block: _Block, line: int) -> None:
        design = self.design

        def work(out: Edges) -> int:
            return drive_contact(
                design.contact, design.sliding, block.seed, block.first_run, line,
                block.truth.transitions, *self.burst, out, self.cuts[line, : block.runs],
            )  # fmt: skip

        self._fill(block, line, work)

    def _sources(self, block: _Block) -> tuple[Edges, Edges]:
        """What has come so far on both lines, as the next layer sees it."""
        a, b = (
            edges[-1] if len(edges) > 1 else as_logic(self.chain, line, edges[0])
            for line, edges in enumerate(block.passed)
        )
        return a, b

    def _pass_lines(self, block: _Block, layer: Layer) -> None:
        ends = block.truth.transitions.ends
        for line, source in enumerate(self._sources(block)):
            spec, address = layer.line[line], layer.address + line
            if spec is not None:
                through = partial(drive_stage, spec, block.seed, block.first_run, address, source, ends)
                self._fill(block, line, through)

    def _pass_pair(self, block: _Block, layer: Layer) -> None:
        a, b = self._sources(block)
        ends = block.truth.transitions.ends
        places = [len(block.passed[line]) for line in (0, 1)]
        while True:
            out_a, out_b = (self._array(line, places[line], block.runs) for line in (0, 1))
            done = drive_pair(
                layer.pair, block.seed, block.first_run, layer.address, a, b, ends, out_a, out_b
            )
            if done == block.runs:
                break
            for line in (0, 1):
                self._grow(line, places[line])
        block.passed[0].append(out_a)
        block.passed[1].append(out_b)

    def _fill(self, block: _Block, line: int, work: Callable[[Edges], int]) -> None:
        """Let ``work`` fill the line's next edge array, with more room until it is enough."""
        number = len(block.passed[line])
        while True:
            out = self._array(line, number, block.runs)
            if work(out) == block.runs:
                block.passed[line].append(out)
                return
            self._grow(line, number)

    def _array(self, line: int, number: int, runs: int) -> Edges:
        kept = self.edges[line][number]
        return kept._replace(offsets=kept.offsets[: runs + 1], first=kept.first[:runs])

    def _grow(self, line: int, number: int) -> None:
        room = 2 * self.edges[line][number].times.size + 1024
        self.edges[line][number] = empty_edges(room, self.runs)

    def _count(self, block: _Block, lines: Lines) -> Pulses:
        design = self.design
        a, b = seen_by_counter(self.chain, lines)
        while True:
            kept = self.pulses
            out = kept._replace(offsets=kept.offsets[: block.runs + 1])
            done = drive_counter(
                design.counter, design.range, block.seed, block.first_run,
                a, b, block.truth.transitions, out,
            )  # fmt: skip
            if done == block.runs:
                return out
            self.pulses = empty_pulses(2 * kept.times.size + 1024, self.runs)
