"""The chart of differences between designs: a point and its interval in a row for each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from reports.compare_words import difference_interval_text, difference_text
from reports.numbers import PER
from reports.page.figures import axis, frame, plain
from reports.page.tables import INTERVAL
from reports.render.palette import LIGHT

Export = dict[str, Any]
ROW = 44
"""Pixels: a line of text above each interval."""
FEW = 4
"""Designs up to which each gesture has its row."""
LONGEST = 48
SIDES = {
    -1: ("fewer", "triangle-left", "good"),
    0: ("not settled", "circle-open", "quiet"),
    1: ("more", "triangle-right", "bad"),
}
"""What a row shows, by the side of nought on which its interval lies: its word, its mark, its colour."""


@dataclass(frozen=True)
class Row:
    """One row: its label, and the difference with its interval."""

    label: str
    rate: Any

    @property
    def side(self) -> int:
        """On which side of nought the whole interval lies; 0 for neither."""
        return int(self.rate["low"] > 0.0) - int(self.rate["high"] < 0.0)


def difference_figure(export: Export) -> Export:
    """Differences per thousand steps, from top to bottom; left of nought is fewer wrong steps."""
    import plotly.graph_objects as go

    rows = list(_rows(export))
    figure = go.Figure([_marks(rows, side) for side in SIDES])
    figure.update_layout(
        frame(height=ROW * len(rows) + 96, margin={"l": 14, "r": 14, "t": 10, "b": 56}),
        xaxis=axis(f"difference to 1 per {PER:,} steps", fixedrange=True, nticks=7),
        yaxis=axis(
            fixedrange=True, showticklabels=False, showgrid=False, ticks="",
            range=[len(rows) - 0.4, -0.7], showline=False,
        ),
        shapes=[
            {
                "type": "line", "x0": 0, "x1": 0, "y0": 0, "y1": 1, "yref": "paper", "layer": "below",
                "line": {"color": LIGHT["text"], "width": 1.5, "dash": "dot"},
            }
        ],
        annotations=[_label(row, number) for number, row in enumerate(rows)],
    )  # fmt: skip
    return plain(figure)


def _rows(export: Export) -> Iterator[Row]:
    """Of one comparison every verdict and gesture; of few, wrong steps by gesture; of many, all together."""
    comparisons = export["comparisons"]
    for number, each in enumerate(comparisons, start=2):
        lead = f"{number}: " if len(comparisons) > 1 else ""
        names = ("wrong", "missed", "doubled", "reversed") if not lead else ("wrong",)
        for name in names:
            yield Row(f"{lead}{name}, all gestures", each["by_verdict"][name]["difference"])
        if len(comparisons) < FEW:
            for gesture in each["by_gesture"]:
                yield Row(f"{lead}wrong, {gesture['name']}", gesture["difference"])


def _marks(rows: list[Row], side: int) -> Any:
    """The rows on one side of nought."""
    import plotly.graph_objects as go

    word, symbol, colour = SIDES[side]
    ink = LIGHT[colour]
    chosen = [(number, row.rate) for number, row in enumerate(rows) if row.side == side]
    estimates = [rate["estimate"] * PER for _, rate in chosen]
    highs = [(rate["high"] - rate["estimate"]) * PER for _, rate in chosen]
    lows = [(rate["estimate"] - rate["low"]) * PER for _, rate in chosen]
    return go.Scatter(
        x=estimates, y=[number for number, _ in chosen], mode="markers", name=word,
        marker={"symbol": symbol, "size": 13, "color": ink, "line": {"width": 2, "color": ink}},
        error_x={"type": "data", "array": highs, "arrayminus": lows, "color": ink, "thickness": 2},
        text=[_reading(rows[number]) for number, _ in chosen],
        hovertemplate="%{text}<extra></extra>",
    )  # fmt: skip


def _reading(row: Row) -> str:
    """What a pointer reads of a row."""
    amount, interval = difference_text(row.rate), difference_interval_text(row.rate)
    return f"{_escaped(row.label)}<br>{amount} per {PER:,} (95 %: {interval})"


def _label(row: Row, number: int) -> Export:
    """The row's label above its interval, in the same colour."""
    text = row.label if len(row.label) <= LONGEST else f"{row.label[:LONGEST]}..."
    return {
        "text": _escaped(text), "x": 0, "xref": "paper", "xanchor": "left", "y": number - 0.14, "yref": "y",
        "yanchor": "bottom", "align": "left", "showarrow": False, "bgcolor": LIGHT["sheet"], "borderpad": 1,
        "font": {"color": LIGHT["text"], "size": 12},
    }  # fmt: skip


def _escaped(text: str) -> str:
    """The chart library reads a few marks in its texts; ours are to stand as they are."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def difference_summary(export: Export) -> str:
    """What the chart shows, in words."""
    rows = list(_rows(export))
    counts = [sum(row.side == side for row in rows) for side in (-1, 1, 0)]
    return (
        f"Differences to design 1 on the same steps, each with its {INTERVAL}. Left of the dotted line, with "
        f"a triangle that points left, are fewer: {counts[0]} of {len(rows)}; right of it, with one that "
        f"points right, more: {counts[1]}; an open circle has an interval that holds nought: {counts[2]}."
    )
