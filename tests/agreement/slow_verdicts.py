"""Verdicts and root causes, slowly: one object per step, and the edges as lists per transition."""

from __future__ import annotations

from dataclasses import dataclass, field

from simcore.counters.quadrature import Quadrature
from simcore.design import Design

from .slow_contacts import SLIDING
from .slow_counters import AT_STOP, HOLD, SETUP, SHORT, Pulse, ideal_reader, moved_within
from .slow_hand import Truth
from .slow_line import Edge


@dataclass
class StepAccount:
    """What one step should have counted, in which order, and what it got."""

    rows: list[int]
    clean: list[int] = field(default_factory=list)
    wanted: list[int] = field(default_factory=list)
    pulses: list[Pulse] = field(default_factory=list)
    position: int = 0
    expected: int = 0
    at_rest: bool = False

    @property
    def received(self) -> int:
        """Net count."""
        return sum(pulse.moved for pulse in self.pulses)

    @property
    def asked(self) -> int:
        """Net count but for end stops."""
        return sum(pulse.asked for pulse in self.pulses)

    @property
    def busy(self) -> int:
        """Pulses that asked for a count."""
        return sum(1 for pulse in self.pulses if pulse.asked != 0)

    @property
    def doubts(self) -> set[int]:
        """All doubts about the step's pulses."""
        return {doubt for pulse in self.pulses for doubt in pulse.doubts}

    def astray(self) -> int:
        """The furthest that the count strayed beyond its way from 0 to ``expected``."""
        count, furthest = 0, 0
        for pulse in self.pulses:
            count += pulse.moved
            furthest = max(furthest, count - max(self.expected, 0), min(self.expected, 0) - count)
        return furthest


@dataclass
class Judgement:
    """Verdict, root cause and excursion of each step, the final error and the spurious pulses."""

    verdicts: list[str]
    causes: list[str]
    excursions: list[int]
    error: int
    spurious: int


def decoder_fits(design: Design) -> bool:
    """Whether the decoder gives a step the counts that the user wants of it."""
    counts = design.counter.counts if isinstance(design.counter, Quadrature) else 1
    return abs(counts * design.geometry.cycles_per_step - design.counts_per_step) < 1e-9


def levels_of(closed: tuple[bool, bool], inverting: tuple[bool, bool]) -> tuple[int, int]:
    """What a counter sees of contacts whose lines swing all the way: open is high, unless inverted."""
    a, b = (int(c == i) for c, i in zip(closed, inverting, strict=True))
    return a, b


def sense_of(design: Design, inverting: tuple[bool, bool]) -> int:
    """+1 or -1: which way the counter counts when A and B take turns, A first, both open at first."""
    read = ideal_reader(design.counter, levels_of((False, False), inverting))
    counts = [read(line) for line in (0, 1) * 4]
    assert len(set(counts) - {0}) == 1, "an encoder that turns one way counts one way"
    return 1 if sum(counts) > 0 else -1


def accounts_of(design: Design, truth: Truth, inverting: tuple[bool, bool]) -> list[StepAccount]:
    """One account per step, with the counts that bounce-free contacts would give, or those that
    the user wants where the decoder does not fit.
    """
    accounts = [StepAccount([]) for _ in truth.steps]
    read = ideal_reader(design.counter, levels_of(truth.closed, inverting))
    for row, transition in enumerate(truth.transitions):
        account = accounts[transition.step]
        account.rows.append(row)
        count = read(transition.channel)
        if count:
            account.clean.append(count)
    for account, step in zip(accounts, truth.steps, strict=True):
        account.wanted = account.clean
        account.at_rest = step.at_rest
        if step.at_rest:
            account.wanted = []
        elif not decoder_fits(design):
            count = step.direction * sense_of(design, inverting)
            account.wanted = [count] * (design.counts_per_step if step.whole else 0)
    return accounts


def walk(design: Design, position: int, counts: list[int]) -> int:
    """How far ``counts``, one after another, really move a counter that stands at ``position``."""
    now = position
    for count in counts:
        now += moved_within(now, count, design.range.positions, design.range.wrap)
    return now - position


