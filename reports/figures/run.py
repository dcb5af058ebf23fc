"""The charts of a run: rates by spacing of edges, and final errors, each with its summary in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from reports.documents.rates import error_rows, rate_sentence, spacing_text
from reports.figures.charts import Chart, axis, frame, hatching, plain, rate_label, scale_of
from reports.render.palette import LIGHT
from reports.words.numbers import PER, counted, estimate_text, share_text, whole

if TYPE_CHECKING:
    from collections.abc import Sequence

    import plotly.graph_objects as go

    from reports.results.run import RunResult, SpacingClass


def spacing_figure(result: RunResult) -> Chart:
    """Wrong steps per thousand with the interval's band, above the share of steps, by edge spacing."""
    import plotly.graph_objects as go

    groups = [group for group in result.by_spacing if group.steps]
    names = [spacing_text(group) for group in groups]
    scale, floor = scale_of([group.wrong_rate for group in groups])
    figure = go.Figure(
        [
            _band(names, groups, floor),
            *_estimates(names, groups, floor),
            _shares(names, groups, result.steps),
        ]
    )
    figure.update_layout(
        frame(bargap=0.08, height=460, barmode="overlay"),
        xaxis=axis(
            "closest edges of a step (ms)", anchor="y2", type="category", fixedrange=True, showgrid=False
        ),
        yaxis=axis("wrong per 1,000", domain=[0.36, 1.0], type=scale, fixedrange=True, rangemode="tozero"),
        yaxis2=axis("steps (%)", domain=[0.0, 0.26], fixedrange=True, rangemode="tozero"),
    )
    if scale == "log":
        top = max((group.wrong_rate.high or 0.0) * PER for group in groups)
        ends = [math.log10(floor), math.log10(1.3 * top)]
        figure.update_layout(yaxis={"dtick": 1, "exponentformat": "none", "range": ends})
    _target_line(figure, result)
    return plain(figure)


def _band(names: list[str], groups: Sequence[SpacingClass], floor: float) -> Any:
    import plotly.graph_objects as go

    lows = [max((group.wrong_rate.low or 0.0) * PER, floor) for group in groups]
    highs = [(group.wrong_rate.high or 0.0) * PER for group in groups]
    return go.Bar(
        x=names, base=lows, y=[high - low for low, high in zip(lows, highs, strict=True)],
        name="95 % confidence interval",
        marker={"color": LIGHT["band"], "line": {"color": LIGHT["line-a"], "width": 1}}, hoverinfo="skip",
    )  # fmt: skip


def _estimates(names: list[str], groups: Sequence[SpacingClass], floor: float) -> list[Any]:
    """A point where something was seen; a mark that points down from the bound where nothing was."""
    import plotly.graph_objects as go

    def marks(chosen: list[int], symbol: str, key: str, name: str) -> Any:
        rates = [groups[i].wrong_rate for i in chosen]
        return go.Scatter(
            x=[names[i] for i in chosen], y=[getattr(rate, key) * PER for rate in rates],
            mode="markers", name=name,
            marker={"symbol": symbol, "size": 12, "color": LIGHT["line-a"],
                    "line": {"color": LIGHT["sheet"], "width": 1}},
            text=[rate_label(rate) for rate in rates],
            hovertemplate="%{x} ms<br>%{text}<extra></extra>",
        )  # fmt: skip

    known = [i for i, group in enumerate(groups) if group.wrong_rate.estimate is not None]
    seen = [i for i in known if (groups[i].wrong_rate.estimate or 0.0) > 0.0]
    return [
        marks(seen, "diamond", "estimate", "estimate"),
        marks([i for i in known if i not in seen], "triangle-down", "high", "upper bound"),
    ]


def _shares(names: list[str], groups: Sequence[SpacingClass], steps: int) -> Any:
    import plotly.graph_objects as go

    return go.Bar(
        x=names, y=[100.0 * group.steps / steps for group in groups], yaxis="y2", name="steps",
        marker={"color": LIGHT["bar"]},
        text=[share_text(group.steps, steps) for group in groups], textposition="none",
        hovertemplate="%{x} ms<br>%{text} of the steps<extra></extra>",
    )  # fmt: skip


def _target_line(figure: go.Figure, result: RunResult) -> None:
    target = result.target
    if target is None:
        return
    figure.add_hline(
        y=target.rate * PER, line={"color": LIGHT["bad"], "width": 2, "dash": "dash"}, yref="y",
        annotation={"text": "target", "font": {"color": LIGHT["bad"]}, "xanchor": "right"},
    )  # fmt: skip


def spacing_summary(result: RunResult) -> str:
    """What the chart shows, in words.  The highest rate is the one whose whole interval lies highest."""
    groups = [group for group in result.by_spacing if group.wrong_rate.estimate is not None]
    worst = max(groups, key=lambda group: group.wrong_rate.low or 0.0)
    common = max(groups, key=lambda group: group.steps)
    most = f"Most steps, {share_text(common.steps, result.steps)}, have edges {_apart(common)} apart"
    log = scale_of([group.wrong_rate for group in groups])[0] == "log"
    cut = " The axis is logarithmic; boxes that stand on its end reach further down." if log else ""
    if not worst.wrong:
        return f"No step went wrong at any spacing; the triangles are upper bounds. {most}.{cut}"
    rate = worst.wrong_rate
    return (
        f"The highest rate that is well known is where edges come {_apart(worst)} apart: "
        f"{rate_sentence(rate)}. {most}; there it is "
        f"{estimate_text(common.wrong_rate)}. The boxes are the intervals.{cut}"
    )


def _apart(group: SpacingClass) -> str:
    text = spacing_text(group)
    return f"{group.low_ms:g} ms or more" if group.high_ms is None else f"{text} ms"


def error_figure(result: RunResult) -> Chart:
    import plotly.graph_objects as go

    rows = error_rows(dict(result.final_errors))
    labels, runs = [label for label, _ in rows], [count for _, count in rows]
    shapes = ["" if label == "0" else "/" for label in labels]
    figure = go.Figure(
        go.Bar(
            x=labels, y=[100.0 * count / result.runs for count in runs],
            marker={"color": LIGHT["bar"], "pattern": hatching(shapes)},
            text=[share_text(count, result.runs) for count in runs], textposition="outside",
            textfont={"color": LIGHT["text"]}, cliponaxis=False,
            customdata=[whole(count) for count in runs],
            hovertemplate="error %{x}<br>%{customdata} runs, %{text}<extra></extra>",
        )
    )  # fmt: skip
    figure.update_layout(
        frame(bargap=0.25, height=320),
        xaxis=axis("final error (counts)", type="category", fixedrange=True, showgrid=False),
        yaxis=axis("runs (%)", fixedrange=True, rangemode="tozero"),
    )
    return plain(figure)


def error_summary(result: RunResult) -> str:
    errors = dict(result.final_errors)
    if set(errors) == {0}:
        return f"All {counted(result.runs, 'run')} ended at the expected position."
    furthest = max(errors, key=lambda error: (abs(error), error))
    return (
        f"Bars without hatching are exact runs, hatched ones are off; the furthest final error is "
        f"{furthest:+d}, in {counted(errors[furthest], 'run')}."
    )
