"""Sentences about what the counter did with the edges that reached it: its counts, its timing limits, and
what a sampled decoder could not see.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reports.stories.edges import MEANWHILE, level_word
from reports.stories.evidence import Case, edge_at, latest_edge, next_edge, seen_edges, shows_volts
from reports.stories.teller import Statement, Teller
from reports.words.numbers import counted, signed
from scenarios.loading.messages import listed
from simcore.base.records import LINE_NAMES
from simcore.counters.base import AT_STOP, HOLD, ILLEGAL, SETUP, SHORT, VIOLATION_POLICIES, Coin
from simcore.counters.clocked import sample_from
from simcore.counters.facts import Clocking, clock_ticks, clocking
from simcore.tracing.tracing import PulseFacts, SeenEdge, Trail, TransitionFacts

FEW = 4
"""Counts that are described one by one."""
MOST = 2
"""Violations, and samples, that are described one by one."""
DIRECTION_EXPLAINED = ("swapped order", "late direction", "early direction")
"""Root causes whose own sentences explain the direction."""
OUTCOMES = {
    "coin": "the outcome was random",
    "old": "the old level was taken",
    "new": "the new level was taken",
    "worst": "the level that counts worse was taken",
}
"""By the policy for a direction that was not steady."""


def counted_words(case: Case, tell: Teller) -> list[Statement]:
    counts = [pulse for pulse in case.step.pulses if pulse.asked]
    if not counts:
        return [tell.say("The counter counted nothing in this step.")]
    if len(counts) > FEW:
        ups = sum(pulse.asked for pulse in counts if pulse.asked > 0)
        downs = -sum(pulse.asked for pulse in counts if pulse.asked < 0)
        way = f": {ups} up and {downs} down" if ups and downs else f", each time {'up' if ups else 'down'}"
        return [
            tell.say(
                f"The counter counted {len(counts)} times between {tell.at(counts[0].tick)} and "
                f"{tell.at(counts[-1].tick)}{way}."
            )
        ]
    phrases = [f"{signed(pulse.asked)} at {tell.at(pulse.tick)}{_by(case, tell, pulse)}" for pulse in counts]
    said = [tell.say(f"The counter counted {listed(phrases, 'and')}.")]
    if case.step.cause not in DIRECTION_EXPLAINED:
        for pulse in counts:
            if pulse.asked * case.step.expected < 0:
                said += _wrong_way(case, tell, pulse)
    return said


def _wrong_way(case: Case, tell: Teller, pulse: PulseFacts) -> list[Statement]:
    """Why a clock edge met the other direction: it changed too near to it, or had not followed yet."""
    spec = _decides_at_edge(case)
    if spec is None:
        return []
    if pulse.flags & SETUP:
        return late_direction_words(case, tell, pulse)
    if pulse.flags & HOLD:
        return early_direction_words(case, tell, pulse)
    return _lagging(case, tell, pulse, 1 - spec.clock)


def _decides_at_edge(case: Case) -> Clocking | None:
    """The clocking of a counter that takes the direction at the very tick of a pulse's clock edge."""
    spec = clocking(case.design.counter)
    return None if spec is None or spec.gated or case.counter is not case.design.counter else spec


def _lagging(case: Case, tell: Teller, pulse: PulseFacts, line: int) -> list[Statement]:
    """A direction line that had not followed its contact yet."""
    facts, name = case.traced.lines[line], LINE_NAMES[line]
    level, closed = facts.seen.level_at(pulse.tick), facts.contact.level_at(pulse.tick)
    moved = facts.contact.ticks[facts.contact.ticks <= pulse.tick]
    follows = next_edge(case, line, pulse.tick + 1)
    if level != case.chain.flips[line] ^ closed and moved.size and follows is not None:
        since = int(moved[-1])
        before = latest_edge(case, line, pulse.tick)
        still = "still " if before is None or before.tick < since else ""
        return [
            tell.say(
                f"By the clock edge at {tell.at(pulse.tick)} contact {name} had been "
                f"{'closed' if closed else 'open'} for {tell.span(since, pulse.tick)}, but {name} {still}"
                f"stood {level_word(level)} and did not go {level_word(follows.level)} until "
                f"{tell.span(pulse.tick, follows.tick)} later."
            )
        ]
    return []


def _by(case: Case, tell: Teller, pulse: PulseFacts) -> str:
    """The direction that a clock edge met, where the counter takes it at that very tick."""
    spec = _decides_at_edge(case)
    if spec is None:
        return ""
    line = 1 - spec.clock
    level = case.traced.lines[line].seen.level_at(pulse.tick)
    return f" (with {LINE_NAMES[line]} {level_word(level)}{_stood(case, tell, line, pulse.tick)})"


