"""Sentences about what the counter did with the edges that reached it."""

from __future__ import annotations

from typing import Any

from reports.doubt_words import early_direction_words, late_direction_words
from reports.edge_words import level_word, listed, signed
from reports.evidence import Case, latest_edge, next_edge, seen_edges, shows_volts
from reports.teller import Sentence, Teller
from simcore.base.records import LINE_NAMES
from simcore.counters.base import HOLD, SETUP
from simcore.counters.step_direction import StepDirection
from simcore.counters.two_clock import TwoClock
from simcore.tracing.tracing import PulseFacts, TransitionFacts

FEW = 4
"""Counts that are told one by one."""
DIRECTION_TOLD = ("swapped order", "late direction", "early direction")
"""Root causes whose own sentences tell of the direction."""


def counted_words(case: Case, tell: Teller) -> list[Sentence]:
    """What the counter counted in the step."""
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
    told = [f"{signed(pulse.asked)} at {tell.at(pulse.tick)}{_by(case, tell, pulse)}" for pulse in counts]
    said = [tell.say(f"The counter counted {listed(told)}.")]
    if case.step.cause not in DIRECTION_TOLD:
        for pulse in counts:
            if pulse.asked * case.step.expected < 0:
                said += _wrong_way(case, tell, pulse)
    return said


def _wrong_way(case: Case, tell: Teller, pulse: PulseFacts) -> list[Sentence]:
    """Why a clock edge met the other direction: it changed too near to it, or had not followed yet."""
    spec = case.counter
    if not isinstance(spec, StepDirection) or spec is not case.design.counter:
        return []
    if pulse.flags & SETUP:
        return late_direction_words(case, tell, pulse)
    if pulse.flags & HOLD:
        return early_direction_words(case, tell, pulse)
    return _lagging(case, tell, pulse, 1 - spec.clock)


def _lagging(case: Case, tell: Teller, pulse: PulseFacts, line: int) -> list[Sentence]:
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
    spec = case.counter
    if not isinstance(spec, StepDirection) or spec is not case.design.counter:
        return ""
    line = 1 - spec.clock
    level = case.traced.lines[line].seen.level_at(pulse.tick)
    return f" (with {LINE_NAMES[line]} {level_word(level)}{_stood(case, tell, line, pulse.tick)})"


def _stood(case: Case, tell: Teller, line: int, tick: int) -> str:
    """The voltage behind a level, where that makes it."""
    return f" at {tell.volts(line, tick)}" if shows_volts(case, line) else ""


def outcome_words(case: Case, tell: Teller) -> list[Sentence]:
    """The net count against the one that was due."""
    step = case.step
    return [
        tell.say(f"Net count {signed(step.received)} where {signed(step.expected)} was due: {step.verdict}.")
    ]


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
