"""The result of ``steptally trace``."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Literal

from pydantic import Field

from reports.results.common import (
    NAME,
    SCENARIO,
    SEED,
    TITLE,
    Amount,
    Count,
    Direction,
    Flag,
    Frozen,
    Integer,
    LineName,
    Number,
    Pair,
    Positive,
    PulseDoubt,
    Record,
    ResolvedScenario,
    Result,
    RootCause,
    Row,
    Verdict,
    Versions,
    flat,
)

ChangeOrigin = Literal[
    "the crossing itself", "chatter in the edge zone", "rebound after a make", "a later packet of chatter",
    "a straggler", "an open while sliding", "telegraph chatter", "recorded chatter", "pick-up on the line",
    "noise on a slow edge", "power-up", "a dip of the supply",
]  # fmt: skip
LogicLevel = Literal[0, 1]
CauseOrSpurious = RootCause | Literal["spurious"]

ORIGIN = "The kind of change at the contact, or without one, behind it."
AT = "When (s into the run)."
STORY_AT = "When (s from zero_s)."
PULSE_ASKED = "Counts that the pulse calls for; 0 if it was ignored."
PULSE_MOVED = "How far the position moved (counts)."
PULSE_POSITION = "Position after the pulse (counts)."
PULSE_DOUBTS = "Timing violations and other reasons why the outcome of the pulse is not certain."
BOUNDARY = "Number of the contact boundary behind it, from 0; null if no movement is behind it."


class SearchHit(Record):
    """The run and step furthest off by one root cause."""

    run: Count = Field(description="Number of the run.")
    step: Positive | None = Field(description="Number of the step, from 1; null for spurious.")


class TraceSearch(Record):
    """What --worst searched, and what it found."""

    seed: Count = Field(description=SEED)
    first_run: Count = Field(description="Number of the first run searched.")
    runs: Positive = Field(description="Runs searched.")
    wanted: CauseOrSpurious | None = Field(description="The root cause searched for; null for all of them.")
    found: Frozen[CauseOrSpurious, SearchHit] = Field(
        description="By root cause (and spurious), the run and step furthest off."
    )


class StatedQuantity(Record):
    """A time or voltage that a sentence states."""

    written: str = Field(description="As it stands in the text.")
    what: Literal["instant", "span", "limit", "volts", "rising threshold", "falling threshold", "noise"] = (
        Field(
            description="An instant, a span between two instants, a limit of the counter, a voltage, a "
            "threshold in force, or noise (rms)."
        )
    )
    value: Number = Field(
        description="Seconds or volts; an instant counts from zero_s of the story, in sentences about "
        "spurious counts from the start of the run."
    )
    line: LineName | None = Field(description="The line whose voltage it is; null for a time.")
    since_s: Number | None = Field(description="Beginning of a span (s into the run); null for the others.")
    at_s: Number | None = Field(
        description="Instant at which it holds, of a span its end (s into the run); null for a limit."
    )


class StatedSentence(Record):
    """A sentence with the quantities that it states."""

    text: str = Field(description="The sentence.")
    states: tuple[StatedQuantity, ...] = Field(
        description="Every time and voltage in it, in order of writing."
    )


class TraceMovement(Record):
    """A movement of the hand."""

    start_s: Number = Field(description="Start (s into the run).")
    end_s: Number = Field(description="End (s into the run).")
    gesture: str = Field(description="The gesture's name.")
    steps: Number = Field(description="Steps turned, negative for down.")
    joined: Flag = Field(description="Whether it continues the movement before.")
    first_step: Positive = Field(description="Number of the first step that it begins.")
    begun: Count = Field(description="Number of steps that it begins.")


class TraceStep(Record):
    """A step of the run."""

    number: Positive = Field(description="Its number in the run, from 1.")
    gesture: str = Field(description="The gesture's name.")
    direction: Direction = Field(description="The intended direction.")
    meant: Literal["a step", "part of a step", "nothing"] = Field(
        description="How much of a step was intended."
    )
    start_s: Number = Field(description="First thing that the step caused (s into the run).")
    end_s: Number = Field(description="Last thing that the step caused (s into the run).")
    expected: Integer = Field(description="Net count expected.")
    received: Integer = Field(description="Net count received.")
    bounce_free: Integer = Field(description="Net count that bounce-free contacts give.")
    counts: Count = Field(description="Pulses that call for a count.")
    verdict: Verdict = Field(description="The step's verdict.")
    cause: RootCause | None = Field(description="Root cause of a wrong step; null for the others.")


class ContactBurst(Record):
    """One contact boundary of the step, with its bounce."""

    at_s: Number = Field(description="First change (s from zero_s).")
    line: LineName = Field(description="The contact.")
    closed: Flag = Field(description="Whether the contact closes.")
    changes: Positive = Field(description="Number of changes, 1 without bounce.")
    length_s: Amount = Field(description="From the first change to the last (s).")
    longest_gap_s: Amount = Field(description="Longest time between two neighbouring changes (s).")
    origins: tuple[ChangeOrigin, ...] = Field(description="Kinds of change in it.")
    edges: Count = Field(description="Edges at the counter that it caused.")
    first_edge_s: Number | None = Field(description="The first of them (s from zero_s); null without one.")


class ThresholdMeeting(Record):
    """A voltage that meets a threshold, or stays short of it."""

    at_s: Number = Field(description=STORY_AT)
    line: LineName = Field(description="The line.")
    volts: Number = Field(description="Voltage (V).")
    rising: Flag = Field(description="Whether the voltage rises.")
    threshold: Number = Field(description="The threshold in that direction (V).")
    level: LogicLevel | None = Field(
        description="Level at the input's output from then on; null if the input saw no change."
    )


class PassedChanges(Record):
    """Changes of the step's contacts that are left after one place of the chain."""

    name: str = Field(description="The contact, or the stage's name.")
    A: Count | None = Field(description="Changes on line A; null if the line does not pass it.")
    B: Count | None = Field(description="Changes on line B; null if the line does not pass it.")


