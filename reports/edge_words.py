"""Sentences about edges on their way from a contact to the counter."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from reports.evidence import (
    Case,
    contact_ticks,
    extreme,
    is_high,
    leads_to,
    longest_gap,
    lost_at,
    makes_pulses,
    reigns,
    seen_edges,
)
from reports.numbers import counted
from reports.teller import DIGITS, Sentence, Teller
from simcore.base.records import LINE_NAMES, NOISE, SLIDING
from simcore.tracing.tracing import SeenEdge, Trail, TransitionFacts

FEW = 4
"""Crossings or edges that are told one by one."""
FINE = 4
"""Digits of voltages that noise carries to and fro."""
MEANWHILE = "The edges of this step itself were in order; what spoilt it came with a step beside it."


def level_word(level: int) -> str:
    """A logic level in a word."""
    return "high" if level else "low"


def signed(count: int) -> str:
    """A count with its sign, but 0 without."""
    return f"{count:+d}" if count else "0"


def listed(words: Sequence[str]) -> str:
    """Words with commas, the last with "and"."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def does(transition: TransitionFacts) -> str:
    """What a contact does in a transition."""
    return "closed" if transition.closed else "opened"


def bounce_words(case: Case, tell: Teller, transition: TransitionFacts) -> Sentence:
    """When the contact moved, and how it bounced."""
    ticks = contact_ticks(case.traced, transition)
    opening = f"Contact {LINE_NAMES[transition.line]} {does(transition)} at {tell.at(ticks[0])}"
    if len(ticks) == 1:
        return tell.say(f"{opening} without bouncing.")
    return tell.say(
        f"{opening} in {len(ticks)} changes within {tell.span(ticks[0], ticks[-1])}, at most "
        f"{tell.span(*longest_gap(ticks))} apart."
    )


def to_and_fro_words(
    case: Case, tell: Teller, transition: TransitionFacts, origin: int | None = None
) -> list[Sentence]:
    """How one transition became several edges at the counter."""
    said = []
    if origin == SLIDING:
        said += _slides(case, tell, transition)
    said += _crossings(case, tell, transition, noisy=origin == NOISE)
    edges = seen_edges(case.traced, transition)
    line = LINE_NAMES[transition.line]
    passed = _passed(case, transition)
    meant = "for that" if makes_pulses(case, transition.line) else "instead of one"
    said.append(
        tell.say(f"{passed}So the counter saw {len(edges)} edges of {line} {meant}{_when(tell, edges)}.")
    )
    return said


def _when(tell: Teller, edges: Sequence[SeenEdge]) -> str:
    if len(edges) > FEW:
        return f", from {tell.at(edges[0].tick)} to {tell.at(edges[-1].tick)}"
    return f", at {listed([tell.at(edge.tick) for edge in edges])}"


def _passed(case: Case, transition: TransitionFacts) -> str:
    """What the stages without a voltage passed on, if there are any."""
    line = case.traced.lines[transition.line]
    counts = [("the contact", int(np.count_nonzero(line.contact.transitions == transition.index)))]
    counts += [
        (f"{stage.name!r}", int(np.count_nonzero(stage.transitions == transition.index)))
        for stage in line.stages
    ]
    told = [
        f"{name} passed on {left} of the {counted(came, 'change')} of {before}"
        for (before, came), (name, left) in itertools.pairwise(counts)
        if line.node is None or name != repr(line.node.name)
    ]
    if not told:
        return "" if line.stages else "Nothing filters this line. "
    return f"{'; '.join(told)}. "


def input_changes(case: Case, transition: TransitionFacts) -> tuple[Trail, list[int]] | None:
    """The input that reads the line's voltage, and its changes due to a transition; None without."""
    line = case.traced.lines[transition.line]
    if line.node is None:
        return None
    stage = next(each for each in line.stages if each.name == line.node.name)
    return stage, [int(i) for i in np.flatnonzero(stage.transitions == transition.index)]


def goes_up(case: Case, stage: Trail, line: int, i: int) -> bool:
    """Whether change ``i`` of an input comes from a voltage on its way up."""
    node = case.traced.lines[line].node
    assert node is not None  # noqa: S101 - whoever has an input's changes has its node
    rested_high = node.at(0) >= node.thresholds_at(0)[0]
    return (int(stage.levels[i]) == stage.first) == rested_high


