"""The event engine: one process per contact, stage and counter, on simpy's event queue.

It is the reference.  It schedules on its own, calls the same compiled rules as the batch
engine for every decision, and keeps a record of all events.  Order at equal ticks:
upstream before downstream, an input edge before a wake-up, A before B.  A stage or counter
has an inbox and one alarm; its rules are single compiled calls.
"""

from __future__ import annotations

import functools
from collections.abc import Generator
from dataclasses import dataclass
from typing import Any

import numpy as np
import simpy

from simcore.base.compiling import foreign_modules, kernel
from simcore.base.records import (
    LINE_NAMES,
    NO_CAUSE,
    WATCHED,
    Causes,
    Edges,
    Ints,
    Pulses,
    Transitions,
    cause_transition,
    edges_of_runs,
    empty_edges,
    pack_cause,
)
from simcore.base.ticks import NEVER
from simcore.contacts.crossing import SCRATCH, contact_changes, crossing_at, next_of_channel
from simcore.counters.base import (
    AT_STOP,
    Coin,
    counter_edge,
    counter_expire,
    counter_start,
    counter_wake,
    moved_by,
)
from simcore.design import Chain, Design, Layer
from simcore.engines.blocks import BlockDetail, BlockResult, Judge
from simcore.engines.gauging import Gauger, is_probed
from simcore.engines.truth import Truth, TruthMaker
from simcore.judging.margins import joined
from simcore.judging.sums import Sums
from simcore.stages.base import (
    Readings,
    drive_stage,
    probe_thresholds,
    probe_volts,
    stage_build,
    stage_cause,
    stage_edge,
    stage_expire,
    stage_level,
    stage_note,
    stage_start,
    stage_wake,
)
from simcore.stages.pair import (
    drive_pair,
    pair_build,
    pair_edge,
    pair_expire,
    pair_level,
    pair_start,
    pair_wake,
)


@kernel
def stage_begins(spec: Any, seed: int, run: int, address: int, level: int) -> tuple[Any, Any, int, int]:
    """Parameters, state, output level and next wake-up of a stage at rest."""
    params = stage_build(spec, seed, run, address)
    state = stage_start(params, level)
    return params, state, stage_level(params, state), stage_wake(params, state, NEVER)


@kernel
def stage_takes_edge(params: Any, state: Any, time: int, level: int, cause: int) -> tuple[Any, int, int, int]:
    """State, output level, next wake-up and cause of a change after an input edge."""
    state = stage_note(params, stage_edge(params, state, time, level), cause)
    wake = stage_wake(params, state, NEVER)
    return state, stage_level(params, state), wake, stage_cause(params, state, cause)


@kernel
def stage_wakes(params: Any, state: Any, time: int, cause: int) -> tuple[Any, int, int, int]:
    """State, output level, next wake-up and cause of a change after a wake-up."""
    state = stage_expire(params, state, time)
    wake = stage_wake(params, state, NEVER)
    return state, stage_level(params, state), wake, stage_cause(params, state, cause)


@kernel
def stage_marks(params: Any) -> tuple[float, float]:
    return probe_thresholds(params)


@kernel
def stage_reads(params: Any, before: Any, after: Any, time: int, fresh: int) -> float:
    return probe_volts(params, before, after, time, fresh)


@kernel
def pair_begins(
    spec: Any, seed: int, run: int, address: int, a: int, b: int
) -> tuple[Any, Any, int, int, int]:
    """Parameters, state, output levels and next wake-up of a two-line stage at rest."""
    params = pair_build(spec, seed, run, address)
    state = pair_start(params, a, b)
    levels = pair_level(params, state, 0), pair_level(params, state, 1)
    return params, state, levels[0], levels[1], pair_wake(params, state, NEVER)


@kernel
def pair_takes_edge(params: Any, state: Any, time: int, line: int, level: int) -> tuple[Any, int, int, int]:
    state = pair_edge(params, state, time, line, level)
    levels = pair_level(params, state, 0), pair_level(params, state, 1)
    return state, levels[0], levels[1], pair_wake(params, state, NEVER)


