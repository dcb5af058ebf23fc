"""The report of ``steptally trace``: runs step by step, each with one of its steps explained."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import zip_longest
from typing import TYPE_CHECKING, TypeVar

from reports.documents.document import (
    Block,
    Column,
    Document,
    Drawing,
    Fold,
    Group,
    Section,
    Sentence,
    Table,
    Tone,
    sentences,
)
from reports.stories.teller import DIGITS, instant_text, telling_digits, time_text, volts_text
from reports.words.numbers import counted, signed, whole
from reports.words.sentences import SPURIOUS, cause_sentence

if TYPE_CHECKING:
    from reports.results.story import ContactBurst, StepStory, StoryPulse, ThresholdMeeting
    from reports.results.trace import RunTrace, TraceResult, TraceSearch, TraceStep
    from reports.stories.story import Story
    from simcore.tracing.tracing import TracedRun

TableRow = TypeVar("TableRow")
MOST_ROWS = 24
"""Rows of one table; the JSON has all of them."""
NOTHING_WRONG = "No step of this run was counted wrongly; --step explains any of them."
STEPS = "All steps; the marked one is explained"
CONTACTS = "Changes of the contacts, by the boundary that the shaft crossed"
VOLTAGES = "Voltages at a threshold, and how far those came that did not reach one"
PULSES = "Pulses of the counter"
CLOSER = "What is too narrow to be seen above:"


def document(
    result: TraceResult, facts: Sequence[tuple[TracedRun, Story | None]] = (), *, overview: bool = False
) -> Document:
    """Each run with the step that is explained.

    ``facts`` are those of each run, from which its timing diagrams are drawn, and its story; with an
    ``overview`` the table of all steps comes before the story.
    """
    job = () if result.searched is None else (Sentence(searched_words(result.searched)),)
    sections: list[Section] = []
    for number, (trace, own) in enumerate(zip_longest(result.traces, facts, fillvalue=None), start=1):
        if trace is not None:
            sections += _sections(number, trace, *(own or (None, None)), overview=overview)
    brief = [*job]
    for trace in result.traces:
        step = None if trace.step is None else trace.steps[trace.step - 1]
        brief.append(
            Sentence(_run_line(trace) if step is None else f"{_run_line(trace)} {_verdict_line(step)}")
        )
    return Document(result.title or result.name, "step by step", job, tuple(sections), tuple(brief))


def searched_words(searched: TraceSearch) -> str:
    last = searched.first_run + searched.runs - 1
    where = f"Searched runs {whole(searched.first_run)} to {whole(last)} of seed {searched.seed}"
    found = [str(cause) for cause in searched.found]
    wanted = searched.wanted
    if wanted is not None and wanted not in found:
        others = f"; there is {', '.join(found)}" if found else ""
        return f"{where}: nothing by {wanted!r} in them{others}."
    if not found:
        return f"{where}: no step was counted wrongly, and there was no count without a movement."
    shown = found if wanted is None else [wanted]
    causes = [cause for cause in shown if cause != SPURIOUS]
    below = [f"for each root cause the step that is furthest off: {', '.join(causes)}"] if causes else []
    if SPURIOUS in shown:
        below.append("the run with the most counts that no movement caused")
    return f"{where}; explained below {'; and '.join(below)}."


def _sections(
    number: int, trace: RunTrace, traced: TracedRun | None, story: Story | None, *, overview: bool
) -> Iterator[Section]:
    cause = trace.searched_for
    title = "" if cause is None else f"Worst by {cause}"
    blocks: list[Block] = [Sentence(_run_line(trace))]
    if not trace.wrong and trace.step is None:
        blocks.append(Sentence(NOTHING_WRONG, "good"))
    if overview:
        blocks.append(Group("Steps of this run", (_step_table(trace),)))
    if trace.spurious:
        words = sentences(said.text for said in trace.spurious)
        blocks.append(Group("Counts that no movement caused", tuple(words)))
    if trace.story is None:
        yield Section(f"run-{number}", title, (*blocks, *_spurious_diagram(traced)))
        return
    yield Section(f"run-{number}", title, tuple(blocks))
    step = trace.steps[(trace.step or 1) - 1]
    explained: list[Block] = [Sentence(_verdict_line(step), "bad" if step.cause else "good")]
    if step.cause:
        explained.append(Sentence(cause_sentence(step.cause)))
    explained += _diagrams(traced, story)
    explained.append(Fold("What happened, in order", tuple(_story_blocks(trace, trace.story))))
    if trace.story.why:
        reasons = sentences(said.text for said in trace.story.why)
        explained.append(Group(f"Why it was {step.verdict}", tuple(reasons)))
    yield Section(f"step-{number}", "", tuple(explained))


def _run_line(trace: RunTrace) -> str:
    start, end = trace.positions
    ended = "as expected" if not trace.error else f"{signed(trace.error)} from the expected one"
    return (
        f"Run {whole(trace.run)} of seed {trace.seed}: {counted(len(trace.steps), 'step')}, "
        f"{whole(trace.wrong) if trace.wrong else 'none'} of them wrong; position {start} at the start and "
        f"{end} at the end, {ended}."
    )


def _verdict_line(step: TraceStep) -> str:
    cause = f" Root cause: {step.cause}." if step.cause else ""
    return (
        f"Step {step.number} ({step.gesture}, {step.direction}): expected {signed(step.expected)}, "
        f"counted {signed(step.received)}: {step.verdict}.{cause}"
    )


def _diagrams(traced: TracedRun | None, story: Story | None) -> Iterator[Group]:
    if traced is None or story is None:
        return
    drawn = _drawing(traced, *story.window, story.zero)
    yield Group("Timing diagram", (Sentence(story.zero_words), drawn))
    if story.closer is not None:
        yield Group("Closer", (Sentence(CLOSER), _drawing(traced, *story.closer, story.zero)))


def _spurious_diagram(traced: TracedRun | None) -> Iterator[Group]:
    """The first count that no movement caused and the edges before it, if there is one."""
    from reports.stories.edges import spurious_words
    from reports.stories.teller import Teller
    from reports.stories.windows import with_margin
    from simcore.base.records import POWER_UP

    if traced is None:
        return
    first = next((pulse for pulse in traced.pulses if pulse.step == 0 and pulse.asked), None)
    if first is not None:
        _, *edges = spurious_words(traced, Teller(traced, 0))
        ticks = [stated.tick for said in edges for stated in said.stated if stated.tick >= 0]
        start, end = with_margin([first.tick, *ticks, *([0] if first.origin == POWER_UP else [])])
        yield Group("Timing diagram", (_drawing(traced, start, end, None),))


def _drawing(traced: TracedRun, start: int, end: int, zero: int | None) -> Drawing:
    from reports.figures.waves import timing_diagram

    return Drawing(lambda width, encoding: timing_diagram(traced, start, end, width, encoding, zero))


def _story_blocks(trace: RunTrace, story: StepStory) -> Iterator[Block]:
    yield Group("What the hand did", tuple(sentences(said.text for said in story.hand)))
    if story.contacts:
        yield _rows("What the contacts did", CONTACTS, story.contacts, _contact_columns)
    if story.voltages:
        nodes = [line.node for line in (trace.lines.A, trace.lines.B)]
        noisy = any(node is not None and node.noise_v > 0.0 for node in nodes)
        yield _rows(
            "What the voltages were, and what the inputs saw",
            VOLTAGES,
            story.voltages,
            lambda rows: _voltage_columns(rows, noisy),
        )
    if story.contacts:
        yield Group("What every stage passed on", (_passed_table(story),))
    if story.counter:
        yield _rows("What the counter did", PULSES, story.counter, _count_columns)
    else:
        yield Group("What the counter did", (Sentence("Nothing in this step."),))


def _rows(
    title: str, caption: str, rows: Sequence[TableRow], columns: Callable[[Sequence[TableRow]], list[Column]]
) -> Group:
    """A table under its title, and a line on rows left out."""
    table = _table(caption, columns(rows[:MOST_ROWS]))
    more = len(rows) - MOST_ROWS
    left = (Sentence(f"... {counted(more, 'more row')} (--json has all)", "quiet"),) if more > 0 else ()
    return Group(title, (table, *left))


def _table(caption: str, columns: Sequence[Column], tones: Sequence[Tone] = ()) -> Table:
    """A table without columns in which nothing stands."""
    return Table(caption, tuple(column for column in columns if any(column.cells)), tones)


def _step_table(trace: RunTrace) -> Table:
    """All steps of the run; the one whose story follows is marked."""
    steps = trace.steps
    marks = ["> " if step.number == trace.step else "" for step in steps]
    columns = [
        Column("step", [f"{mark}{step.number}" for mark, step in zip(marks, steps, strict=True)]),
        Column("gesture", [step.gesture for step in steps], sort="short"),
        Column("direction", [step.direction for step in steps], rank=2, sort="short"),
        Column("intended", [step.meant for step in steps], rank=3, sort="short"),
        Column("start", [f"{step.start_s:.3f} s" for step in steps], rank=1),
        Column("expected", [signed(step.expected) for step in steps]),
        Column("counted", [signed(step.received) for step in steps], tone="strong"),
        Column("pulses", [whole(step.counts) for step in steps], rank=4),
        Column("verdict", [step.verdict for step in steps], sort="short"),
        Column("root cause", [step.cause or "" for step in steps], sort="short"),
    ]
    return _table(STEPS, columns, ["strong" if mark else "plain" for mark in marks])


def _contact_columns(rows: Sequence[ContactBurst]) -> list[Column]:
    def length(row: ContactBurst, seconds: float) -> str:
        return time_text(seconds) if row.changes > 1 else ""

    def first(row: ContactBurst) -> str:
        return "none" if row.first_edge_s is None else instant_text(row.first_edge_s)

    return [
        Column("time", [instant_text(row.at_s) for row in rows]),
        Column(
            "contact", [f"{row.line} {'closes' if row.closed else 'opens'}" for row in rows], sort="short"
        ),
        Column("changes", [whole(row.changes) for row in rows]),
        Column("length", [length(row, row.length_s) for row in rows]),
        Column("longest\ngap", [length(row, row.longest_gap_s) for row in rows]),
        Column("edges at\ncounter", [whole(row.edges) for row in rows], tone="strong"),
        Column("first\nedge", [first(row) for row in rows], rank=1),
        Column("kinds of change", [", ".join(row.origins) for row in rows], rank=2, sort="text"),
    ]


def _voltage_columns(rows: Sequence[ThresholdMeeting], noisy: bool) -> list[Column]:
    def digits(row: ThresholdMeeting) -> int:
        """So many that a voltage which did not reach its threshold is seen not to have."""
        return telling_digits(row.volts, row.threshold) if row.level is None else DIGITS

    def crossing(row: ThresholdMeeting) -> str:
        if row.level is None:
            return "highest voltage" if row.rising else "lowest voltage"
        return "rising" if row.rising else "falling"

    def change(row: ThresholdMeeting) -> str:
        return "no change" if row.level is None else "goes high" if row.level else "goes low"

    return [
        Column("time", [instant_text(row.at_s) for row in rows]),
        Column("line", [row.line for row in rows], sort="short"),
        Column(
            "voltage\n(without noise)" if noisy else "voltage",
            [volts_text(row.volts, digits(row)) for row in rows],
            tone="strong",
        ),
        Column("threshold", [volts_text(row.threshold, digits(row)) for row in rows]),
        Column("crossing", [crossing(row) for row in rows], sort="short"),
        Column("input", [change(row) for row in rows], sort="short"),
    ]


def _passed_table(story: StepStory) -> Table:
    def cells(counts: Sequence[int | None]) -> list[str]:
        return ["" if count is None else whole(count) for count in counts]

    rows = story.passed
    columns = [
        Column("changes after", [row.name for row in rows], sort="name"),
        Column("A", cells([row.A for row in rows]), tone="strong"),
        Column("B", cells([row.B for row in rows]), tone="strong"),
    ]
    return _table("Changes left after each place of the signal path", columns)


def _count_columns(rows: Sequence[StoryPulse]) -> list[Column]:
    def count(row: StoryPulse) -> str:
        if not row.asked:
            return "no count"
        held = "" if row.moved == row.asked else f", held: {signed(row.moved)}"
        return f"{signed(row.asked)}{held}"

    def level(row: StoryPulse, line: int) -> str:
        word, volts = "high" if row.levels[line] else "low", row.volts[line]
        return word if volts is None else f"{word}, {volts_text(volts)}"

    return [
        Column("time", [instant_text(row.at_s) for row in rows]),
        Column("count", [count(row) for row in rows], tone="strong"),
        Column("position", [whole(row.position) for row in rows]),
        Column("A", [level(row, 0) for row in rows], rank=1, sort="short"),
        Column("B", [level(row, 1) for row in rows], rank=1, sort="short"),
        Column("cause", [row.by for row in rows], sort="short"),
        Column("kind of change", [row.origin for row in rows], rank=3, sort="short"),
        Column("violations", [", ".join(row.doubts) for row in rows], sort="text"),
    ]
