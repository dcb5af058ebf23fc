"""Sentences about what the counter did with the edges that reached it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from reports.edge_words import level_word, listed, signed
from reports.evidence import Case, edge_at, seen_edges
from reports.teller import Sentence, Teller
from simcore.counters.base import AT_STOP, DOUBT_POLICIES, HOLD, ILLEGAL, SETUP, SHORT, Coin
from simcore.counters.clocked import ClockedQuadrature, clock_of, sample_from
from simcore.counters.step_direction import StepDirection
from simcore.counters.two_clock import TwoClock
from simcore.edges import LINE_NAMES
from simcore.traced import PulseFacts, SeenEdge, Trail, TransitionFacts

FEW = 4
"""Counts that are told one by one."""
MOST = 2
"""Doubtful pulses that are told one by one."""
DIRECTION_TOLD = ("swapped order", "late direction", "early direction")
"""Root causes whose own sentences tell of the direction."""
SETTLED = {
    "coin": "left to chance",
    "old": "taken by the old level",
    "new": "taken by the new level",
    "worst": "taken for the worst",
}
"""By the policy for a direction that was not steady."""


def counted_words(case: Case, tell: Teller) -> list[Sentence]:
    """What the counter counted in the step."""
    counts = [pulse for pulse in case.step.pulses if pulse.asked]
    if not counts:
        return [tell.say("The counter counted nothing in this step.")]
    if len(counts) > FEW:
        ups = sum(pulse.asked for pulse in counts if pulse.asked > 0)
        downs = -sum(pulse.asked for pulse in counts if pulse.asked < 0)
        return [
            tell.say(
                f"The counter counted {len(counts)} times between {tell.at(counts[0].tick)} and "
                f"{tell.at(counts[-1].tick)}: {ups} up and {downs} down."
            )
        ]
    told = [f"{signed(pulse.asked)} at {tell.at(pulse.tick)}{_by(case, tell, pulse)}" for pulse in counts]
    said = [tell.say(f"The counter counted {listed(told)}.")]
    if case.step.cause not in DIRECTION_TOLD:
        for pulse in counts:
            if pulse.asked * case.step.expected < 0:
                said += _wrong_way(case, tell, pulse)
    return said


def _wrong_way(case: Case, tell: Teller, pulse: PulseFacts) -> list[Sentence]:
    """Why a clock edge met the other direction: the direction line had not followed its contact yet."""
    spec = case.counter
    if not isinstance(spec, StepDirection) or spec is not case.design.counter:
        return []
    line = 1 - spec.clock
    facts, name = case.traced.lines[line], LINE_NAMES[line]
    level, closed = facts.seen.level_at(pulse.tick), facts.contact.level_at(pulse.tick)
    moved = facts.contact.ticks[facts.contact.ticks <= pulse.tick]
    follows = next_edge(case, line, pulse.tick + 1)
    if level != case.chain.flips[line] ^ closed and moved.size and follows is not None:
        since = int(moved[-1])
        before = latest_edge(case, line, pulse.tick)
        still = " still" if before is None or before.tick < since else ""
        return [
            tell.say(
                f"Contact {name} had been {'closed' if closed else 'open'} for "
                f"{tell.span(since, pulse.tick)} at that clock edge, but {name} stood "
                f"{level_word(level)}{still} and went {level_word(follows.level)} only "
                f"{tell.span(pulse.tick, follows.tick)} after it."
            )
        ]
    return []


def _by(case: Case, tell: Teller, pulse: PulseFacts) -> str:
    """The direction that a clock edge met, where the counter takes it at that very tick."""
    spec = case.counter
    if not isinstance(spec, StepDirection) or spec is not case.design.counter:
        return ""
    line = 1 - spec.clock
    level = case.traced.lines[line].seen.level_at(pulse.tick)
    return f" (with {LINE_NAMES[line]} {level_word(level)}{_stood(case, tell, line, pulse.tick)})"


def shows_volts(case: Case, line: int) -> bool:
    """Whether the counter sees what the input makes of the line's voltage, with nothing in between."""
    facts = case.traced.lines[line]
    return facts.node is not None and facts.stages[-1].name == facts.node.name


def _stood(case: Case, tell: Teller, line: int, tick: int) -> str:
    """The voltage behind a level, where that makes it."""
    return f" at {tell.volts(line, tick)}" if shows_volts(case, line) else ""


def outcome_words(case: Case, tell: Teller) -> list[Sentence]:
    """The net count against the one that was due."""
    step = case.step
    return [
        tell.say(f"Net count {signed(step.received)} where {signed(step.expected)} was due: {step.verdict}.")
    ]


def spoilt_words(case: Case, tell: Teller, flag: int) -> list[Sentence]:
    """Why pulses with a doubt were in doubt."""
    pulses = [pulse for pulse in case.step.pulses if pulse.flags & flag]
    told = {
        SETUP: _late_direction,
        HOLD: _early_direction,
        SHORT: _too_short,
        AT_STOP: _at_stop,
        ILLEGAL: _both_changed,
    }[flag]
    said = [sentence for pulse in pulses[:MOST] for sentence in told(case, tell, pulse)]
    if flag == ILLEGAL and not pulses:
        return _unseen(case, tell)
    if len(pulses) > MOST:
        said.append(tell.say(f"The same happened to {len(pulses) - MOST} more of its clock edges."))
    return said


