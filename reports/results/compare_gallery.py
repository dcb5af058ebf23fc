"""Steps in which two designs differ, to look at: the same step in both, on one time axis.

Times are in microseconds from the beginning of the step, levels are 0 and 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, cast

from pydantic import Field

from reports.results.common import Count, DirectionOrRest, Integer, Pair, Positive, Record, Texts, Verdict
from reports.results.gallery import DIRECTIONS, DiagramEvent, DiagramTrack
from reports.words.sentences import WRONG_VERDICTS, cause_sentence

if TYPE_CHECKING:
    from reports.results.compare import DivergentSteps, PairedComparison
    from reports.stories.windows import TimeWindow
    from scenarios.loading.comparison import ComparisonDesign
    from simcore.tracing.tracing import TracedRun

MOST_STEPS = 8
"""On a page; each takes some 50 kilobytes."""
BOTH = "both"


class ComparedSide(Record):
    """What became of a step in one of two designs."""

    verdict: Verdict = Field(description="The step's verdict.")
    sentence: str | None = Field(description="What its root cause means; null unless it is wrong.")
    wanted: Integer = Field(description="Net counts that were expected.")
    counted: Integer = Field(description="Net counts received.")
    why: Texts = Field(description="Why the count went wrong, in sentences; empty unless it did.")
    command: str = Field(description="The command that explains the step in full.")


class ComparedTrack(DiagramTrack):
    """One track of a timing diagram of two designs."""

    design: str = Field(
        description='Number of its design; "" for a contact, which is the same in both designs.'
    )


class ComparedEvent(DiagramEvent):
    """Something that happened in the window of a diagram of two designs."""

    design: str = Field(
        validation_alias="in",
        serialization_alias="in",
        description='Number of the design in which it happened, or "both".',
    )


class ComparedStep(Record):
    """A step that went wrong in one of two designs only; its times count from its beginning."""

    designs: tuple[str, str] = Field(description="Names of the two designs.")
    numbers: tuple[Positive, Positive] = Field(description="Their numbers among all, from 1.")
    run: Count = Field(description="Number of the run.")
    step: Positive = Field(description="Number of the step in its run, from 1.")
    like_it: Positive = Field(description="Steps that ended in the same two ways.")
    gesture: str = Field(description="Name of the gesture.")
    direction: DirectionOrRest = Field(description="Direction in which the hand turned.")
    sides: tuple[ComparedSide, ComparedSide] = Field(
        description="The step in the first of the designs, and in the other."
    )
    window_us: Pair = Field(description="From and to (us): all that the step caused in either design.")
    moment_us: Pair = Field(
        description="From and to (us): where it was decided, in the design in which it went wrong."
    )
    tracks: tuple[ComparedTrack, ...] = Field(description="Tracks from top to bottom.")
    events: tuple[ComparedEvent, ...] = Field(
        description="What happened in the window, in order; at most 80 events of each design."
    )


class ComparisonGallery(Record):
    """Steps to look at, that went wrong in one design only."""

    steps: tuple[ComparedStep, ...] = Field(description="Steps, by design and by frequency.")
    left_out: Count = Field(description="Ways to differ for which there was no room.")

    @classmethod
    def of(
        cls, designs: Sequence[ComparisonDesign], comparisons: Sequence[PairedComparison], seed: int
    ) -> ComparisonGallery:
        """For each design the most frequent ways in which it, or the first one only, went wrong."""
        each = max(1, MOST_STEPS // len(comparisons))
        steps = [
            _step((designs[0], designs[number]), number + 1, row, seed)
            for number, comparison in enumerate(comparisons, start=1)
            for row in _chosen(comparison.partings, each)
        ]
        return cls(steps=tuple(steps[:MOST_STEPS]), left_out=max(0, len(steps) - MOST_STEPS))


def _chosen(rows: Sequence[DivergentSteps], most: int) -> list[DivergentSteps]:
    """Ways that are wrong in one design only, taken in turn from either side, the most frequent first."""
    sides: list[list[DivergentSteps]] = [[], []]
    for row in rows:
        first, other = row.first.verdict in WRONG_VERDICTS, row.other.verdict in WRONG_VERDICTS
        if first != other:
            sides[other].append(row)
    sides.sort(key=lambda side: -sum(row.steps for row in side))
    turns = max(len(side) for side in sides)
    return [side[turn] for turn in range(turns) for side in sides if turn < len(side)][:most]


def _step(
    both: tuple[ComparisonDesign, ComparisonDesign], number: int, row: DivergentSteps, seed: int
) -> ComparedStep:
    """One step in both designs; ``number`` is the other one's among all."""
    from reports.stories.evidence import case_of
    from reports.stories.story import story_of
    from reports.stories.windows import TimeWindow, moment_of, window_of
    from simcore.tracing.tracing import trace_run

    runs = [trace_run(design.scenario.design, seed, row.run) for design in both]
    steps = [run.step(row.step) for run in runs]
    stories = [
        story_of(case_of(design.scenario.design, run, row.step))
        for design, run in zip(both, runs, strict=True)
    ]
    zero = steps[0].start
    told = list(zip(steps, stories, strict=True))
    # What is drawn is enough for either design; at first it shows what decided where the step went wrong.
    windows = [window_of(step, zero, story.window) for step, story in told]
    window = TimeWindow(min(each.start for each in windows), max(each.end for each in windows), zero)
    moments = [moment_of(step, story.window) for step, story in told if step.verdict in WRONG_VERDICTS]
    moment = min(start for start, _ in moments), max(end for _, end in moments)
    first, other = (
        ComparedSide(
            verdict=cast(Verdict, step.verdict),
            sentence=cause_sentence(step.cause) if step.verdict in WRONG_VERDICTS else None,
            wanted=step.expected,
            counted=step.received,
            why=tuple(said.text for said in story.why),
            command=command,
        )
        for (step, story), command in zip(told, row.commands, strict=True)
    )
    return ComparedStep(
        designs=(both[0].name, both[1].name),
        numbers=(1, number),
        run=row.run,
        step=row.step,
        like_it=row.steps,
        gesture=steps[0].gesture,
        direction=DIRECTIONS[steps[0].direction],
        sides=(first, other),
        window_us=(window.us(window.start), window.us(window.end)),
        moment_us=(window.us(moment[0]), window.us(moment[1])),
        tracks=_tracks(runs, number, window, moment),
        events=_events(runs, number, window),
    )


def _tracks(
    runs: Sequence[TracedRun], number: int, window: TimeWindow, moment: tuple[int, int]
) -> tuple[ComparedTrack, ...]:
    """The contacts once, for they are the same; then all else of the first design, then of the other."""
    from reports.stories.tracks import tracks

    found = []
    for label, run in zip((1, number), runs, strict=True):
        for track in tracks(run, window, moment):
            shared = track.sort == "contact"
            if not shared or label == 1:
                found.append(ComparedTrack(**dict(track), design="" if shared else str(label)))
    return tuple(found)


def _events(runs: Sequence[TracedRun], number: int, window: TimeWindow) -> tuple[ComparedEvent, ...]:
    """What happened, in order; what is the same in both designs comes once."""
    from reports.stories.tracks import events

    mine, theirs = (events(run, window) for run in runs)
    common = [each for each in mine if each in theirs]
    found = [ComparedEvent(**dict(each), design=BOTH) for each in common]
    for label, own in (("1", mine), (str(number), theirs)):
        found += [ComparedEvent(**dict(each), design=label) for each in own if each not in common]
    return tuple(sorted(found, key=lambda each: each.time_us))
