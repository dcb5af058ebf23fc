"""One step told in order, as rows and sentences: the hand, the contacts, the voltages, the stages, the
counter, and why it went wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from reports.edge_words import does, goes_up, listed
from reports.evidence import Case, contact_ticks, extreme, is_high, longest_gap, reigns, shows_volts
from reports.narrative import why
from reports.teller import TICK, Sentence, Teller, instant_text
from reports.wave_windows import Window, closer_window, told_window
from simcore.base.records import LINE_NAMES, NOTHING_MEANT, ORIGIN_NAMES, PART
from simcore.counters.base import FLAG_NAMES
from simcore.tracing.tracing import Movement, PulseFacts, StepFacts, TracedRun, TransitionFacts

Row = dict[str, Any]


@dataclass(frozen=True)
class Story:
    """One step told; instants count from tick ``zero``.

    Rows hold seconds and volts; ``window`` (ticks) is what a timing diagram should show, ``closer`` what in
    it needs one of its own, None for nothing.
    """

    step: StepFacts
    zero: int
    zero_words: str
    window: Window
    closer: Window | None
    hand: tuple[Sentence, ...]
    contacts: tuple[Row, ...]
    voltages: tuple[Row, ...]
    passed: tuple[Row, ...]
    counter: tuple[Row, ...]
    why: tuple[Sentence, ...]


def story_of(case: Case) -> Story:
    """The story of a case."""
    tell = Teller(case.traced, case.step.start)
    hand = tuple(_hand(case, tell))
    reasons = tuple(why(case, tell))
    bursts = [_burst(case, each) for each in case.step.transitions]
    counter = tuple(_pulse(case, pulse) for pulse in case.step.pulses)
    window = told_window(case.step, reasons)
    closer = closer_window(window, reasons)
    return Story(
        case.step, case.step.start, _zero_words(case.step), window, closer, hand, tuple(bursts),
        tuple(_voltages(case)), tuple(_passed(case)), counter, reasons,
    )  # fmt: skip


def _zero_words(step: StepFacts) -> str:
    """Where the times of a story count from."""
    into = f"{instant_text(step.start * TICK)} into the run"
    if not step.transitions:
        return f"Times count from where the hand begins step {step.number}, {into}."
    first = step.transitions[0]
    what = f"{LINE_NAMES[first.line]} first {'closes' if first.closed else 'opens'}"
    return f"Times count from where {what} in step {step.number}, {into}."


def movements_of(traced: TracedRun, number: int) -> list[Movement]:
    """The rows of the hand that belong to the movement of a step."""
    first = next(
        each for each in traced.movements if each.first_step <= number < each.first_step + each.begun
    )
    return [each for each in traced.movements if each.begun and each.first_step == first.first_step]


def _hand(case: Case, tell: Teller) -> list[Sentence]:
    """What the hand did."""
    step, rows = case.step, movements_of(case.traced, case.step.number)
    start, end = rows[0].start, rows[-1].end
    when = f"from {tell.at(start)} to {tell.at(end)}, {tell.span(start, end)} in all"
    if step.whole == NOTHING_MEANT:
        return [tell.say(f"{step.gesture}: the knob was left alone {when}.")]
    turned = "; then ".join(_turned(each) for each in rows)
    first, last = rows[0].first_step, rows[0].first_step + rows[0].begun - 1
    which = "" if first == last else f" This is step {step.number - first + 1} of its {last - first + 1}."
    part = " It was not turned all the way." if step.whole == PART else ""
    return [tell.say(f"{step.gesture}: {turned}, {when}.{which}{part}"), *_crossed(step, tell)]


def _turned(row: Movement) -> str:
    if row.direction == 0:
        return "held still"
    amount = f"{abs(row.steps):.3g}"
    return f"turned {amount} step{'' if amount == '1' else 's'} {'up' if row.direction > 0 else 'down'}"


def _crossed(step: StepFacts, tell: Teller) -> list[Sentence]:
    if not step.transitions:
        return [tell.say("It crossed no boundary of the contacts.")]
    words = [f"{LINE_NAMES[each.line]} {does(each)}" for each in step.transitions]
    if len(words) > 8:
        words = [*words[:8], f"{len(words) - 8} more"]
    return [tell.say(f"On the way {listed(words)}.")]


def _burst(case: Case, transition: TransitionFacts) -> Row:
    """A contact's changes for one transition, as one row."""
    ticks = contact_ticks(case.traced, transition)
    contact = case.traced.lines[transition.line].contact
    origins = sorted(set(contact.origins[contact.transitions == transition.index].tolist()))
    gap = longest_gap(ticks) if len(ticks) > 1 else (ticks[0], ticks[0])
    edges = [edge for edge in case.step.edges if edge.transition == transition.index]
    return {
        "at_s": (ticks[0] - case.step.start) * TICK,
        "line": LINE_NAMES[transition.line],
        "closed": bool(transition.closed),
        "changes": len(ticks),
        "length_s": (ticks[-1] - ticks[0]) * TICK,
        "longest_gap_s": (gap[1] - gap[0]) * TICK,
        "origins": [ORIGIN_NAMES[origin] for origin in origins],
        "edges": len(edges),
        "first_edge_s": (edges[0].tick - case.step.start) * TICK if edges else None,
    }


