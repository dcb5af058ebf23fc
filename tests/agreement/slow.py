"""One run from the hand to the verdict, slowly and obviously: one heap, plain floats.

Written from the documentation, for tests only.  Entries of the heap are (tick, rank, number,
what to do); the rank makes upstream come before downstream, an input edge before a wake-up and
A before B at equal ticks, the number keeps everything else in order of arrival.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable
from dataclasses import dataclass, field

from simcore.design import Design

from .slow_contacts import Occasion, burst_of
from .slow_counters import Pulse, counter_of, moved_within
from .slow_hand import Transition, Truth, truth
from .slow_line import Edge, Line, build, parts_of
from .slow_verdicts import Judgement, judge

BOUNDARY, CONTACT, CROSSING, COUNTER_A, COUNTER_B, DECISION = range(6)


@dataclass
class Wire:
    """Edges at one place of a line and the level before the first of them."""

    first: int
    edges: list[Edge] = field(default_factory=list)

    @property
    def level(self) -> int:
        """The level after the last edge."""
        return (self.first + len(self.edges)) % 2

    def change(self, edge: Edge) -> None:
        """Append an edge."""
        assert not self.edges or edge.time >= self.edges[-1].time, "time runs backward on a wire"
        self.edges.append(edge)


@dataclass
class Record:
    """Everything one run went through.

    ``contacts`` of A and B (1: closed); ``seen``: the two lines as the counter sees them;
    ``tosses``: coins that the counter tossed; ``cut``: bursts that the next boundary cut off.
    """

    truth: Truth
    contacts: tuple[Wire, Wire]
    seen: tuple[Wire, Wire]
    pulses: list[Pulse]
    judgement: Judgement
    tosses: int
    cut: int


STILL_WATCHED = 100_000_000_000
"""The lines are watched for 100 ms after the hand is done; what a stage would do later is not seen."""


class Simulation:
    """The heap and the things on it."""

    def __init__(self, design: Design, seed: int, run: int, happened: Truth) -> None:
        self.design, self.seed, self.run = design, seed, run
        self.truth = happened
        self.heap: list[tuple[int, int, int, Callable[[], None]]] = []
        self.now = 0
        self.pushed = 0
        self.contacts = Wire(int(happened.closed[0])), Wire(int(happened.closed[1]))
        self.lines = self.line(0), self.line(1)
        self.seen = Wire(self.first_seen(0)), Wire(self.first_seen(1))
        self.versions = [0, 0]
        self.counter = counter_of(design.counter, (self.seen[0].first, self.seen[1].first), seed, run)
        self.decisions = 0
        self.position = design.range.start
        self.pulses: list[Pulse] = []
        self.cut = 0

    def line(self, line: int) -> Line | None:
        """The analogue part of a line, None where the counter is wired to the contact itself."""
        parts = parts_of(self.design, line)
        if parts is None:
            return None
        return Line(build(self.design, parts, self.seed, self.run, line), self.truth.closed[line])

    def first_seen(self, line: int) -> int:
        """The level that the counter sees at the start; a bare contact that is open reads high."""
        analogue = self.lines[line]
        return int(not self.truth.closed[line]) if analogue is None else analogue.output

    def push(self, tick: int, rank: int, action: Callable[[], None]) -> None:
        """Let something happen at a tick."""
        assert (tick, rank) >= (self.now, -1), "an event in the past"
        self.pushed += 1
        heapq.heappush(self.heap, (tick, rank, self.pushed, action))

    def go(self) -> None:
        """Let everything happen."""
        latest = (0, 0)
        while self.heap:
            tick, rank, _, action = heapq.heappop(self.heap)
            assert (tick, rank) >= latest, "time, or the order at one tick, runs backward"
            latest = (tick, rank)
            self.now = tick
            action()

    def push_boundaries(self) -> None:
        """Put the shaft's transitions on the heap."""
        for index, transition in enumerate(self.truth.transitions):
            self.push(transition.time, BOUNDARY, lambda i=index: self.boundary(i))  # type: ignore[misc]

    def push_seen(self, given: tuple[Wire, Wire]) -> None:
        """Put given edges before the counter on the heap instead."""
        for line in (0, 1):
            for edge in given[line].edges:
                self.push(edge.time, COUNTER_A + line, lambda n=line, e=edge: self.count(n, e))  # type: ignore[misc]

    def boundary(self, index: int) -> None:
        """The shaft crosses a boundary: work the burst out and schedule its changes."""
        it = self.truth.transitions[index]
        later = [t for t in self.truth.transitions[index + 1 :] if t.channel == it.channel]
        room = later[0].time - it.time if later else None
        where = Occasion(
            self.seed, self.run, it.channel, index, it.closed, it.speed, it.travel, it.until - it.time, room,
            it.boundary,
        )  # fmt: skip
        changes, cut = burst_of(self.design.contact, self.design.sliding, where)
        self.cut += cut
        for after, origin in changes:
            edge = Edge(it.time + after, index, origin)
            self.push(edge.time, CONTACT, lambda e=edge: self.contact(it.channel, e))  # type: ignore[misc]

    def contact(self, line: int, edge: Edge) -> None:
        """A contact opens or closes."""
        self.contacts[line].change(edge)
        analogue = self.lines[line]
        if analogue is None:
            self.arrive(line, edge)
            return
        analogue.contact_changes(edge)
        assert analogue.closed == bool(self.contacts[line].level)
        self.versions[line] += 1
        self.watch(line)

    def watch(self, line: int) -> None:
        """Schedule the crossing ahead, which the next change of the contact makes void."""
        analogue = self.lines[line]
        assert analogue is not None
        crossing = analogue.next_crossing()
        if crossing is not None and crossing < self.truth.end + STILL_WATCHED:
            version = self.versions[line]
            self.push(crossing, CROSSING, lambda: self.cross(line, version))

    def cross(self, line: int, version: int) -> None:
        """The voltage meets the threshold."""
        if version != self.versions[line]:
            return
        analogue = self.lines[line]
        assert analogue is not None
        assert analogue.latest is not None
        analogue.turn_over()
        self.arrive(line, Edge(self.now, analogue.latest.transition, analogue.latest.origin))
        assert analogue.next_crossing() is None, "it turns over once"

    def arrive(self, line: int, edge: Edge) -> None:
        """An edge is on its way into the counter."""
        self.seen[line].change(edge)
        analogue = self.lines[line]
        assert analogue is None or analogue.output == self.seen[line].level
        self.push(self.now, COUNTER_A + line, lambda: self.count(line, edge))

    def count(self, line: int, edge: Edge) -> None:
        """The counter takes an edge."""
        really = 0
        if edge.transition is not None:
            really = self.truth.transitions[edge.transition].direction
        for pulse in self.counter.edge(self.now, line, edge.transition, edge.origin, really):
            self.pulse(pulse)
        self.decisions += 1
        due = self.counter.due()
        if due is not None:
            number = self.decisions
            self.push(due, DECISION, lambda: self.settle(number))

    def settle(self, number: int) -> None:
        """The time of an open decision is over, unless another edge came since and set its own."""
        if number == self.decisions and self.counter.due() is not None:
            for pulse in self.counter.settle():
                self.pulse(pulse)

    def pulse(self, pulse: Pulse) -> None:
        """The counter counts, or runs against a stop."""
        place = self.design.range
        pulse.moved = moved_within(self.position, pulse.asked, place.positions, place.wrap)
        if pulse.moved != pulse.asked:
            pulse.doubts.add(8)
        self.position += pulse.moved
        assert place.positions == 0 or place.wrap or 0 <= self.position < place.positions
        assert not self.pulses or pulse.time >= self.pulses[-1].time
        self.pulses.append(pulse)