@kernel
def pair_wakes(params: Any, state: Any, time: int) -> tuple[Any, int, int, int]:
    state = pair_expire(params, state, time)
    levels = pair_level(params, state, 0), pair_level(params, state, 1)
    return state, levels[0], levels[1], pair_wake(params, state, NEVER)


@kernel
def counter_begins(spec: Any, a: int, b: int) -> tuple[Any, int]:
    """State and next wake-up of a counter at rest."""
    state = counter_start(spec, a, b)
    return state, counter_wake(spec, state, NEVER)


@kernel
def counter_takes_edge(
    spec: Any, state: Any, time: int, line: int, level: int, cause: int, truth: int, coin: Coin
) -> tuple[Any, int]:
    state = counter_edge(spec, state, time, line, level, cause, truth, coin)
    return state, counter_wake(spec, state, NEVER)


@kernel
def counter_wakes(spec: Any, state: Any, time: int, coin: Coin) -> tuple[Any, int]:
    state = counter_expire(spec, state, time, coin)
    return state, counter_wake(spec, state, NEVER)


FIRST_RANK = 10
"""simpy's own events have priorities 0 and 1; all of ours come after them at a tick."""

ProcessEvents = Generator[simpy.Event, Any, None]


class At(simpy.Event):
    """An event at a tick, with a rank that orders it among others of that tick."""

    def __init__(self, env: simpy.Environment, time: int, rank: int, value: Any = None) -> None:
        super().__init__(env)
        self._ok = True
        self._value = value
        env.schedule(self, priority=rank, delay=time - env.now)  # type: ignore[arg-type]


@dataclass(frozen=True)
class RecordEntry:
    """One entry of the record: when (tick), who, what, and the state it left behind."""

    time: int
    who: str
    what: str
    state: Any


@dataclass(frozen=True)
class EdgeMessage:
    """A level change on its way from one component to the next."""

    line: int
    level: int
    cause: int


class Process:
    """A process with an inbox, fed by edges from upstream and by its own wake-ups."""

    def __init__(self, context: EventRun, name: str, depth: int) -> None:
        self.context = context
        self.name = name
        self.rank = FIRST_RANK + 4 * depth
        self.inbox = context.env.event()
        self.alarm = 0
        context.env.process(self.life())

    def life(self) -> ProcessEvents:
        """Take message after message: an EdgeMessage, or the number of the alarm that went off."""
        while True:
            message = yield self.inbox
            self.inbox = self.context.env.event()
            if isinstance(message, EdgeMessage):
                self.take(message)
            elif message == self.alarm:
                self.wake()

    def take(self, edge: EdgeMessage) -> None:
        raise NotImplementedError

    def wake(self) -> None:
        raise NotImplementedError

    def post(self, message: EdgeMessage | int, time: int, rank: int) -> None:
        """Put a message into the inbox at a tick."""
        event = At(self.context.env, time, rank, message)
        event.callbacks.append(self._receive)

    def _receive(self, due: simpy.Event) -> None:
        self.inbox.succeed(due.value)

    def send(self, edge: EdgeMessage, time: int) -> None:
        """Deliver an edge from upstream at a tick."""
        self.post(edge, time, self.rank + edge.line)

    def set_alarm(self, time: int) -> None:
        """Set the one wake-up, which forgets any earlier one."""
        self.alarm += 1
        if time < self.horizon():
            self.post(self.alarm, time, self.rank + 2)

    def horizon(self) -> int:
        return self.context.horizon

    def note(self, what: str, state: Any) -> None:
        if self.context.record is not None:
            self.context.record.append(RecordEntry(self.context.now, self.name, what, state))


