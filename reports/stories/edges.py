"""Sentences about edges: on their way from a contact to the counter, and those that no movement caused."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from reports.stories.evidence import (
    Case,
    contact_ticks,
    deciding_span,
    edge_at,
    extreme,
    is_high,
    leads_to,
    longest_gap,
    lost_at,
    makes_pulses,
    seen_edges,
)
from reports.stories.teller import DIGITS, Statement, Teller
from reports.words.numbers import counted, signed
from scenarios.loading.messages import listed
from simcore.base.records import (
    LINE_NAMES,
    NO_TRANSITION,
    NOISE,
    ORIGIN_NAMES,
    PICK_UP,
    SLIDING,
    SUPPLY_DIP,
)
from simcore.networks.waveform import WaveState
from simcore.tracing.tracing import PulseFacts, SeenEdge, TracedRun, Trail, TransitionFacts

FEW = 4
"""Crossings or edges that are described one by one."""
FEW_STRAYS = 3
"""Edges or counts without a movement that are described one by one."""
FINE = 4
"""Digits of voltages that noise carries to and fro."""
MEANWHILE = "The edges of this step itself were in order; a neighbouring step caused the error."


def level_word(level: int) -> str:
    return "high" if level else "low"


def does(transition: TransitionFacts) -> str:
    return "closed" if transition.closed else "opened"


def bounce_words(case: Case, tell: Teller, transition: TransitionFacts) -> Statement:
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
) -> list[Statement]:
    """How one transition became several edges at the counter."""
    said = []
    if origin == SLIDING:
        said += _slides(case, tell, transition)
    said += _crossings(case, tell, transition, noisy=origin == NOISE)
    edges = seen_edges(case.traced, transition)
    line = LINE_NAMES[transition.line]
    passed = _passed(case, transition)
    instead = "for that" if makes_pulses(case, transition.line) else "instead of one"
    said.append(
        tell.say(f"{passed}So the counter saw {len(edges)} edges of {line} {instead}{_when(tell, edges)}.")
    )
    return said


def _when(tell: Teller, edges: Sequence[SeenEdge]) -> str:
    if len(edges) > FEW:
        return f", from {tell.at(edges[0].tick)} to {tell.at(edges[-1].tick)}"
    return f", at {listed([tell.at(edge.tick) for edge in edges], 'and')}"


def _passed(case: Case, transition: TransitionFacts) -> str:
    """What the stages without a voltage passed on, if there are any."""
    line = case.traced.lines[transition.line]
    counts = [("the contact", int(np.count_nonzero(line.contact.transitions == transition.index)))]
    counts += [
        (f"{stage.name!r}", int(np.count_nonzero(stage.transitions == transition.index)))
        for stage in line.stages
    ]
    phrases = [
        f"{name} passed on {left} of the {counted(came, 'change')} of {before}"
        for (before, came), (name, left) in itertools.pairwise(counts)
        if line.node is None or name != repr(line.node.name)
    ]
    if not phrases:
        return "" if line.stages else "Nothing filters this line. "
    return f"{'; '.join(phrases)}. "


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
    assert node is not None  # noqa: S101 - an input that changes has a node
    rested_high = node.at(0) >= node.thresholds_at(0)[0]
    return (int(stage.levels[i]) == stage.first) == rested_high


def _crossings(case: Case, tell: Teller, transition: TransitionFacts, noisy: bool) -> list[Statement]:
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
    phrases = [
        f"{'rose' if up else 'fell'} through {tell.threshold(line, tick, up)} at {tell.at(tick)}"
        for up, tick in zip(ways, ticks, strict=True)
    ]
    return [tell.say(f"{name}'s voltage {listed(phrases, 'and')}.")]


def _noisy(tell: Teller, line: int, ticks: Sequence[int]) -> Statement:
    name, first, last = LINE_NAMES[line], ticks[0], ticks[-1]
    return tell.say(
        f"{name}'s voltage went from {tell.volts(line, first, FINE)} at {tell.at(first)} to only "
        f"{tell.volts(line, last, FINE)} at {tell.at(last)}, in {tell.span(first, last)}, with noise of "
        f"{tell.noise(line)} rms on it; about the {_band(tell, line, first, FINE)}, the input switched "
        f"{counted(len(ticks), 'time')}."
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


def _slides(case: Case, tell: Teller, transition: TransitionFacts) -> list[Statement]:
    """The opens of a sliding contact, the two longest in order."""
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
    phrases = [f"at {tell.at(start)} for {tell.span(start, end)}" for start, end in longest]
    name = LINE_NAMES[transition.line]
    said = [tell.say(f"While it slid on its pad, contact {name} opened {listed(phrases, 'and')}.")]
    if case.traced.lines[transition.line].node is not None:
        said.append(_slid_to(case, tell, transition.line, max(longest, key=lambda pair: pair[1] - pair[0])))
    return said


def _slid_to(case: Case, tell: Teller, line: int, opened: tuple[int, int]) -> Statement:
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


def swallowed_words(case: Case, tell: Teller, transition: TransitionFacts) -> list[Statement]:
    """Where the edge of a transition was lost."""
    place = lost_at(case.traced, transition)
    line = case.traced.lines[transition.line]
    said = [bounce_words(case, tell, transition)]
    if place is None or place >= len(line.stages):
        return said
    start, end = deciding_span(case.traced, transition)
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
) -> Statement:
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


def _short_of(case: Case, tell: Teller, transition: TransitionFacts, start: int, end: int) -> Statement:
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
) -> Statement:
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


def reach_words(case: Case, tell: Teller, first: TransitionFacts, second: TransitionFacts) -> list[Statement]:
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


def stray_words(
    traced: TracedRun, tell: Teller, edges: Sequence[SeenEdge], counts: Sequence[PulseFacts]
) -> list[Statement]:
    """Edges at the counter that no contact made, with the voltages behind them: those that came just
    before some ``counts``, else the first.
    """
    near = {edge for pulse in counts for edge in [e for e in edges if e.tick <= pulse.tick][-2:]}
    shown = sorted(near, key=lambda edge: (edge.tick, edge.line))[:FEW_STRAYS] or list(edges[:FEW_STRAYS])
    said = _in_turn(traced, tell, shown)
    if len(edges) > len(shown):
        said.append(
            tell.say(
                f"{counted(len(edges) - len(shown), 'more edge')} reached the counter without a movement."
            )
        )
    return said


def _in_turn(traced: TracedRun, tell: Teller, edges: Sequence[SeenEdge]) -> list[Statement]:
    """One edge after the other; a dip that two of them share is described once."""
    said: list[Statement] = []
    for edge in edges:
        said += [each for each in _edge_words(traced, tell, edge) if each.text not in [s.text for s in said]]
    return said


def _edge_words(traced: TracedRun, tell: Teller, edge: SeenEdge) -> list[Statement]:
    name = LINE_NAMES[edge.line]
    said = []
    if edge.origin == SUPPLY_DIP:
        said += _dip_words(traced, tell, edge)
    said += _input_words(traced, tell, edge)
    behind = traced.lines[edge.line].origins.get(edge.origin, f"because of {ORIGIN_NAMES[edge.origin]}")
    said.append(
        tell.say(
            f"{name} went {level_word(edge.level)} at the counter at {tell.at(edge.tick)} "
            f"{behind}; no contact was behind it."
        )
    )
    return said


def dips(traced: TracedRun, line: int) -> list[tuple[int, int]]:
    """Begin and end (ticks) of the dips of the supply that a line went through."""
    node = traced.lines[line].node
    found: list[tuple[int, int]] = []
    if node is None or not isinstance(node.states[0], WaveState):
        return found
    began = None
    for tick, state in zip(node.knots.tolist(), node.states, strict=True):
        if state.supply.low and began is None:
            began = tick
        if not state.supply.low and began is not None:
            found.append((began, tick))
            began = None
    return found


def _dip_words(traced: TracedRun, tell: Teller, edge: SeenEdge) -> list[Statement]:
    before = [dip for dip in dips(traced, edge.line) if dip[0] <= edge.tick]
    if not before:
        return []
    start, end = before[-1]
    return [tell.say(f"The supply dipped from {tell.at(start)} to {tell.at(end)}.")]


def _input_words(traced: TracedRun, tell: Teller, edge: SeenEdge) -> list[Statement]:
    """The line's voltage when its input made the change behind an edge."""
    line = traced.lines[edge.line]
    if line.node is None or edge.origin == PICK_UP:
        return []
    stage = next(each for each in line.stages if each.name == line.node.name)
    rows = np.flatnonzero(
        (stage.transitions == NO_TRANSITION) & (stage.origins == edge.origin) & (stage.ticks <= edge.tick)
    )
    if not rows.size:
        return []
    change = edge_at(stage, edge.line, int(rows[-1]))
    up = (change.level == stage.first) == (line.node.at(0) >= line.node.thresholds_at(0)[0])
    return [
        tell.say(
            f"{LINE_NAMES[edge.line]}'s voltage stood at {tell.volts(edge.line, change.tick)} at "
            f"{tell.at(change.tick)}, with the {'rising' if up else 'falling'} threshold at "
            f"{tell.threshold(edge.line, change.tick, up)}: its input switched."
        )
    ]


def spurious_words(traced: TracedRun, tell: Teller) -> list[Statement]:
    """The counts of a run that no movement caused."""
    pulses = [pulse for pulse in traced.pulses if pulse.step == 0 and pulse.asked]
    if not pulses:
        return []
    phrases = [
        f"{signed(pulse.asked)} at {tell.at(pulse.tick)} ({ORIGIN_NAMES[pulse.origin]})"
        for pulse in pulses[:FEW_STRAYS]
    ]
    more = f", and {len(pulses) - FEW_STRAYS} more" if len(pulses) > FEW_STRAYS else ""
    these = "this count" if len(pulses) == 1 else "these counts"
    head = tell.say(f"No movement caused {these}: {listed(phrases, 'and')}{more}.")
    edges = [
        edge_at(line.seen, number, int(i))
        for number, line in enumerate(traced.lines)
        for i in np.flatnonzero(
            (line.seen.transitions == NO_TRANSITION) & (line.seen.ticks <= pulses[0].tick)
        )
    ]
    last = sorted(edges, key=lambda edge: (edge.tick, edge.line))[-2:]
    return [head, *_in_turn(traced, tell, [edge for edge in last if edge.origin == pulses[0].origin])]
