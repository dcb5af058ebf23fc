"""One run by the event engine, with all its events.

The facts of a run are plain frozen records.  Ticks are picoseconds from the start of the run, volts are
volts, levels are 0 and 1, steps are numbered from 1 within their run.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from simcore.base.compiling import handles
from simcore.base.records import LINE_NAMES, Edges, Floats, Ints, Pulses
from simcore.counters.base import Range
from simcore.design import Chain, Design
from simcore.engines.blocks import BlockDetail, seen_by_counter
from simcore.engines.events import EventEngine, RecordEntry
from simcore.hand.base import AT_REST, DISTANCE, DURATION, DWELL, JOINED, MEANT, SAME_STEPS
from simcore.hand.shaft import LEAD
from simcore.judging.sums import CAUSES, VERDICTS
from simcore.stages.base import stage_thresholds, stage_volts
from simcore.stages.facts import own_origins
from simcore.tracing.accounts import account_of


@dataclass(frozen=True)
class TracedMovement:
    """One row of the hand: from ``start`` to ``end`` (ticks) it turned ``steps`` (signed, in detents;
    0.0 for a rest) under the gesture ``name``; ``direction`` is +1, -1 or 0.  ``joined`` is True for a
    row that goes on with the movement before it.  It begins the steps ``first_step`` to
    ``first_step + begun - 1``.
    """

    start: int
    end: int
    name: str
    direction: int
    steps: float
    joined: bool
    first_step: int
    begun: int


@dataclass(frozen=True)
class Trail:
    """Level changes at one place of one line, in order.

    ``first`` is the level before the first change; change ``i`` comes at ``ticks[i]``, leaves the level
    at ``levels[i]`` (of a contact: 1 closed) and comes from ``origins[i]``
    (simcore.base.records.ORIGIN_NAMES) of transition ``transitions[i]`` (-1: no movement is behind it).
    """

    name: str
    first: int
    ticks: Ints
    levels: Ints
    origins: Ints
    transitions: Ints

    def level_at(self, tick: int) -> int:
        """The level once all changes at ``tick`` are done."""
        before = int(np.searchsorted(self.ticks, tick, side="right"))
        return int(self.levels[before - 1]) if before else self.first

    def between(self, start: int, end: int) -> slice:
        """The changes from ``start`` up to but not including ``end`` (ticks)."""
        lo, hi = np.searchsorted(self.ticks, (start, end))
        return slice(int(lo), int(hi))


@dataclass(frozen=True)
class LineNode:
    """The voltage of one line at its input, by the states that the engine went through.

    State ``i`` holds from ``knots[i]`` (ticks, the first is 0) until the next; ``rising`` and
    ``falling`` (V) are the thresholds under it.  ``noise`` (V rms) rides on the voltage but is not
    part of ``volts``.
    """

    name: str
    knots: Ints
    rising: Floats
    falling: Floats
    noise: float
    params: Any
    states: tuple[Any, ...]

    def volts(self, ticks: Ints) -> Floats:
        """Volts at any ticks; where a voltage jumps, the value after the jump."""
        return self._volts(np.atleast_1d(np.asarray(ticks, np.int64)), "right")

    def volts_before(self, ticks: Ints) -> Floats:
        """The same, but just before whatever happens at each tick."""
        return self._volts(np.atleast_1d(np.asarray(ticks, np.int64)), "left")

    def at(self, tick: int) -> float:
        return float(self.volts(np.array([tick]))[0])

    def thresholds_at(self, tick: int) -> tuple[float, float]:
        """Rising and falling threshold (V) at one tick."""
        state = max(int(np.searchsorted(self.knots, tick, side="right")) - 1, 0)
        return float(self.rising[state]), float(self.falling[state])

    def _volts(self, ticks: Ints, side: Any) -> Floats:
        states = np.maximum(np.searchsorted(self.knots, ticks, side=side) - 1, 0)
        # The law holds from the state's own tick on; before the run the line is as it starts.
        times = np.maximum(ticks, 0)
        pairs = zip(states.tolist(), times.tolist(), strict=True)
        return np.array([stage_volts(self.params, self.states[s], t) for s, t in pairs])


def line_node(name: str, noise: float, params: Any, knots: list[int], states: list[Any]) -> LineNode:
    levels = np.array([stage_thresholds(params, state) for state in states])
    return LineNode(name, np.array(knots, np.int64), levels[:, 0], levels[:, 1], noise, params, tuple(states))


@dataclass(frozen=True)
class TracedLine:
    """One line: what its contact did (levels: 1 closed), the voltage at its input (None where it has
    none), what each stage passed on, by name, what the counter saw, and in words the ``origins`` of changes
    that its stages make with no contact moving.
    """

    contact: Trail
    node: LineNode | None
    stages: tuple[Trail, ...]
    seen: Trail
    origins: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True)
class PulseFacts:
    """One pulse of the counter, at ``tick``: the counts ``asked`` (0: ignored or undecided), how far the
    position ``moved``, the ``transition`` (-1: none) and ``origin`` behind it, ``flags``
    (simcore.counters.base.FLAG_NAMES, or'ed), the ``position`` after it, and the ``step`` it belongs
    to (0: none).
    """

    tick: int
    asked: int
    moved: int
    transition: int
    origin: int
    flags: int
    position: int
    step: int


@dataclass(frozen=True)
class TransitionFacts:
    """One contact boundary that the shaft crossed: ``line`` 0 (A) or 1 (B), ``closed`` the state after,
    ``direction`` +1 or -1, ``speed`` (degrees of shaft per second).
    """

    index: int
    tick: int
    line: int
    closed: int
    direction: int
    speed: float


@dataclass(frozen=True)
class SeenEdge:
    """One edge at the counter."""

    tick: int
    line: int
    level: int
    origin: int
    transition: int


@dataclass(frozen=True)
class StepFacts:
    """One step: what the hand meant, its counts and verdict, and what it caused.

    ``whole`` is simcore.base.records.PART, WHOLE or NOTHING_MEANT; ``expected`` and ``received`` are net
    counts, ``moves`` pulses that asked for a count and ``clean_moves`` how many of those a bounce-free
    contact would have given, with ``clean_net`` as their net; ``verdict`` and ``cause`` are words of
    simcore.judging.sums.  The window ``start`` to ``end`` (ticks) spans its transitions and everything they
    caused at contacts and counter; for a
    step without transitions it is its movement.
    """

    number: int
    gesture: str
    direction: int
    whole: int
    expected: int
    received: int
    moves: int
    clean_moves: int
    verdict: str
    cause: str
    transitions: tuple[TransitionFacts, ...]
    edges: tuple[SeenEdge, ...]
    pulses: tuple[PulseFacts, ...]
    start: int
    end: int
    clean_net: int


@dataclass(frozen=True)
class TracedRun:
    """One run in full.  ``end`` is the tick at which the hand was done, ``position`` the counter's
    last, ``error`` its distance (counts) from the position expected.
    """

    seed: int
    run: int
    movements: tuple[TracedMovement, ...]
    lines: tuple[TracedLine, TracedLine]
    pulses: tuple[PulseFacts, ...]
    steps: tuple[StepFacts, ...]
    start_position: int
    position: int
    error: int
    end: int

    def step(self, number: int) -> StepFacts:
        """Step ``number``, from 1; IndexError if there is none."""
        if not 1 <= number <= len(self.steps):
            raise IndexError(f"run {self.run} has steps 1 to {len(self.steps)}, not {number}")
        return self.steps[number - 1]

    def position_at(self, tick: int) -> int:
        """The counter's position once all pulses at ``tick`` are done."""
        found = self.start_position
        for pulse in self.pulses:
            if pulse.tick > tick:
                break
            found = pulse.position
        return found


def trace_run(design: Design, seed: int, run: int) -> TracedRun:
    engine = EventEngine(design)
    record = engine.record(seed, run)
    detail, chain = record.detail, engine.judge.chain
    movements = _movements(engine)
    a, b = (_line(chain, detail, record.happened, line) for line in (0, 1))
    pulses = _pulses(detail, design.range)
    steps = _steps(engine, detail, (a, b), movements, pulses)
    position = pulses[-1].position if pulses else design.range.start
    return TracedRun(
        seed, run, movements, (a, b), pulses, steps, design.range.start, position,
        int(detail.result.errors[0]), int(detail.truth.transitions.ends[0]),
    )  # fmt: skip


def _movements(engine: EventEngine) -> tuple[TracedMovement, ...]:
    """The rows of the hand, timed as the shaft takes them (see simcore.hand.shaft.cross_run)."""
    found: list[TracedMovement] = []
    time, steps, first, count = LEAD, 1, 1, 0
    for row, gesture in zip(engine.truth.moves[0], engine.truth.gestures, strict=True):
        joined = bool(row[JOINED] == SAME_STEPS)
        if not joined:
            count = 1 if row[JOINED] == AT_REST else math.ceil(abs(row[MEANT]) - 1.0e-9)
            first = steps
            steps += count
        end = time + int(row[DURATION])
        distance = float(row[DISTANCE])
        name = engine.design.hand[int(gesture)].name
        direction = int(distance > 0.0) - int(distance < 0.0)
        found.append(TracedMovement(time, end, name, direction, distance, joined, first, count))
        time = end + int(row[DWELL])
    return tuple(found)


def _trail(name: str, edges: Edges) -> Trail:
    """The only run of a block as a Trail, copied out of the engine's arrays."""
    count = int(edges.offsets[1])
    first = int(edges.first[0])
    causes = edges.causes[:count].astype(np.int64)
    levels = (first ^ 1 ^ (np.arange(count, dtype=np.int64) & 1)).astype(np.int64)
    return Trail(name, first, edges.times[:count].copy(), levels, causes & 15, causes >> 4)


def _line(chain: Chain, detail: BlockDetail, happened: Sequence[RecordEntry], line: int) -> TracedLine:
    layers = [layer for layer in chain.layers if layer.serves(line)]
    names = [layer.name for layer in layers]
    origins: dict[int, str] = {}
    for layer in layers:
        origins |= own_origins(layer.line[line] if layer.pair is None else layer.pair)
    contact, *rest = detail.lines[line]
    stages = tuple(_trail(name, edges) for name, edges in zip(names, rest, strict=True))
    seen = _trail("counter", seen_by_counter(chain, detail.lines)[line])
    return TracedLine(_trail("contact", contact), _node(chain, happened, line), stages, seen, origins)


def _node(chain: Chain, happened: Sequence[RecordEntry], line: int) -> LineNode | None:
    """The one stage of the line that has a voltage, if there is one."""
    suffix = f" {LINE_NAMES[line]}"
    for first in happened:
        if first.what != "at rest" or not first.who.endswith(suffix):
            continue
        params, state = first.state
        if not handles(stage_volts, type(params)):
            continue
        knots, states = [first.time], [state]
        for each in happened:
            # Stages may bear one name; only this one keeps such states.
            if each.who == first.who and each.what == "state" and type(each.state) is type(state):
                knots.append(each.time)
                states.append(each.state)
        name = first.who.removesuffix(suffix)
        return line_node(name, float(getattr(params, "sigma", 0.0)), params, knots, states)
    return None


def _pulses(detail: BlockDetail, place: Range) -> tuple[PulseFacts, ...]:
    pulses: Pulses = detail.pulses
    positions = place.start + np.cumsum(pulses.moved.astype(np.int64))
    if place.positions > 0:
        positions %= place.positions
    causes = pulses.causes.astype(np.int64)
    steps = detail.truth.transitions.steps
    return tuple(
        PulseFacts(
            int(pulses.times[p]), int(pulses.asked[p]), int(pulses.moved[p]), int(causes[p] >> 4),
            int(causes[p] & 15), int(pulses.flags[p]), int(positions[p]),
            int(steps[causes[p] >> 4]) + 1 if causes[p] >= 0 else 0,
        )
        for p in range(int(pulses.offsets[1]))
    )  # fmt: skip


def _steps(
    engine: EventEngine,
    detail: BlockDetail,
    lines: tuple[TracedLine, TracedLine],
    movements: Sequence[TracedMovement],
    pulses: Sequence[PulseFacts],
) -> tuple[StepFacts, ...]:
    account = account_of(engine.judge.rules, detail, plain=True)
    steps = detail.truth.steps
    crossed = _crossed(detail)
    found = []
    for s in range(int(steps.offsets[1])):
        mine = tuple(each for each, step in crossed if step == s)
        edges = _edges(lines, mine)
        counted = tuple(pulse for pulse in pulses if pulse.step == s + 1)
        start, end = _window(lines, movements, s + 1, mine, edges, counted)
        found.append(
            StepFacts(
                s + 1, engine.design.hand[int(steps.gestures[s])].name, int(steps.directions[s]),
                int(steps.whole[s]), int(account.expected[s]), int(account.received[s]),
                int(account.moves[s]), int(account.clean_moves[s]), VERDICTS[int(detail.verdicts[s])],
                CAUSES[int(detail.causes[s])], mine, edges, counted, start, end,
                int(detail.truth.clean.net[s]),
            )
        )  # fmt: skip
    return tuple(found)


def _crossed(detail: BlockDetail) -> list[tuple[TransitionFacts, int]]:
    """Every transition of the run with its step (from 0)."""
    rows: Any = detail.truth.transitions
    return [
        (
            TransitionFacts(
                t, int(rows.times[t]), int(rows.channels[t]), int(rows.closed[t]),
                int(rows.directions[t]), float(rows.speeds[t]),
            ),
            int(rows.steps[t]),
        )
        for t in range(int(rows.offsets[1]))
    ]  # fmt: skip


def _edges(lines: Sequence[TracedLine], mine: Sequence[TransitionFacts]) -> tuple[SeenEdge, ...]:
    wanted = [each.index for each in mine]
    found = [
        SeenEdge(
            int(seen.ticks[i]), line, int(seen.levels[i]), int(seen.origins[i]), int(seen.transitions[i])
        )
        for line, seen in enumerate(each.seen for each in lines)
        for i in np.flatnonzero(np.isin(seen.transitions, wanted))
    ]
    return tuple(sorted(found, key=lambda edge: (edge.tick, edge.line)))


def _window(
    lines: Sequence[TracedLine],
    movements: Sequence[TracedMovement],
    number: int,
    mine: Sequence[TransitionFacts],
    edges: Sequence[SeenEdge],
    pulses: Sequence[PulseFacts],
) -> tuple[int, int]:
    """From the first to the last tick of what the step caused, else its movement."""
    if not mine:
        rows = [each for each in movements if each.first_step <= number < each.first_step + each.begun]
        return min(each.start for each in rows), max(each.end for each in rows)
    wanted = [each.index for each in mine]
    found = [each.tick for each in mine]
    found += [each.tick for each in edges]
    found += [each.tick for each in pulses]
    for line in lines:
        found += line.contact.ticks[np.isin(line.contact.transitions, wanted)].tolist()
    return min(found), max(found)