class StageProcess(Process):
    """One stage of one line; ``number`` is its place among the senders of that line."""

    def __init__(
        self, context: EventRun, layer: Layer, depth: int, line: int, number: int, level: int
    ) -> None:
        super().__init__(context, f"{layer.name} {LINE_NAMES[line]}", depth)
        self.line, self.number = line, number
        self.params, self.state, self.level, wake = stage_begins(
            layer.line[line], context.seed, context.run, layer.address + line, level
        )
        self.cause = NO_CAUSE
        self.probed = context.probed and is_probed(layer.line[line])
        if self.probed:
            context.thresholds[line] = stage_marks(self.params)
        self.note("at rest", (self.params, self.state))
        self.set_alarm(wake)

    def take(self, edge: EdgeMessage) -> None:
        before, fresh = self.state, cause_transition(edge.cause) != cause_transition(self.cause)
        self.cause = edge.cause
        taken = stage_takes_edge(self.params, before, self.context.now, edge.level, edge.cause)
        if self.probed:
            volts = stage_reads(self.params, before, taken[0], self.context.now, int(fresh))
            self.context.volts[self.line].append(volts)
        self._follow(*taken)

    def wake(self) -> None:
        self._follow(*stage_wakes(self.params, self.state, self.context.now, self.cause))

    def _follow(self, state: Any, level: int, wake: int, cause: int) -> None:
        self.state = state
        self.note("state", state)
        if level != self.level:
            self.level = level
            self.context.pass_on(self.line, self.number, cause)
        self.set_alarm(wake)


class PairProcess(Process):
    """One stage of both lines; ``numbers`` are its places among the senders of each."""

    def __init__(
        self, context: EventRun, layer: Layer, depth: int, numbers: tuple[int, int], levels: tuple[int, int]
    ) -> None:
        super().__init__(context, layer.name, depth)
        self.numbers = numbers
        self.params, self.state, a, b, wake = pair_begins(
            layer.pair, context.seed, context.run, layer.address, *levels
        )
        self.shown = [a, b]
        self.causes = [NO_CAUSE, NO_CAUSE]
        self.note("at rest", (self.params, self.state))
        self.set_alarm(wake)

    def take(self, edge: EdgeMessage) -> None:
        self.causes[edge.line] = edge.cause
        self._follow(*pair_takes_edge(self.params, self.state, self.context.now, edge.line, edge.level))

    def wake(self) -> None:
        self._follow(*pair_wakes(self.params, self.state, self.context.now))

    def _follow(self, state: Any, a: int, b: int, wake: int) -> None:
        self.state = state
        self.note("state", state)
        for line, level in enumerate((a, b)):
            if level != self.shown[line]:
                self.shown[line] = level
                self.context.pass_on(line, self.numbers[line], self.causes[line])
        self.set_alarm(wake)


class CounterProcess(Process):
    """The counter."""

    def __init__(self, context: EventRun, depth: int, a: int, b: int) -> None:
        super().__init__(context, "counter", depth)
        self.spec = context.design.counter
        self.coin = Coin(context.seed, context.run)
        self.state, wake = counter_begins(self.spec, a, b)
        self.position = context.design.range.start
        self.pulses: list[tuple[int, int, int, int, int]] = []
        self.set_alarm(wake)

    def horizon(self) -> int:
        return NEVER

    def take(self, edge: EdgeMessage) -> None:
        index = cause_transition(edge.cause)
        truth = 0 if index < 0 else int(self.context.truth.transitions.directions[index])
        self._follow(
            *counter_takes_edge(
                self.spec, self.state, self.context.now, edge.line, edge.level, edge.cause, truth, self.coin
            )
        )

    def wake(self) -> None:
        self._follow(*counter_wakes(self.spec, self.state, self.context.now, self.coin))

    def _follow(self, state: Any, wake: int) -> None:
        self.state = state
        self.note("state", state)
        if state.emit:
            moved = moved_by(self.context.design.range, self.position, state.pulse)
            flags = state.pulse_flags | (AT_STOP if moved != state.pulse else 0)
            self.position += moved
            self.pulses.append((state.pulse_time, state.pulse, moved, state.pulse_cause, flags))
            self.note("pulse", (self.pulses[-1], self.position))
        self.set_alarm(wake)


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