def _stood(case: Case, tell: Teller, line: int, tick: int) -> str:
    """The voltage behind a level, where that makes it."""
    return f" at {tell.volts(line, tick)}" if shows_volts(case, line) else ""


def outcome_words(case: Case, tell: Teller) -> list[Statement]:
    step = case.step
    net, expected = signed(step.received), signed(step.expected)
    return [tell.say(f"Net count {net} where {expected} was expected: {step.verdict}.")]


def order_words(case: Case, tell: Teller, late: TransitionFacts, early: TransitionFacts) -> list[Statement]:
    """What the counter made of an edge of the transition ``early`` that came before that of ``late``."""
    spec = clocking(case.counter)
    if spec is None or spec.gated or late.line == early.line:
        return []
    clocks = [seen_edges(case.traced, each)[0] for each in (late, early) if each.line == spec.clock]
    counts = [pulse for pulse in case.traced.pulses if clocks and pulse.tick == clocks[0].tick]
    if not counts:
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


def violation_words(case: Case, tell: Teller, flag: int) -> list[Statement]:
    """How pulses came to be flagged: a timing violation, an end stop, a double transition."""
    pulses = [pulse for pulse in case.step.pulses if pulse.flags & flag]
    words = {
        SETUP: late_direction_words,
        HOLD: early_direction_words,
        SHORT: _too_short,
        AT_STOP: _at_stop,
        ILLEGAL: both_changed_words,
    }[flag]
    said = [sentence for pulse in pulses[:MOST] for sentence in words(case, tell, pulse)]
    if flag == ILLEGAL and not pulses:
        return hidden_state_words(case, tell)
    if len(pulses) > MOST:
        said.append(tell.say(f"The same happened {counted(len(pulses) - MOST, 'more time')}."))
    return said


def _outcome(spec: Clocking, pulse: PulseFacts) -> str:
    """What came of a timing violation."""
    return f"{OUTCOMES[VIOLATION_POLICIES[spec.doubt]]}, and the edge counted {signed(pulse.asked)}"


def _apart(tell: Teller, first: int, last: int, word: str) -> str:
    """How long before or after something comes, or that it comes in the same instant."""
    return "in the same instant as" if first == last else f"only {tell.span(first, last)} {word}"


def late_direction_words(case: Case, tell: Teller, pulse: PulseFacts) -> list[Statement]:
    """A direction line that changed within the set-up time of a pulse."""
    spec = clocking(case.counter)
    if spec is None:
        return []
    line = 1 - spec.clock
    edge = latest_edge(case, line, pulse.tick)
    if edge is None:
        return []
    clock, name = LINE_NAMES[spec.clock], LINE_NAMES[line]
    return [
        tell.say(
            f"{name} changed to {level_word(edge.level)} at {tell.at(edge.tick)}, "
            f"{_apart(tell, edge.tick, pulse.tick, 'before')} {clock}'s clock edge at {tell.at(pulse.tick)}"
            f"{_there(case, tell, line, pulse.tick)}; the counter needs {tell.limit(spec.setup)} (set-up). "
            f"This is a timing violation: {_outcome(spec, pulse)}."
        )
    ]


def _there(case: Case, tell: Teller, line: int, tick: int) -> str:
    """The line's voltage at a clock edge, where it has one."""
    if not shows_volts(case, line):
        return ""
    return f", where {LINE_NAMES[line]} stood at {tell.volts(line, tick)}"


def early_direction_words(case: Case, tell: Teller, pulse: PulseFacts) -> list[Statement]:
    """A direction line that changed within the hold time of a pulse."""
    spec = clocking(case.counter)
    if spec is None:
        return []
    line = 1 - spec.clock
    clock, name = LINE_NAMES[spec.clock], LINE_NAMES[line]
    if spec.gated:
        return [
            tell.say(
                f"{name} changed within the pulse of {tell.limit(spec.hold)} that {clock} had started, and "
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
            f"{_there(case, tell, line, pulse.tick)}; the counter needs {tell.limit(spec.hold)} (hold). "
            f"This is a timing violation: {_outcome(spec, pulse)}."
        )
    ]