class StoryPulse(Record):
    """A pulse of the counter that belongs to the step."""

    at_s: Number = Field(description=STORY_AT)
    asked: Integer = Field(description=PULSE_ASKED)
    moved: Integer = Field(description=PULSE_MOVED)
    position: Integer = Field(description=PULSE_POSITION)
    by: str = Field(description="The movement of the contact behind it.")
    origin: ChangeOrigin = Field(description=ORIGIN)
    doubts: tuple[PulseDoubt, ...] = Field(description=PULSE_DOUBTS)
    levels: tuple[LogicLevel, LogicLevel] = Field(description="Levels of A and B at the counter.")
    volts: tuple[Number | None, Number | None] = Field(
        description="Voltages of A and B (V); null where there is none."
    )


class StepStory(Record):
    """One step explained in order; its times count from zero_s."""

    zero_s: Number = Field(description="What the times of the story count from (s into the run).")
    zero: str = Field(description="The same in words.")
    window_s: Pair = Field(description="Beginning and end of the timing diagram (s into the run).")
    closer_s: Pair | None = Field(
        description="Beginning and end of a second diagram, of what is too narrow to be seen in the first (s "
        "into the run); null for none."
    )
    hand: tuple[StatedSentence, ...] = Field(description="What the hand did.")
    contacts: tuple[ContactBurst, ...] = Field(description="One entry for each contact boundary of the step.")
    voltages: tuple[ThresholdMeeting, ...] = Field(
        description="Where a voltage met a threshold, and where it stayed short of it."
    )
    passed: tuple[PassedChanges, ...] = Field(
        description="Changes of the step's contacts that are left after each place of the chain."
    )
    counter: tuple[StoryPulse, ...] = Field(description="The counter's pulses of the step.")
    why: tuple[StatedSentence, ...] = Field(
        description="The chain of causes; empty for a step that was not wrong."
    )


class LevelChange(Record):
    """A change of level at one place of the chain."""

    at_s: Number = Field(description=AT)
    level: LogicLevel = Field(description="The level from then on.")
    origin: ChangeOrigin = Field(description=ORIGIN)
    transition: Count | None = Field(description=BOUNDARY)


class PlaceLevels(Record):
    """The level at one place of the chain over the run."""

    name: str = Field(description="The contact, or the stage's name.")
    first: LogicLevel = Field(description="Level before the first change; of a contact 1 is closed.")
    changes: tuple[LevelChange, ...] = Field(description="Every change, in order.")


class NodeEvent(Record):
    """The voltage of a node at one event, with the thresholds in force."""

    at_s: Number = Field(description=AT)
    volts: Number = Field(description="Voltage (V), after a jump if there is one.")
    rising: Number = Field(description="Rising threshold in force (V).")
    falling: Number = Field(description="Falling threshold in force (V).")


class NodeTrace(Record):
    """The voltage at the input of a line."""

    name: str = Field(description="The input, with the network in front of it.")
    noise_v: Amount = Field(description="Noise on the voltage (V rms).")
    events: tuple[NodeEvent, ...] = Field(
        description="The voltage at each event of the line; between two events it follows the network's law."
    )


