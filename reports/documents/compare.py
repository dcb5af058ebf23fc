"""The report of ``steptally compare``."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

from reports.documents.compare_words import (
    SHARED_UNITS,
    difference_interval_text,
    difference_text,
    outcome_text,
    runs_sentence,
)
from reports.documents.document import (
    Block,
    Box,
    Code,
    Column,
    Document,
    Figure,
    Group,
    Items,
    Section,
    Sentence,
    SignalPath,
    Table,
    Tone,
    Value,
    sentences,
)
from reports.documents.gallery import HOW_TO_LOOK, diagram_blocks, event_caption
from reports.documents.rates import CI, rate_columns
from reports.documents.shared import PAGE_FILE, again_section, limitations_section, supply_line
from reports.render.widths import natural_width
from reports.words.numbers import counted, duration_text, estimate_text, on_the_point, signed, whole
from reports.words.sentences import LASTING

if TYPE_CHECKING:
    from reports.results.compare import (
        ComparisonResult,
        DesignBox,
        PairedComparison,
        PairedCount,
        PairedGesture,
        PairedSpurious,
    )
    from reports.results.compare_gallery import ComparedStep, ComparisonGallery

TONES: dict[str, Tone] = {"better": "good", "worse": "bad", "unsettled": "caution", "same": "strong"}
VERDICTS = ("wrong", "missed", "doubled", "reversed", "flickered", "right")
"""What becomes of steps, what matters first."""
SHARED = ("hand", "encoder", "contacts")
"""Roles of the boxes that all designs have in common."""
MOST_ROWS = 8
"""Ways to differ that a terminal shows."""
NARROW = 80
"""Characters within which values stand side by side in a terminal."""
LONG = 24
"""Characters of a value from which on it may be broken into lines."""


def document(result: ComparisonResult) -> Document:
    """Which design is better, what differs between them, and how they differ on the same steps."""
    brief = _headline(result)
    own = [caution for caution in result.cautions if caution not in LASTING]
    sections = [Section("result", "", (*brief, *sentences(own, "caution")), "Result")]
    if result.steps:
        sections += [_rates(result), _designs(result), _differences(result)]
        if result.gallery is not None:
            sections.append(_gallery(result.gallery))
    else:
        sections.append(_designs(result))
    sections += [
        Section("made", "", tuple(_made(result)), only=("terminal",)),
        limitations_section(result.assumptions, result.cautions, (SHARED_UNITS, *LASTING)),
        again_section(
            f"{result.command} --html {PAGE_FILE}",
            result.versions,
            {
                f"The full scenario of {number}, {design.name}, with every value filled in": design.scenario
                for number, design in enumerate(result.designs, start=1)
            },
            {
                "seed": str(result.seed),
                "runs of each design": whole(result.runs),
                "first run": whole(result.first_run),
                "engine": result.engine,
                "ended by": result.ended_by,
                "plotly, which draws this page's charts": version("plotly"),
            },
        ),
    ]
    job = (Sentence(f"{result.met}."),)
    return Document(result.title, "a comparison", job, tuple(sections), brief)


def _headline(result: ComparisonResult) -> tuple[Block, ...]:
    """The result in a sentence, and a sentence for each of several comparisons."""
    head = Sentence(result.headline, "headline")
    if len(result.comparisons) == 1:
        return (head,)
    return head, Items(tuple(Sentence(each.sentence, TONES[each.verdict]) for each in result.comparisons))


def _rates(result: ComparisonResult) -> Section:
    """The rate of each design, and the differences as a chart."""
    from reports.figures.forest import difference_figure, difference_summary

    designs = result.designs
    exact = [estimate_text(design.exact_share, 100.0, 100.0) for design in designs]
    spurious = [design.spurious for design in designs]
    table = Table(
        "Wrong steps, and runs that ended at the expected position",
        (
            Column("design", [f"{n}: {each.name}" for n, each in enumerate(designs, start=1)], sort="name"),
            Column("wrong", [whole(design.wrong) for design in designs], rank=1),
            *rate_columns([design.wrong_rate for design in designs], "wrong per\n1,000"),
            *([Column("spurious\ncounts", [whole(count) for count in spurious])] if any(spurious) else []),
            Column("runs ended\nexactly (%)", on_the_point(exact), rank=2),
        ),
    )
    chart = Figure("chart-differences", lambda: difference_figure(result), difference_summary(result))
    blocks: tuple[Block, ...] = (table, chart, *sentences([result.together], "quiet"))
    return Section("rates", "Wrong steps of each design", blocks, "Rates")


def _designs(result: ComparisonResult) -> Section:
    """The designs by number, what differs between them, and each as a block diagram."""
    names = tuple(
        Sentence(
            each.name if each.title in (result.title, each.name) else f"{each.name}: {each.title}",
            lead=str(number),
        )
        for number, each in enumerate(result.designs, start=1)
    )
    differs: Iterable[Block] = (Sentence("Nothing differs: the designs are the same."),)
    if result.differences:
        differs = _difference_tables(result)
    shared = [box for box in result.designs[0].signal_path if box.role in SHARED]
    note = (
        "Line A is drawn solid, line B dashed. What differs between the designs is underlined. Values that "
        "are zero, and those of chatter, are in the full scenarios at the end."
    )
    blocks: tuple[Block, ...] = (
        Items(names, only=("terminal", "notebook")),
        Group("What differs", tuple(differs)),
        Group(
            "Shared by all designs",
            (SignalPath("From the hand to the contacts", _boxes(shared)),),
            only=("page",),
        ),
        *(
            Group(
                f"{number}: {design.name}",
                (
                    SignalPath(
                        f"Design {number}, from the contacts to the count",
                        _boxes(box for box in design.signal_path if box.role not in (*SHARED, "supply")),
                    ),
                    *sentences([supply_line(design.signal_path)], "quiet"),
                ),
                beside=True,
                only=("page",),
            )
            for number, design in enumerate(result.designs, start=1)
        ),
        Sentence(note, "quiet", only=("page",)),
    )
    return Section("design", "Designs", blocks, "Designs")


def _boxes(path: Iterable[DesignBox]) -> tuple[Box, ...]:
    return tuple(
        Box(
            each.role, each.name, each.kind, each.lines, each.joint,
            tuple(Value(value.name, value.value, value.tolerance, value.differs) for value in each.values),
            each.differs,
        )
        for each in path
    )  # fmt: skip


def _difference_tables(result: ComparisonResult) -> Iterator[Table]:
    """A column for each design; in a terminal as many tables as it takes to keep within its width, the
    first design in each.
    """
    rows, count = result.differences, len(result.designs)

    def table(others: Iterable[int], **only: Any) -> Table:
        columns = [Column("path", [row.path for row in rows], sort="name")]
        for number in (0, *others):
            cells = [row.values[number] or "-" for row in rows]
            long = max(map(len, cells)) > LONG
            columns.append(Column(f"design\n{number + 1}", cells, sort="text" if long else "short"))
        return Table("Values that are not the same in all designs", tuple(columns), **only)

    parts: list[list[int]] = []
    for number in range(1, count):
        if parts and natural_width(table([*parts[-1], number])) <= NARROW:
            parts[-1].append(number)
        else:
            parts.append([number])
    if len(parts) == 1:
        yield table(range(1, count))
        return
    yield table(range(1, count), only=("page", "notebook"))
    for part in parts:
        yield table(part, only=("terminal",))


def _differences(result: ComparisonResult) -> Section:
    """Each design compared with the first: by verdict, by gesture, by run, and how steps differ."""
    several = len(result.comparisons) > 1
    blocks: list[Block] = []
    for number, each in enumerate(result.comparisons, start=2):
        lead = f"{number} compared with 1: " if several else ""
        rows: dict[str, PairedCount | PairedSpurious] = {
            name: getattr(each.by_verdict, name) for name in VERDICTS
        }
        if any(design.spurious for design in result.designs):
            rows["spurious"] = each.spurious
        by_verdict = Table(
            f"All steps, {number} compared with 1; wrong: missed, doubled or reversed",
            (Column("verdict", list(rows), sort="name"), *_paired(list(rows.values()), number)),
        )
        by_gesture = Table(
            f"Wrong steps by gesture of the hand, {number} compared with 1",
            (
                Column("gesture", [row.name for row in each.by_gesture], sort="name"),
                Column("steps", [whole(row.steps) for row in each.by_gesture], rank=1),
                *_paired(each.by_gesture, number),
            ),
        )
        table = each.runs_table
        by_run = Table(
            f"Runs with and without a wrong step, {number} compared with 1",
            (
                Column("runs", ["1: none wrong", "1: some wrong"], sort="name"),
                Column(f"{number}: none wrong", [whole(table.both_right), whole(table.only_other_right)]),
                Column(f"{number}: some wrong", [whole(table.only_first_right), whole(table.both_wrong)]),
            ),
        )
        run_note = Sentence(runs_sentence(each, len(result.comparisons)))
        blocks += [
            Group(_titled(lead, "steps by verdict"), (by_verdict,)),
            Group(_titled(lead, "wrong steps by gesture"), (by_gesture,)),
            Group(_titled(lead, "runs"), (by_run, run_note)),
            Group(_titled(lead, "steps with different outcomes"), tuple(_divergent(each, number))),
        ]
    return Section("differences", "Differences on the same steps", tuple(blocks), "Differences", folded=True)


def _titled(lead: str, words: str) -> str:
    return f"{lead}{words}" if lead else words.capitalize()


def _paired(rows: Sequence[PairedCount | PairedGesture | PairedSpurious], number: int) -> list[Column]:
    """Steps of one design only, and the difference of the rates."""
    rates = [row.difference for row in rows]
    return [
        Column("in 1\nonly", [whole(row.only_first) for row in rows]),
        Column(f"in {number}\nonly", [whole(row.only_other) for row in rows]),
        Column(
            "difference\nper 1,000", on_the_point([difference_text(rate) for rate in rates]), tone="strong"
        ),
        Column(CI, [difference_interval_text(rate) for rate in rates]),
    ]


def _divergent(comparison: PairedComparison, number: int) -> Iterator[Block]:
    """How steps ended in either design, and the first step of each kind."""
    rows = comparison.partings
    if not rows:
        yield Sentence("None: every step had the same outcome.")
        return

    def table(most: int, **only: Any) -> Table:
        shown = rows[:most]
        return Table(
            f"Steps with different outcomes in 1 and {number}, and the first of each kind",
            (
                Column("in 1", [outcome_text(row.first) for row in shown], sort="name"),
                Column(f"in {number}", [outcome_text(row.other) for row in shown], sort="short"),
                Column("steps", [whole(row.steps) for row in shown]),
                Column("first in\nrun", [str(row.run) for row in shown]),
                Column("\nstep", [str(row.step) for row in shown]),
            ),
            **only,
        )

    if len(rows) <= MOST_ROWS:
        yield table(MOST_ROWS)
    else:
        yield table(MOST_ROWS, only=("terminal",))
        yield table(len(rows), only=("page", "notebook"))
        more = counted(len(rows) - MOST_ROWS, "rarer kind")
        yield Sentence(f"{more} not shown; --json has them.", "quiet", only=("terminal",))
    yield Sentence("To explain the first of them step by step:", only=("terminal",))
    for command in rows[0].commands:
        yield Sentence(command, lead="  ", only=("terminal",))


def _gallery(gallery: ComparisonGallery) -> Section:
    """Steps that went wrong in one design only, as timing diagrams."""
    blocks: list[Block] = [Sentence("None: no step was wrong in one design and right in the other.")]
    if gallery.steps:
        blocks = [
            Sentence(
                "The first step of each kind. The contacts are drawn once, for they are the same; below them "
                "are the voltages, the lines at the counter and the count of each design, after its number. "
                f"{HOW_TO_LOOK}"
            ),
            *(_gallery_step(step, number) for number, step in enumerate(gallery.steps, start=1)),
        ]
    if gallery.left_out:
        blocks.append(
            Sentence(
                f"{gallery.left_out} more are left out; the table of each comparison names them.", "quiet"
            )
        )
    title = "Steps that went wrong in one design only"
    return Section("gallery", title, tuple(blocks), "Steps", only=("page",))


def _gallery_step(step: ComparedStep, number: int) -> Group:
    first, other = step.sides
    direction = f", {step.direction}" if step.direction else ""
    events = Table(
        event_caption(step.run, step.step),
        (
            Column("time (us)", [f"{event.time_us:,.3f}" for event in step.events], sort="name"),
            Column("in", [event.design for event in step.events], sort="short"),
            Column("event", [event.what for event in step.events], sort="text"),
        ),
    )
    blocks: list[Block] = [
        Sentence(f"Gesture: {step.gesture}{direction}. {counted(step.like_it, 'step')} of this kind."),
    ]
    for design, name, side in zip(step.numbers, step.designs, step.sides, strict=True):
        text = f"expected {signed(side.wanted)}, counted {signed(side.counted)}: {side.verdict}."
        blocks.append(Sentence(f"{text} {side.sentence or ''}".rstrip(), lead=f"{design}: {name}"))
        if side.why:
            blocks.append(Items(tuple(map(Sentence, side.why)), ordered=True))
    blocks += [
        *diagram_blocks(step, number, events, low=True),
        Sentence("These commands explain the step in full, in the one design and in the other:", "quiet"),
        *(Code(side.command, "Command") for side in step.sides),
    ]
    title = (
        f"{step.numbers[1]} compared with 1: {other.verdict} instead of {first.verdict} (run {step.run}, "
        f"step {step.step})"
    )
    return Group(title, tuple(blocks))


def _made(result: ComparisonResult) -> Iterator[Sentence]:
    """How the result was made, and how to make it again."""
    first, last = result.first_run, result.first_run + result.runs - 1
    numbers = f" (numbers {whole(first)} to {whole(last)})" if result.runs > 1 else ""
    stop, rules = result.stop, []
    if stop.errors is not None:
        rules.append(f"at {counted(stop.errors, 'wrong step')} of every design")
    if stop.precision is not None:
        rules.append(f"at differences known within {100.0 * stop.precision:g} % of them")
    if stop.seconds is not None:
        rules.append(f"after {duration_text(stop.seconds)}")
    if stop.settled is not None:
        rules.append("once every difference is settled")
    early = f"; to end early {' or '.join(rules)}" if rules else ""
    yield Sentence(
        f"Seed {result.seed}, {counted(result.runs, 'run')}{numbers} of each design, {result.engine} engine, "
        f"{duration_text(result.seconds)}{early}; ended by: {result.ended_by}.",
        "quiet",
    )
    yield Sentence(f"To repeat: {result.command}", "quiet")
