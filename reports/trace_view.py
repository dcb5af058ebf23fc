"""A traced run in the terminal: its steps, and one step told in order with a timing diagram above it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import Console, Group, RenderableType
from rich.text import Text

from reports.edge_words import signed
from reports.numbers import counted, whole
from reports.sentences import SPURIOUS, cause_sentence
from reports.story import Story
from reports.story_tables import contact_table, count_table, passed_table, step_table, voltage_table
from reports.stray_words import spurious_words
from reports.teller import Teller
from reports.terminal.blocks import printed
from reports.terminal.prose import prose
from reports.wave_windows import Window, with_margin
from reports.waves import timing_diagram
from simcore.base.records import POWER_UP
from simcore.tracing.tracing import TracedRun

Export = dict[str, Any]
Told = tuple[TracedRun, Story | None]
TITLE = "bold cyan"
WRONG = "bold red"
GOOD = "bold green"
CLOSER = "Closer, at what is too narrow to be seen above:"


def trace_page(export: Export, told: Sequence[Told], console: Console, overview: bool) -> str:
    """The report as text, with control codes only if ``console`` shows colour; with an ``overview`` the
    table of all steps of a run comes before its story.
    """
    return printed(blocks(export, told, console, overview), console)


def blocks(
    export: Export, told: Sequence[Told], console: Console, overview: bool
) -> Sequence[RenderableType]:
    """The report, block by block, as wide as the console."""
    found: list[RenderableType] = [_head(export)]
    for trace, (traced, story) in zip(export["traces"], told, strict=True):
        found += _run(trace, traced, story, console, overview)
    return found


def _head(export: Export) -> RenderableType:
    lines = [prose(export["title"] or export["name"], TITLE)]
    searched = export["searched"]
    if searched is not None:
        lines.append(prose(searched_words(searched)))
    return Group(*lines)


def searched_words(searched: Export) -> str:
    """Where the worst steps were looked for, and what there was."""
    last = searched["first_run"] + searched["runs"] - 1
    where = f"Searched runs {whole(searched['first_run'])} to {whole(last)} of seed {searched['seed']}"
    found = list(searched["found"])
    wanted = searched["wanted"]
    if wanted is not None and wanted not in found:
        others = f"; there is {', '.join(found)}" if found else ""
        return f"{where}: nothing by {wanted!r} in them{others}."
    if not found:
        return f"{where}: no step went wrong, and nothing was counted that nobody turned."
    told = found if wanted is None else [wanted]
    causes = [cause for cause in told if cause != SPURIOUS]
    below = [f"for each root cause the step that is furthest off: {', '.join(causes)}"] if causes else []
    if SPURIOUS in told:
        below.append("the run with the most counts that no movement caused")
    return f"{where}; told below {'; and '.join(below)}."


def _run(
    trace: Export, traced: TracedRun, story: Story | None, console: Console, overview: bool
) -> Iterator[RenderableType]:
    yield Group(*_run_head(trace))
    if overview:
        yield _section("Steps of this run", step_table(trace, console))
    if trace["spurious"]:
        yield _section("Counts that no movement caused", *_sentences(trace["spurious"]))
    if story is None:
        yield from diagrams(traced, story, console)
    else:
        yield from _story(trace, traced, story, console)


def _run_head(trace: Export) -> Iterator[RenderableType]:
    if trace["searched_for"] is not None:
        yield prose(f"Worst by {trace['searched_for']}", TITLE)
    yield prose(run_line(trace))
    if not _wrong(trace) and trace["step"] is None:
        yield prose("No step of this run was counted wrongly; --step tells any of them.", GOOD)


def run_line(trace: Export) -> str:
    """How a run went, in a line."""
    wrong = _wrong(trace)
    start, end = trace["positions"]
    ended = (
        "as it ought to be" if not trace["error"] else f"{signed(trace['error'])} from where it ought to be"
    )
    return (
        f"Run {whole(trace['run'])} of seed {trace['seed']}: {counted(len(trace['steps']), 'step')}, "
        f"{whole(wrong) if wrong else 'none'} of them wrong; position {start} at the start and {end} at the "
        f"end, {ended}."
    )


def _wrong(trace: Export) -> int:
    return sum(step["cause"] is not None for step in trace["steps"])


def _story(trace: Export, traced: TracedRun, story: Story, console: Console) -> Iterator[RenderableType]:
    step, told = trace["steps"][trace["step"] - 1], trace["story"]
    yield Group(
        prose(verdict_line(step), WRONG if step["cause"] else GOOD),
        *([prose(cause_sentence(step["cause"]))] if step["cause"] else []),
    )
    yield from diagrams(traced, story, console)
    yield _section("What the hand did", *_sentences(told["hand"]))
    if told["contacts"]:
        yield _section("What the contacts did", *contact_table(told, console))
    if told["voltages"]:
        yield _section(
            "What the voltages were, and what the inputs saw", *voltage_table(told, console, is_noisy(traced))
        )
    if told["contacts"]:
        yield _section("What every stage passed on", passed_table(told, console))
    counter = count_table(told, console) if told["counter"] else [Text("Nothing in this step.")]
    yield _section("What the counter did", *counter)
    if told["why"]:
        yield _section(f"Why it was {step['verdict']}", *_sentences(told["why"]))


def diagrams(traced: TracedRun, story: Story | None, console: Console) -> Iterator[Group]:
    """The timing diagrams of a step, each below the words that introduce it; without a step that of the
    first count that no movement caused, if there is one.
    """
    if story is not None:
        yield Group(prose(story.zero_words), timing_diagram(traced, *story.window, console, story.zero))
        if story.closer is not None:
            yield Group(prose(CLOSER), timing_diagram(traced, *story.closer, console, story.zero))
    elif any(pulse.step == 0 and pulse.asked for pulse in traced.pulses):
        yield Group(timing_diagram(traced, *_first_spurious(traced), console))


def is_noisy(traced: TracedRun) -> bool:
    """Whether noise rides on a voltage, which neither tables nor diagrams show."""
    return any(line.node is not None and line.node.noise > 0.0 for line in traced.lines)


def _first_spurious(traced: TracedRun) -> Window:
    """A window on the first count that no movement caused, and the edges before it."""
    first = next(pulse for pulse in traced.pulses if pulse.step == 0 and pulse.asked)
    _, *edges = spurious_words(traced, Teller(traced, 0))
    ticks = [stated.tick for said in edges for stated in said.stated if stated.tick >= 0]
    return with_margin([first.tick, *ticks, *([0] if first.origin == POWER_UP else [])])


def verdict_line(step: Export) -> str:
    """What was due, what was counted, and why, in a line."""
    cause = f" Root cause: {step['cause']}." if step["cause"] else ""
    return (
        f"Step {step['number']} ({step['gesture']}, {step['direction']}): due {signed(step['expected'])}, "
        f"counted {signed(step['received'])}: {step['verdict']}.{cause}"
    )


def _sentences(said: Sequence[Export]) -> list[RenderableType]:
    return [prose(each["text"]) for each in said]


def _section(title: str, *content: RenderableType) -> RenderableType:
    return Group(prose(title, TITLE), *content)