def _voltages(case: Case) -> list[Row]:
    """Each turning over of an input in the step's window, and where a voltage came short of one."""
    rows: list[tuple[int, int, Row]] = []
    step = case.step
    for line, each in enumerate(case.traced.lines):
        if each.node is None:
            continue
        stage = next(found for found in each.stages if found.name == each.node.name)
        mine = np.isin(stage.transitions, [t.index for t in step.transitions])
        inside = (stage.ticks >= step.start) & (stage.ticks <= step.end)
        for i in np.flatnonzero(mine | inside).tolist():
            tick = int(stage.ticks[i])
            rows.append(
                (tick, line, _voltage(case, line, tick, goes_up(case, stage, line, i), stage.levels[i]))
            )
        for transition in step.transitions:
            if transition.line == line and transition.index not in stage.transitions:
                rows.append(_short(case, transition))
    return [row for _, _, row in sorted(rows, key=lambda row: row[:2])]


def _voltage(case: Case, line: int, tick: int, up: bool, level: int | None) -> Row:
    node = case.traced.lines[line].node
    assert node is not None  # noqa: S101 - callers have looked
    return {
        "at_s": (tick - case.step.start) * TICK,
        "line": LINE_NAMES[line],
        "volts": node.at(tick),
        "rising": bool(up),
        "threshold": node.thresholds_at(tick)[0 if up else 1],
        "level": None if level is None else int(level),
    }


def _short(case: Case, transition: TransitionFacts) -> tuple[int, int, Row]:
    """The furthest that a voltage came while a transition had the last word."""
    line = transition.line
    start, end = reigns(case.traced, transition)
    up = not is_high(case.traced, line, start)
    tick = extreme(case.traced, line, start, end, up)
    return tick, line, _voltage(case, line, tick, up, None)


def _passed(case: Case) -> list[Row]:
    """How many changes of the step's transitions each place passed on."""
    mine = [each.index for each in case.step.transitions]
    found: list[Row] = []
    for line, each in enumerate(case.traced.lines):
        for trail in (each.contact, *each.stages):
            count = int(np.count_nonzero(np.isin(trail.transitions, mine)))
            row = next((row for row in found if row["name"] == trail.name), None)
            if row is None:
                row = {"name": trail.name, "A": None, "B": None}
                found.append(row)
            row[LINE_NAMES[line]] = count
    return found


def _pulse(case: Case, pulse: PulseFacts) -> Row:
    """One pulse of the counter."""
    by = next(each for each in case.step.transitions if each.index == pulse.transition)
    return {
        "at_s": (pulse.tick - case.step.start) * TICK,
        "asked": pulse.asked,
        "moved": pulse.moved,
        "position": pulse.position,
        "by": f"{LINE_NAMES[by.line]} {does(by)}",
        "origin": ORIGIN_NAMES[pulse.origin],
        "doubts": [words for flag, words in FLAG_NAMES.items() if pulse.flags & flag],
        "levels": [line.seen.level_at(pulse.tick) for line in case.traced.lines],
        "volts": [
            each.node.at(pulse.tick) if each.node is not None and shows_volts(case, line) else None
            for line, each in enumerate(case.traced.lines)
        ],
    }
