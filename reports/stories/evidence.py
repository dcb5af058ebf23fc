"""What the record shows of one step: which transitions sent too many edges to the counter, which none,
which came in another order, and which edges no movement caused.

The same questions as in simcore.judging.causes, answered with names and ticks instead of bits.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from simcore.base.records import NO_TRANSITION
from simcore.counters.facts import undivided
from simcore.design import Chain, Design
from simcore.stages.facts import makes_pulses as pulses_of_own
from simcore.tracing.tracing import SeenEdge, StepFacts, TracedRun, Trail, TransitionFacts


@dataclass(frozen=True)
class EdgeEvidence:
    """Transitions with ``extra`` edges at the counter, ``swallowed`` ones, pairs that were ``swapped``
    (the one that moved first, the one whose edge came first) and edges without a movement (``strays``).
    """

    extra: tuple[TransitionFacts, ...]
    swallowed: tuple[TransitionFacts, ...]
    swapped: tuple[tuple[TransitionFacts, TransitionFacts], ...]
    strays: tuple[SeenEdge, ...]


@dataclass(frozen=True)
class Case:
    """One step of a run, and the design it ran on."""

    design: Design
    chain: Chain
    traced: TracedRun
    step: StepFacts

    @property
    def counter(self) -> Any:
        """The counter's specification; of a prescaled one that in front of the prescaler."""
        return undivided(self.design.counter)[0]

    def around(self) -> tuple[TransitionFacts, ...]:
        """The transitions of the step before, of this one and of the one after."""
        near = self.traced.steps[max(self.step.number - 2, 0) : self.step.number + 1]
        return tuple(sorted((t for step in near for t in step.transitions), key=lambda t: t.index))

    def own_and_near(self) -> tuple[EdgeEvidence, EdgeEvidence]:
        """The evidence of the step's own transitions, and of those around it."""
        return (
            evidence(self.traced, self.step.transitions),
            evidence(self.traced, self.around()),
        )


def case_of(design: Design, traced: TracedRun, number: int) -> Case:
    return Case(design, design.chain, traced, traced.step(number))


def seen_edges(traced: TracedRun, transition: TransitionFacts) -> list[SeenEdge]:
    """The edges at the counter that a transition caused, in order; all are on its line."""
    seen = traced.lines[transition.line].seen
    return [
        edge_at(seen, transition.line, int(i)) for i in np.flatnonzero(seen.transitions == transition.index)
    ]


def edge_at(trail: Trail, line: int, i: int) -> SeenEdge:
    return SeenEdge(
        int(trail.ticks[i]), line, int(trail.levels[i]), int(trail.origins[i]), int(trail.transitions[i])
    )


def shows_volts(case: Case, line: int) -> bool:
    """Whether the counter sees what the input makes of the line's voltage, with nothing in between."""
    facts = case.traced.lines[line]
    return facts.node is not None and facts.stages[-1].name == facts.node.name


def latest_edge(case: Case, line: int, tick: int) -> SeenEdge | None:
    """The last edge of a line at the counter up to a tick."""
    seen = case.traced.lines[line].seen
    i = int(np.searchsorted(seen.ticks, tick, side="right")) - 1
    return edge_at(seen, line, i) if i >= 0 else None


def next_edge(case: Case, line: int, tick: int) -> SeenEdge | None:
    """The first edge of a line at the counter at or after a tick."""
    seen = case.traced.lines[line].seen
    i = int(np.searchsorted(seen.ticks, tick, side="left"))
    return edge_at(seen, line, i) if i < seen.ticks.size else None


def makes_pulses(case: Case, line: int) -> bool:
    """Whether a stage of a line makes pulses of its own, two edges for one of the contact's changes."""
    return any(pulses_of_own(layer.line[line]) for layer in case.chain.layers)


def evidence(traced: TracedRun, transitions: Sequence[TransitionFacts]) -> EdgeEvidence:
    edges = {each.index: seen_edges(traced, each) for each in transitions}
    extra = tuple(each for each in transitions if len(edges[each.index]) > 1)
    swallowed = tuple(each for each in transitions if not edges[each.index])
    reached = [each for each in transitions if edges[each.index]]
    return EdgeEvidence(extra, swallowed, _swapped(reached, edges), strays(traced, transitions))


