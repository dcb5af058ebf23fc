"""The result of ``steptally trace``."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Literal, cast

from pydantic import Field, PrivateAttr

from reports.results.common import (
    NAME,
    SCENARIO,
    SEED,
    TICK,
    TITLE,
    Amount,
    Count,
    Direction,
    Flag,
    Frozen,
    Integer,
    Number,
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
from reports.results.story import (
    AT,
    ORIGIN,
    PULSE_ASKED,
    PULSE_DOUBTS,
    PULSE_MOVED,
    PULSE_POSITION,
    ChangeOrigin,
    LogicLevel,
    StatedSentence,
    StepStory,
    logic_level,
    origin_name,
    pulse_doubts,
)

if TYPE_CHECKING:
    from reports.documents.document import Document
    from reports.stories.evidence import Case
    from reports.stories.story import Story
    from scenarios.loading.load import Scenario
    from simcore.tracing.tracing import (
        LineNode,
        PulseFacts,
        StepFacts,
        TracedLine,
        TracedMovement,
        TracedRun,
        Trail,
    )

BOUNDARY = "Number of the contact boundary behind it, from 0; null if no movement is behind it."

CauseOrSpurious = RootCause | Literal["spurious"]

INTENDED: tuple[Literal["part of a step"], Literal["a step"], Literal["nothing"]] = (
    "part of a step", "a step", "nothing",
)  # fmt: skip
"""Words for simcore.base.records.PART, WHOLE and NOTHING_MEANT."""


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


class TraceMovement(Record):
    """A movement of the hand."""

    start_s: Number = Field(description="Start (s into the run).")
    end_s: Number = Field(description="End (s into the run).")
    gesture: str = Field(description="The gesture's name.")
    steps: Number = Field(description="Steps turned, negative for down.")
    joined: Flag = Field(description="Whether it continues the movement before.")
    first_step: Positive = Field(description="Number of the first step that it begins.")
    begun: Count = Field(description="Number of steps that it begins.")

    @classmethod
    def of(cls, each: TracedMovement) -> TraceMovement:
        return cls(
            start_s=each.start * TICK,
            end_s=each.end * TICK,
            gesture=each.name,
            steps=each.steps,
            joined=each.joined,
            first_step=each.first_step,
            begun=each.begun,
        )


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

    @classmethod
    def of(cls, step: StepFacts) -> TraceStep:
        return cls(
            number=step.number,
            gesture=step.gesture,
            direction="up" if step.direction > 0 else "down",
            meant=INTENDED[step.whole],
            start_s=step.start * TICK,
            end_s=step.end * TICK,
            expected=step.expected,
            received=step.received,
            bounce_free=step.clean_net,
            counts=step.moves,
            verdict=cast(Verdict, step.verdict),
            cause=None if step.cause == "none" else cast(RootCause, step.cause),
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

    @classmethod
    def of(cls, trail: Trail) -> PlaceLevels:
        columns = (trail.ticks, trail.levels, trail.origins, trail.transitions)
        rows = zip(*(column.tolist() for column in columns), strict=True)
        return cls(
            name=trail.name,
            first=logic_level(trail.first),
            changes=tuple(
                LevelChange.model_construct(
                    at_s=tick * TICK,
                    level=level,
                    origin=origin_name(origin),
                    transition=None if transition < 0 else transition,
                )
                for tick, level, origin, transition in rows
            ),
        )


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

    @classmethod
    def of(cls, node: LineNode) -> NodeTrace:
        columns = (node.knots, node.volts(node.knots), node.rising, node.falling)
        rows = zip(*(column.tolist() for column in columns), strict=True)
        return cls(
            name=node.name,
            noise_v=node.noise,
            events=tuple(
                NodeEvent.model_construct(at_s=tick * TICK, volts=volts, rising=rising, falling=falling)
                for tick, volts, rising, falling in rows
            ),
        )


class LineTrace(Record):
    """One line in full."""

    contact: PlaceLevels = Field(description="What the contact did.")
    node: NodeTrace | None = Field(
        description="The voltage at the line's input; null where the line has none."
    )
    stages: tuple[PlaceLevels, ...] = Field(description="The output of each stage of the line.")

    @classmethod
    def of(cls, line: TracedLine) -> LineTrace:
        return cls(
            contact=PlaceLevels.of(line.contact),
            node=None if line.node is None else NodeTrace.of(line.node),
            stages=tuple(map(PlaceLevels.of, line.stages)),
        )


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

    @classmethod
    def of(cls, pulse: PulseFacts) -> TracePulse:
        return cls(
            at_s=pulse.tick * TICK,
            asked=pulse.asked,
            moved=pulse.moved,
            position=pulse.position,
            step=pulse.step or None,
            transition=None if pulse.transition < 0 else pulse.transition,
            origin=origin_name(pulse.origin),
            doubts=pulse_doubts(pulse),
        )


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

    @classmethod
    def of(cls, traced: TracedRun, case: Case | None, story: Story | None, cause: str | None) -> RunTrace:
        from reports.stories.edges import spurious_words
        from reports.stories.teller import Teller

        a, b = traced.lines
        return cls(
            searched_for=cast("CauseOrSpurious | None", cause),
            seed=traced.seed,
            run=traced.run,
            positions=(traced.start_position, traced.position),
            error=traced.error,
            movements=tuple(map(TraceMovement.of, traced.movements)),
            steps=tuple(map(TraceStep.of, traced.steps)),
            spurious=tuple(map(StatedSentence.of, spurious_words(traced, Teller(traced, 0)))),
            step=None if case is None else case.step.number,
            story=None if case is None or story is None else StepStory.of(case, story),
            lines=LineTraces(A=LineTrace.of(a), B=LineTrace.of(b)),
            pulses=tuple(map(TracePulse.of, traced.pulses)),
        )

    @property
    def wrong(self) -> int:
        return sum(step.cause is not None for step in self.steps)


class TraceResult(Result):
    """One run or several explained in order, each with the story of one of its steps."""

    name: str = Field(description=NAME)
    title: str = Field(description=TITLE)
    scenario: ResolvedScenario = Field(description=SCENARIO)
    versions: Versions = Field(description="What the result was made with.")
    searched: TraceSearch | None = Field(description="What --worst searched; null without it.")
    traces: tuple[RunTrace, ...] = Field(description="The runs explained.")

    _facts: tuple[tuple[TracedRun, Story | None], ...] = PrivateAttr(default=())
    """The facts of each run, for diagrams and files."""
    _overview: bool = PrivateAttr(default=False)
    """Whether the table of all steps comes before a story."""

    @classmethod
    def of(
        cls,
        scenario: Scenario,
        searched: TraceSearch | None,
        runs: Sequence[tuple[TracedRun, int | None, str | None]],
        *,
        overview: bool = False,
    ) -> TraceResult:
        """Traced runs, each with the number of the step to explain (None: its first wrong one, if there is
        one) and what it was searched for.
        """
        from reports.results.building import versions
        from reports.stories.evidence import case_of
        from reports.stories.story import story_of

        traces, facts = [], []
        for traced, number, cause in runs:
            chosen = number if number is not None else first_wrong(traced)
            case = None if chosen is None else case_of(scenario.design, traced, chosen)
            story = None if case is None else story_of(case)
            traces.append(RunTrace.of(traced, case, story, cause))
            facts.append((traced, story))
        result = cls(
            name=scenario.name,
            title=scenario.title,
            scenario=scenario.resolved,
            versions=versions(),
            searched=searched,
            traces=tuple(traces),
        )
        result._facts, result._overview = tuple(facts), overview
        return result

    def document(self) -> Document:
        from reports.documents.trace import document

        return document(self, self._facts, overview=self._overview)

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

    def save_vcd(self, file: str | os.PathLike[str]) -> None:
        """Write the one run as a value change dump.  Raises BadInput."""
        self._save("--vcd", file)

    def save_csv(self, file: str | os.PathLike[str]) -> None:
        """Write every change of the one run as a CSV table, which `replay` takes.  Raises BadInput."""
        self._save("--csv", file)

    def save_csv_steps(self, file: str | os.PathLike[str]) -> None:
        """Write the steps of the one run as a CSV table.  Raises BadInput."""
        self._save("--csv-steps", file)

    def save(self, files: Mapping[str, str]) -> None:
        """Write the files that options name; `troubles` tells what could not be written."""
        from reports.output import failures_of

        for option, place in files.items():
            self._troubles += failures_of(partial(self._save, option, place))

    def _save(self, option: str, file: str | os.PathLike[str]) -> None:
        from reports.output import require_places
        from reports.stories.dumps import write_edges_csv, write_steps_csv, write_vcd

        writers = {"--vcd": write_vcd, "--csv": write_edges_csv, "--csv-steps": write_steps_csv}
        require_one_run([option], len(self._facts))
        require_places({option: os.fspath(file)}, self._read)
        writers[option](self._facts[0][0], os.fspath(file))

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


def require_one_run(options: Sequence[str], count: int) -> None:
    """Raise BadInput where ``options`` take one run and there are ``count``."""
    if options and count != 1:
        from reports.errors import BadInput

        words = " and ".join(options)
        there = f"there are {count}" if count else "the search found none"
        raise BadInput(f"{words}: one run is needed, and {there}; name one with --run N")


def first_wrong(traced: TracedRun) -> int | None:
    return next((step.number for step in traced.steps if step.cause != "none"), None)