def _crossings(case: Case, tell: Teller, transition: TransitionFacts, noisy: bool) -> list[Sentence]:
    """The passages of the line's voltage through its thresholds."""
    found = input_changes(case, transition)
    if found is None or not found[1]:
        return []
    (stage, changes), line = found, transition.line
    name = LINE_NAMES[line]
    ticks = [int(stage.ticks[i]) for i in changes]
    if noisy:
        return [_noisy(tell, line, ticks)]
    if len(changes) > FEW:
        return [
            tell.say(
                f"{name}'s voltage passed its {_band(tell, line, ticks[0])} {len(changes)} times between "
                f"{tell.at(ticks[0])} and {tell.at(ticks[-1])}."
            )
        ]
    ways = [goes_up(case, stage, line, i) for i in changes]
    told = [
        f"{'rose' if up else 'fell'} through {tell.threshold(line, tick, up)} at {tell.at(tick)}"
        for up, tick in zip(ways, ticks, strict=True)
    ]
    return [tell.say(f"{name}'s voltage {listed(told)}.")]


def _noisy(tell: Teller, line: int, ticks: Sequence[int]) -> Sentence:
    name, first, last = LINE_NAMES[line], ticks[0], ticks[-1]
    return tell.say(
        f"{name}'s voltage went from {tell.volts(line, first, FINE)} at {tell.at(first)} to only "
        f"{tell.volts(line, last, FINE)} at {tell.at(last)}, in {tell.span(first, last)}, while noise of "
        f"{tell.noise(line)} rms rode on it; about the {_band(tell, line, first, FINE)}, the input turned "
        f"over {counted(len(ticks), 'time')}."
    )


def _band(tell: Teller, line: int, tick: int, digits: int = DIGITS) -> str:
    """The thresholds of an input, or its only one."""
    rising, falling = tell.node(line).thresholds_at(tick)
    if rising == falling:
        return f"threshold of {tell.threshold(line, tick, True, digits)}"
    return (
        f"thresholds ({tell.threshold(line, tick, False, digits)} falling, "
        f"{tell.threshold(line, tick, True, digits)} rising)"
    )


def _slides(case: Case, tell: Teller, transition: TransitionFacts) -> list[Sentence]:
    """The opens of a sliding contact, the longest first in mind but told in order."""
    contact = case.traced.lines[transition.line].contact
    rows = np.flatnonzero((contact.transitions == transition.index) & (contact.origins == SLIDING))
    pairs = [
        (int(contact.ticks[i]), int(contact.ticks[i + 1]))
        for i in rows
        if not contact.levels[i] and i + 1 < contact.ticks.size
    ]
    longest = sorted(sorted(pairs, key=lambda pair: pair[0] - pair[1])[:2])
    if not longest:
        return []
    told = [f"at {tell.at(start)} for {tell.span(start, end)}" for start, end in longest]
    name = LINE_NAMES[transition.line]
    said = [tell.say(f"While it slid on its pad, contact {name} opened {listed(told)}.")]
    if case.traced.lines[transition.line].node is not None:
        said.append(_slid_to(case, tell, transition.line, max(longest, key=lambda pair: pair[1] - pair[0])))
    return said


def _slid_to(case: Case, tell: Teller, line: int, opened: tuple[int, int]) -> Sentence:
    """How far a voltage got while a sliding contact was open."""
    name, node, (start, end) = LINE_NAMES[line], tell.node(line), opened
    before, after = node.volts(np.array([start, end]))
    high = is_high(case.traced, line, start)
    up = bool(after > before) or (after == before and high)
    if up == high:
        return tell.say(f"{name} was {level_word(up)} by then, at {tell.volts(line, start)}.")
    peak = extreme(case.traced, line, start, end, up)
    return tell.say(
        f"{name}'s voltage {'rose' if up else 'fell'} to {tell.volts(line, peak)} meanwhile; its threshold "
        f"lies at {tell.threshold(line, peak, up)}."
    )


