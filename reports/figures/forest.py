"""The chart of differences between designs: a point and its interval in a row for each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports.documents.compare_words import difference_interval_text, difference_text, side
from reports.figures.charts import Chart, axis, frame, plain, plain_text
from reports.render.palette import LIGHT
from reports.words.numbers import PER
from reports.words.sentences import WRONG_VERDICTS

if TYPE_CHECKING:
    from reports.results.common import Rate
    from reports.results.compare import ComparisonResult

ROW = 44
"""Pixels: a line of text above each interval."""
FEW = 4
"""Designs up to which each gesture has its row."""
LONGEST = 48
SIDES = {
    -1: ("fewer", "triangle-left", "good"),
    0: ("undecided", "circle-open", "quiet"),
    1: ("more", "triangle-right", "bad"),
}
"""What a row shows, by the side of 0 on which its interval lies: its word, its mark, its colour."""


@dataclass(frozen=True)
class DifferenceRow:
    """One row: its label, and the difference with its interval."""

    label: str
    rate: Rate

    @property
    def numbers(self) -> tuple[float, float, float]:
        """Low, estimate and high per thousand; there is a row only where there are steps."""
        low, estimate, high = self.rate.low or 0.0, self.rate.estimate or 0.0, self.rate.high or 0.0
        return low * PER, estimate * PER, high * PER


def difference_figure(result: ComparisonResult) -> Chart:
    """Differences per thousand steps, from top to bottom; left of 0 is fewer wrong steps."""
    import plotly.graph_objects as go

    rows = list(_rows(result))
    figure = go.Figure([_marks(rows, each) for each in SIDES])
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


def difference_summary(result: ComparisonResult) -> str:
    rows = list(_rows(result))
    fewer, more, undecided = (sum(side(row.rate) == each for row in rows) for each in (-1, 1, 0))
    return (
        "Differences to design 1 on the same steps, each with its 95 % confidence interval. Left of the "
        f"dotted line, marked by a triangle that points left, are fewer: {fewer} of {len(rows)}; right of "
        f"it, by one that points right, more: {more}; an open circle has an interval that contains 0: "
        f"{undecided}."
    )


def _rows(result: ComparisonResult) -> Iterator[DifferenceRow]:
    """Of one comparison every verdict and gesture; of few, wrong steps by gesture; of many, all together."""
    comparisons = result.comparisons
    for number, each in enumerate(comparisons, start=2):
        lead = f"{number}: " if len(comparisons) > 1 else ""
        for name in ("wrong",) if lead else ("wrong", *WRONG_VERDICTS):
            yield DifferenceRow(f"{lead}{name}, all gestures", getattr(each.by_verdict, name).difference)
        if len(comparisons) < FEW:
            for gesture in each.by_gesture:
                yield DifferenceRow(f"{lead}wrong, {gesture.name}", gesture.difference)


def _marks(rows: list[DifferenceRow], where: int) -> Any:
    """The rows on one side of 0."""
    import plotly.graph_objects as go

    word, symbol, colour = SIDES[where]
    ink = LIGHT[colour]
    chosen = [(number, row) for number, row in enumerate(rows) if side(row.rate) == where]
    ends = [row.numbers for _, row in chosen]
    return go.Scatter(
        x=[estimate for _, estimate, _ in ends], y=[number for number, _ in chosen],
        mode="markers", name=word,
        marker={"symbol": symbol, "size": 13, "color": ink, "line": {"width": 2, "color": ink}},
        error_x={
            "type": "data", "array": [high - estimate for _, estimate, high in ends],
            "arrayminus": [estimate - low for low, estimate, _ in ends], "color": ink, "thickness": 2,
        },
        text=[
            f"{plain_text(row.label)}<br>{difference_text(row.rate)} per {PER:,} "
            f"(95 % CI {difference_interval_text(row.rate)})"
            for _, row in chosen
        ],
        hovertemplate="%{text}<extra></extra>",
    )  # fmt: skip


def _label(row: DifferenceRow, number: int) -> Chart:
    text = row.label if len(row.label) <= LONGEST else f"{row.label[:LONGEST]}..."
    return {
        "text": plain_text(text), "x": 0, "xref": "paper", "xanchor": "left", "y": number - 0.14, "yref": "y",
        "yanchor": "bottom", "align": "left", "showarrow": False, "bgcolor": LIGHT["sheet"], "borderpad": 1,
        "font": {"color": LIGHT["text"], "size": 12},
    }  # fmt: skip
