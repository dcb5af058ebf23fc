"""The result of ``steptally replay``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Literal, cast

from pydantic import Field, PrivateAttr

from reports.results.common import (
    CAUTIONS,
    LINES,
    NAME,
    SCENARIO,
    SEED,
    TITLE,
    Amount,
    Count,
    Flag,
    Frozen,
    Integer,
    LineName,
    Number,
    Positive,
    PulseDoubt,
    Record,
    ResolvedScenario,
    Result,
    RootCause,
    Row,
    Texts,
    Verdict,
    VerdictCounts,
    Versions,
    flat,
)

if TYPE_CHECKING:
    from reports.documents.document import Document
    from scenarios.loading.load import Scenario
    from scenarios.traces.record import Trace
    from scenarios.traces.rows import Threshold
    from simcore.base.records import Edges, Ints, Pulses
    from simcore.tracing.replay import Burst, BurstVerdict, Replay, Totals

ROWS = 40
"""Rows of a table, unless another number is given."""


@dataclass(frozen=True)
class ReplaySettings:
    """How a recording is read: the recorded level of a closed contact (0 or 1), the settling time (ticks),
    the thresholds of one in volts, the seed, and the run whose parts are drawn, None for nominal parts.
    """

    closed: int
    settle: int
    threshold: Threshold | None
    seed: int
    run: int | None


class RecordingColumn(Record):
    """A column of the file that was read."""

    role: Literal["time", "A", "B"] = Field(description="What the column holds.")
    number: Positive = Field(
        description="Its number, from 1; of a variable of a value change dump, in the order of declarations."
    )
    name: str = Field(
        description="Its name in the header, empty without one; a variable's name with its scopes."
    )


class LineChanges(Record):
    """Changes of each line."""

    A: Count = Field(description="Changes of line A.")
    B: Count = Field(description="Changes of line B.")


class VoltageExtremes(Record):
    """Extremes of a recorded voltage."""

    low: Number = Field(description="Lowest voltage (V).")
    high: Number = Field(description="Highest voltage (V).")


class LineVoltages(Record):
    """Extremes of each line's voltage."""

    A: VoltageExtremes = Field(description="Extremes of line A.")
    B: VoltageExtremes = Field(description="Extremes of line B.")


class ReadingThresholds(Record):
    """Thresholds by which a recording in volts is read."""

    rising: Number = Field(description="A line reads 1 from this voltage up (V).")
    falling: Number = Field(description="A line reads 0 below this voltage (V).")


class RecordingRead(Record):
    """The recording that was read, and how it was read."""

    file: str = Field(description="The recording's file.")
    rows: Count = Field(description="Rows of numbers; of a value change dump, its times.")
    comments: Count = Field(description="Comments and empty lines that were left out.")
    format: Literal["CSV", "value change dump"] = Field(description="Kind of file.")
    separated_by: str = Field(description="What separates the cells of a row, in words.")
    columns: tuple[RecordingColumn, ...] = Field(
        min_length=2,
        max_length=3,
        description="The columns taken, for time, A and B; of a value change dump, the variables of A and B.",
    )
    columns_from: Literal["asked", "named", "order"] = Field(
        description="Whether the columns were given by the user, named by the header, or taken in order."
    )
    width: Positive = Field(description="Cells in a row; variables of a value change dump.")
    unit_s: Amount = Field(
        description="One count of the time column, or of the times of a value change dump (s)."
    )
    unit_from: Literal["asked", "header", "assumed"] = Field(
        description="Source of the unit: the user, the file's header, or an assumed second."
    )
    whole_times: Flag = Field(description="Whether every time is a whole number.")
    starts_at_s: Number = Field(description="Time of the first row on the recorder's own clock (s).")
    duration_s: Amount = Field(description="From the first row to the last (s).")
    recorded: Literal["on change", "fixed rate", "uneven samples"] = Field(
        description="When the recorder wrote a row."
    )
    shortest_interval_s: Amount = Field(description="Shortest interval between rows of different times (s).")
    longest_interval_s: Amount = Field(description="Longest interval between rows (s).")
    changes: LineChanges = Field(description="Changes of each line.")
    pauses: Count = Field(description="How often a value change dump stops dumping.")
    paused_s: Amount = Field(description="Duration of these pauses together (s).")
    together: Count = Field(description="Instants at which A and B change at once; A is taken first.")
    together_at_s: Amount | None = Field(
        description="The first of them (s after the first row); null without one."
    )
    volts: LineVoltages | None = Field(
        description="Extremes of each line's voltage; null for a recording of 0 and 1."
    )
    threshold: ReadingThresholds | None = Field(
        description="Thresholds of a recording in volts; null for one of 0 and 1."
    )
    closed: Literal["low", "high"] = Field(description="The recorded level of a closed contact.")

    @classmethod
    def of(cls, trace: Trace, settings: ReplaySettings) -> RecordingRead:
        from scenarios.traces.rows import DUMP

        notes = trace.notes
        form, together = notes.form, notes.together_at
        a, b = (int(times.size) for times in trace.times)
        named = zip(("time", *LINES), form.columns.indices, form.columns.names, strict=True)
        volts = None
        if notes.volts is not None:
            low, high = (VoltageExtremes(**each._asdict()) for each in notes.volts)
            volts = LineVoltages(A=low, B=high)
        cut = settings.threshold
        return cls(
            file=trace.path,
            rows=notes.rows,
            comments=notes.comments,
            format="value change dump" if form.layout == DUMP else "CSV",
            separated_by=form.layout.words,
            columns=tuple(
                RecordingColumn(role=cast('Literal["time", "A", "B"]', role), number=index + 1, name=name)
                for role, index, name in named
                if index >= 0
            ),
            columns_from=cast('Literal["asked", "named", "order"]', form.columns.found),
            width=form.width,
            unit_s=seconds(form.unit),
            unit_from=cast('Literal["asked", "header", "assumed"]', form.unit_from),
            whole_times=notes.whole_times,
            starts_at_s=seconds(notes.start),
            duration_s=seconds(notes.duration),
            recorded=cast('Literal["on change", "fixed rate", "uneven samples"]', notes.kind),
            shortest_interval_s=seconds(notes.shortest),
            longest_interval_s=seconds(notes.longest),
            changes=LineChanges(A=a, B=b),
            pauses=notes.pauses.number,
            paused_s=seconds(notes.pauses.ticks),
            together=notes.together,
            together_at_s=None if together is None else seconds(together),
            volts=volts,
            threshold=None if cut is None else ReadingThresholds(rising=cut.rising, falling=cut.falling),
            closed="high" if settings.closed else "low",
        )