def swallowed_words(case: Case, tell: Teller, transition: TransitionFacts) -> list[Sentence]:
    """Where the edge of a transition was lost."""
    place = lost_at(case.traced, transition)
    line = case.traced.lines[transition.line]
    said = [bounce_words(case, tell, transition)]
    if place is None or place >= len(line.stages):
        return said
    start, end = reigns(case.traced, transition)
    stage = line.stages[place]
    if line.node is None or stage.name != line.node.name:
        said.append(_not_passed(tell, line.stages, place, transition, start, end))
    elif stage.level_at(start - 1) == leads_to(case, stage, transition):
        said.append(_there_already(case, tell, stage, transition, start))
    else:
        said.append(_short_of(case, tell, transition, start, end))
    said.append(tell.say(f"No edge of {LINE_NAMES[transition.line]} for this reached the counter."))
    return said


def _there_already(
    case: Case, tell: Teller, stage: Trail, transition: TransitionFacts, start: int
) -> Sentence:
    """An input that has nothing to follow, because it did not follow the change before."""
    name = LINE_NAMES[transition.line]
    before = [t for t in case.around() if t.line == transition.line and t.index < transition.index]
    missed = before and before[-1].index not in stage.transitions
    reason = f", for it had not followed when {name} {does(before[-1])}" if missed else ""
    return tell.say(
        f"{name}'s voltage stood at {tell.volts(transition.line, start)}, and its input was "
        f"{level_word(stage.level_at(start - 1))} already{reason}. That is where this change leads, so there "
        "was nothing to pass on."
    )


def _short_of(case: Case, tell: Teller, transition: TransitionFacts, start: int, end: int) -> Sentence:
    """A voltage that came short of its threshold."""
    line = transition.line
    up = not is_high(case.traced, line, start)
    tick = extreme(case.traced, line, start, end, up)
    volts, threshold = tell.shortfall(line, tick, up)
    return tell.say(
        f"Until {LINE_NAMES[line]} next moved, {tell.span(start, end)} later, its voltage "
        f"{'rose' if up else 'fell'} no further than to {volts} at {tell.at(tick)}, short of the "
        f"{'rising' if up else 'falling'} threshold of {threshold}."
    )


def _not_passed(
    tell: Teller, stages: Sequence[Trail], place: int, transition: TransitionFacts, start: int, end: int
) -> Sentence:
    """A stage without a voltage that let nothing through."""
    stage = stages[place]
    earlier = stage.ticks[stage.ticks <= start]
    since = ""
    if earlier.size:
        last = int(earlier[-1])
        since = f", which had last changed {tell.span(last, start)} before,"
    return tell.say(
        f"{stage.name!r} on line {LINE_NAMES[transition.line]}{since} let nothing of it through until the "
        f"contact next moved, {tell.span(start, end)} later."
    )


def reach_words(case: Case, tell: Teller, first: TransitionFacts, second: TransitionFacts) -> list[Sentence]:
    """Two contacts that moved in one order, and their edges that came in the other."""
    moved = [contact_ticks(case.traced, each)[0] for each in (first, second)]
    came = [seen_edges(case.traced, each)[0] for each in (first, second)]
    names = [LINE_NAMES[each.line] for each in (first, second)]
    said = [
        tell.say(
            f"Contact {names[0]} {does(first)} at {tell.at(moved[0])} and contact {names[1]} {does(second)} "
            f"{tell.span(moved[0], moved[1])} later, at {tell.at(moved[1])}."
        )
    ]
    how = _late(case, tell, first)
    said.append(
        tell.say(
            f"Yet {names[1]}'s edge reached the counter first, at {tell.at(came[1].tick)}: {names[0]} did "
            f"not {how} until {tell.span(came[1].tick, came[0].tick)} later, at {tell.at(came[0].tick)}, "
            f"{tell.span(moved[0], came[0].tick)} after its contact moved."
        )
    )
    return said


def _late(case: Case, tell: Teller, transition: TransitionFacts) -> str:
    """What the late line did at its edge: reach the threshold, where that makes the edge."""
    found = input_changes(case, transition)
    edge = seen_edges(case.traced, transition)[0]
    if found is not None and found[1] and int(found[0].ticks[found[1][0]]) == edge.tick:
        up = goes_up(case, found[0], transition.line, found[1][0])
        return f"reach {tell.threshold(transition.line, edge.tick, up)}"
    return "follow"