def run(
    design: Design,
    seed: int,
    run: int,
    transitions: list[Transition] | None = None,
    seen: tuple[Wire, Wire] | None = None,
) -> Record:
    """One run.

    With ``transitions`` the shaft is taken as given and all that follows is worked out; with
    ``seen`` as well, so are the edges that reach the counter.
    """
    happened = truth(design, seed, run)
    if transitions is not None:
        happened = given_truth(happened, transitions)
    simulation = Simulation(design, seed, run, happened)
    if seen is None:
        simulation.push_boundaries()
    else:
        assert [wire.first for wire in seen] == [wire.first for wire in simulation.seen]
        simulation.push_seen(seen)
        simulation.seen = seen
    simulation.go()
    edges = simulation.seen[0].edges, simulation.seen[1].edges
    judgement = judge(design, happened, inverting_lines(design), edges, simulation.pulses)
    tosses = getattr(simulation.counter, "tosses", 0)
    return Record(
        happened, simulation.contacts, simulation.seen, simulation.pulses, judgement, tosses, simulation.cut
    )


def given_truth(own: Truth, transitions: list[Transition]) -> Truth:
    """The same steps with other instants of crossing."""
    for step in own.steps:
        step.spacing = None
    for before, after in itertools.pairwise(transitions):
        step = own.steps[after.step]
        gap = after.time - before.time
        step.spacing = gap if step.spacing is None else min(step.spacing, gap)
    return Truth(transitions, own.steps, own.closed, own.end)


def inverting_lines(design: Design) -> tuple[bool, bool]:
    """Whether the input of line A, and of line B, turns levels over."""
    a, b = (parts_of(design, line) for line in (0, 1))
    return a is not None and a.logic.inverting == 1, b is not None and b.logic.inverting == 1
