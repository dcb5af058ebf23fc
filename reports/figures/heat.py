"""The heat map of a sweep over two keys: rates in classes of a logarithmic scale."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports.documents.cells import MET, main_cause_text, marked_rate
from reports.documents.rates import two_digits
from reports.figures.charts import Chart, frame, places, plain, plain_text, rate_label
from reports.render.palette import HEAT, LIGHT, LOW
from reports.words.numbers import PER

if TYPE_CHECKING:
    from reports.results.sweep import CellsResult, CellTally

Grid = Sequence[Sequence["CellTally | None"]]
"""The cells of a map, row by row from below; None for one that was not finished."""
WIDTHS = (1.0 / 3.0, 0.5, 1.0)
"""Decades that one class may hold; decades are then always borders."""
TOP = 3.0
"""The logarithm of all steps, per thousand: no class lies above it."""
MOST_NUMBERS = 8
"""Columns up to which each field bears its number."""
FEW_BORDERS = 6
"""Borders of classes up to which each is written."""
CROWDED = 24
"""Rows, or columns, from which on fields are drawn close together."""
ROW, LOW_ROW, FOOT = 34, 18, 170
LETTER = 9
"""Pixels of a letter of the path written upright beside the rows."""


@dataclass(frozen=True)
class RateClasses:
    """``count`` classes of ``width`` decades from ``low`` on, a logarithm of wrong steps per thousand."""

    low: float
    width: float
    count: int

    @property
    def high(self) -> float:
        """Where the last class ends."""
        return self.low + self.width * self.count

    def colour(self, level: float) -> int:
        """The number of the colour for a logarithm."""
        place = math.floor((level - self.low) / self.width + 1.0e-9)
        return self.colours[min(max(place, 0), self.count - 1)]

    @property
    def colours(self) -> list[int]:
        """The numbers of the colours of all classes, spread over those that there are."""
        steps = max(self.count - 1, 1)
        return [round(number * (len(HEAT) - 1) / steps) for number in range(self.count)]


def classes_for(levels: Sequence[float]) -> RateClasses:
    """The narrowest classes that hold some logarithms in no more classes than there are colours."""
    for width in WIDTHS:
        low = math.floor(min(levels) / width + 1.0e-9) * width
        high = min(math.floor(max(levels) / width + 1.0e-9) * width + width, TOP)
        count = max(round((high - low) / width), 1)
        if count <= len(HEAT):
            break
    return RateClasses(low, width, min(count, len(HEAT)))


def level_of(cell: CellTally) -> float | None:
    """The logarithm of a cell's wrong steps per thousand; None where none was seen."""
    estimate = cell.wrong_rate.estimate
    return math.log10(estimate * PER) if estimate else None


def maps(result: CellsResult) -> list[tuple[str, list[CellTally]]]:
    """The cells of each map of the first two keys, with the values of further keys in it."""
    further = [each.path for each in result.axes[2:]]
    found: dict[str, list[CellTally]] = {}
    for cell in result.cells:
        name = ", ".join(f"{path} {cell.values[path]}" for path in further)
        found.setdefault(name, []).append(cell)
    return list(found.items())


def heat_chart(result: CellsResult, cells: Sequence[CellTally]) -> Chart:
    import plotly.graph_objects as go

    up, across = sorted(result.axes[:2], key=lambda each: -len(each.values))
    at = {(cell.values[up.path], cell.values[across.path]): cell for cell in cells}
    grid = [[at.get((row, column)) for column in across.values] for row in up.values]
    levels = [level for cell in result.cells if (level := level_of(cell)) is not None]
    classes = classes_for(levels or [0.0])
    target = None if result.target is None else result.target.rate
    figure = go.Figure([_fields(grid, classes), *_lines(grid, classes, target), *_labels(grid, classes)])
    figure.update_layout(
        frame(
            height=max(_row(len(up.values)) * len(up.values), LETTER * len(up.path)) + FOOT,
            margin={"l": 82, "r": 12, "t": 12, "b": 160},
        ),
        xaxis=places(across.values, across.path),
        yaxis=places(up.values, up.path, slanted=False),
    )
    return plain(figure)


def _row(count: int) -> int:
    return ROW if count < CROWDED else LOW_ROW


