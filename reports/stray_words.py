"""Sentences about edges and counts that no movement caused."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reports.edge_words import level_word, listed, signed
from reports.evidence import edge_at
from reports.numbers import counted
from reports.teller import Sentence, Teller
from simcore.base.records import LINE_NAMES, NO_TRANSITION, NOISE, ORIGIN_NAMES, PICK_UP, POWER_UP, SUPPLY_DIP
from simcore.tracing.tracing import PulseFacts, SeenEdge, TracedRun

MOST = 3
"""Edges or counts that are told one by one."""
BY = {
    PICK_UP: "because of a pulse that the line picked up",
    NOISE: "because of noise on the line",
    POWER_UP: "as the lines rose after power-up",
    SUPPLY_DIP: "because of a dip of the supply",
}
"""What is behind an edge without a movement, in words that end a sentence."""


def behind(origin: int) -> str:
    """The words for an origin."""
    return BY.get(origin, f"because of {ORIGIN_NAMES[origin]}")


def stray_words(
    traced: TracedRun, tell: Teller, edges: Sequence[SeenEdge], counts: Sequence[PulseFacts]
) -> list[Sentence]:
    """Edges at the counter that no contact made, with the voltages behind them: those that came just
    before some ``counts``, else the first.
    """
    near = {edge for pulse in counts for edge in [e for e in edges if e.tick <= pulse.tick][-2:]}
    told = sorted(near, key=lambda edge: (edge.tick, edge.line))[:MOST] or list(edges[:MOST])
    said = _in_turn(traced, tell, told)
    if len(edges) > len(told):
        said.append(
            tell.say(
                f"{counted(len(edges) - len(told), 'more edge')} came to the counter with no contact moving."
            )
        )
    return said


def _in_turn(traced: TracedRun, tell: Teller, edges: Sequence[SeenEdge]) -> list[Sentence]:
    """One edge after the other; a dip that two of them share is told once."""
    said: list[Sentence] = []
    for edge in edges:
        said += [each for each in _edge_words(traced, tell, edge) if each.text not in [s.text for s in said]]
    return said


def _edge_words(traced: TracedRun, tell: Teller, edge: SeenEdge) -> list[Sentence]:
    name = LINE_NAMES[edge.line]
    said = []
    if edge.origin == SUPPLY_DIP:
        said += _dip_words(traced, tell, edge)
    said += _input_words(traced, tell, edge)
    said.append(
        tell.say(
            f"{name} went {level_word(edge.level)} at the counter at {tell.at(edge.tick)} "
            f"{behind(edge.origin)}; no contact was behind it."
        )
    )
    return said


def dips(traced: TracedRun, line: int) -> list[tuple[int, int]]:
    """Begin and end (ticks) of the dips of the supply that a line went through."""
    node = traced.lines[line].node
    found: list[tuple[int, int]] = []
    if node is None or not hasattr(node.states[0], "mains"):
        return found
    began = None
    for tick, state in zip(node.knots.tolist(), node.states, strict=True):
        if state.mains.low and began is None:
            began = tick
        if not state.mains.low and began is not None:
            found.append((began, tick))
            began = None
    return found


def _dip_words(traced: TracedRun, tell: Teller, edge: SeenEdge) -> list[Sentence]:
    before = [dip for dip in dips(traced, edge.line) if dip[0] <= edge.tick]
    if not before:
        return []
    start, end = before[-1]
    return [tell.say(f"The supply dipped from {tell.at(start)} to {tell.at(end)}.")]


def _input_words(traced: TracedRun, tell: Teller, edge: SeenEdge) -> list[Sentence]:
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
            f"{tell.threshold(edge.line, change.tick, up)}: its input turned over."
        )
    ]


def spurious_words(traced: TracedRun, tell: Teller) -> list[Sentence]:
    """The counts of a run that no movement caused."""
    pulses = [pulse for pulse in traced.pulses if pulse.step == 0 and pulse.asked]
    if not pulses:
        return []
    told = [
        f"{signed(pulse.asked)} at {tell.at(pulse.tick)} ({ORIGIN_NAMES[pulse.origin]})"
        for pulse in pulses[:MOST]
    ]
    more = f", and {len(pulses) - MOST} more" if len(pulses) > MOST else ""
    these = "this count" if len(pulses) == 1 else "these counts"
    head = tell.say(f"No movement caused {these}: {listed(told)}{more}.")
    edges = [
        edge_at(line.seen, number, int(i))
        for number, line in enumerate(traced.lines)
        for i in np.flatnonzero(
            (line.seen.transitions == NO_TRANSITION) & (line.seen.ticks <= pulses[0].tick)
        )
    ]
    last = sorted(edges, key=lambda edge: (edge.tick, edge.line))[-2:]
    return [head, *_in_turn(traced, tell, [edge for edge in last if edge.origin == pulses[0].origin])]
