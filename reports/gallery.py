"""Wrong steps to look at, one for each root cause: what a page draws as timing diagrams.

Times are in microseconds from the beginning of the step, levels are 0 and 1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.exact_command import Asked, trace_command
from reports.sentences import cause_sentence
from reports.tracks import Window, events, tracks

if TYPE_CHECKING:
    from simcore.design import Design
    from simcore.judging.tally import Tally
    from simcore.tracing.tracing import StepFacts, TracedRun

Export = dict[str, Any]
MOST_RUNS = 20_000
"""Runs that are searched; more would make the page wait longer than the simulation itself."""
MICROSECOND = 1_000_000
DIRECTIONS = {1: "up", -1: "down"}
PAD = 0.06
LEAST_PAD = 50 * MICROSECOND


def gallery(design: Design, tally: Tally, seed: int, first_run: int, named: Asked) -> Export:
    """For each root cause that occurs in the runs searched, the step that is worth looking at."""
    from simcore.tracing.tracing import trace_run
    from simcore.tracing.worst import worst_steps

    searched = min(tally.runs, MOST_RUNS)
    found = worst_steps(design, seed, searched, first_run) if searched and tally.wrong else {}
    order = [cause for cause in tally.causes if cause in found]
    return {
        "searched_runs": searched,
        "steps": [
            _shown(cause, design, trace_run(design, seed, found[cause][0]), found[cause][1], named)
            for cause in order
        ],
    }


def _shown(cause: str, design: Design, run: TracedRun, number: int, named: Asked) -> Export:
    from reports.evidence import case_of
    from reports.story import story_of

    step = run.step(number)
    story = story_of(case_of(design, run, number))
    window = window_of(step, story.zero, story.window)
    moment = moment_of(step, story.window)
    return {
        "cause": cause,
        "sentence": cause_sentence(cause),
        "run": run.run,
        "step": number,
        "gesture": step.gesture,
        "direction": DIRECTIONS.get(step.direction, ""),
        "verdict": step.verdict,
        "wanted": step.expected,
        "counted": step.received,
        "story": [said.text for said in (*story.hand, *story.why)],
        "command": trace_command(named, run.seed, run.run, number),
        "window_us": [window.us(window.start), window.us(window.end)],
        "moment_us": [window.us(moment[0]), window.us(moment[1])],
        "tracks": tracks(run, window, moment),
        "events": events(run, window),
    }


def window_of(step: StepFacts, zero: int, told: tuple[int, int]) -> Window:
    """All that the step caused and all that its story tells, with some room before and after."""
    start, end = _roomy(min(step.start, told[0]), max(step.end, told[1]))
    return Window(start, end, zero)


def moment_of(step: StepFacts, told: tuple[int, int]) -> tuple[int, int]:
    """What the story tells of the step's own time; all of it, if it tells of another time only."""
    start, end = _roomy(step.start, step.end)
    own = max(told[0], start), min(told[1], end)
    return own if own[0] < own[1] else (max(told[0], 0), told[1])


def _roomy(start: int, end: int) -> tuple[int, int]:
    pad = max(int(PAD * (end - start)), LEAST_PAD)
    return max(start - pad, 0), end + pad
