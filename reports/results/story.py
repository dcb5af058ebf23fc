"""The story of one step, as the result of ``trace`` holds it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, cast

from pydantic import Field

from reports.results.common import (
    LINES,
    TICK,
    Amount,
    Count,
    Flag,
    Integer,
    LineName,
    Number,
    Pair,
    Positive,
    PulseDoubt,
    Record,
)

if TYPE_CHECKING:
    from reports.stories.evidence import Case
    from reports.stories.story import Story
    from reports.stories.teller import StatedValue, Statement
    from simcore.tracing.tracing import PulseFacts, TransitionFacts

ChangeOrigin = Literal[
    "the crossing itself", "chatter in the edge zone", "rebound after a make", "a later packet of chatter",
    "a straggler", "an open while sliding", "telegraph chatter", "recorded chatter", "pick-up on the line",
    "noise on a slow edge", "power-up", "a dip of the supply",
]  # fmt: skip
LogicLevel = Literal[0, 1]
StatedSort = Literal["instant", "span", "limit", "volts", "rising threshold", "falling threshold", "noise"]

ORIGIN = "The kind of change at the contact, or without one, behind it."
AT = "When (s into the run)."
STORY_AT = "When (s from zero_s)."
PULSE_ASKED = "Counts that the pulse calls for; 0 if it was ignored."
PULSE_MOVED = "How far the position moved (counts)."
PULSE_POSITION = "Position after the pulse (counts)."
PULSE_DOUBTS = "Timing violations and other reasons why the outcome of the pulse is not certain."


class StatedQuantity(Record):
    """A time or voltage that a sentence states."""

    written: str = Field(description="As it stands in the text.")
    what: StatedSort = Field(
        description="An instant, a span between two instants, a limit of the counter, a voltage, a threshold "
        "in force, or noise (rms)."
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

    @classmethod
    def of(cls, each: StatedValue) -> StatedQuantity:
        return cls(
            written=each.written,
            what=each.what,
            value=each.value,
            line=None if each.line < 0 else LINES[each.line],
            since_s=None if each.since < 0 else each.since * TICK,
            at_s=None if each.tick < 0 else each.tick * TICK,
        )


class StatedSentence(Record):
    """A sentence with the quantities that it states."""

    text: str = Field(description="The sentence.")
    states: tuple[StatedQuantity, ...] = Field(
        description="Every time and voltage in it, in order of writing."
    )

    @classmethod
    def of(cls, said: Statement) -> StatedSentence:
        return cls(text=said.text, states=tuple(map(StatedQuantity.of, said.stated)))


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

    @classmethod
    def of(cls, case: Case, transition: TransitionFacts) -> ContactBurst:
        from reports.stories.evidence import contact_ticks, longest_gap

        ticks = contact_ticks(case.traced, transition)
        contact = case.traced.lines[transition.line].contact
        origins = sorted(set(contact.origins[contact.transitions == transition.index].tolist()))
        gap = longest_gap(ticks) if len(ticks) > 1 else (ticks[0], ticks[0])
        edges = [edge for edge in case.step.edges if edge.transition == transition.index]
        return cls(
            at_s=(ticks[0] - case.step.start) * TICK,
            line=LINES[transition.line],
            closed=bool(transition.closed),
            changes=len(ticks),
            length_s=(ticks[-1] - ticks[0]) * TICK,
            longest_gap_s=(gap[1] - gap[0]) * TICK,
            origins=tuple(map(origin_name, origins)),
            edges=len(edges),
            first_edge_s=(edges[0].tick - case.step.start) * TICK if edges else None,
        )


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

    @classmethod
    def of(cls, case: Case, line: int, tick: int, up: bool, level: int | None) -> ThresholdMeeting:
        node = case.traced.lines[line].node
        assert node is not None  # noqa: S101 - callers have looked
        return cls(
            at_s=(tick - case.step.start) * TICK,
            line=LINES[line],
            volts=node.at(tick),
            rising=bool(up),
            threshold=node.thresholds_at(tick)[0 if up else 1],
            level=None if level is None else logic_level(level),
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

    @classmethod
    def of(cls, case: Case, pulse: PulseFacts) -> StoryPulse:
        from reports.stories.edges import does
        from reports.stories.evidence import shows_volts

        by = next(each for each in case.step.transitions if each.index == pulse.transition)
        a, b = case.traced.lines
        at_a, at_b = (
            line.node.at(pulse.tick) if line.node is not None and shows_volts(case, number) else None
            for number, line in enumerate((a, b))
        )
        return cls(
            at_s=(pulse.tick - case.step.start) * TICK,
            asked=pulse.asked,
            moved=pulse.moved,
            position=pulse.position,
            by=f"{LINES[by.line]} {does(by)}",
            origin=origin_name(pulse.origin),
            doubts=pulse_doubts(pulse),
            levels=(logic_level(a.seen.level_at(pulse.tick)), logic_level(b.seen.level_at(pulse.tick))),
            volts=(at_a, at_b),
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

    @classmethod
    def of(cls, case: Case, story: Story) -> StepStory:
        return cls(
            zero_s=story.zero * TICK,
            zero=story.zero_words,
            window_s=(story.window[0] * TICK, story.window[1] * TICK),
            closer_s=None if story.closer is None else (story.closer[0] * TICK, story.closer[1] * TICK),
            hand=tuple(map(StatedSentence.of, story.hand)),
            contacts=tuple(ContactBurst.of(case, each) for each in case.step.transitions),
            voltages=_meetings(case),
            passed=_passed(case),
            counter=tuple(StoryPulse.of(case, pulse) for pulse in case.step.pulses),
            why=tuple(map(StatedSentence.of, story.why)),
        )


def _meetings(case: Case) -> tuple[ThresholdMeeting, ...]:
    """Each change of an input in the step's window, and where a voltage stayed short of a threshold."""
    import numpy as np

    from reports.stories.edges import goes_up
    from reports.stories.evidence import deciding_span, extreme, is_high

    step = case.step
    rows: list[tuple[int, int, ThresholdMeeting]] = []
    for line, each in enumerate(case.traced.lines):
        if each.node is None:
            continue
        stage = next(found for found in each.stages if found.name == each.node.name)
        mine = np.isin(stage.transitions, [t.index for t in step.transitions])
        inside = (stage.ticks >= step.start) & (stage.ticks <= step.end)
        for i in np.flatnonzero(mine | inside).tolist():
            tick, up = int(stage.ticks[i]), goes_up(case, stage, line, i)
            rows.append((tick, line, ThresholdMeeting.of(case, line, tick, up, int(stage.levels[i]))))
        for transition in step.transitions:
            if transition.line == line and transition.index not in stage.transitions:
                start, end = deciding_span(case.traced, transition)
                up = not is_high(case.traced, line, start)
                tick = extreme(case.traced, line, start, end, up)
                rows.append((tick, line, ThresholdMeeting.of(case, line, tick, up, None)))
    return tuple(row for _, _, row in sorted(rows, key=lambda row: row[:2]))


def _passed(case: Case) -> tuple[PassedChanges, ...]:
    """How many changes of the step's transitions each place passed on."""
    import numpy as np

    mine = [each.index for each in case.step.transitions]
    found: dict[str, dict[LineName, int]] = {}
    for line, each in zip(LINES, case.traced.lines, strict=True):
        for trail in (each.contact, *each.stages):
            count = int(np.count_nonzero(np.isin(trail.transitions, mine)))
            found.setdefault(trail.name, {})[line] = count
    return tuple(PassedChanges(name=name, A=each.get("A"), B=each.get("B")) for name, each in found.items())


def origin_name(number: int) -> ChangeOrigin:
    from simcore.base.records import ORIGIN_NAMES

    return cast(ChangeOrigin, ORIGIN_NAMES[number])


def logic_level(level: int) -> LogicLevel:
    """A level as results hold it."""
    return 1 if level else 0


def pulse_doubts(pulse: PulseFacts) -> tuple[PulseDoubt, ...]:
    """The words for the flags of a pulse."""
    from simcore.counters.base import FLAG_NAMES

    return tuple(cast(PulseDoubt, words) for flag, words in FLAG_NAMES.items() if pulse.flags & flag)
