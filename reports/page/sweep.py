"""The page of a sweep: the export, turned into sections and rendered with the templates."""

from __future__ import annotations

from typing import Any

from reports.page import cause_figure, heat, sweep_tables, window_figure
from reports.page.document import FILE_NAME, environment, looks
from reports.sentences import LASTING
from reports.sweep_words import (
    axes_line,
    headline,
    lowest_sentence,
    own_cautions,
    tells_window,
    window_sentence,
)

Export = dict[str, Any]


def page(export: Export) -> str:
    """One HTML page that loads nothing; the same export gives the same bytes, whatever time it took."""
    template = environment().get_template("sweep.html.j2")
    return template.render(
        export=export, sweep_tables=sweep_tables, **looks(), **_words(export), **charts(export)
    )


def _words(export: Export) -> Export:
    """The sentences of the page."""
    windows = export["window"]
    return {
        "axes": axes_line(export),
        "headline": headline(export),
        "lowest": lowest_sentence(export) if tells_window(export) else "",
        "by_gesture": [f"{window['gesture']}: {window_sentence(export, window)}" for window in windows[1:]],
        "scenario_cautions": [each for each in export["cautions"] if each not in LASTING],
        "cell_cautions": own_cautions(export["cells"]),
        "command": f"{export['command']} --html {FILE_NAME}",
    }


def charts(export: Export) -> Export:
    """Every chart by the id of its place, what each shows in words, and the maps with their names."""
    found: dict[str, Export] = {}
    summaries: dict[str, str] = {}
    named: list[tuple[str, str]] = []
    if export["cells"] and len(export["axes"]) == 1:
        found["chart-window"] = window_figure.window_figure(export)
        summaries["chart-window"] = window_figure.window_summary(export)
    parts = heat.maps(export) if len(export["axes"]) > 1 else []
    for number, (name, cells) in enumerate(parts[: heat.MOST_MAPS], start=1):
        place = f"chart-heat-{number}"
        found[place], summaries[place] = heat.heat_figure(export, cells), heat.heat_summary(export)
        named.append((place, name))
    if cause_figure.is_drawn(export):
        found["chart-causes"] = cause_figure.cause_figure(export)
        summaries["chart-causes"] = cause_figure.cause_summary(export)
    return {
        "charts": found,
        "summaries": summaries,
        "maps": named,
        "left_out": len(parts) - len(named),
    }
