"""The event engine: one process per contact, stage and counter, on simpy's event queue.

It is the reference.  It schedules on its own, asks the same compiled rules as the batch
engine for every decision, and keeps a record of all that happened.  Order at equal ticks:
upstream before downstream, an input edge before a wake-up, A before B.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np
import simpy

from simcore.blocks import BlockDetail, BlockResult, Judge
from simcore.chain import Chain, Layer
from simcore.compiling import kernel
from simcore.components import FIRST_RANK, At, Counter, Edge, Happening, Pair, Process, Stage
from simcore.contacts import SCRATCH, contact_changes, crossing_at, next_of_channel
from simcore.design import Design
from simcore.edges import (
    LINE_NAMES,
    WATCHED,
    Causes,
    Edges,
    Ints,
    Pulses,
    Transitions,
    edges_of_runs,
    empty_edges,
    pack_cause,
)
from simcore.foreign import foreign_modules
from simcore.gauging import Gauger
from simcore.margins import joined
from simcore.stages.base import drive_stage
from simcore.stages.pair import drive_pair
from simcore.stages.probe import Readings
from simcore.sums import Sums
from simcore.truth import Truth, TruthMaker


@kernel
def burst_of(
    contact: Any,
    sliding: Any,
    seed: int,
    run: int,
    transitions: Transitions,
    i: int,
    times: Ints,
    origins: Causes,
) -> tuple[int, int]:
    """The changes of transition ``i`` of a single run (see contact_changes)."""
    following = next_of_channel(transitions, i, transitions.offsets[1])
    at = crossing_at(transitions, seed, run, 0, i, following)
    return contact_changes(contact, sliding, at, transitions.travel[i], times, origins)


class RunBench:
    """One run: the processes, what they sent each other, and the record.

    If ``probed``, ``volts`` collects for A and B the node's voltage at each edge of the contact, and
    ``thresholds`` its input's.
    """

    def __init__(
        self, design: Design, seed: int, run: int, truth: Truth, record: bool, *, probed: bool = False
    ) -> None:
        self.design, self.seed, self.run, self.truth = design, seed, run, truth
        self.env = simpy.Environment()
        self.record: list[Happening] | None = [] if record else None
        self.probed = probed
        self.volts: tuple[list[float], list[float]] = ([], [])
        self.thresholds = [(0.0, 0.0), (0.0, 0.0)]
        self.horizon = int(truth.transitions.ends[0]) + WATCHED
        self.cut = 0
        self.chain = design.chain
        # Per line and sender (0: the contact): what it sent, its first and its present level,
        # and who receives it.
        self.sent: tuple[list[list[tuple[int, int]]], ...] = ([], [])
        self.firsts: tuple[list[int], ...] = ([], [])
        self.levels: tuple[list[int], ...] = ([], [])
        self.receivers: tuple[list[Stage | Pair | Counter], ...] = ([], [])
        for line in (0, 1):
            self._start(line, (int(truth.transitions.first[0]) >> line) & 1)
        for depth, layer in enumerate(self.chain.layers, start=1):
            self._add(layer, depth)
        depth = 1 + len(self.chain.layers)
        self.counter = Counter(self, depth, self.seen(0), self.seen(1))
        for line in (0, 1):
            self.receivers[line].append(self.counter)
            self.env.process(self.contact(line))

    @property
    def now(self) -> int:
        """The present tick."""
        return int(self.env.now)

    def _start(self, line: int, level: int) -> None:
        self.sent[line].append([])
        self.firsts[line].append(level)
        self.levels[line].append(level)

    def _turned(self, line: int, number: int) -> int:
        """1 where a sender's level is turned over on its way: a contact read as a logic level."""
        return self.chain.turned[line] if number == 0 else 0

    def seen(self, line: int) -> int:
        """The present level of the line's latest sender, as its receiver sees it."""
        number = len(self.levels[line]) - 1
        return self.levels[line][number] ^ self._turned(line, number)

    def _add(self, layer: Layer, depth: int) -> None:
        if layer.pair is not None:
            numbers = (len(self.sent[0]), len(self.sent[1]))
            pair = Pair(self, layer, depth, numbers, (self.seen(0), self.seen(1)))
            for line in (0, 1):
                self.receivers[line].append(pair)
                self._start(line, pair.shown[line])
            return
        for line in (0, 1):
            if layer.line[line] is not None:
                stage = Stage(self, layer, depth, line, len(self.sent[line]), self.seen(line))
                self.receivers[line].append(stage)
                self._start(line, stage.level)

    def pass_on(self, line: int, number: int, cause: int) -> None:
        """Sender ``number`` of a line (0: the contact) changes level now."""
        self.sent[line][number].append((self.now, cause))
        self.levels[line][number] ^= 1
        level = self.levels[line][number] ^ self._turned(line, number)
        self.receivers[line][number].send(Edge(line, level, cause), self.now)

    def contact(self, line: int) -> Process:
        """Wait for each of the contact's transitions, then play its burst."""
        transitions = self.truth.transitions
        times, origins = np.zeros(SCRATCH, np.int64), np.zeros(SCRATCH, np.int32)
        rank = FIRST_RANK + line
        for i in range(int(transitions.offsets[1])):
            if transitions.channels[i] != line:
                continue
            yield At(self.env, int(transitions.times[i]), rank)
            count, cut = burst_of(
                self.design.contact, self.design.sliding, self.seed, self.run, transitions, i, times, origins
            )
            self.cut += cut
            for k in range(count):
                due = int(transitions.times[i] + times[k])
                if due > self.now:
                    yield At(self.env, due, rank)
                self.pass_on(line, 0, pack_cause(i, int(origins[k])))
                if self.record is not None:
                    state = (self.levels[line][0], int(origins[k]))
                    self.record.append(Happening(self.now, f"contact {LINE_NAMES[line]}", "change", state))

    def edges(self) -> tuple[tuple[Edges, ...], tuple[Edges, ...]]:
        """What each component of each line sent, the contact first."""
        a, b = (
            tuple(
                edges_of_runs([(first, [t for t, _ in sent], [c for _, c in sent])])
                for first, sent in zip(self.firsts[line], self.sent[line], strict=True)
            )
            for line in (0, 1)
        )
        return a, b

    def readings(self) -> list[Readings]:
        """The voltages of A and of B, empty where there are none."""
        return [
            Readings(np.array(volts, np.float64), np.array([rising]), np.array([falling]))
            for volts, (rising, falling) in zip(self.volts, self.thresholds, strict=True)
        ]

    def pulses(self) -> Pulses:
        """What the counter did."""
        rows = self.counter.pulses
        columns = [np.array([row[i] for row in rows]) for i in range(5)]
        kinds = (np.int64, np.int8, np.int8, np.int32, np.uint8)
        times, asked, moved, causes, flags = (
            column.astype(kind) for column, kind in zip(columns, kinds, strict=True)
        )
        return Pulses(times, asked, moved, causes, flags, np.array([0, len(rows)], np.int64))


