"""Timing diagrams of single steps, as the results of ``run`` and ``compare`` hold them for their pages."""

from __future__ import annotations

from typing import Literal

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


class StepGallery(Record):
    """Wrong steps to look at, one for each root cause."""

    searched_runs: Count = Field(description="Runs that were searched, from the first on.")
    steps: tuple[GalleryStep, ...] = Field(
        description="One step for each root cause that occurs in them, most frequent first."
    )