class PlaceEdges(Record):
    """Edges that are left after one place of a line."""

    after: str = Field(description='"contact", or the name of the stage.')
    edges: Count = Field(description="Edges after it.")


class LineEdges(Record):
    """Edges that are left after each place of both lines."""

    A: tuple[PlaceEdges, ...] = Field(
        min_length=1, description="Edges of line A at the contact and after each stage."
    )
    B: tuple[PlaceEdges, ...] = Field(
        min_length=1, description="Edges of line B at the contact and after each stage."
    )


class ReplayPulse(Record):
    """A pulse of the counter."""

    time_s: Amount = Field(description="When (s after the recording's first row).")
    count: Integer = Field(
        ge=-1,
        le=1,
        description="Count that the pulse calls for: 1, -1, or 0 for a pulse that was ignored or could not "
        "be decided.",
    )
    moved: Integer = Field(
        ge=-1, le=1, description="How far the position moved (counts); 0 where an end stop held it."
    )
    position: Integer = Field(description="The position afterwards (counts).")
    burst: Positive | None = Field(description="Number of the burst that caused it; null for none.")
    doubts: tuple[PulseDoubt, ...] = Field(
        description="Timing violations and other reasons why the outcome of the pulse is not certain."
    )


class CountTotals(Record):
    """Totals of the counter's pulses."""

    up: Count = Field(description="Counts up.")
    down: Count = Field(description="Counts down.")
    net: Integer = Field(description="Counts up minus counts down.")
    ignored: Count = Field(description="Pulses that were ignored or could not be decided.")
    doubtful: Count = Field(description="Pulses whose outcome is not certain, end stops aside.")
    held: Count = Field(description="Counts that an end stop held.")
    spurious: Count = Field(description="Counts that no burst caused.")
    position: Integer = Field(description="Position at the end (counts).")

    @classmethod
    def of(cls, totals: Totals) -> CountTotals:
        return cls(**totals._asdict())


class BurstCount(Record):
    """What one burst counted, beside its bounce-free reading."""

    burst: Positive = Field(description="Number of the burst.")
    time_s: Amount = Field(description="Its first change (s after the first row).")
    bounce_free: Integer = Field(description="Net count of the bounce-free reading, end stops aside.")
    counted: Integer = Field(description="Net count received, end stops aside.")
    pulses: Count = Field(description="Number of pulses.")
    verdict: Verdict | Literal["extra"] = Field(
        description="Right; flickered: right with extra pulses to and fro; missed: too few counts; doubled: "
        "too many; reversed: the wrong way; extra: counted where no count was expected."
    )
    cause: RootCause | None = Field(
        description="Root cause of a wrong count, a key of cause_sentences; null for the others."
    )

    @classmethod
    def of(cls, judged: BurstVerdict, burst: Burst) -> BurstCount:
        return cls(
            burst=judged.burst + 1,
            time_s=seconds(burst.start),
            bounce_free=judged.expected,
            counted=judged.received,
            pulses=judged.pulses,
            verdict=cast('Verdict | Literal["extra"]', judged.verdict_name),
            cause=cast(RootCause, judged.cause_name) if judged.wrong else None,
        )


