"""Timing diagrams of single steps, as the results of ``run`` and ``compare`` hold them for their pages."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, cast

from pydantic import Field

from reports.results.common import (
    Count,
    DirectionOrRest,
    Integer,
    LineName,
    Number,
    Pair,
    Positive,
    Record,
    Verdict,
)

if TYPE_CHECKING:
    from reports.words.commands import NamedScenario
    from simcore.design import Design
    from simcore.judging.tally import Tally
    from simcore.tracing.tracing import TracedRun

MOST_RUNS = 20_000
"""Runs that are searched; more would make the page wait longer than the simulation itself."""
DIRECTIONS: dict[int, DirectionOrRest] = {1: "up", -1: "down", 0: ""}
Times = tuple[Number, ...]


class DiagramThreshold(Record):
    """A threshold in the window of a diagram."""

    name: Literal["rising", "falling"] = Field(description="Which threshold.")
    times_us: Times = Field(description="From when on (us); the last is the end of the window.")
    volts: tuple[Number, ...] = Field(description="The threshold from each time on (V).")


class DiagramTrack(Record):
    """One track of a timing diagram."""

    name: str = Field(description="What the track shows.")
    line: LineName | Literal[""] = Field(description='Its line; "" for the count.')
    sort: Literal["contact", "voltage", "level", "count"] = Field(
        description="contact: 1 closed, 0 open; voltage: volts, straight between the points; level: 1 high, "
        "0 low; count: the position."
    )
    times_us: Times = Field(
        description="Times (us) from which the values hold; the first and the last are those of the window."
    )
    values: tuple[Number | Integer, ...] = Field(description="The value from each time on, see sort.")
    thresholds: tuple[DiagramThreshold, ...] = Field(description="Thresholds of a voltage, else empty.")


class DiagramEvent(Record):
    """Something that happened in the window of a diagram."""

    time_us: Number = Field(description="When (us).")
    what: str = Field(description="What, in words.")


class GalleryStep(Record):
    """A wrong step; its times count from its beginning."""

    cause: str = Field(description="The root cause.")
    sentence: str = Field(description="What the root cause means.")
    run: Count = Field(description="Number of the run.")
    step: Positive = Field(description="Number of the step in its run, from 1.")
    gesture: str = Field(description="Name of the gesture.")
    direction: DirectionOrRest = Field(description="Direction in which the hand turned.")
    verdict: Verdict = Field(description="The step's verdict.")
    wanted: Integer = Field(description="Net counts that were expected.")
    counted: Integer = Field(description="Net counts received.")
    story: tuple[str, ...] = Field(
        description="What the hand did and why the count went wrong, in sentences with times and voltages."
    )
    command: str = Field(description="The command that explains this step in full.")
    window_us: Pair = Field(description="From and to (us): all that the step caused.")
    moment_us: Pair = Field(description="From and to (us): where it was decided.")
    tracks: tuple[DiagramTrack, ...] = Field(description="Tracks from top to bottom.")
    events: tuple[DiagramEvent, ...] = Field(
        description="What happened in the window, in order; at most 80 events."
    )

    @classmethod
    def of(cls, design: Design, run: TracedRun, number: int, cause: str, named: NamedScenario) -> GalleryStep:
        """Step ``number`` of a run, which went wrong by ``cause``; ``named`` is how a command names the
        design.
        """
        from reports.stories.evidence import case_of
        from reports.stories.story import story_of
        from reports.stories.tracks import events, tracks
        from reports.stories.windows import moment_of, window_of
        from reports.words.commands import trace_command
        from reports.words.sentences import cause_sentence

        step = run.step(number)
        story = story_of(case_of(design, run, number))
        window = window_of(step, story.zero, story.window)
        moment = moment_of(step, story.window)
        return cls(
            cause=cause,
            sentence=cause_sentence(cause),
            run=run.run,
            step=number,
            gesture=step.gesture,
            direction=DIRECTIONS[step.direction],
            verdict=cast(Verdict, step.verdict),
            wanted=step.expected,
            counted=step.received,
            story=tuple(said.text for said in (*story.hand, *story.why)),
            command=trace_command(named, run.seed, run.run, number),
            window_us=(window.us(window.start), window.us(window.end)),
            moment_us=(window.us(moment[0]), window.us(moment[1])),
            tracks=tracks(run, window, moment),
            events=events(run, window),
        )


class StepGallery(Record):
    """Wrong steps to look at, one for each root cause."""

    searched_runs: Count = Field(description="Runs that were searched, from the first on.")
    steps: tuple[GalleryStep, ...] = Field(
        description="One step for each root cause that occurs in them, most frequent first."
    )

    @classmethod
    def of(cls, design: Design, tally: Tally, seed: int, first_run: int, named: NamedScenario) -> StepGallery:
        """For each root cause that occurs in the first runs, the step that is furthest off; ``named`` is how
        a command names the design.
        """
        from simcore.tracing.tracing import trace_run
        from simcore.tracing.worst import search

        searched = min(tally.runs, MOST_RUNS)
        found = search(design, seed, searched, first_run).steps if searched and tally.wrong else {}
        steps = [
            GalleryStep.of(design, trace_run(design, seed, found[cause][0]), found[cause][1], cause, named)
            for cause in tally.causes
            if cause in found
        ]
        return cls(searched_runs=searched, steps=tuple(steps))