def order_words(case: Case, tell: Teller, late: TransitionFacts, early: TransitionFacts) -> list[Sentence]:
    """What the counter made of an edge of the transition ``early`` that came before that of ``late``."""
    spec = case.counter
    clocks = [seen_edges(case.traced, each)[0] for each in (late, early) if each.line == spec_clock(spec)]
    counts = [pulse for pulse in case.traced.pulses if clocks and pulse.tick == clocks[0].tick]
    if not isinstance(spec, StepDirection) or late.line == early.line or not counts:
        return []
    clock, line = spec.clock, 1 - spec.clock
    level = case.traced.lines[line].seen.level_at(counts[0].tick)
    still = f"{LINE_NAMES[line]} was still {level_word(level)}"
    changed = f"{LINE_NAMES[line]} had already gone {level_word(level)}"
    read = "old" if late.line == line else "next"
    return [
        tell.say(
            f"At {LINE_NAMES[clock]}'s clock edge at {tell.at(counts[0].tick)} "
            f"{still if late.line == line else changed}{_stood(case, tell, line, counts[0].tick)}, so the "
            f"counter read the {read} direction."
        )
    ]


def spec_clock(spec: Any) -> int:
    """The line that clocks a counter, -1 if neither does by itself."""
    return int(spec.clock) if isinstance(spec, (StepDirection, TwoClock)) else -1


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


def _settled(case: Case, pulse: PulseFacts) -> str:
    """How a doubtful count was settled."""
    return f"{SETTLED[DOUBT_POLICIES[case.counter.doubt]]} and counted {signed(pulse.asked)}"


def _apart(tell: Teller, first: int, last: int, word: str) -> str:
    """How long before or after something comes, or that it comes in the same instant."""
    return "in the same instant as" if first == last else f"only {tell.span(first, last)} {word}"


def _late_direction(case: Case, tell: Teller, pulse: PulseFacts) -> list[Sentence]:
    spec: Any = case.counter
    line = 1 - spec.clock
    edge = latest_edge(case, line, pulse.tick)
    if edge is None:
        return []
    clock, name = LINE_NAMES[spec.clock], LINE_NAMES[line]
    return [
        tell.say(
            f"{name} changed to {level_word(edge.level)} at {tell.at(edge.tick)}, "
            f"{_apart(tell, edge.tick, pulse.tick, 'before')} {clock}'s clock edge at {tell.at(pulse.tick)}"
            f"{_then(case, tell, line, pulse.tick)}; the counter needs {tell.limit(spec.setup)} (set-up). "
            f"So the direction was in doubt: it was {_settled(case, pulse)}."
        )
    ]


def _then(case: Case, tell: Teller, line: int, tick: int) -> str:
    """The line's voltage at a tick, where it has one."""
    if not shows_volts(case, line):
        return ""
    return f", when its voltage stood at {tell.volts(line, tick)}"


def _early_direction(case: Case, tell: Teller, pulse: PulseFacts) -> list[Sentence]:
    spec: Any = case.counter
    line = 1 - spec.clock
    clock, name = LINE_NAMES[spec.clock], LINE_NAMES[line]
    if isinstance(spec, TwoClock):
        return [
            tell.say(
                f"{name} changed within the pulse of {tell.limit(spec.pulse)} that {clock} had started, and "
                f"cut it in two: the piece that ended at {tell.at(pulse.tick)} counted {signed(pulse.asked)}."
            )
        ]
    edge = next_edge(case, line, pulse.tick)
    if edge is None:
        return []
    return [
        tell.say(
            f"{name} changed to {level_word(edge.level)} at {tell.at(edge.tick)}, "
            f"{_apart(tell, pulse.tick, edge.tick, 'after')} {clock}'s clock edge at {tell.at(pulse.tick)}"
            f"{_then(case, tell, line, edge.tick)}; the counter needs {tell.limit(spec.hold)} (hold). "
            f"So the direction was in doubt: it was {_settled(case, pulse)}."
        )
    ]


def _too_short(case: Case, tell: Teller, pulse: PulseFacts) -> list[Sentence]:
    spec: Any = case.counter
    taken = f"counted {signed(pulse.asked)}" if pulse.asked else "took no notice of it"
    if isinstance(spec, TwoClock):
        return [
            tell.say(
                f"A piece of the clock pulse ended at {tell.at(pulse.tick)}, shorter than the "
                f"{tell.limit(spec.minimum)} that the counter takes: it {taken}."
            )
        ]
    seen = case.traced.lines[spec.clock].seen
    said = []
    for start, end, level in _levels_around(seen, pulse.tick):
        limit = spec.high if level else spec.low
        if end - start < limit:
            said.append(
                tell.say(
                    f"{LINE_NAMES[spec.clock]} was {level_word(level)} for only {tell.span(start, end)} from "
                    f"{tell.at(start)} on, where the counter needs {tell.limit(limit)}: it {taken} for the "
                    f"clock edge at {tell.at(pulse.tick)}."
                )
            )
    return said[:1]