def _too_short(case: Case, tell: Teller, pulse: PulseFacts) -> list[Statement]:
    spec = clocking(case.counter)
    if spec is None:
        return []
    if spec.gated:
        return [
            tell.say(
                f"A piece of the clock pulse ended at {tell.at(pulse.tick)}, shorter than the "
                f"{tell.limit(spec.low)} that the counter takes: "
                f"it {f'counted {signed(pulse.asked)}' if pulse.asked else 'ignored it'}."
            )
        ]
    seen = case.traced.lines[spec.clock].seen
    taken = f"it counted {signed(pulse.asked)} for" if pulse.asked else "it ignored"
    said = []
    for start, end, level in _levels_around(seen, pulse.tick):
        limit = spec.high if level else spec.low
        if end - start < limit:
            said.append(
                tell.say(
                    f"{LINE_NAMES[spec.clock]} was {level_word(level)} for only {tell.span(start, end)} from "
                    f"{tell.at(start)} on, where the counter needs {tell.limit(limit)}: {taken} the clock "
                    f"edge at {tell.at(pulse.tick)}."
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


def _at_stop(case: Case, tell: Teller, pulse: PulseFacts) -> list[Statement]:
    place, last = pulse.position - pulse.moved, case.design.range.positions - 1
    end = "lowest position is 0" if pulse.asked < 0 else f"highest position is {last}"
    moved = f"it moved by {signed(pulse.moved)} only" if pulse.moved else "it stayed there"
    return [
        tell.say(
            f"At {tell.at(pulse.tick)} a count of {signed(pulse.asked)} came while the counter stood at "
            f"{place}; its {end}, so {moved}."
        )
    ]


def sampling_of(case: Case) -> tuple[int, int] | None:
    """Period and phase (ticks) of a decoder that samples its lines; None for others."""
    return clock_ticks(case.counter, Coin(case.traced.seed, case.traced.run))


def both_changed_words(case: Case, tell: Teller, pulse: PulseFacts) -> list[Statement]:
    """A pulse at which both lines had changed."""
    sampling = sampling_of(case)
    if sampling is None:
        return [tell.say(f"At {tell.at(pulse.tick)} both lines changed at once for the decoder.")]
    return _double(case, tell, sampling[0], pulse.tick, pulse)


def _double(case: Case, tell: Teller, period: int, sample: int, pulse: PulseFacts | None) -> list[Statement]:
    """Both lines changed between two samples, the second at ``sample``."""
    edges = [latest_edge(case, line, sample) for line in (0, 1)]
    if edges[0] is None or edges[1] is None:
        return []
    first, last = sorted((edges[0], edges[1]), key=lambda edge: (edge.tick, edge.line))
    counted = (
        f"counted {signed(pulse.asked)}" if pulse is not None and pulse.asked else "counted nothing for it"
    )
    return [
        tell.say(
            f"Between its samples at {tell.at(sample - period)} and {tell.at(sample)} both lines changed: "
            f"{LINE_NAMES[first.line]} at {tell.at(first.tick)} and {LINE_NAMES[last.line]} at "
            f"{tell.at(last.tick)}, {tell.span(first.tick, last.tick)} apart, while the decoder samples "
            f"only every {tell.limit(period)}. It cannot tell the direction and {counted}."
        )
    ]


def hidden_state_words(case: Case, tell: Teller) -> list[Statement]:
    """What a sampled decoder missed without flagging it: between two samples that edges of the step itself
    fell between, if there is anything, else between those around it.
    """
    sampling = sampling_of(case)
    if sampling is None:
        return [tell.say("The decoder skipped a state.")]
    groups = {sample: edges for sample, edges in edges_by_sample(case, *sampling).items() if _several(edges)}
    mine = {each.index for each in case.step.transitions}
    own = {sample: edges for sample, edges in groups.items() if mine & {edge.transition for edge in edges}}
    pulses = {pulse.tick: pulse for pulse in case.traced.pulses}
    said = [] if own else [Statement(MEANWHILE, ())]
    for sample, edges in list((own or groups).items())[:MOST]:
        if _changed(edges) == {0, 1}:
            said += _double(case, tell, sampling[0], sample, pulses.get(sample))
        else:
            said.append(_hidden(tell, sampling[0], sample, edges))
    return said


def _several(edges: Sequence[SeenEdge]) -> bool:
    """Whether edges that one sample saw belong to more than one movement of a contact."""
    return len({edge.transition for edge in edges}) > 1


def edges_by_sample(case: Case, period: int, phase: int) -> dict[int, list[SeenEdge]]:
    """The edges around the step, by the sample that saw them."""
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


def _hidden(tell: Teller, period: int, sample: int, edges: Sequence[SeenEdge]) -> Statement:
    ticks = [edge.tick for edge in edges]
    changed = [LINE_NAMES[line] for line in sorted(_changed(edges))]
    outcome = f"only {changed[0]} had changed" if changed else "nothing had changed"
    return tell.say(
        f"From {tell.at(min(ticks))} to {tell.at(max(ticks))} {len(edges)} edges fell between two samples of "
        f"the decoder, which samples only every {tell.limit(period)}: at the next one, at {tell.at(sample)}, "
        f"{outcome}."
    )
