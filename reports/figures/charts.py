"""What all charts share: layout, axes, scales of rates, labels, hatching."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, Literal

from reports.render.palette import LIGHT
from reports.words.numbers import PER, estimate_text, interval_text

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from reports.results.common import Rate

Chart = dict[str, Any]
"""Data and layout for the page's chart library."""
FONT = "system-ui, sans-serif"
DECADE = 40.0
"""A wider spread of rates than this is drawn on a logarithmic axis."""
MOST_LABELS = 13
"""Values written along an axis; of more, every second, third and so on."""
CROWDED = 24
"""Letters along an axis from which on labels are slanted, so that they do not meet on a phone."""


def plain(figure: go.Figure) -> Chart:
    """A figure as plain data, without the library's own template."""
    figure.layout.template = None
    loaded: Chart = json.loads(figure.to_json())
    loaded["layout"].pop("template", None)
    return loaded


def frame(**more: Any) -> Chart:
    return {
        "paper_bgcolor": LIGHT["sheet"],
        "plot_bgcolor": LIGHT["sheet"],
        "font": {"family": FONT, "size": 13, "color": LIGHT["text"]},
        "hoverlabel": {
            "bgcolor": LIGHT["head"],
            "bordercolor": LIGHT["rule"],
            "font": {"color": LIGHT["text"]},
        },
        "margin": {"l": 62, "r": 12, "t": 28, "b": 52},
        "showlegend": False,
        **more,
    }


def axis(title: str = "", **more: Any) -> Chart:
    return {
        "title": {"text": title, "standoff": 8},
        "gridcolor": LIGHT["rule"],
        "linecolor": LIGHT["quiet"],
        "tickcolor": LIGHT["quiet"],
        "showline": True,
        "ticks": "outside",
        "zeroline": False,
        **more,
    }


def hatching(shapes: str | list[str]) -> Chart:
    """One hatch for all bars, or one for each, over their colour, which would be left out otherwise."""
    return {"shape": shapes, "fgcolor": LIGHT["sheet"], "fillmode": "overlay"}


def plain_text(text: str) -> str:
    """A text for the chart library, which would take angle brackets for markup."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def places(values: Sequence[str], title: str, *, slanted: bool = True, **more: Any) -> Chart:
    """An axis with one place for each value, evenly spaced, whatever the values are; where many are
    written, they may be ``slanted``.
    """
    every = math.ceil(len(values) / MOST_LABELS)
    shown = range(0, len(values), every)
    return axis(
        plain_text(title),
        tickmode="array",
        tickvals=list(shown),
        ticktext=[plain_text(values[i]) for i in shown],
        range=[-0.5, len(values) - 0.5],
        fixedrange=True,
        showgrid=False,
        tickangle=-45 if slanted and sum(len(values[i]) for i in shown) > CROWDED else 0,
        **more,
    )


def scale_of(rates: Iterable[Rate]) -> tuple[Literal["linear", "log"], float]:
    """Kind of axis for some rates, and the value per thousand at which what reaches 0 is cut."""
    seen = [value * PER for rate in rates for value in (rate.estimate, rate.high) if value]
    if not seen or max(seen) <= DECADE * min(seen):
        return "linear", 0.0
    return "log", 0.5 * min(seen)


def rate_label(rate: Rate) -> str:
    """A rate with its interval, for a label under the pointer."""
    if rate.estimate is None:
        return "no data"
    return f"{estimate_text(rate)} per {PER:,} (95 % CI: {interval_text(rate)})"


def note(text: str, x: float, y: float, **more: Any) -> Chart:
    """A short text in a chart, at shares of its width and height unless ``more`` says otherwise."""
    return {
        "text": text, "x": x, "y": y, "xref": "paper", "yref": "paper", "xanchor": "left",
        "yanchor": "bottom", "showarrow": False, "font": {"size": 13, "color": LIGHT["text"]}, **more,
    }  # fmt: skip


def vertical_axis(number: int) -> str:
    """What traces call the vertical axis of a panel, counted from 0."""
    return "y" if number == 0 else f"y{number + 1}"
