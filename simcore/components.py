"""The processes of the event engine: a stage and a counter, each with an inbox and one alarm."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass
from typing import Any, Protocol

import simpy

from simcore.chain import Layer
from simcore.component_rules import (
    counter_begins,
    counter_takes_edge,
    counter_wakes,
    pair_begins,
    pair_takes_edge,
    pair_wakes,
    stage_begins,
    stage_marks,
    stage_reads,
    stage_takes_edge,
    stage_wakes,
)
from simcore.counters.base import (
    AT_STOP,
    Coin,
    moved_by,
)
from simcore.design import Design
from simcore.edges import LINE_NAMES, NO_CAUSE, cause_transition
from simcore.gauging import is_probed
from simcore.ticks import NEVER
from simcore.truth import Truth

FIRST_RANK = 10
"""simpy's own events have priorities 0 and 1; all of ours come after them at a tick."""

Process = Generator[simpy.Event, Any, None]


class Bench(Protocol):
    """What a component needs to know of the run it is part of."""

    design: Design
    seed: int
    run: int
    truth: Truth
    env: simpy.Environment
    record: list[Happening] | None
    horizon: int
    probed: bool
    volts: tuple[list[float], list[float]]
    thresholds: list[tuple[float, float]]

    @property
    def now(self) -> int:
        """The present tick."""
        ...

    def pass_on(self, line: int, number: int, cause: int) -> None:
        """Component ``number`` of a line changes level now."""
        ...


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
        if time < self.horizon():
            self.post(self.alarm, time, self.rank + 2)

    def horizon(self) -> int:
        """The tick from which on no wake-up comes; only a counter settles what is open."""
        return self.bench.horizon

    def note(self, what: str, state: Any) -> None:
        """Write into the record, if one is kept."""
        if self.bench.record is not None:
            self.bench.record.append(Happening(self.bench.now, self.name, what, state))


class Stage(Component):
    """One stage of one line; ``number`` is its place among the senders of that line."""

    def __init__(self, bench: Bench, layer: Layer, depth: int, line: int, number: int, level: int) -> None:
        super().__init__(bench, f"{layer.name} {LINE_NAMES[line]}", depth)
        self.line, self.number = line, number
        self.params, self.state, self.level, wake = stage_begins(
            layer.line[line], bench.seed, bench.run, layer.address + line, level
        )
        self.cause = NO_CAUSE
        self.probed = bench.probed and is_probed(layer.line[line])
        if self.probed:
            bench.thresholds[line] = stage_marks(self.params)
        self.note("at rest", (self.params, self.state))
        self.set_alarm(wake)

    def take(self, edge: Edge) -> None:
        """An input edge: the rule decides, and may set another wake-up."""
        before, fresh = self.state, cause_transition(edge.cause) != cause_transition(self.cause)
        self.cause = edge.cause
        taken = stage_takes_edge(self.params, before, self.bench.now, edge.level, edge.cause)
        if self.probed:
            volts = stage_reads(self.params, before, taken[0], self.bench.now, int(fresh))
            self.bench.volts[self.line].append(volts)
        self._follow(*taken)

    def wake(self) -> None:
        """The wake-up: the rule decides."""
        self._follow(*stage_wakes(self.params, self.state, self.bench.now, self.cause))

    def _follow(self, state: Any, level: int, wake: int, cause: int) -> None:
        self.state = state
        self.note("state", state)
        if level != self.level:
            self.level = level
            self.bench.pass_on(self.line, self.number, cause)
        self.set_alarm(wake)


class Pair(Component):
    """One stage of both lines; ``numbers`` are its places among the senders of each."""

    def __init__(
        self, bench: Bench, layer: Layer, depth: int, numbers: tuple[int, int], levels: tuple[int, int]
    ) -> None:
        super().__init__(bench, layer.name, depth)
        self.numbers = numbers
        self.params, self.state, a, b, wake = pair_begins(
            layer.pair, bench.seed, bench.run, layer.address, *levels
        )
        self.shown = [a, b]
        self.causes = [NO_CAUSE, NO_CAUSE]
        self.note("at rest", (self.params, self.state))
        self.set_alarm(wake)

    def take(self, edge: Edge) -> None:
        """An input edge of either line."""
        self.causes[edge.line] = edge.cause
        self._follow(*pair_takes_edge(self.params, self.state, self.bench.now, edge.line, edge.level))

    def wake(self) -> None:
        """The wake-up: the rule decides."""
        self._follow(*pair_wakes(self.params, self.state, self.bench.now))

    def _follow(self, state: Any, a: int, b: int, wake: int) -> None:
        self.state = state
        self.note("state", state)
        for line, level in enumerate((a, b)):
            if level != self.shown[line]:
                self.shown[line] = level
                self.bench.pass_on(line, self.numbers[line], self.causes[line])
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

    def horizon(self) -> int:
        """None: an open decision always closes."""
        return NEVER

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
