"""The event engine: one process per contact, stage and counter, on simpy's event queue.

It is the reference.  It schedules on its own, asks the same compiled rules as the batch
engine for every decision, and keeps a record of all that happened.  Order at equal ticks:
upstream before downstream, an input edge before a wake-up, A before B.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass
from typing import Any

import numpy as np
import simpy

from simcore.blocks import BlockDetail, BlockResult, Judge
from simcore.chain import Design, wire
from simcore.compiling import kernel
from simcore.contacts import SCRATCH, contact_changes, crossing_at, next_of_channel
from simcore.counters.base import (
    AT_STOP,
    Coin,
    counter_edge,
    counter_expire,
    counter_start,
    counter_wake,
    moved_by,
)
from simcore.edges import (
    LINE_NAMES,
    Causes,
    Edges,
    Ints,
    Pulses,
    Transitions,
    cause_transition,
    edges_of_runs,
    pack_cause,
)
from simcore.stages.base import (
    stage_build,
    stage_edge,
    stage_expire,
    stage_level,
    stage_start,
    stage_wake,
)
from simcore.sums import Sums
from simcore.ticks import NEVER
from simcore.truth import Truth, TruthMaker

FIRST_RANK = 10
"""simpy's own events have priorities 0 and 1; all of ours come after them at a tick."""
NO_CAUSE = -16

Process = Generator[simpy.Event, Any, None]


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


@kernel
def stage_begins(spec: Any, seed: int, run: int, line: int, level: int) -> tuple[Any, Any, int, int]:
    """Parameters, state, output level and next wake-up of a stage at rest."""
    params = stage_build(spec, seed, run, line)
    state = stage_start(params, level)
    return params, state, stage_level(params, state), stage_wake(params, state, NEVER)


@kernel
def stage_takes_edge(params: Any, state: Any, time: int, level: int) -> tuple[Any, int, int]:
    """State, output level and next wake-up after an input edge."""
    state = stage_edge(params, state, time, level)
    return state, stage_level(params, state), stage_wake(params, state, NEVER)


@kernel
def stage_wakes(params: Any, state: Any, time: int) -> tuple[Any, int, int]:
    """State, output level and next wake-up after a wake-up."""
    state = stage_expire(params, state, time)
    return state, stage_level(params, state), stage_wake(params, state, NEVER)


@kernel
def counter_begins(spec: Any, a: int, b: int) -> tuple[Any, int]:
    """State and next wake-up of a counter at rest."""
    state = counter_start(spec, a, b)
    return state, counter_wake(spec, state, NEVER)


@kernel
def counter_takes_edge(
    spec: Any, state: Any, time: int, line: int, level: int, cause: int, truth: int, coin: Coin
) -> tuple[Any, int]:
    """State and next wake-up after an edge."""
    state = counter_edge(spec, state, time, line, level, cause, truth, coin)
    return state, counter_wake(spec, state, NEVER)


@kernel
def counter_wakes(spec: Any, state: Any, time: int, coin: Coin) -> tuple[Any, int]:
    """State and next wake-up after a wake-up."""
    state = counter_expire(spec, state, time, coin)
    return state, counter_wake(spec, state, NEVER)


class At(simpy.Event):
    """An event at a tick, with a rank that orders it among others of that tick."""

    def __init__(self, env: simpy.Environment, time: int, rank: int, value: Any = None) -> None:
        super().__init__(env)
        self._ok = True
        self._value = value
        env.schedule(self, priority=rank, delay=time - env.now)  # type: ignore[arg-type]


@dataclass(frozen=True)
class Happening:
    """One entry of the record: when (tick), who, what, and the state it left behind."""

    time: int
    who: str
    what: str
    state: Any


@dataclass(frozen=True)
class Edge:
    """A level change on its way from one component to the next."""

    line: int
    level: int
    cause: int


class Component:
    """A process with an inbox, fed by edges from upstream and by its own wake-ups."""

    def __init__(self, bench: Bench, name: str, depth: int) -> None:
        self.bench = bench
        self.name = name
        self.rank = FIRST_RANK + 4 * depth
        self.inbox = bench.env.event()
        self.alarm = 0
        bench.env.process(self.life())

    def life(self) -> Process:
        """Take message after message: an Edge, or the number of the alarm that went off."""
        while True:
            message = yield self.inbox
            self.inbox = self.bench.env.event()
            if isinstance(message, Edge):
                self.take(message)
            elif message == self.alarm:
                self.wake()

    def take(self, edge: Edge) -> None:
        """An edge arrives."""
        raise NotImplementedError

    def wake(self) -> None:
        """The wake-up set last comes."""
        raise NotImplementedError

    def post(self, message: Edge | int, time: int, rank: int) -> None:
        """Put a message into the inbox at a tick."""
        event = At(self.bench.env, time, rank, message)
        event.callbacks.append(self._receive)

    def _receive(self, due: simpy.Event) -> None:
        self.inbox.succeed(due.value)

    def send(self, edge: Edge, time: int) -> None:
        """Deliver an edge from upstream at a tick."""
        self.post(edge, time, self.rank + edge.line)

    def set_alarm(self, time: int) -> None:
        """Set the one wake-up, which forgets any earlier one."""
        self.alarm += 1
        if time != NEVER:
            self.post(self.alarm, time, self.rank + 2)

    def note(self, what: str, state: Any) -> None:
        """Write into the record, if one is kept."""
        if self.bench.record is not None:
            self.bench.record.append(Happening(self.bench.now, self.name, what, state))