def _levels_around(seen: Trail, tick: int) -> list[tuple[int, int, int]]:
    """Start, end and level of the stretches of a line before and after its edge at a tick."""
    rows = np.flatnonzero(seen.ticks == tick)
    found = []
    for i in rows.tolist():
        if i > 0:
            found.append((int(seen.ticks[i - 1]), tick, int(seen.levels[i - 1])))
        if i + 1 < seen.ticks.size:
            found.append((tick, int(seen.ticks[i + 1]), int(seen.levels[i])))
    return found


def _at_stop(case: Case, tell: Teller, pulse: PulseFacts) -> list[Sentence]:
    place = pulse.position - pulse.moved
    end = "lowest" if pulse.asked < 0 else "highest"
    return [
        tell.say(
            f"At {tell.at(pulse.tick)} the counter was asked for {signed(pulse.asked)} while it stood at "
            f"{place} of 0 to {case.design.range.positions - 1}; it went no further than the {end} "
            f"position and moved by {signed(pulse.moved)}."
        )
    ]


def looks_of(case: Case) -> tuple[int, int] | None:
    """Period and phase (ticks) of a decoder that looks at its lines now and then; None for others."""
    if not isinstance(case.counter, ClockedQuadrature):
        return None
    return clock_of(case.counter, Coin(case.traced.seed, case.traced.run))


def _both_changed(case: Case, tell: Teller, pulse: PulseFacts) -> list[Sentence]:
    looks = looks_of(case)
    if looks is None:
        return [tell.say(f"At {tell.at(pulse.tick)} both lines changed at once for the decoder.")]
    return _double(case, tell, looks[0], pulse.tick, pulse)


def _double(case: Case, tell: Teller, period: int, sample: int, pulse: PulseFacts | None) -> list[Sentence]:
    """Both lines changed between two looks, of which the second was at ``sample``."""
    edges = [latest_edge(case, line, sample) for line in (0, 1)]
    if edges[0] is None or edges[1] is None:
        return []
    first, last = sorted((edges[0], edges[1]), key=lambda edge: (edge.tick, edge.line))
    counted = (
        f"counted {signed(pulse.asked)}" if pulse is not None and pulse.asked else "counted nothing for it"
    )
    return [
        tell.say(
            f"Between its looks at {tell.at(sample - period)} and {tell.at(sample)} both lines changed: "
            f"{LINE_NAMES[first.line]} at {tell.at(first.tick)} and {LINE_NAMES[last.line]} at "
            f"{tell.at(last.tick)}, {tell.span(first.tick, last.tick)} apart, while the decoder looks only "
            f"every {tell.limit(period)}. It cannot tell the direction and {counted}."
        )
    ]


def _unseen(case: Case, tell: Teller) -> list[Sentence]:
    """What a decoder that looks now and then has missed without a doubt of its own."""
    looks = looks_of(case)
    if looks is None:
        return [tell.say("The decoder looks at its lines only now and then, and skipped a state.")]
    groups = edges_by_look(case, *looks)
    doubles = [sample for sample, edges in groups.items() if _changed(edges) == {0, 1}]
    pulses = {pulse.tick: pulse for pulse in case.traced.pulses}
    said = [
        sentence
        for sample in doubles[:MOST]
        for sentence in _double(case, tell, looks[0], sample, pulses.get(sample))
    ]
    if said:
        return said
    hidden = [edges for edges in groups.values() if len(edges) > 1 and len(_changed(edges)) < 2]
    return [_hidden(tell, looks[0], edges) for edges in hidden[:MOST]]


def edges_by_look(case: Case, period: int, phase: int) -> dict[int, list[SeenEdge]]:
    """The edges around the step, by the look that saw them."""
    mine = {each.index for each in case.around()}
    found: dict[int, list[SeenEdge]] = {}
    for line, each in enumerate(case.traced.lines):
        for i in np.flatnonzero(np.isin(each.seen.transitions, list(mine))):
            edge = edge_at(each.seen, line, int(i))
            found.setdefault(sample_from(period, phase, edge.tick), []).append(edge)
    return dict(sorted(found.items()))


def _changed(edges: Sequence[SeenEdge]) -> set[int]:
    """The lines that look different after some edges."""
    return {line for line in (0, 1) if sum(edge.line == line for edge in edges) % 2}


def _hidden(tell: Teller, period: int, edges: Sequence[SeenEdge]) -> Sentence:
    first, last = edges[0], edges[-1]
    return tell.say(
        f"Between {tell.at(first.tick)} and {tell.at(last.tick)} {len(edges)} edges fell between two looks "
        f"of the decoder, which looks only every {tell.limit(period)}: it saw no more than their outcome."
    )