class EventRun:
    """One run: the processes, what they sent each other, and the record.

    If ``probed``, ``volts`` collects for A and B the node's voltage at each edge of the contact, and
    ``thresholds`` its input's.
    """

    def __init__(
        self, design: Design, seed: int, run: int, truth: Truth, record: bool, *, probed: bool = False
    ) -> None:
        self.design, self.seed, self.run, self.truth = design, seed, run, truth
        self.env = simpy.Environment()
        self.record: list[RecordEntry] | None = [] if record else None
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
        self.receivers: tuple[list[StageProcess | PairProcess | CounterProcess], ...] = ([], [])
        for line in (0, 1):
            self._start(line, (int(truth.transitions.first[0]) >> line) & 1)
        for depth, layer in enumerate(self.chain.layers, start=1):
            self._add(layer, depth)
        depth = 1 + len(self.chain.layers)
        self.counter = CounterProcess(self, depth, self.seen(0), self.seen(1))
        for line in (0, 1):
            self.receivers[line].append(self.counter)
            self.env.process(self.contact(line))

    @property
    def now(self) -> int:
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
            pair = PairProcess(self, layer, depth, numbers, (self.seen(0), self.seen(1)))
            for line in (0, 1):
                self.receivers[line].append(pair)
                self._start(line, pair.shown[line])
            return
        for line in (0, 1):
            if layer.line[line] is not None:
                stage = StageProcess(self, layer, depth, line, len(self.sent[line]), self.seen(line))
                self.receivers[line].append(stage)
                self._start(line, stage.level)

    def pass_on(self, line: int, number: int, cause: int) -> None:
        """Sender ``number`` of a line (0: the contact) changes level now."""
        self.sent[line][number].append((self.now, cause))
        self.levels[line][number] ^= 1
        level = self.levels[line][number] ^ self._turned(line, number)
        self.receivers[line][number].send(EdgeMessage(line, level, cause), self.now)

    def contact(self, line: int) -> ProcessEvents:
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
                    self.record.append(RecordEntry(self.now, f"contact {LINE_NAMES[line]}", "change", state))

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
        return [
            Readings(np.array(volts, np.float64), np.array([rising]), np.array([falling]))
            for volts, (rising, falling) in zip(self.volts, self.thresholds, strict=True)
        ]

    def pulses(self) -> Pulses:
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
    happened: tuple[RecordEntry, ...]


def _settle(chain: Chain) -> None:
    """Find out whether rules of other packages can be compiled, as the batch engine does, so that both
    engines run them in the same way.
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
        context, detail = self._one(seed, run, True)
        return RunRecord(detail, tuple(context.record or ()))

    def run(self, seed: int, first_run: int, runs: int) -> BlockResult:
        """Simulate and judge ``runs`` runs from ``first_run`` on, keeping no record."""
        results = [self._one(seed, first_run + r, False)[1].result for r in range(runs)]
        parts = zip(*(result.sums for result in results), strict=True)
        sums = Sums(*(np.sum(part, axis=0) for part in parts))
        errors = np.concatenate([result.errors for result in results])
        margins = [result.margins for result in results if result.margins is not None]
        return BlockResult(sums, errors, functools.reduce(joined, margins) if margins else None)

    def _one(self, seed: int, run: int, record: bool) -> tuple[EventRun, BlockDetail]:
        truth = self.truth.make(seed, run, 1)
        context = EventRun(self.design, seed, run, truth, record, probed=self.gauger is not None)
        context.env.run()
        edges, margins = context.edges(), None
        if self.gauger is not None:
            margins = self.gauger(truth.transitions, edges, context.readings(), seed, run)
        return context, self.judge(truth, edges, context.pulses(), context.cut, record, margins)
