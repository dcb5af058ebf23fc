"""Wrong steps to look at: timing diagrams on a page, with their stories."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from reports.documents.document import (
    Block,
    Code,
    Column,
    Figure,
    Fold,
    Group,
    Items,
    Section,
    Sentence,
    Table,
)
from reports.words.numbers import signed, whole

if TYPE_CHECKING:
    from reports.figures.timing import StepDiagram
    from reports.results.gallery import GalleryStep, StepGallery

HOW_TO_LOOK = "Drag across a diagram to look closer, double-click for the whole step, or use the buttons."


def gallery_section(gallery: StepGallery) -> Section:
    """For each root cause the step that is furthest off."""
    runs = whole(gallery.searched_runs)
    if gallery.steps:
        head = f"For each root cause the step that is furthest off in the first {runs} runs. {HOW_TO_LOOK}"
    else:
        head = f"No step was counted wrongly in the {runs} runs that were searched."
    steps = [_step(step, number) for number, step in enumerate(gallery.steps, start=1)]
    return Section(
        "gallery",
        "Wrong steps, one for each root cause",
        (Sentence(head), *steps),
        "Wrong steps",
        only=("page",),
    )


def _step(step: GalleryStep, number: int) -> Group:
    gesture = f"{step.gesture}, {step.direction}" if step.direction else step.gesture
    counts = f"Expected {signed(step.wanted)}, counted {signed(step.counted)}: {step.verdict}."
    events = Table(
        event_caption(step.run, step.step),
        (
            Column("time (us)", [f"{each.time_us:,.3f}" for each in step.events], sort="name"),
            Column("what", [each.what for each in step.events], sort="text"),
        ),
    )
    return Group(
        f"{step.cause.capitalize()}: run {step.run}, step {step.step}",
        (
            Sentence(f"{step.sentence} Gesture: {gesture}. {counts}"),
            Items(tuple(map(Sentence, step.story)), ordered=True),
            *diagram_blocks(step, number, events),
            Sentence("This command explains the step in full:", "quiet"),
            Code(step.command, "Command"),
        ),
    )


def event_caption(run: int, step: int) -> str:
    return f"Run {run}, step {step}: what happened, in order"


def diagram_blocks(step: StepDiagram, number: int, events: Table, *, low: bool = False) -> Sequence[Block]:
    """The timing diagram of the step with this ``number`` on the page, and the same as a table; tracks are
    ``low`` where two designs stand in one diagram.
    """
    from reports.figures.timing import LOW_UNIT, UNIT, timing_figure, timing_summary

    figure = Figure(
        f"chart-step-{number}",
        lambda: timing_figure(step, LOW_UNIT if low else UNIT),
        timing_summary(step),
        {"window": step.window_us, "moment": step.moment_us},
    )
    return figure, Fold("The same as a table", (events,))
