"""The page of a comparison: the export, turned into sections and rendered with the templates."""

from __future__ import annotations

from typing import Any

from reports.compare_words import runs_line
from reports.page import compare_tables, forest, timing
from reports.page.document import FILE_NAME, environment, looks
from reports.page.tables import version_table
from reports.sentences import LASTING

Export = dict[str, Any]
SHARED = ("hand", "encoder", "contacts")
"""Roles of the boxes that all designs have in common."""
TRACK = 36
"""Pixels of a track of height 1: two designs stand in one diagram."""


def page(export: Export) -> str:
    """One HTML page that loads nothing; the same export gives the same bytes, whatever time it took."""
    template = environment().get_template("compare.html.j2")
    words = {
        "own_cautions": [caution for caution in export["cautions"] if caution not in LASTING],
        "command": f"{export['command']} --html {FILE_NAME}",
        "tables": compare_tables,
        "runs_line": runs_line,
        "version_table": version_table,
    }
    return template.render(export=export, **looks(), **words, **_boxes(export), **_charts(export))


def _boxes(export: Export) -> Export:
    """The boxes that the designs share, once, and each design's own but for its supply."""
    first = export["designs"][0]["signal_path"]
    apart = (*SHARED, "supply")
    return {
        "shared": [box for box in first if box["role"] in SHARED],
        "own": [
            [box for box in design["signal_path"] if box["role"] not in apart] for design in export["designs"]
        ],
    }


def _charts(export: Export) -> Export:
    """Every chart by the id of its place, and what each shows in words."""
    if not export["steps"]:
        return {"charts": {}, "summaries": {}}
    charts = {"chart-differences": forest.difference_figure(export)}
    summaries = {"chart-differences": forest.difference_summary(export)}
    for number, item in enumerate(export["gallery"]["steps"], start=1):
        place = f"chart-step-{number}"
        ranges = {"window": item["window_us"], "moment": item["moment_us"]}
        charts[place] = timing.timing_figure(item, TRACK) | {"ranges": ranges}
        summaries[place] = timing.timing_summary(item)
    return {"charts": charts, "summaries": summaries}