class LineTrace(Record):
    """One line in full."""

    contact: PlaceLevels = Field(description="What the contact did.")
    node: NodeTrace | None = Field(
        description="The voltage at the line's input; null where the line has none."
    )
    stages: tuple[PlaceLevels, ...] = Field(description="The output of each stage of the line.")


class LineTraces(Record):
    """Both lines in full."""

    A: LineTrace = Field(description="Line A.")
    B: LineTrace = Field(description="Line B.")


class TracePulse(Record):
    """A pulse of the counter."""

    at_s: Number = Field(description=AT)
    asked: Integer = Field(description=PULSE_ASKED)
    moved: Integer = Field(description=PULSE_MOVED)
    position: Integer = Field(description=PULSE_POSITION)
    step: Positive | None = Field(description="Number of the step it belongs to; null for none.")
    transition: Count | None = Field(description=BOUNDARY)
    origin: ChangeOrigin = Field(description=ORIGIN)
    doubts: tuple[PulseDoubt, ...] = Field(description=PULSE_DOUBTS)


class RunTrace(Record):
    """One run in full, with one of its steps explained."""

    searched_for: CauseOrSpurious | None = Field(
        description="The root cause that the run was searched for; null for none."
    )
    seed: Count = Field(description=SEED)
    run: Count = Field(description="Number of the run.")
    positions: tuple[Integer, Integer] = Field(
        description="The counter's position at the start and at the end (counts)."
    )
    error: Integer = Field(description="Final position minus expected position (counts).")
    movements: tuple[TraceMovement, ...] = Field(description="Movements of the hand, in order.")
    steps: tuple[TraceStep, ...] = Field(description="All steps of the run.")
    spurious: tuple[StatedSentence, ...] = Field(
        description="Sentences about counts that no movement caused."
    )
    step: Positive | None = Field(description="Number of the step that is explained; null for none.")
    story: StepStory | None = Field(description="That step explained in order; null for none.")
    lines: LineTraces = Field(description="Both lines in full.")
    pulses: tuple[TracePulse, ...] = Field(description="Every pulse of the counter.")


class TraceResult(Result):
    """One run or several explained in order, each with the story of one of its steps."""

    name: str = Field(description=NAME)
    title: str = Field(description=TITLE)
    scenario: ResolvedScenario = Field(description=SCENARIO)
    versions: Versions = Field(description="What the result was made with.")
    searched: TraceSearch | None = Field(description="What --worst searched; null without it.")
    traces: tuple[RunTrace, ...] = Field(description="The runs explained.")

    @property
    def places(self) -> tuple[tuple[int, int | None], ...]:
        """The runs explained, each with the number of the step explained, None where there is none."""
        return tuple((each.run, each.step) for each in self.traces)

    @property
    def errors(self) -> tuple[int, ...]:
        """Final position minus the position expected, of each run (counts)."""
        return tuple(each.error for each in self.traces)

    @property
    def why(self) -> tuple[str, ...]:
        """The sentences that say why the steps explained went wrong."""
        stories = (each.story for each in self.traces if each.story is not None)
        return tuple(sentence.text for story in stories for sentence in story.why)

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        traces = list({trace.run: trace for trace in self.traces}.values())
        return {
            "runs": [_run_row(trace) for trace in self.traces],
            "movements": [flat(each, run=trace.run) for trace in traces for each in trace.movements],
            "steps": [flat(each, run=trace.run) for trace in traces for each in trace.steps],
            "pulses": [flat(each, run=trace.run) for trace in traces for each in trace.pulses],
            "changes": [row for trace in traces for row in _change_rows(trace)],
            "voltages": [row for trace in traces for row in _voltage_rows(trace)],
        }


def _run_row(trace: RunTrace) -> Row:
    start, end = trace.positions
    return {
        "run": trace.run,
        "seed": trace.seed,
        "searched_for": trace.searched_for,
        "step": trace.step,
        "error": trace.error,
        "position_at_start": start,
        "position_at_end": end,
    }


def _change_rows(trace: RunTrace) -> Iterator[Row]:
    """Every change of every line at every place."""
    for name, line in trace.lines:
        for place in (line.contact, *line.stages):
            for each in place.changes:
                yield flat(each, run=trace.run, line=name, place=place.name)


def _voltage_rows(trace: RunTrace) -> Iterator[Row]:
    """The voltage of each line at its events, with the thresholds in force."""
    for name, line in trace.lines:
        for each in () if line.node is None else line.node.events:
            yield flat(each, run=trace.run, line=name)
