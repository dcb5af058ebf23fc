"""The chart of a sweep over one key: rates with their intervals and the window, for each hand speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reports.numbers import PER
from reports.page.axes import places, plain_text, rate_hover, scale_of
from reports.page.figures import axis, frame, plain
from reports.render.palette import LIGHT
from reports.sweep_words import brief
from reports.window_export import group_of

Export = dict[str, Any]
MOST_GROUPS = 8
"""Panels of one chart: all steps, and the first gestures."""
PANEL, FOOT = 190, 110
"""Pixels of a panel, and of what stands below the last one."""
NEAR_END = 0.3
"""A border nearer to an end of the axis than this share of it has its words at that end."""


@dataclass(frozen=True)
class Panel:
    """One group of steps: its number from the top (from 0), its name, the rate of each value (None where a
    cell was not finished), its window if there is one, and the part of the height that it takes.
    """

    number: int
    name: str
    rates: list[Any]
    window: Export | None
    domain: tuple[float, float]

    @property
    def axis(self) -> str:
        """The name of its vertical axis in traces."""
        return "y" if self.number == 0 else f"y{self.number + 1}"


def window_figure(export: Export) -> Export:
    """A panel for all steps and one for each gesture, over one axis of values."""
    import plotly.graph_objects as go

    chosen = panels(export)
    values, path = export["axes"][0]["values"], export["axes"][0]["path"]
    numeric = export["axes"][0]["numbers"] is not None
    scale, floor = scale_of([rate for panel in chosen for rate in panel.rates if rate is not None])
    figure = go.Figure([trace for panel in chosen for trace in _traces(panel, values, floor, numeric)])
    figure.update_layout(
        frame(
            height=PANEL * len(chosen) + FOOT, barmode="overlay", margin={"l": 62, "r": 12, "t": 4, "b": 90}
        ),
        xaxis=places(values, path, anchor=chosen[-1].axis),
        **{f"yaxis{panel.number + 1}": _vertical(panel, chosen, scale, floor) for panel in chosen},
        shapes=[shape for panel in chosen for shape in _shapes(panel, export["target"])],
        annotations=[note for panel in chosen for note in _notes(panel, len(values))],
    )
    return plain(figure)


def panels(export: Export) -> list[Panel]:
    """All steps first, then each gesture of a hand of several."""
    by_number = {cell["number"]: cell for cell in export["cells"]}
    gestures = [group["name"] for group in export["cells"][0]["by_gesture"]]
    groups: list[int | None] = [None, *(range(len(gestures)) if len(gestures) > 1 else ())]
    groups = groups[:MOST_GROUPS]
    windows = export["window"] or [None] * len(groups)
    found = []
    for number, group in enumerate(groups):
        known = [by_number.get(i) for i in range(len(export["axes"][0]["values"]))]
        rates = [None if cell is None else group_of(cell, group)["wrong_rate"] for cell in known]
        name = "all steps" if group is None else gestures[group]
        low = 1.0 - (number + 0.86) / len(groups)
        found.append(Panel(number, name, rates, windows[number], (low, low + 0.72 / len(groups))))
    return found


def _traces(panel: Panel, values: Sequence[str], floor: float, numeric: bool) -> list[Any]:
    import plotly.graph_objects as go

    lows = [_at(rate, "low", floor) for rate in panel.rates]
    highs = [_at(rate, "high", floor) for rate in panel.rates]
    rows: list[Any] = _band(panel, lows, highs) if numeric else [_boxes(panel, lows, highs)]
    seen = [i for i, rate in enumerate(panel.rates) if rate and rate["estimate"]]
    bound = [i for i, rate in enumerate(panel.rates) if rate and rate["estimate"] == 0.0]
    for chosen, key, symbol in ((seen, "estimate", "diamond"), (bound, "high", "triangle-down")):
        rates = [panel.rates[i] for i in chosen]
        rows.append(
            go.Scatter(
                x=chosen, y=[rate[key] * PER for rate in rates], yaxis=panel.axis, mode="markers",
                marker={"symbol": symbol, "size": 10, "color": LIGHT["line-a"],
                        "line": {"color": LIGHT["sheet"], "width": 1}},
                text=[f"{plain_text(values[i])}<br>{rate_hover(panel.rates[i])}" for i in chosen],
                hovertemplate="%{text}<extra></extra>",
            )
        )  # fmt: skip
    return rows


def _at(rate: Any, key: str, floor: float) -> float | None:
    """An end of an interval per thousand, cut at the floor; None without data."""
    if rate is None or rate[key] is None:
        return None
    return max(float(rate[key]) * PER, floor)


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


def _vertical(panel: Panel, chosen: Sequence[Panel], scale: str, floor: float) -> Export:
    middle = panel.number == len(chosen) // 2
    found = axis(
        f"wrong per {PER:,}" if middle else "", domain=list(panel.domain), type=scale, fixedrange=True,
        rangemode="tozero", anchor="x",
    )  # fmt: skip
    if scale == "log":
        highs = [rate["high"] * PER for one in chosen for rate in one.rates if rate and rate["high"]]
        found |= {
            "dtick": 1,
            "exponentformat": "none",
            "range": [math.log10(floor), math.log10(1.3 * max(highs))],
        }
    return found


def _shapes(panel: Panel, target: Export | None) -> list[Export]:
    """The window as a field, and the rate that it is drawn against as a line."""
    rows: list[Export] = []
    window = panel.window
    if window is not None and window["from"] is not None:
        first, last = window["ends"]
        rows.append({
            "type": "rect", "xref": "x", "yref": f"{panel.axis} domain", "x0": first - 0.5, "x1": last + 0.5,
            "y0": 0, "y1": 1, "fillcolor": LIGHT["good"], "opacity": 0.16, "layer": "below",
            "line": {"width": 0},
        })  # fmt: skip
    rate = window["rate"] if window is not None else target["rate"] if target is not None else None
    if rate is not None:
        rows.append({
            "type": "line", "xref": "paper", "yref": panel.axis, "x0": 0, "x1": 1, "y0": rate * PER,
            "y1": rate * PER, "line": {"color": LIGHT["bad"], "width": 2, "dash": "dash"},
        })  # fmt: skip
    return rows


def _notes(panel: Panel, count: int) -> list[Export]:
    """The panel's name, and what binds on either side of its window."""
    rows = [_note(plain_text(panel.name), "paper", 0.0, "paper", panel.domain[1], "left", "bottom", 13)]
    window = panel.window
    if window is None or window["from"] is None:
        return rows
    first, last = window["ends"]
    at = f"{panel.axis} domain"
    if window["below"]["cause"]:
        text, near = _stacked(window["below"]["cause"]), first < NEAR_END * count
        x, side = (-0.5, "left") if near else (first - 0.5, "right")
        rows.append(_note(text, "x", x, at, 0.02, side, "bottom", 12))
    if window["above"]["cause"]:
        text, near = _stacked(window["above"]["cause"]), last > (1.0 - NEAR_END) * count
        x, side = (count - 0.5, "right") if near else (last + 0.5, "left")
        rows.append(_note(text, "x", x, at, 0.02, side, "bottom", 12))
    return rows