class Stage(Component):
    """One stage of one line."""

    def __init__(self, bench: Bench, line: int, number: int, name: str, spec: Any, level: int) -> None:
        super().__init__(bench, f"{name} {LINE_NAMES[line]}", number)
        self.line, self.number = line, number
        self.params, self.state, self.level, wake = stage_begins(spec, bench.seed, bench.run, line, level)
        self.cause = NO_CAUSE
        self.note("at rest", (self.params, self.state))
        self.set_alarm(wake)

    def take(self, edge: Edge) -> None:
        """An input edge: the rule decides, and may set another wake-up."""
        self.cause = edge.cause
        self._follow(*stage_takes_edge(self.params, self.state, self.bench.now, edge.level))

    def wake(self) -> None:
        """The wake-up: the rule decides."""
        self._follow(*stage_wakes(self.params, self.state, self.bench.now))

    def _follow(self, state: Any, level: int, wake: int) -> None:
        self.state = state
        self.note("state", state)
        if level != self.level:
            self.level = level
            self.bench.pass_on(self.line, self.number, self.cause)
        self.set_alarm(wake)


class Counter(Component):
    """The counter."""

    def __init__(self, bench: Bench, depth: int, a: int, b: int) -> None:
        super().__init__(bench, "counter", depth)
        self.spec = bench.design.counter
        self.coin = Coin(bench.seed, bench.run)
        self.state, wake = counter_begins(self.spec, a, b)
        self.position = bench.design.range.start
        self.pulses: list[tuple[int, int, int, int, int]] = []
        self.set_alarm(wake)

    def take(self, edge: Edge) -> None:
        """An edge of either line."""
        index = cause_transition(edge.cause)
        truth = 0 if index < 0 else int(self.bench.truth.transitions.directions[index])
        self._follow(
            *counter_takes_edge(
                self.spec, self.state, self.bench.now, edge.line, edge.level, edge.cause, truth, self.coin
            )
        )

    def wake(self) -> None:
        """An open decision closes."""
        self._follow(*counter_wakes(self.spec, self.state, self.bench.now, self.coin))

    def _follow(self, state: Any, wake: int) -> None:
        self.state = state
        self.note("state", state)
        if state.emit:
            moved = moved_by(self.bench.design.range, self.position, state.pulse)
            flags = state.pulse_flags | (AT_STOP if moved != state.pulse else 0)
            self.position += moved
            self.pulses.append((state.pulse_time, state.pulse, moved, state.pulse_cause, flags))
            self.note("pulse", (self.pulses[-1], self.position))
        self.set_alarm(wake)


class Bench:
    """One run: the processes, what they sent each other, and the record."""

    def __init__(self, design: Design, seed: int, run: int, truth: Truth, record: bool) -> None:
        self.design, self.seed, self.run, self.truth = design, seed, run, truth
        self.env = simpy.Environment()
        self.record: list[Happening] | None = [] if record else None
        self.cut = 0
        chain = wire(design)
        depth = 1 + max(len(links) for links in chain.links)
        self.sent: tuple[list[list[tuple[int, int]]], ...] = ([], [])
        self.firsts: tuple[list[int], ...] = ([], [])
        self.stages: tuple[list[Stage], ...] = ([], [])
        seen = [0, 0]
        for line in (0, 1):
            closed = (int(truth.transitions.first[0]) >> line) & 1
            seen[line] = closed ^ chain.follows[line]
            self._start_line(line, closed)
            for number, link in enumerate(chain.links[line], start=1):
                stage = Stage(self, line, number, link.name, link.spec, self.firsts[line][-1])
                self.stages[line].append(stage)
                self._start_line(line, stage.level)
                seen[line] = stage.level
        self.levels = [list(firsts) for firsts in self.firsts]
        self.follows = chain.follows
        self.counter = Counter(self, depth, seen[0], seen[1])
        for line in (0, 1):
            self.env.process(self.contact(line))

    @property
    def now(self) -> int:
        """The present tick."""
        return int(self.env.now)

    def _start_line(self, line: int, level: int) -> None:
        self.sent[line].append([])
        self.firsts[line].append(level)

    def pass_on(self, line: int, number: int, cause: int) -> None:
        """Component ``number`` of a line (0: the contact) changes level now."""
        self.sent[line][number].append((self.now, cause))
        self.levels[line][number] ^= 1
        level = self.levels[line][number]
        if number < len(self.stages[line]):
            self.stages[line][number].send(Edge(line, level, cause), self.now)
        else:
            seen = level ^ self.follows[line] if number == 0 else level
            self.counter.send(Edge(line, seen, cause), self.now)

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


class EventEngine:
    """Runs one design, one run at a time."""

    def __init__(self, design: Design) -> None:
        self.design = design
        chain = wire(design)
        self.truth = TruthMaker(design, chain, 1)
        self.judge = Judge(design, chain)

    def record(self, seed: int, run: int) -> RunRecord:
        """One run with its full record; arrays of the truth are valid until the next call."""
        bench, detail = self._one(seed, run, True)
        return RunRecord(detail, tuple(bench.record or ()))

    def run(self, seed: int, first_run: int, runs: int) -> BlockResult:
        """Simulate and judge ``runs`` runs from ``first_run`` on, keeping no record."""
        results = [self._one(seed, first_run + r, False)[1].result for r in range(runs)]
        parts = zip(*(result.sums for result in results), strict=True)
        sums = Sums(*(np.sum(part, axis=0) for part in parts))
        return BlockResult(sums, np.concatenate([result.errors for result in results]))

    def _one(self, seed: int, run: int, record: bool) -> tuple[Bench, BlockDetail]:
        truth = self.truth.make(seed, run, 1)
        bench = Bench(self.design, seed, run, truth, record)
        bench.env.run()
        return bench, self.judge(truth, bench.edges(), bench.pulses(), bench.cut, record)
