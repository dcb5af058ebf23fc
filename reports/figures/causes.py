"""The look of each root cause, and the chart of their shares of the wrong steps by cell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from reports.figures.charts import (
    Chart,
    axis,
    frame,
    hatching,
    note,
    places,
    plain,
    plain_text,
    vertical_axis,
)
from reports.render.palette import LIGHT
from reports.words.numbers import share_text, whole

if TYPE_CHECKING:
    from reports.results.sweep import CellsResult, CellTally

CAUSE_LOOKS: Mapping[str, tuple[str, str]] = {
    "chatter": ("line-b", "/"),
    "swallowed": ("line-a", ""),
    "late direction": ("count", "x"),
    "early direction": ("good", "-"),
    "swapped order": ("bad", "."),
    "misfit": ("quiet", "\\"),
    "short pulse": ("bar", "+"),
    "sliding": ("line-a", "|"),
    "end stop": ("line-b", "x"),
    "skipped state": ("count", ""),
    "slow edge": ("bar", "/"),
    "pick-up": ("good", "."),
    "power-up": ("bad", "\\"),
    "supply dip": ("line-a", "+"),
    "unexplained": ("quiet", "|"),
}
"""The colour and the hatch of each root cause on every page; no two causes share both."""
MOST_ROWS = 8
"""Rows of bars: one for each value of a second key."""
MOST_COLUMNS = 120
"""Columns of one row."""
ROW, FOOT = 150, 150


def causes_of(cells: Sequence[CellTally]) -> list[str]:
    """All root causes that occur, the most frequent first."""
    totals: dict[str, int] = {}
    for cell in cells:
        for cause, count in cell.causes.items():
            totals[cause] = totals.get(cause, 0) + count
    return sorted(totals, key=lambda cause: (-totals[cause], cause))


def is_drawn(result: CellsResult) -> bool:
    """Whether there is a chart: of one key, or of two of which one has few values, and not too many in
    all; if a step went wrong.
    """
    sizes = sorted(len(each.values) for each in result.axes)
    few = len(sizes) < 3 and sizes[-1] <= MOST_COLUMNS and (len(sizes) == 1 or sizes[0] <= MOST_ROWS)
    return few and bool(causes_of(result.cells))


def cause_chart(result: CellsResult) -> Chart:
    """A column for each value of the key with more of them, a row for each value of the other."""
    import plotly.graph_objects as go

    along, *other = sorted(result.axes, key=lambda each: -len(each.values))
    rows = other[0].values if other else ("",)
    causes = causes_of(result.cells)
    figure = go.Figure()
    for number, row in enumerate(rows):
        cells = {
            cell.values[along.path]: cell
            for cell in result.cells
            if not other or cell.values[other[0].path] == row
        }
        figure.add_traces(_bars(along.values, cells, causes, number))
    figure.update_layout(
        frame(
            barmode="stack", bargap=0.15, height=ROW * len(rows) + FOOT, showlegend=True,
            legend={"orientation": "h", "yref": "container", "y": 0.0, "yanchor": "bottom"},
            margin={"l": 62, "r": 12, "t": 28, "b": 110},
        ),
        xaxis=places(along.values, along.path, anchor=vertical_axis(len(rows) - 1)),
        **{f"yaxis{number + 1}": _vertical(number, len(rows)) for number in range(len(rows))},
        annotations=[
            note(plain_text(f"{each.path} {row}"), 0.0, _domain(number, len(rows))[1])
            for each in other
            for number, row in enumerate(rows)
        ],
    )  # fmt: skip
    return plain(figure)


def _bars(
    values: Sequence[str], cells: Mapping[str, CellTally], causes: Sequence[str], row: int
) -> list[Any]:
    """A trace for each cause, in one row."""
    import plotly.graph_objects as go

    traces = []
    for cause in causes:
        found = [(i, cells[value]) for i, value in enumerate(values) if value in cells]
        counts = [(i, cell.causes[cause], cell.wrong) for i, cell in found if cause in cell.causes]
        colour, hatch = CAUSE_LOOKS[cause]
        traces.append(
            go.Bar(
                x=[i for i, _, _ in counts], y=[100.0 * count / wrong for _, count, wrong in counts],
                yaxis=vertical_axis(row), name=cause, legendgroup=cause, showlegend=row == 0,
                marker={"color": LIGHT[colour], "pattern": hatching(hatch)},
                text=[
                    f"{plain_text(values[i])}<br>{cause}: {whole(count)} steps, {share_text(count, wrong)}"
                    for i, count, wrong in counts
                ],
                textposition="none", hovertemplate="%{text}<extra></extra>",
            )
        )  # fmt: skip
    return traces


def _domain(number: int, rows: int) -> tuple[float, float]:
    low = 1.0 - (number + 0.88) / rows
    return low, low + 0.74 / rows


def _vertical(number: int, rows: int) -> Chart:
    title = "share of wrong steps (%)" if number == rows // 2 else ""
    return axis(
        title, domain=list(_domain(number, rows)), range=[0, 100], dtick=50, fixedrange=True, anchor="x"
    )


def cause_summary(result: CellsResult) -> str:
    return (
        "Each column is a cell; its parts are the root causes' shares of its wrong steps, told apart by "
        f"colour and hatching: {', '.join(causes_of(result.cells))}. A missing column had no wrong step, or "
        "was not finished."
    )
