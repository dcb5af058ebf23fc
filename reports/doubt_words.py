"""Sentences about counts that the counter's own limits spoil: set-up, hold, short pulses, end stops."""

from __future__ import annotations

from typing import Any

import numpy as np

from reports.edge_words import level_word, signed
from reports.evidence import Case, latest_edge, next_edge, shows_volts
from reports.looking_words import both_changed_words, unseen_words
from reports.numbers import counted
from reports.teller import Sentence, Teller
from simcore.base.records import LINE_NAMES
from simcore.counters.base import AT_STOP, DOUBT_POLICIES, HOLD, ILLEGAL, SETUP, SHORT
from simcore.counters.two_clock import TwoClock
from simcore.tracing.tracing import PulseFacts, Trail

MOST = 2
"""Doubtful pulses that are told one by one."""
SETTLED = {
    "coin": "left to chance",
    "old": "taken by the old level",
    "new": "taken by the new level",
    "worst": "taken for the worst",
}
"""By the policy for a direction that was not steady."""


def spoilt_words(case: Case, tell: Teller, flag: int) -> list[Sentence]:
    """Why pulses with a doubt were in doubt."""
    pulses = [pulse for pulse in case.step.pulses if pulse.flags & flag]
    told = {
        SETUP: late_direction_words,
        HOLD: early_direction_words,
        SHORT: _too_short,
        AT_STOP: _at_stop,
        ILLEGAL: both_changed_words,
    }[flag]
    said = [sentence for pulse in pulses[:MOST] for sentence in told(case, tell, pulse)]
    if flag == ILLEGAL and not pulses:
        return unseen_words(case, tell)
    if len(pulses) > MOST:
        said.append(tell.say(f"The same happened {counted(len(pulses) - MOST, 'more time')}."))
    return said


def _settled(case: Case, pulse: PulseFacts) -> str:
    """How a doubtful count was settled."""
    return f"it was {SETTLED[DOUBT_POLICIES[case.counter.doubt]]}, and the edge counted {signed(pulse.asked)}"


def _apart(tell: Teller, first: int, last: int, word: str) -> str:
    """How long before or after something comes, or that it comes in the same instant."""
    return "in the same instant as" if first == last else f"only {tell.span(first, last)} {word}"


def late_direction_words(case: Case, tell: Teller, pulse: PulseFacts) -> list[Sentence]:
    """A direction line that changed within the set-up time of a pulse."""
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
            f"{_there(case, tell, line, pulse.tick)}; the counter needs {tell.limit(spec.setup)} (set-up). "
            f"So the direction was in doubt: {_settled(case, pulse)}."
        )
    ]


def _there(case: Case, tell: Teller, line: int, tick: int) -> str:
    """The line's voltage at a clock edge, where it has one."""
    if not shows_volts(case, line):
        return ""
    return f", where {LINE_NAMES[line]} stood at {tell.volts(line, tick)}"


def early_direction_words(case: Case, tell: Teller, pulse: PulseFacts) -> list[Sentence]:
    """A direction line that changed within the hold time of a pulse."""
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
            f"{_there(case, tell, line, pulse.tick)}; the counter needs {tell.limit(spec.hold)} (hold). "
            f"So the direction was in doubt: {_settled(case, pulse)}."
        )
    ]


def _too_short(case: Case, tell: Teller, pulse: PulseFacts) -> list[Sentence]:
    spec: Any = case.counter
    if isinstance(spec, TwoClock):
        return [
            tell.say(
                f"A piece of the clock pulse ended at {tell.at(pulse.tick)}, shorter than the "
                f"{tell.limit(spec.minimum)} that the counter takes: "
                f"it {f'counted {signed(pulse.asked)}' if pulse.asked else 'took no notice of it'}."
            )
        ]
    seen = case.traced.lines[spec.clock].seen
    taken = f"it counted {signed(pulse.asked)} for" if pulse.asked else "it took no notice of"
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


def _at_stop(case: Case, tell: Teller, pulse: PulseFacts) -> list[Sentence]:
    place, last = pulse.position - pulse.moved, case.design.range.positions - 1
    end = "lowest position is 0" if pulse.asked < 0 else f"highest position is {last}"
    moved = f"it moved by {signed(pulse.moved)} only" if pulse.moved else "there it stayed"
    return [
        tell.say(
            f"At {tell.at(pulse.tick)} the counter was asked for {signed(pulse.asked)} while it stood at "
            f"{place}; its {end}, so {moved}."
        )
    ]