def _stacked(cause: str) -> str:
    """What binds, in two lines, for a narrow place."""
    first, _, last = brief(cause).rpartition(" ")
    return f"{first}<br>{last}" if first else last


def _note(
    text: str, xref: str, x: float, yref: str, y: float, xanchor: str, yanchor: str, size: int
) -> Export:
    return {
        "text": text, "xref": xref, "x": x, "yref": yref, "y": y, "xanchor": xanchor, "yanchor": yanchor,
        "showarrow": False, "align": xanchor, "font": {"size": size, "color": LIGHT["text"]},
    }  # fmt: skip


def window_summary(export: Export) -> str:
    """What the chart shows, in words."""
    numeric = export["axes"][0]["numbers"] is not None
    shapes = "the bands are the 95 % intervals" if numeric else "the boxes are the 95 % intervals"
    words = f"Diamonds are estimates, triangles upper bounds where no step went wrong; {shapes}."
    if export["window"]:
        words += " The tinted field is the window, with what binds on either side at its borders."
    if export["target"] or export["window"]:
        words += " The dashed line is the rate that it is held against."
    hidden = len(export["cells"][0]["by_gesture"]) + 1 - MOST_GROUPS
    if hidden > 0:
        words += f" {hidden} further gestures stand in the JSON file only."
    if scale_of([rate for panel in panels(export) for rate in panel.rates if rate])[0] == "log":
        words += " The axis is logarithmic; what reaches its end reaches further down."
    return words