def _fields(grid: Grid, classes: RateClasses) -> Any:
    import plotly.graph_objects as go

    count = classes.count
    steps = [
        [edge / count, LIGHT[HEAT[colour]]]
        for number, colour in enumerate(classes.colours)
        for edge in (number, number + 1)
    ]
    borders = [classes.low + classes.width * number for number in range(count + 1)]
    gap = 2 if len(grid[0]) < CROWDED else 0
    return go.Heatmap(
        z=[[None if cell is None else level_of(cell) for cell in row] for row in grid],
        zmin=classes.low, zmax=classes.high, colorscale=steps, xgap=gap, ygap=gap,
        text=[["" if cell is None else _hover(cell) for cell in row] for row in grid],
        hovertemplate="%{text}<extra></extra>", hoverongaps=True,
        colorbar={
            "orientation": "h", "title": {"text": f"wrong per {PER:,}", "side": "bottom"}, "thickness": 14,
            "outlinewidth": 0, "tickvals": borders, "ticktext": _border_texts(borders),
            "yref": "container", "y": 0.0, "yanchor": "bottom", "tickangle": 0, "ypad": 4,
        },
    )  # fmt: skip


def _border_texts(borders: Sequence[float]) -> list[str]:
    """Borders as rates; of many only whole decades, for a phone has no room for all."""
    few = len(borders) <= FEW_BORDERS
    return [two_digits(10.0**each) if few or abs(each - round(each)) < 1.0e-6 else "" for each in borders]


def _hover(cell: CellTally) -> str:
    lines = [f"{path} {value}" for path, value in cell.values.items()]
    lines.append(rate_label(cell.wrong_rate))
    if cell.meets_target is not None:
        lines.append(f"target {MET[cell.meets_target]}")
    if cell.causes:
        lines.append(main_cause_text(cell))
    return "<br>".join(plain_text(line) for line in lines)


def _lines(grid: Grid, classes: RateClasses, target: float | None) -> list[Any]:
    """Where the rate passes whole decades, and the target; fields without a wrong step lie below both."""
    if len(grid) < 2 or len(grid[0]) < 2:
        return []
    heights = [[None if cell is None else _height(cell, classes) for cell in row] for row in grid]
    decades = {"start": math.ceil(classes.low), "end": math.floor(classes.high), "size": 1}
    rows = [_contour(heights, decades, {"color": LIGHT["quiet"], "width": 1, "dash": "dot"})]
    if target is not None:
        level = math.log10(target * PER)
        line = {"color": LIGHT["bad"], "width": 3, "dash": "dash"}
        rows.append(_contour(heights, {"start": level, "end": level, "size": 1}, line))
    return rows


def _height(cell: CellTally, classes: RateClasses) -> float | None:
    if cell.wrong_rate.estimate is None:
        return None
    level = level_of(cell)
    return classes.low - classes.width if level is None else level


def _contour(heights: Sequence[Sequence[float | None]], levels: Mapping[str, float], line: Chart) -> Any:
    import plotly.graph_objects as go

    return go.Contour(
        z=heights, contours={**levels, "coloring": "none", "showlabels": False}, line=line, showscale=False,
        hoverinfo="skip", connectgaps=False,
    )  # fmt: skip


def _labels(grid: Grid, classes: RateClasses) -> list[Any]:
    """The number of each field where there is room, else a question mark where it is undecided."""
    import plotly.graph_objects as go

    numbers = len(grid[0]) <= MOST_NUMBERS
    marks: dict[str, list[tuple[int, int, str]]] = {"text": [], "low-ink": [], "high-ink": []}
    for y, row in enumerate(grid):
        for x, cell in enumerate(row):
            if cell is None:
                continue
            text = marked_rate(cell) if numbers else "?" if cell.meets_target == "undecided" else ""
            if text:
                marks[_ink(cell, classes)].append((x, y, plain_text(text)))
    return [
        go.Scatter(
            x=[x for x, _, _ in row], y=[y for _, y, _ in row], text=[text for _, _, text in row],
            mode="text", hoverinfo="skip",
            textfont={"size": 12 if numbers else 9, "color": LIGHT[colour], "shadow": "auto"},
        )
        for colour, row in marks.items()
    ]  # fmt: skip


def _ink(cell: CellTally, classes: RateClasses) -> str:
    level = level_of(cell)
    if level is None:
        return "text"
    return "low-ink" if classes.colour(level) < LOW else "high-ink"


def heat_summary(result: CellsResult) -> str:
    numbers = min(len(each.values) for each in result.axes[:2]) <= MOST_NUMBERS
    bound = ", and their number is the upper bound" if numbers else ""
    words = (
        "Each field is a cell, in the colour of its wrong steps per thousand on a logarithmic scale; fields "
        f"without colour had no wrong step{bound}. Dotted lines: where the rate passes a power of ten, drawn "
        "between the cells."
    )
    if result.target is not None:
        met = "* target met, ? undecided, no mark: missed" if numbers else "? undecided"
        words += f" Dashed line: the target. {met}."
    return words
