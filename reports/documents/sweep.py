"""The report of ``steptally sweep``, and the parts that ``choose`` shares with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from importlib.metadata import version
from typing import TYPE_CHECKING

from reports.documents.cells import (
    LISTED,
    axes_line,
    cell_table,
    gesture_table,
    grids,
    left_out,
    lowest_sentence,
    own_cautions,
)
from reports.documents.document import Block, Document, Figure, Group, Items, Section, Sentence, sentences
from reports.documents.ranges import range_bars, range_sentence, range_table
from reports.documents.shared import PAGE_FILE, again_section, design_section, limitations_section
from reports.words.numbers import counted, duration_text, whole
from reports.words.sentences import LASTING

if TYPE_CHECKING:
    from reports.results.sweep import CellsResult, SweepResult

MOST_MAPS = 12
"""Maps of a sweep over more than two keys."""


def document(result: SweepResult) -> Document:
    """The acceptable range, or which cells meet the target; every cell; why steps went wrong."""
    first = headline(result)
    known = bool(result.window) and result.window[0].first is not None
    blocks: tuple[Block, ...] = (
        Sentence(first, "headline"),
        *sentences([lowest_sentence(result) if known else ""]),
        *cautions(result),
    )
    made = (
        f"Scenario {result.name}, seed {result.seed} for every cell, {whole(len(result.cells))} of "
        f"{counted(result.cells_asked, 'cell')}, {counted(result.runs, 'run')}, "
        f"{duration_text(result.seconds)}{'' if result.complete else '; interrupted'}."
    )
    return Document(
        result.title or result.name,
        "steps counted wrongly over ranges of values",
        (Sentence(axes_line(result)), Sentence(result.simulated, "quiet")),
        (
            Section("result", "", blocks, "Result"),
            *cell_sections(result, "Cells"),
            design_section(result.signal_path),
            Section("made", "", (Sentence(made, "quiet"),), only=("terminal", "notebook")),
            limitations_section(result.assumptions, result.cautions, LASTING),
            again(result, {}),
        ),
        brief=(Sentence(first, "headline"),),
    )


def headline(result: SweepResult) -> str:
    if not result.cells:
        return "No cell was finished."
    if result.window:
        return range_sentence(result, result.window[0])
    if result.target is None:
        return lowest_sentence(result)
    met, missed, undecided = (
        sum(cell.meets_target == word for cell in result.cells) for word in ("yes", "no", "undecided")
    )
    return (
        f"Of {counted(len(result.cells), 'cell')} {whole(met)} {'is' if met == 1 else 'are'} shown to meet "
        f"the target ({result.target.text}) and {whole(missed)} to miss it; {whole(undecided)} "
        f"{'is' if undecided == 1 else 'are'} undecided. {lowest_sentence(result)}"
    )


def cautions(result: CellsResult) -> list[Sentence]:
    own = [each for each in result.cautions if each not in LASTING]
    return sentences([*own, *own_cautions(result.cells)], "caution")


def cell_sections(result: CellsResult, title: str, *notes: str) -> list[Section]:
    """The acceptable ranges or maps, the cells under ``title`` with ``notes``, their gestures and causes."""
    if not result.cells:
        return []
    sections = [_ranges(result) if len(result.axes) == 1 else _maps(result)]
    table, many = cell_table(result), len(result.cells) > LISTED
    cells: list[Block] = [*sentences([left_out(result)], "quiet"), table]
    if many and len(result.axes) == 2:
        cells[-1] = replace(table, only=("page", "notebook"))
        cells.append(Sentence("--json and --html have each cell.", "quiet", only=("terminal",)))
    cells += sentences([result.rule, *notes], "quiet")
    sections.append(Section("cells", title, tuple(cells), folded=many))
    if len(result.axes) == 1 and len(result.cells[0].by_gesture) > 1:
        sections.append(
            Section(
                "gestures", "Wrong steps by gesture", (gesture_table(result),), "Gestures", folded=True,
                only=("page", "notebook"),
            )
        )  # fmt: skip
    return [*sections, _causes(result)]


def _ranges(result: CellsResult) -> Section:
    """The acceptable ranges of one key; of a key of words, its rates alone."""
    from reports.figures.ranges import range_chart, range_summary

    path = result.axes[0].path
    chart = Figure("chart-range", lambda: range_chart(result), range_summary(result))
    if not result.window:
        return Section("range", f"Wrong steps over {path}", (chart,), "Rates")
    gestures = tuple(
        Sentence(range_sentence(result, each), lead=each.gesture or "") for each in result.window[1:]
    )
    blocks: tuple[Block, ...] = (
        chart,
        range_bars(result),
        *([Items(gestures)] if gestures else []),
        range_table(result),
        Sentence(result.window_rule, "quiet"),
    )
    return Section("range", f"Acceptable range of {path}", blocks, "Range")


def _maps(result: CellsResult) -> Section:
    """A map for the first two keys, for each combination of the values of further ones."""
    from reports.figures.heat import heat_chart, heat_summary, maps

    found, summary = maps(result), heat_summary(result)
    blocks: list[Block] = []
    for number, (name, cells) in enumerate(found[:MOST_MAPS], start=1):
        chart = Figure(f"chart-heat-{number}", partial(heat_chart, result, cells), summary)
        blocks.append(Group(name, (chart,), only=("page",)) if name else chart)
    if len(found) > MOST_MAPS:
        more = f"{len(found) - MOST_MAPS} more combinations of the further values are in the table only."
        blocks.append(Sentence(more, "quiet", only=("page",)))
    if len(result.axes) == 2:
        blocks += grids(result)
        if result.target is not None:
            marks = "* target met, ? undecided; the others miss it."
            blocks.append(Sentence(marks, "quiet", only=("terminal", "notebook")))
    first, second = result.axes[:2]
    return Section("map", f"Wrong steps over {first.path} and {second.path}", tuple(blocks), "Map")


def _causes(result: CellsResult) -> Section:
    from reports.figures.causes import cause_chart, cause_summary, is_drawn

    block: Block = Sentence("The table of cells has the root causes of each.")
    if is_drawn(result):
        block = Figure("chart-causes", lambda: cause_chart(result), cause_summary(result))
    return Section("causes", "Why steps went wrong", (block,), "Causes", only=("page",))


def again(result: CellsResult, more: Mapping[str, str]) -> Section:
    return again_section(
        f"{result.command} --html {PAGE_FILE}",
        result.versions,
        {"The full scenario without the values varied, with every value filled in": result.scenario},
        {
            "seed": str(result.seed),
            "cells": f"{whole(len(result.cells))} of {whole(result.cells_asked)}",
            "runs": whole(sum(cell.runs for cell in result.cells)),
            "most runs of a cell": whole(result.runs_asked),
            **more,
            **{key.path: f"{key.words}; given as {key.given}" for key in result.axes},
            "plotly, which draws this page's charts": version("plotly"),
        },
    )
