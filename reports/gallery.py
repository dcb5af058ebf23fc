"""Wrong steps to look at, one for each root cause: what a page draws as timing diagrams.

Times are in microseconds after the step's first contact boundary, levels are 0 and 1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.exact_command import Asked, trace_command
from reports.sentences import cause_sentence
from reports.tracks import Window, events, tracks

if TYPE_CHECKING:
    from simcore.chain import Design
    from simcore.tally import Tally
    from simcore.traced import StepFacts, TracedRun

Export = dict[str, Any]
MOST_RUNS = 20_000
"""Runs that are searched; more would make the page wait longer than the simulation itself."""
MICROSECOND = 1_000_000
DIRECTIONS = {1: "up", -1: "down"}
PAD = 0.06
LEAST_PAD = 50 * MICROSECOND
MOMENT_EDGES = 5
LEAST_MOMENT = 4 * MICROSECOND


def gallery(design: Design, tally: Tally, seed: int, first_run: int, named: Asked) -> Export:
    """For each root cause that occurs in the runs searched, the step that is worth looking at."""
    from simcore.tracing import trace_run
    from simcore.worst import worst_steps

    searched = min(tally.runs, MOST_RUNS)
    found = worst_steps(design, seed, searched, first_run) if searched and tally.wrong else {}
    order = [cause for cause in tally.causes if cause in found]
    return {
        "searched_runs": searched,
        "steps": [
            _shown(cause, trace_run(design, seed, found[cause][0]), found[cause][1], named) for cause in order
        ],
    }


def _shown(cause: str, run: TracedRun, number: int, named: Asked) -> Export:
    step = run.step(number)
    zero = step.transitions[0].tick if step.transitions else step.start
    window = _window(step, zero)
    moment = _moment(run, step, window)
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
        "command": trace_command(named, run.seed, run.run, number),
        "window_us": [window.us(window.start), window.us(window.end)],
        "moment_us": [window.us(moment[0]), window.us(moment[1])],
        "tracks": tracks(run, window, moment),
        "events": events(run, window),
    }


def _window(step: StepFacts, zero: int) -> Window:
    pad = max(int(PAD * (step.end - step.start)), LEAST_PAD)
    return Window(max(step.start - pad, 0), step.end + pad, zero)


def _moment(run: TracedRun, step: StepFacts, window: Window) -> tuple[int, int]:
    """From where to where to look first: some edges about the pulse, or the edge, that decided."""
    at = _deciding(step, window)
    near = sorted(
        (abs(int(tick) - at), int(tick))
        for line in run.lines
        for trail in (line.contact, line.seen)
        for tick in trail.ticks[trail.between(window.start, window.end)]
    )[:MOMENT_EDGES]
    reach = max([distance for distance, _ in near], default=0) * 6 // 5
    reach = max(reach, LEAST_MOMENT)
    return max(at - reach, window.start), min(at + reach, window.end)


def _deciding(step: StepFacts, window: Window) -> int:
    """The tick of the first doubtful pulse, else of the pulse that first left what was wanted, else of
    the middle of the edges that the counter saw.
    """
    for pulse in step.pulses:
        if pulse.flags:
            return pulse.tick
    net = 0
    for pulse in step.pulses:
        net += pulse.asked
        if pulse.asked and not 0 <= net * (1 if step.expected >= 0 else -1) <= abs(step.expected):
            return pulse.tick
    later = [pulse.tick for pulse in step.pulses] or [edge.tick for edge in step.edges]
    if later:
        return later[-1]
    if step.transitions:
        return step.transitions[len(step.transitions) // 2].tick
    return (window.start + window.end) // 2