class ReplayVerdicts(VerdictCounts):
    """Bounce-free counts by verdict, and what was counted without one."""

    extra: Count = Field(description="Bursts that gave pulses where no count was expected.")
    extra_net: Integer = Field(description="Net count of these bursts together.")

    @classmethod
    def of(cls, counts: Sequence[BurstCount]) -> ReplayVerdicts:
        expected = [each.verdict for each in counts if each.bounce_free]
        extra = [each for each in counts if not each.bounce_free and each.pulses]
        return cls(
            right=expected.count("right"),
            flickered=expected.count("flickered"),
            missed=expected.count("missed"),
            doubled=expected.count("doubled"),
            reversed=expected.count("reversed"),
            extra=len(extra),
            extra_net=sum(each.counted for each in extra),
        )


class RecordedBurst(Record):
    """A burst of changes of one line."""

    number: Positive = Field(description="Its number, from 1.")
    line: LineName = Field(description="The line.")
    does: str = Field(description="What the contact does, in words.")
    start_s: Amount = Field(description="First change (s after the first row).")
    length_s: Amount = Field(description="From the first change to the last (s).")
    changes: Positive = Field(description="Number of changes.")
    transition: Flag = Field(
        description="Whether the contact is in another state afterwards; otherwise it is a glitch."
    )
    settled: Flag = Field(
        description="False if the recording ends before the line has been stable for settle_s."
    )

    @classmethod
    def of(cls, number: int, burst: Burst) -> RecordedBurst:
        return cls(
            number=number,
            line=LINES[burst.line],
            does=burst.words,
            start_s=seconds(burst.start),
            length_s=seconds(burst.length),
            changes=burst.changes,
            transition=bool(burst.moved),
            settled=bool(burst.settled),
        )