@dataclass(frozen=True)
class RunRecord:
    """One run in full: its ``detail`` as a block of one, and all that ``happened``, in order."""

    detail: BlockDetail
    happened: tuple[Happening, ...]


def _settle(chain: Chain) -> None:
    """Find out whether rules of other packages can be compiled, as the batch engine does, so that both
    engines run them alike.
    """
    nothing = empty_edges(0, 0)
    ends = np.zeros(0, np.int64)
    for layer in chain.layers:
        if layer.pair is not None and foreign_modules([layer.pair]):
            drive_pair(layer.pair, 0, 0, 0, nothing, nothing, ends, nothing, nothing)
        for spec in layer.line:
            if spec is not None and foreign_modules([spec]):
                drive_stage(spec, 0, 0, 0, nothing, ends, nothing)


class EventEngine:
    """Runs one design, one run at a time.  Gathers ``margins`` if asked to."""

    def __init__(self, design: Design, *, margins: bool = False) -> None:
        self.design = design
        chain = design.chain
        _settle(chain)
        self.truth = TruthMaker(design, chain, 1)
        self.judge = Judge(design, chain)
        self.gauger = Gauger(design, chain) if margins else None

    def record(self, seed: int, run: int) -> RunRecord:
        """One run with its full record; arrays of the truth are valid until the next call."""
        bench, detail = self._one(seed, run, True)
        return RunRecord(detail, tuple(bench.record or ()))

    def run(self, seed: int, first_run: int, runs: int) -> BlockResult:
        """Simulate and judge ``runs`` runs from ``first_run`` on, keeping no record."""
        results = [self._one(seed, first_run + r, False)[1].result for r in range(runs)]
        parts = zip(*(result.sums for result in results), strict=True)
        sums = Sums(*(np.sum(part, axis=0) for part in parts))
        errors = np.concatenate([result.errors for result in results])
        margins = [result.margins for result in results if result.margins is not None]
        return BlockResult(sums, errors, functools.reduce(joined, margins) if margins else None)

    def _one(self, seed: int, run: int, record: bool) -> tuple[RunBench, BlockDetail]:
        truth = self.truth.make(seed, run, 1)
        bench = RunBench(self.design, seed, run, truth, record, probed=self.gauger is not None)
        bench.env.run()
        edges, margins = bench.edges(), None
        if self.gauger is not None:
            margins = self.gauger(truth.transitions, edges, bench.readings(), seed, run)
        return bench, self.judge(truth, edges, bench.pulses(), bench.cut, record, margins)
