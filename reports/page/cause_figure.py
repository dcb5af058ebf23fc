"""The chart of root causes of a sweep: their shares of the wrong steps, cell by cell."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reports.numbers import share_text, whole
from reports.page.axes import places, plain_text
from reports.page.figures import axis, frame, hatching, plain
from reports.render.palette import LIGHT

Export = dict[str, Any]
COLOURS = ("line-a", "line-b", "count", "bar", "good", "bad", "quiet")
PATTERNS = ("", "/", "x", "-", ".", "\\", "+", "|")
MOST_ROWS = 8
"""Rows of bars: one for each value of a second key."""
MOST_COLUMNS = 120
"""Columns of one row."""
ROW, FOOT = 150, 150


def causes_of(cells: Sequence[Export]) -> list[str]:
    """All root causes that occur, the most frequent first."""
    totals: dict[str, int] = {}
    for cell in cells:
        for cause, count in cell["causes"].items():
            totals[cause] = totals.get(cause, 0) + count
    return sorted(totals, key=lambda cause: (-totals[cause], cause))


def is_drawn(export: Export) -> bool:
    """Whether there is a chart: of one key, or of two of which one has few values, and not too many in
    all; if a step went wrong.
    """
    sizes = sorted(len(axis["values"]) for axis in export["axes"])
    few = len(sizes) < 3 and sizes[-1] <= MOST_COLUMNS and (len(sizes) == 1 or sizes[0] <= MOST_ROWS)
    return few and bool(causes_of(export["cells"]))


def cause_figure(export: Export) -> Export:
    """A column for each value of the key with more of them, a row for each value of the other."""
    import plotly.graph_objects as go

    along, *other = sorted(export["axes"], key=lambda each: -len(each["values"]))
    rows = other[0]["values"] if other else [""]
    causes = causes_of(export["cells"])
    figure = go.Figure()
    for number, row in enumerate(rows):
        cells = {
            cell["values"][along["path"]]: cell
            for cell in export["cells"]
            if not other or cell["values"][other[0]["path"]] == row
        }
        figure.add_traces(_bars(along["values"], cells, causes, number))
    figure.update_layout(
        frame(
            barmode="stack", bargap=0.15, height=ROW * len(rows) + FOOT, showlegend=True,
            legend={"orientation": "h", "yref": "container", "y": 0.0, "yanchor": "bottom"},
            margin={"l": 62, "r": 12, "t": 28, "b": 110},
        ),
        xaxis=places(along["values"], along["path"], anchor=_axis(len(rows) - 1)),
        **{f"yaxis{number + 1}": _vertical(number, len(rows)) for number in range(len(rows))},
        annotations=[_name(f"{other[0]['path']} {row}", i, len(rows)) for i, row in enumerate(rows) if other],
    )  # fmt: skip
    return plain(figure)


def _axis(number: int) -> str:
    return "y" if number == 0 else f"y{number + 1}"


def _bars(values: Sequence[str], cells: dict[str, Export], causes: Sequence[str], row: int) -> list[Any]:
    """A trace for each cause, in one row."""
    import plotly.graph_objects as go

    traces = []
    for number, cause in enumerate(causes):
        found = [(i, cells[value]) for i, value in enumerate(values) if value in cells]
        counts = [(i, cell["causes"][cause], cell["wrong"]) for i, cell in found if cause in cell["causes"]]
        traces.append(
            go.Bar(
                x=[i for i, _, _ in counts], y=[100.0 * count / wrong for _, count, wrong in counts],
                yaxis=_axis(row), name=cause, legendgroup=cause, showlegend=row == 0,
                marker={
                    "color": LIGHT[COLOURS[number % len(COLOURS)]],
                    "pattern": hatching(PATTERNS[number % len(PATTERNS)]),
                },
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


def _vertical(number: int, rows: int) -> Export:
    title = "share of wrong steps (%)" if number == rows // 2 else ""
    return axis(
        title, domain=list(_domain(number, rows)), range=[0, 100], dtick=50, fixedrange=True, anchor="x"
    )


def _name(text: str, number: int, rows: int) -> Export:
    return {
        "text": plain_text(text), "xref": "paper", "x": 0.0, "yref": "paper", "y": _domain(number, rows)[1],
        "xanchor": "left", "yanchor": "bottom", "showarrow": False,
        "font": {"size": 13, "color": LIGHT["text"]},
    }  # fmt: skip


def cause_summary(export: Export) -> str:
    """What the chart shows, in words."""
    causes = causes_of(export["cells"])
    return (
        "Each column is a cell; its parts are the root causes' shares of its wrong steps, told apart by "
        f"colour and hatching: {', '.join(causes)}. A column that is missing saw no wrong step, or was not "
        "finished."
    )