class ReplayResult(Result):
    """What a design counted of a recording, beside a bounce-free reading of it."""

    name: str = Field(description=NAME)
    title: str = Field(description=TITLE)
    scenario: ResolvedScenario = Field(description=f"{SCENARIO} Its hand and contacts are not used.")
    trace: RecordingRead = Field(description="The recording that was read, and how it was read.")
    settle_s: Amount = Field(description="A line counts as settled once it has been stable for so long (s).")
    parts: Literal["nominal", "drawn"] = Field(
        description="Whether every part is at its nominal value, or those of one unit were drawn."
    )
    seed: Count = Field(description=SEED)
    run: Count | None = Field(
        description="Number of the unit whose parts were drawn; null for nominal parts."
    )
    lines: LineEdges = Field(description="Edges that are left after each place of both lines.")
    pulses: tuple[ReplayPulse, ...] = Field(description="Every pulse of the counter.")
    bounce_free_pulses: tuple[ReplayPulse, ...] = Field(
        description="Every pulse of the same counter without timing limits, for the bounce-free reading."
    )
    counted: CountTotals = Field(description="Totals of what was counted.")
    bounce_free: CountTotals = Field(description="Totals of the bounce-free reading.")
    counts: tuple[BurstCount, ...] = Field(
        description="Every burst that gave a pulse or should have, in order."
    )
    verdicts: ReplayVerdicts = Field(description="Bounce-free counts by verdict, and what was extra.")
    bursts: tuple[RecordedBurst, ...] = Field(
        description="Every burst, in order of its first change, A before B."
    )
    longest_gap_s: Amount = Field(description="Longest time without a change inside any burst (s).")
    shortest_pause_s: Amount | None = Field(
        description="Shortest time between two bursts of one line (s); null without two."
    )
    causes: Frozen[str, Positive] = Field(description="Wrong bursts by root cause, most frequent first.")
    cause_sentences: Frozen[str, str] = Field(description="A sentence for each root cause that occurred.")
    verdict: str = Field(description="What became of the bounce-free counts, in plain words.")
    cautions: Texts = Field(description=CAUTIONS)
    versions: Versions = Field(description="What the result was made with.")

    _rows: int = PrivateAttr(default=ROWS)

    @classmethod
    def of(cls, scenario: Scenario, trace: Trace, replay: Replay, settings: ReplaySettings) -> ReplayResult:
        from reports.documents.replay_words import replay_cautions, replay_verdict
        from reports.results.building import versions
        from reports.words.sentences import cause_sentence
        from simcore.base.ticks import NEVER

        reading, pause = replay.reading, replay.reading.shortest_pause
        read = RecordingRead.of(trace, settings)
        counted, bounce_free = CountTotals.of(replay.totals), CountTotals.of(replay.clean_totals)
        counts = tuple(BurstCount.of(each, reading.bursts[each.burst]) for each in replay.judged)
        verdicts = ReplayVerdicts.of(counts)
        wrong = [each.cause for each in counts if each.cause is not None]
        causes = sorted(set(wrong), key=lambda cause: (-wrong.count(cause), cause))
        a, b = (_places(replay.stages[line], replay.edges[line]) for line in (0, 1))
        result = cls(
            name=scenario.name,
            title=scenario.title,
            scenario=scenario.resolved,
            trace=read,
            settle_s=seconds(settings.settle),
            parts="nominal" if settings.run is None else "drawn",
            seed=settings.seed,
            run=settings.run,
            lines=LineEdges(A=a, B=b),
            pulses=_pulses(replay.pulses, replay.positions),
            bounce_free_pulses=_pulses(replay.clean, replay.clean_positions),
            counted=counted,
            bounce_free=bounce_free,
            counts=counts,
            verdicts=verdicts,
            bursts=tuple(RecordedBurst.of(n, burst) for n, burst in enumerate(reading.bursts, start=1)),
            longest_gap_s=seconds(reading.longest_gap),
            shortest_pause_s=None if pause == NEVER else seconds(pause),
            causes={cause: wrong.count(cause) for cause in causes},
            cause_sentences={cause: cause_sentence(cause) for cause in causes},
            verdict=replay_verdict(read, verdicts, counted, bounce_free),
            cautions=(),
            versions=versions(),
        )
        midpoint = settings.run is None and _has_midpoint(scenario)
        found = replay_cautions(result, scenario.cautions, midpoint)
        return result.model_copy(update={"cautions": tuple(found)})

    def limited(self, rows: int) -> ReplayResult:
        """The same result with at most so many rows in a table of its report; 0 for all."""
        found = self.model_copy()
        found._rows = rows
        return found

    def document(self) -> Document:
        from reports.documents.replay import document

        return document(self, self._rows)

    @property
    def right(self) -> bool:
        """Whether every bounce-free count was counted right and nothing else was."""
        found = self.verdicts
        return not (found.missed or found.doubled or found.reversed or found.extra or self.counted.spurious)

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        bounce_free = dict(self.bounce_free)
        return {
            "totals": [
                {"what": name, "counted": count, "bounce_free": bounce_free[name]}
                for name, count in self.counted
            ],
            "counts": [flat(each) for each in self.counts],
            "pulses": [flat(each) for each in self.pulses],
            "bounce_free_pulses": [flat(each) for each in self.bounce_free_pulses],
            "bursts": [flat(each) for each in self.bursts],
            "edges": [flat(place, line=name) for name, places in self.lines for place in places],
        }


def seconds(ticks: int | Fraction) -> float:
    """Ticks in seconds."""
    from simcore.base.ticks import TICKS_PER_SECOND

    return float(ticks / TICKS_PER_SECOND)


def _places(stages: Sequence[str], edges: Sequence[Edges]) -> tuple[PlaceEdges, ...]:
    """How many edges leave the contact and each stage of a line."""
    return tuple(
        PlaceEdges(after=name, edges=int(each.offsets[-1]))
        for name, each in zip(("contact", *stages), edges, strict=True)
    )


def _pulses(pulses: Pulses, positions: Ints) -> tuple[ReplayPulse, ...]:
    from simcore.counters.base import FLAG_NAMES

    columns = (pulses.times, pulses.asked, pulses.moved, positions, pulses.causes, pulses.flags)
    rows = zip(*(column.tolist() for column in columns), strict=True)
    return tuple(
        ReplayPulse(
            time_s=seconds(time),
            count=asked,
            moved=moved,
            position=position,
            burst=None if cause < 0 else (cause >> 4) + 1,
            doubts=tuple(cast(PulseDoubt, name) for flag, name in FLAG_NAMES.items() if flags & flag),
        )
        for time, asked, moved, position, cause, flags in rows
    )


def _has_midpoint(scenario: Scenario) -> bool:
    from simcore.networks.inputs import at_midpoint

    volts = scenario.design.supply.nominal
    return any(at_midpoint(entry.item, volts) is not entry.item for entry in scenario.design.stages)
