"""What all charts share: layout, axes, hatching."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from reports.render.palette import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

Chart = dict[str, Any]
"""Data and layout for the page's chart library."""
FONT = "system-ui, sans-serif"


def plain(figure: go.Figure) -> Chart:
    """A figure as plain data, without the library's own template."""
    figure.layout.template = None
    loaded: Chart = json.loads(figure.to_json())
    loaded["layout"].pop("template", None)
    return loaded


def frame(**more: Any) -> Chart:
    """The layout that all charts share."""
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
    """An axis that all charts share."""
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