def _swapped(
    reached: Sequence[TransitionFacts], edges: dict[int, list[SeenEdge]]
) -> tuple[tuple[TransitionFacts, TransitionFacts], ...]:
    found = []
    latest = None
    for each in reached:
        first = edges[each.index][0].tick
        if latest is not None and first < edges[latest.index][0].tick:
            found.append((latest, each))
        else:
            latest = each
    return tuple(found)


def strays(traced: TracedRun, transitions: Sequence[TransitionFacts]) -> tuple[SeenEdge, ...]:
    """Edges at the counter that no movement caused, from the first of some transitions (from the run's
    start, if that is its first) up to the one that follows them.
    """
    if not transitions:
        return ()
    every = {each.index: each.tick for step in traced.steps for each in step.transitions}
    start = transitions[0].tick if transitions[0].index else -1
    end = every.get(transitions[-1].index + 1)
    found = [
        edge_at(line.seen, number, int(i))
        for number, line in enumerate(traced.lines)
        for i in np.flatnonzero(line.seen.transitions == NO_TRANSITION)
        if line.seen.ticks[i] >= start and (end is None or line.seen.ticks[i] < end)
    ]
    return tuple(sorted(found, key=lambda edge: (edge.tick, edge.line)))


def contact_ticks(traced: TracedRun, transition: TransitionFacts) -> list[int]:
    """The ticks of a transition's burst at its contact."""
    contact = traced.lines[transition.line].contact
    return [int(tick) for tick in contact.ticks[contact.transitions == transition.index]]


def longest_gap(ticks: Sequence[int]) -> tuple[int, int]:
    """The two neighbouring changes of a burst that lie furthest apart (the first such pair)."""
    gaps = [after - before for before, after in itertools.pairwise(ticks)]
    at = gaps.index(max(gaps))
    return ticks[at], ticks[at + 1]


def deciding_span(traced: TracedRun, transition: TransitionFacts) -> tuple[int, int]:
    """From when to when (ticks) a transition decides the state of its contact: from its first change to the
    first of the transition after it, or to the end of the hand.
    """
    contact = traced.lines[transition.line].contact
    start = contact_ticks(traced, transition)[0]
    later = contact.ticks[contact.transitions > transition.index]
    return start, int(later[0]) if later.size else max(traced.end, start)


def lost_at(traced: TracedRun, transition: TransitionFacts) -> int | None:
    """The place in ``stages`` of the first stage that passed nothing of a transition on."""
    for place, stage in enumerate(traced.lines[transition.line].stages):
        if not np.any(stage.transitions == transition.index):
            return place
    return None


def leads_to(case: Case, stage: Trail, transition: TransitionFacts) -> int:
    """The level at which a stage rests with the contact as the transition leaves it."""
    seen = case.traced.lines[transition.line].seen
    opened = case.chain.flips[transition.line] ^ seen.first ^ stage.first
    return opened ^ transition.closed


def is_high(traced: TracedRun, line: int, tick: int) -> bool:
    """Whether the voltage counts as high for the line's input, just before ``tick``."""
    node = traced.lines[line].node
    if node is None:
        raise ValueError("the line has no voltage")
    stage = next(each for each in traced.lines[line].stages if each.name == node.name)
    rested = node.at(0) >= node.thresholds_at(0)[0]
    return (stage.level_at(tick - 1) == stage.first) == rested


def extreme(traced: TracedRun, line: int, start: int, end: int, up: bool) -> int:
    """The tick from ``start`` to ``end`` at which a line's voltage is highest (``up``) or lowest.

    Exact where the voltage moves one way between two events; a network that turns back is looked at in
    a thousand places and then by halves.
    """
    node = traced.lines[line].node
    if node is None:
        raise ValueError("the line has no voltage")
    inside = node.knots[(node.knots > start) & (node.knots < end)]
    ticks = np.unique(np.concatenate([np.linspace(start, end, 1000).astype(np.int64), inside, inside - 1]))
    ticks = ticks[(ticks >= start) & (ticks <= end)]
    sign = 1.0 if up else -1.0
    while True:
        best = int(np.argmax(sign * node.volts(ticks)))
        lo, hi = int(ticks[max(best - 1, 0)]), int(ticks[min(best + 1, ticks.size - 1)])
        if hi - lo <= 64:
            return int(ticks[best])
        ticks = np.unique(np.append(np.linspace(lo, hi, 17).astype(np.int64), ticks[best]))
