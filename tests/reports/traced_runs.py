"""Traced runs for tests: one made by hand, and those of ready scenarios."""

from __future__ import annotations

import functools
from collections.abc import Sequence

import numpy as np

from scenarios.loading.load import load_scenario
from simcore.base.records import WHOLE
from simcore.networks.analogue import Pole, PoleState
from simcore.tracing.tracing import (
    LineNode,
    PulseFacts,
    SeenEdge,
    StepFacts,
    TracedLine,
    TracedRun,
    Trail,
    TransitionFacts,
    line_node,
    trace_run,
)

US = 1_000_000
MS = 1000 * US
POLE = Pole(3.3, 470.0e-6, 0.1, 100.0e-6, 1.9, 1.2, 0)
"""Up to 3.3 V with 470 us, down to 0.1 V with 100 us, thresholds 1.9 V and 1.2 V."""
STAGE = 'filter 2 = "in put"'


@functools.cache
def traced(name: str, run: int, *sets: str) -> TracedRun:
    """A run of a ready scenario, with the scenario's seed."""
    scenario = load_scenario(name, sets)
    return trace_run(scenario.design, scenario.seed, run)


def trail(name: str, first: int, ticks: Sequence[int]) -> Trail:
    """Alternating changes, all of transition 0 and origin 0."""
    count = len(ticks)
    levels = (first ^ 1 ^ (np.arange(count, dtype=np.int64) & 1)).astype(np.int64)
    nothing = np.zeros(count, np.int64)
    return Trail(name, first, np.array(ticks, np.int64), levels, nothing, nothing)


def node(ticks: Sequence[int], pole: Pole = POLE) -> LineNode:
    """The voltage of a contact, open at first, that changes at ``ticks``."""
    volts, closed, time = pole.v_open, 0, 0
    states = [PoleState(0, volts, 0, 1)]
    for tick in ticks:
        volts = closed_form(volts, closed, tick - time, pole)
        closed, time = 1 - closed, tick
        states.append(PoleState(tick, volts, closed, 1))
    return line_node("filter", 0.0, pole, [state.time for state in states], states)


def closed_form(volts: float, closed: int, ticks: int, pole: Pole = POLE) -> float:
    """v_end + (v - v_end) exp(-t / tau)."""
    end, tau = (pole.v_closed, pole.tau_closed) if closed else (pole.v_open, pole.tau_open)
    return float(end + (volts - end) * np.exp(-ticks * 1.0e-12 / tau)) if tau > 0.0 else end


def by_hand(
    contacts: tuple[Sequence[int], Sequence[int]],
    stage: tuple[Sequence[int], Sequence[int]],
    pulses: Sequence[PulseFacts] = (),
    start: int = 0,
) -> TracedRun:
    """A run of one step whose contacts and stage change at the given ticks."""
    lines = tuple(
        TracedLine(trail("contact", 0, own), node(own), (trail(STAGE, 1, after),), trail("counter", 1, after))
        for own, after in zip(contacts, stage, strict=True)
    )
    crossed = tuple(TransitionFacts(0, own[0], line, 1, 1, 360.0) for line, own in enumerate(contacts) if own)
    edges = tuple(
        SeenEdge(int(each.seen.ticks[i]), line, int(each.seen.levels[i]), 0, int(each.seen.transitions[i]))
        for line, each in enumerate(lines)
        for i in range(each.seen.ticks.size)
    )
    changes = [tick for each in (*contacts, *stage) for tick in each]
    ticks, end = [*changes, *(pulse.tick for pulse in pulses), 0], max(changes, default=0)
    step = StepFacts(
        1, "clicks", 1, WHOLE, 1, 1, len(pulses), 1, "doubled", "chatter", crossed, edges, tuple(pulses),
        min(ticks), max(ticks), 1,
    )  # fmt: skip
    position = pulses[-1].position if pulses else start
    return TracedRun(3, 5, (), (lines[0], lines[1]), tuple(pulses), (step,), start, position, 0, end)


def pulse(tick: int, moved: int, position: int, asked: int | None = None, flags: int = 0) -> PulseFacts:
    """A pulse that the first transition caused."""
    return PulseFacts(tick, moved if asked is None else asked, moved, 0, 0, flags, position, 1)
