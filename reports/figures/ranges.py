"""The chart of a sweep over one key: rates with their intervals and the acceptable range, by gesture."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from reports.figures.charts import (
    Chart,
    axis,
    frame,
    note,
    places,
    plain,
    plain_text,
    rate_label,
    scale_of,
    vertical_axis,
)
from reports.render.palette import LIGHT
from reports.words.numbers import PER

if TYPE_CHECKING:
    from reports.results.common import Rate
    from reports.results.sweep import AcceptableRange, CellsResult

MOST_GROUPS = 8
"""Panels of one chart: all steps, and the first gestures."""
PANEL, FOOT = 190, 110
"""Pixels of a panel, and of what is below the last one."""
NEAR_END = 0.3
"""An end of a range nearer to an end of the axis than this share of it has its words at that end."""


@dataclass(frozen=True)
class Panel:
    """One group of steps: its number from the top (from 0), its name, the rate of each value (None where a
    cell was not finished), its acceptable range if there is one, and the part of the height that it takes.
    """

    number: int
    name: str
    rates: list[Rate | None]
    range: AcceptableRange | None
    domain: tuple[float, float]

    @property
    def axis(self) -> str:
        """The name of its vertical axis in traces."""
        return vertical_axis(self.number)


def range_chart(result: CellsResult) -> Chart:
    """A panel for all steps and one for each gesture, over one axis of values."""
    import plotly.graph_objects as go

    chosen, key = panels(result), result.axes[0]
    scale, floor = scale_of(rate for panel in chosen for rate in panel.rates if rate is not None)
    numeric, target = key.numbers is not None, None if result.target is None else result.target.rate
    figure = go.Figure([trace for panel in chosen for trace in _traces(panel, key.values, floor, numeric)])
    figure.update_layout(
        frame(
            height=PANEL * len(chosen) + FOOT, barmode="overlay", margin={"l": 62, "r": 12, "t": 4, "b": 90}
        ),
        xaxis=places(key.values, key.path, anchor=chosen[-1].axis),
        **{f"yaxis{panel.number + 1}": _vertical(panel, chosen, scale, floor) for panel in chosen},
        shapes=[shape for panel in chosen for shape in _shapes(panel, target)],
        annotations=[each for panel in chosen for each in _notes(panel, len(key.values))],
    )
    return plain(figure)


def panels(result: CellsResult) -> list[Panel]:
    """All steps first, then each gesture of a hand of several."""
    by_number = {cell.number: cell for cell in result.cells}
    gestures = [group.name for group in result.cells[0].by_gesture]
    groups: list[int | None] = [None, *(range(len(gestures)) if len(gestures) > 1 else ())]
    groups = groups[:MOST_GROUPS]
    found = []
    for number, group in enumerate(groups):
        known = [by_number.get(i) for i in range(len(result.axes[0].values))]
        rates = [None if cell is None else cell.group(group).wrong_rate for cell in known]
        name = "all steps" if group is None else gestures[group]
        low = 1.0 - (number + 0.86) / len(groups)
        acceptable = result.window[number] if result.window else None
        found.append(Panel(number, name, rates, acceptable, (low, low + 0.72 / len(groups))))
    return found


def _traces(panel: Panel, values: Sequence[str], floor: float, numeric: bool) -> list[Any]:
    import plotly.graph_objects as go

    lows = [None if rate is None else _end(rate.low, floor) for rate in panel.rates]
    highs = [None if rate is None else _end(rate.high, floor) for rate in panel.rates]
    rows: list[Any] = _band(panel, lows, highs) if numeric else [_boxes(panel, lows, highs)]
    known = [(i, rate) for i, rate in enumerate(panel.rates) if rate is not None]
    seen = [(i, rate, rate.estimate) for i, rate in known if rate.estimate]
    bounds = [(i, rate, rate.high) for i, rate in known if rate.estimate == 0.0]
    for chosen, symbol in ((seen, "diamond"), (bounds, "triangle-down")):
        rows.append(
            go.Scatter(
                x=[i for i, _, _ in chosen], y=[(end or 0.0) * PER for _, _, end in chosen],
                yaxis=panel.axis, mode="markers",
                marker={"symbol": symbol, "size": 10, "color": LIGHT["line-a"],
                        "line": {"color": LIGHT["sheet"], "width": 1}},
                text=[f"{plain_text(values[i])}<br>{rate_label(rate)}" for i, rate, _ in chosen],
                hovertemplate="%{text}<extra></extra>",
            )
        )  # fmt: skip
    return rows


def _end(value: float | None, floor: float) -> float | None:
    """An end of an interval per thousand, cut at the floor; None without data."""
    return None if value is None else max(value * PER, floor)


def _band(panel: Panel, lows: Sequence[float | None], highs: Sequence[float | None]) -> list[Any]:
    """The intervals of neighbouring values as one band."""
    import plotly.graph_objects as go

    def side(ends: Sequence[float | None], fill: str | None) -> Any:
        return go.Scatter(
            x=list(range(len(ends))), y=list(ends), yaxis=panel.axis, mode="lines", hoverinfo="skip",
            line={"color": LIGHT["line-a"], "width": 1}, fill=fill, fillcolor=LIGHT["band"],
        )  # fmt: skip

    return [side(lows, None), side(highs, "tonexty")]


def _boxes(panel: Panel, lows: Sequence[float | None], highs: Sequence[float | None]) -> Any:
    """The intervals of values that have no neighbours."""
    import plotly.graph_objects as go

    known = [i for i, high in enumerate(highs) if high is not None]
    bases = [lows[i] or 0.0 for i in known]
    return go.Bar(
        x=known, base=bases, y=[(highs[i] or 0.0) - base for i, base in zip(known, bases, strict=True)],
        yaxis=panel.axis, width=0.7, hoverinfo="skip",
        marker={"color": LIGHT["band"], "line": {"color": LIGHT["line-a"], "width": 1}},
    )  # fmt: skip


def _vertical(panel: Panel, chosen: Sequence[Panel], scale: Literal["linear", "log"], floor: float) -> Chart:
    middle = panel.number == len(chosen) // 2
    found = axis(
        f"wrong per {PER:,}" if middle else "", domain=list(panel.domain), type=scale, fixedrange=True,
        rangemode="tozero", anchor="x",
    )  # fmt: skip
    if scale == "log":
        highs = [rate.high * PER for one in chosen for rate in one.rates if rate is not None and rate.high]
        found |= {
            "dtick": 1,
            "exponentformat": "none",
            "range": [math.log10(floor), math.log10(1.3 * max(highs))],
        }
    return found


def _shapes(panel: Panel, target: float | None) -> list[Chart]:
    """The acceptable range as a field, and the rate that values are compared with as a line."""
    rows: list[Chart] = []
    acceptable = panel.range
    if acceptable is not None and acceptable.ends is not None:
        first, last = acceptable.ends
        rows.append({
            "type": "rect", "xref": "x", "yref": f"{panel.axis} domain", "x0": first - 0.5, "x1": last + 0.5,
            "y0": 0, "y1": 1, "fillcolor": LIGHT["good"], "opacity": 0.16, "layer": "below",
            "line": {"width": 0},
        })  # fmt: skip
    rate = target if acceptable is None else acceptable.rate
    if rate is not None:
        rows.append({
            "type": "line", "xref": "paper", "yref": panel.axis, "x0": 0, "x1": 1, "y0": rate * PER,
            "y1": rate * PER, "line": {"color": LIGHT["bad"], "width": 2, "dash": "dash"},
        })  # fmt: skip
    return rows


def _notes(panel: Panel, count: int) -> list[Chart]:
    """The panel's name, and the limiting cause at either end of its acceptable range."""
    rows = [note(plain_text(panel.name), 0.0, panel.domain[1])]
    acceptable = panel.range
    if acceptable is None or acceptable.ends is None or acceptable.below is None or acceptable.above is None:
        return rows
    first, last = acceptable.ends
    small = {"size": 12, "color": LIGHT["text"]}
    place = {"xref": "x", "yref": f"{panel.axis} domain", "font": small}
    if acceptable.below.cause:
        x, side = (-0.5, "left") if first < NEAR_END * count else (first - 0.5, "right")
        rows.append(note(_stacked(acceptable.below.cause), x, 0.02, xanchor=side, align=side, **place))
    if acceptable.above.cause:
        near = last > (1.0 - NEAR_END) * count
        x, side = (count - 0.5, "right") if near else (last + 0.5, "left")
        rows.append(note(_stacked(acceptable.above.cause), x, 0.02, xanchor=side, align=side, **place))
    return rows


def _stacked(cause: str) -> str:
    """A limiting cause in two lines, for a narrow place."""
    first, _, last = cause.rpartition(" ")
    return f"{first}<br>{last}" if first else last


def range_summary(result: CellsResult) -> str:
    shapes = "bands" if result.axes[0].numbers is not None else "boxes"
    words = (
        "Diamonds are estimates, triangles upper bounds where no step went wrong; the "
        f"{shapes} are the 95 % confidence intervals."
    )
    if result.window:
        words += " The tinted field is the acceptable range, with the limiting cause at either end."
    if result.target is not None or result.window:
        words += " The dashed line is the rate that values are compared with."
    hidden = len(result.cells[0].by_gesture) + 1 - MOST_GROUPS
    if hidden > 0:
        words += f" {hidden} further gestures are in the JSON file only."
    if scale_of(rate for panel in panels(result) for rate in panel.rates if rate)[0] == "log":
        words += " The axis is logarithmic; what reaches its end reaches further down."
    return words
