"""Timing diagrams of single steps: tracks one above the other on one axis of time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

from reports.figures.charts import Chart, axis, frame, plain
from reports.render.palette import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from reports.results.gallery import DiagramThreshold, DiagramTrack

HEIGHTS = {"contact": 1.0, "voltage": 2.6, "level": 1.0, "count": 1.3}
GAP, LOW_GAP = 0.75, 1.1
UNIT, LOW_UNIT = 46, 36
"""Pixels of a track of height 1; of a low one."""
WORDS = {"contact": ("open", "closed"), "level": ("low", "high")}
COLOURS = {"A": "line-a", "B": "line-b", "": "count"}
DASHES = {"A": "solid", "B": "dash", "": "solid"}
THRESHOLD_DASHES = {"rising": "dashdot", "falling": "dot"}
DASH_MARKS = {"rising": "\u2013\u00b7\u2013", "falling": "\u00b7\u00b7\u00b7"}
NAMES = {"contact": "contact {line}", "voltage": "voltage of {line} (V)", "level": "{line} at the counter"}


class StepDiagram(Protocol):
    """A step to be drawn, of one design or of two: times (us) count from its beginning."""

    @property
    def window_us(self) -> tuple[float, float]:
        """All that is drawn."""

    @property
    def moment_us(self) -> tuple[float, float]:
        """What is shown at first."""

    @property
    def tracks(self) -> Sequence[DiagramTrack]:
        """From top to bottom."""


def timing_figure(step: StepDiagram, unit: int = UNIT) -> Chart:
    """One wrong step, at first the moment that decided it; ``unit`` pixels for a track of height 1."""
    import plotly.graph_objects as go

    tracks = step.tracks
    domains, total = _domains(tracks)
    figure = go.Figure()
    layout: Chart = frame(
        height=int(total * unit) + 80, hovermode=False, dragmode="zoom",
        margin={"l": 58, "r": 12, "t": 8, "b": 52},
    )  # fmt: skip
    annotations = []
    for number, (track, domain) in enumerate(zip(tracks, domains, strict=True), start=1):
        suffix = "" if number == 1 else str(number)
        for trace in _traces(track):
            figure.add_trace(trace.update(yaxis=f"y{suffix}"))
        layout[f"yaxis{suffix}"] = _lane(track, domain)
        annotations.append(_label(track, domain[1]))
    layout["xaxis"] = axis(
        "time (us)", anchor=f"y{len(tracks)}",
        range=step.moment_us, minallowed=step.window_us[0], maxallowed=step.window_us[1],
        separatethousands=True, exponentformat="none", nticks=6,
    )  # fmt: skip
    figure.update_layout(**layout, annotations=annotations)
    return plain(figure)


def _domains(tracks: Sequence[DiagramTrack]) -> tuple[list[list[float]], float]:
    """From top to bottom, as shares of the whole, with room for a label above each; and the whole."""
    sizes = [(LOW_GAP if track.thresholds else GAP, HEIGHTS[track.sort]) for track in tracks]
    total = sum(gap + height for gap, height in sizes)
    domains, top = [], total
    for gap, height in sizes:
        top -= gap
        domains.append([max((top - height) / total, 0.0), top / total])
        top -= height
    return domains, total


def _traces(track: DiagramTrack) -> list[go.Scatter]:
    """The track itself, which bears its name, and its thresholds, which bear none."""
    import plotly.graph_objects as go

    colour = LIGHT[COLOURS[track.line]]
    words = WORDS.get(track.sort)
    shape = "linear" if track.sort == "voltage" else "hv"
    found = [
        go.Scatter(
            x=track.times_us, y=track.values, mode="lines", name=_name(track),
            line={"color": colour, "width": 2, "dash": DASHES[track.line], "shape": shape},
            customdata=[words[int(value)] for value in track.values] if words else None,
        )
    ]  # fmt: skip
    return [*found, *(_threshold(threshold) for threshold in track.thresholds)]


def _threshold(data: DiagramThreshold) -> go.Scatter:
    import plotly.graph_objects as go

    line = {"color": LIGHT["quiet"], "width": 1.5, "dash": THRESHOLD_DASHES[data.name], "shape": "hv"}
    return go.Scatter(x=data.times_us, y=data.volts, mode="lines", line=line)


def _name(track: DiagramTrack) -> str:
    """The track's name, after that of the design that it belongs to, if there are several."""
    pattern, design = NAMES.get(track.sort), getattr(track, "design", "")
    name = pattern.format(line=track.line) if pattern else track.name
    return f"{design}: {name}" if design else name


def _lane(track: DiagramTrack, domain: list[float]) -> Chart:
    lane = axis(domain=domain, fixedrange=True, showgrid=track.sort in ("voltage", "count"))
    if track.sort in WORDS:
        lane |= {"range": [-0.15, 1.15], "tickvals": [0, 1], "ticktext": list(WORDS[track.sort])}
    elif track.sort == "count":
        low, high = min(track.values), max(track.values)
        lane |= {"range": [low - 0.4, high + 0.4], "tickformat": "d", "nticks": 4, "tick0": low}
        if high - low < 4:
            lane |= {"dtick": 1}
    else:
        lane |= {"nticks": 5, "rangemode": "tozero"}
    return lane


def _label(track: DiagramTrack, top: float) -> Chart:
    """The track's name above it, and its thresholds, each with a sample of its dashes."""
    text = f"<b>{_name(track)}</b>"
    if track.thresholds:
        text += "<br>" + ", ".join(map(_threshold_text, track.thresholds))
    return {
        "text": text, "x": 0, "xref": "paper", "xanchor": "left", "y": top, "yref": "paper",
        "yanchor": "bottom", "align": "left", "showarrow": False,
        "font": {"color": LIGHT[COLOURS[track.line]], "size": 12},
    }  # fmt: skip


def _threshold_text(data: DiagramThreshold) -> str:
    return f"{data.name} {data.volts[0]:.2f} V {DASH_MARKS[data.name]}"


def timing_summary(step: StepDiagram) -> str:
    low, high = step.moment_us
    begin, end = step.window_us
    return (
        f"Timing diagram from {begin:,.0f} us to {end:,.0f} us, counted from the beginning of the "
        f"step; at first it shows {low:,.1f} us to {high:,.1f} us, where the count was decided. Line A is "
        "drawn solid, line B dashed; thresholds of an input are dash-dotted for a rise and dotted for a "
        "fall. The table below it says the same in words."
    )
