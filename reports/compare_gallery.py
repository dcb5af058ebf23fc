"""Steps in which two designs part, to look at: the same step in both, on one time axis.

Times are in microseconds from the beginning of the step, levels are 0 and 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from reports.gallery import DIRECTIONS, moment_of, window_of
from reports.sentences import cause_sentence
from reports.tracks import CONTACT, Window, events, tracks

if TYPE_CHECKING:
    from scenarios.loading.comparison import Compared
    from simcore.tracing.tracing import StepFacts, TracedRun

Export = dict[str, Any]
MOST_STEPS = 8
"""On a page; each takes some 50 kilobytes."""
LEAST_EACH = 1
BOTH = "both"
WRONG = ("missed", "doubled", "reversed")


def gallery(designs: Sequence[Compared], export: Export) -> Export:
    """For each design the commonest sorts of step that went wrong in it or in the first one only."""
    each = max(LEAST_EACH, MOST_STEPS // len(export["comparisons"]))
    steps = []
    for number, comparison in enumerate(export["comparisons"], start=1):
        chosen = _chosen(comparison["partings"], each)
        steps += [_shown((designs[0], designs[number]), number + 1, row, export["seed"]) for row in chosen]
    return {"steps": steps[:MOST_STEPS], "left_out": max(0, len(steps) - MOST_STEPS)}


def _chosen(partings: Sequence[Export], most: int) -> list[Export]:
    """Sorts that are wrong in one design only, taken in turn from either side, the commonest first."""
    sides: list[list[Export]] = [[], []]
    for row in partings:
        wrong = [row[side]["verdict"] in WRONG for side in ("first", "other")]
        if wrong[0] != wrong[1]:
            sides[wrong[1]].append(row)
    sides.sort(key=lambda rows: -sum(row["steps"] for row in rows))
    turns = max(len(rows) for rows in sides)
    return [rows[turn] for turn in range(turns) for rows in sides if turn < len(rows)][:most]


def _shown(both: tuple[Compared, Compared], number: int, parting: Export, seed: int) -> Export:
    """One step in both designs; ``number`` is the other one's among all."""
    from simcore.tracing.tracing import trace_run

    runs = [trace_run(design.scenario.design, seed, parting["run"]) for design in both]
    steps = [run.step(parting["step"]) for run in runs]
    told = [_told(design, run, parting["step"]) for design, run in zip(both, runs, strict=True)]
    window, moment = _common(steps, [each["window"] for each in told])
    return {
        "designs": [design.name for design in both],
        "numbers": [1, number],
        "run": parting["run"],
        "step": parting["step"],
        "like_it": parting["steps"],
        "gesture": steps[0].gesture,
        "direction": DIRECTIONS.get(steps[0].direction, ""),
        "sides": [
            _side(step, each["why"], command)
            for step, each, command in zip(steps, told, parting["commands"], strict=True)
        ],
        "window_us": [window.us(window.start), window.us(window.end)],
        "moment_us": [window.us(moment[0]), window.us(moment[1])],
        "tracks": _tracks(runs, number, window, moment),
        "events": _events(runs, number, window),
    }


def _told(design: Compared, run: TracedRun, number: int) -> Export:
    """The stretch of time that a step's story tells of, and why the step went wrong."""
    from reports.evidence import case_of
    from reports.story import story_of

    story = story_of(case_of(design.scenario.design, run, number))
    return {"window": story.window, "why": [said.text for said in story.why]}


def _common(steps: Sequence[StepFacts], told: Sequence[tuple[int, int]]) -> tuple[Window, tuple[int, int]]:
    """What is drawn at all, enough for either design; and at first, what decided where it went wrong."""
    zero = steps[0].start
    windows = [window_of(step, zero, each) for step, each in zip(steps, told, strict=True)]
    moments = [moment_of(step, each) for step, each in zip(steps, told, strict=True) if step.verdict in WRONG]
    window = Window(min(each.start for each in windows), max(each.end for each in windows), zero)
    return window, (min(start for start, _ in moments), max(end for _, end in moments))


def _side(step: StepFacts, why: list[str], command: str) -> Export:
    """What became of the step in one design."""
    return {
        "verdict": step.verdict,
        "sentence": cause_sentence(step.cause) if step.verdict in WRONG else None,
        "wanted": step.expected,
        "counted": step.received,
        "why": why,
        "command": command,
    }


def _tracks(runs: Sequence[TracedRun], number: int, window: Window, moment: tuple[int, int]) -> list[Export]:
    """The contacts once, for they are the same; then all else of the first design, then of the other."""
    found: list[Export] = []
    for label, run in zip((1, number), runs, strict=True):
        for track in tracks(run, window, moment):
            if track["sort"] != CONTACT:
                found.append({**track, "design": str(label)})
            elif label == 1:
                found.append({**track, "design": ""})
    return found


def _events(runs: Sequence[TracedRun], number: int, window: Window) -> list[Export]:
    """What happened, in order; what both designs had alike comes once."""
    mine, theirs = (events(run, window) for run in runs)
    common = [each for each in mine if each in theirs]
    rows = [{**each, "in": BOTH} for each in common]
    for label, own in (("1", mine), (str(number), theirs)):
        rows += [{**each, "in": label} for each in own if each not in common]
    return sorted(rows, key=lambda each: float(each["time_us"]))