def verdict_of(account: StepAccount) -> str:
    """Right, flickered, missed, doubled or reversed."""
    expected, received = account.expected, account.received
    if received == expected:
        return "flickered" if account.busy > len(account.wanted) else "right"
    if expected == 0 or (received * expected > 0 and abs(received) > abs(expected)):
        return "doubled"
    return "reversed" if received * expected < 0 else "missed"


class Evidence:
    """The edges that reached the counter, sorted to their transitions.

    "Reached" means the line as the counter sees it, behind its last stage.
    """

    def __init__(self, transitions: int, lines: tuple[list[Edge], list[Edge]]) -> None:
        self.edges: list[list[Edge]] = [[] for _ in range(transitions)]
        self.line = [0] * transitions
        for number, line in enumerate(lines):
            for edge in line:
                if edge.transition is not None:
                    self.edges[edge.transition].append(edge)
                    self.line[edge.transition] = number

    def swallowed(self, rows: list[int]) -> bool:
        """Some transition sent no edge."""
        return any(not self.edges[row] for row in rows)

    def chatter(self, rows: list[int]) -> str | None:
        """Some transition sent several edges: "sliding" when an open while sliding was among them."""
        several = [self.edges[row] for row in rows if len(self.edges[row]) > 1]
        if not several:
            return None
        sliding = any(edge.origin == SLIDING for edges in several for edge in edges)
        return "sliding" if sliding else "chatter"

    def swapped(self, rows: list[int]) -> bool:
        """First edges came in another order than the contacts moved; at the same tick A is first."""
        firsts = [(self.edges[row][0].time, self.line[row]) for row in rows if self.edges[row]]
        return firsts != sorted(firsts)

    def shows(self, rows: list[int], too_many: bool, doubts: set[int]) -> str | None:
        """What the edges of some transitions show to be the cause."""
        chatter = self.chatter(rows)
        findings = [
            (too_many and chatter is not None, chatter),
            (SHORT in doubts, "short pulse"),
            (self.swallowed(rows), "swallowed"),
            (SETUP in doubts, "late direction"),
            (HOLD in doubts, "early direction"),
            (self.swapped(rows), "swapped order"),
            (chatter is not None, chatter),
        ]
        return next((cause for found, cause in findings if found), None)


def cause_of(design: Design, accounts: list[StepAccount], s: int, evidence: Evidence) -> str:
    """The root cause of wrong step ``s``: what its own transitions show, else those about it."""
    account = accounts[s]
    fit = decoder_fits(design)
    if (account.at_rest or not fit) and account.asked == sum(account.clean):
        return "misfit"
    if AT_STOP in account.doubts and account.asked == sum(account.wanted):
        return "end stop"
    too_many = account.busy > len(account.wanted)
    about = [row for near in accounts[max(0, s - 1) : s + 2] for row in near.rows]
    return (
        evidence.shows(account.rows, too_many, account.doubts)
        or evidence.shows(about, too_many, set())
        or ("unexplained" if fit else "misfit")
    )


def judge(
    design: Design,
    truth: Truth,
    inverting: tuple[bool, bool],
    lines: tuple[list[Edge], list[Edge]],
    pulses: list[Pulse],
) -> Judgement:
    """Judge one run.  ``lines`` are the edges that the counter saw."""
    accounts = accounts_of(design, truth, inverting)
    position, spurious = design.range.start, 0
    reached: dict[int, int] = {}
    for pulse in pulses:
        if pulse.transition is None:
            spurious += pulse.asked != 0
        else:
            s = truth.transitions[pulse.transition].step
            reached.setdefault(s, position)
            accounts[s].pulses.append(pulse)
        position += pulse.moved
    here = ideal = design.range.start
    for s, account in enumerate(accounts):
        here = reached.get(s, here)
        account.expected = walk(design, here, account.wanted)
        ideal += walk(design, ideal, account.wanted)
        here += account.received
    evidence = Evidence(len(truth.transitions), lines)
    verdicts = [verdict_of(account) for account in accounts]
    causes = [
        "none" if verdict in ("right", "flickered") else cause_of(design, accounts, s, evidence)
        for s, verdict in enumerate(verdicts)
    ]
    return Judgement(verdicts, causes, [a.astray() for a in accounts], position - ideal, spurious)
