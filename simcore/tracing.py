"""One run by the event engine, with everything that happened in it (see traced)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from simcore.accounts import account_of
from simcore.blocks import BlockDetail, seen_by_counter
from simcore.chain import Chain
from simcore.compiling import handles
from simcore.components import Happening
from simcore.counters.base import Range
from simcore.design import Design
from simcore.edges import LINE_NAMES, Edges, Pulses
from simcore.events import EventEngine
from simcore.hand import AT_REST, DISTANCE, DURATION, DWELL, JOINED, MEANT, SAME_STEPS
from simcore.shaft import LEAD
from simcore.stages.base import stage_volts
from simcore.stages.facts import own_origins
from simcore.sums import CAUSES, VERDICTS
from simcore.traced import (
    LineNode,
    Movement,
    PulseFacts,
    SeenEdge,
    StepFacts,
    TracedLine,
    TracedRun,
    Trail,
    TransitionFacts,
    line_node,
)


def trace_run(design: Design, seed: int, run: int) -> TracedRun:
    """All facts of one run."""
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


def _movements(engine: EventEngine) -> tuple[Movement, ...]:
    """The rows of the hand, timed as the shaft takes them (see simcore.shaft.cross_run)."""
    found: list[Movement] = []
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
        found.append(Movement(time, end, name, direction, distance, joined, first, count))
        time = end + int(row[DWELL])
    return tuple(found)


def _trail(name: str, edges: Edges) -> Trail:
    """The only run of a block as a Trail, copied out of the engine's arrays."""
    count = int(edges.offsets[1])
    first = int(edges.first[0])
    causes = edges.causes[:count].astype(np.int64)
    levels = (first ^ 1 ^ (np.arange(count, dtype=np.int64) & 1)).astype(np.int64)
    return Trail(name, first, edges.times[:count].copy(), levels, causes & 15, causes >> 4)


def _line(chain: Chain, detail: BlockDetail, happened: Sequence[Happening], line: int) -> TracedLine:
    layers = [layer for layer in chain.layers if layer.serves(line)]
    names = [layer.name for layer in layers]
    origins: dict[int, str] = {}
    for layer in layers:
        origins |= own_origins(layer.line[line] if layer.pair is None else layer.pair)
    contact, *rest = detail.lines[line]
    stages = tuple(_trail(name, edges) for name, edges in zip(names, rest, strict=True))
    seen = _trail("counter", seen_by_counter(chain, detail.lines)[line])
    return TracedLine(_trail("contact", contact), _node(chain, happened, line), stages, seen, origins)


def _node(chain: Chain, happened: Sequence[Happening], line: int) -> LineNode | None:
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
    movements: Sequence[Movement],
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
    movements: Sequence[Movement],
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
