"""The object that ``steptally trace --json`` writes, from which the page in the terminal is drawn too."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from reports.evidence import case_of
from reports.story import Story, story_of
from reports.stray_words import spurious_words
from reports.teller import TICK, Sentence, Teller
from reports.versions import versions
from simcore.base.records import LINE_NAMES, NOTHING_MEANT, ORIGIN_NAMES, PART
from simcore.counters.base import FLAG_NAMES
from simcore.tracing.tracing import LineNode, Movement, PulseFacts, StepFacts, TracedLine, TracedRun, Trail

if TYPE_CHECKING:
    from scenarios.loading.load import Scenario

Export = dict[str, Any]
MEANT = {PART: "part of a step", NOTHING_MEANT: "nothing"}


def trace_export(scenario: Scenario, searched: Export | None, traces: Sequence[Export]) -> Export:
    """Everything that was traced, one entry of ``traces`` per run."""
    return {
        "name": scenario.name,
        "title": scenario.title,
        "scenario": scenario.resolved,
        "versions": versions(),
        "searched": searched,
        "traces": list(traces),
    }


def one_trace(
    scenario: Scenario, traced: TracedRun, number: int | None, cause: str | None
) -> tuple[Export, Story | None]:
    """One run with the story of step ``number`` (None: of its first wrong step, if there is one);
    ``cause`` says what it was searched for.
    """
    told = number if number is not None else first_wrong(traced)
    story = None if told is None else story_of(case_of(scenario.design, traced, told))
    lines = {name: _line(line) for name, line in zip(LINE_NAMES, traced.lines, strict=True)}
    export = {
        "searched_for": cause,
        "seed": traced.seed,
        "run": traced.run,
        "positions": [traced.start_position, traced.position],
        "error": traced.error,
        "movements": [_movement(each) for each in traced.movements],
        "steps": [_step(each) for each in traced.steps],
        "spurious": [_sentence(each) for each in spurious_words(traced, Teller(traced, 0))],
        "step": told,
        "story": None if story is None else _story(story),
        "lines": lines,
        "pulses": [_pulse(each) for each in traced.pulses],
    }
    return export, story


def first_wrong(traced: TracedRun) -> int | None:
    """The first step with a root cause."""
    return next((step.number for step in traced.steps if step.cause != "none"), None)


def _movement(each: Movement) -> Export:
    return {
        "start_s": each.start * TICK,
        "end_s": each.end * TICK,
        "gesture": each.name,
        "steps": each.steps,
        "joined": each.joined,
        "first_step": each.first_step,
        "begun": each.begun,
    }


def _step(step: StepFacts) -> Export:
    return {
        "number": step.number,
        "gesture": step.gesture,
        "direction": "up" if step.direction > 0 else "down",
        "meant": MEANT.get(step.whole, "a step"),
        "start_s": step.start * TICK,
        "end_s": step.end * TICK,
        "expected": step.expected,
        "received": step.received,
        "bounce_free": step.clean_net,
        "counts": step.moves,
        "verdict": step.verdict,
        "cause": None if step.cause == "none" else step.cause,
    }


def _line(line: TracedLine) -> Export:
    return {
        "contact": _trail(line.contact),
        "node": None if line.node is None else _node(line.node),
        "stages": [_trail(stage) for stage in line.stages],
    }


def _trail(trail: Trail) -> Export:
    columns = (
        trail.ticks.tolist(),
        trail.levels.tolist(),
        trail.origins.tolist(),
        trail.transitions.tolist(),
    )
    return {
        "name": trail.name,
        "first": trail.first,
        "changes": [
            {
                "at_s": tick * TICK,
                "level": level,
                "origin": ORIGIN_NAMES[origin],
                "transition": None if transition < 0 else transition,
            }
            for tick, level, origin, transition in zip(*columns, strict=True)
        ],
    }


def _node(node: LineNode) -> Export:
    """The voltage at the events of its line; between two of them it follows the network's law."""
    values = node.volts(node.knots).tolist()
    columns = (node.knots.tolist(), values, node.rising.tolist(), node.falling.tolist())
    return {
        "name": node.name,
        "noise_v": node.noise,
        "events": [
            {"at_s": tick * TICK, "volts": volts, "rising": rising, "falling": falling}
            for tick, volts, rising, falling in zip(*columns, strict=True)
        ],
    }


def _pulse(pulse: PulseFacts) -> Export:
    return {
        "at_s": pulse.tick * TICK,
        "asked": pulse.asked,
        "moved": pulse.moved,
        "position": pulse.position,
        "step": pulse.step or None,
        "transition": None if pulse.transition < 0 else pulse.transition,
        "origin": ORIGIN_NAMES[pulse.origin],
        "doubts": [words for flag, words in FLAG_NAMES.items() if pulse.flags & flag],
    }


def _story(story: Story) -> Export:
    return {
        "zero_s": story.zero * TICK,
        "zero": story.zero_words,
        "window_s": [tick * TICK for tick in story.window],
        "closer_s": None if story.closer is None else [tick * TICK for tick in story.closer],
        "hand": [_sentence(each) for each in story.hand],
        "contacts": list(story.contacts),
        "voltages": list(story.voltages),
        "passed": list(story.passed),
        "counter": list(story.counter),
        "why": [_sentence(each) for each in story.why],
    }


def _sentence(said: Sentence) -> Export:
    return {
        "text": said.text,
        "states": [
            {
                "written": each.written,
                "what": each.what,
                "value": each.value,
                "line": None if each.line < 0 else LINE_NAMES[each.line],
                "since_s": None if each.since < 0 else each.since * TICK,
                "at_s": None if each.tick < 0 else each.tick * TICK,
            }
            for each in said.stated
        ],
    }
