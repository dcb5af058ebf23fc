"""The page of a choice: the export, turned into sections and rendered with the templates."""

from __future__ import annotations

from typing import Any

from reports import choose_words as words
from reports.page import choose_tables, sweep_tables
from reports.page.document import FILE_NAME, environment, looks
from reports.page.sweep import charts
from reports.sentences import LASTING
from reports.sweep_words import axes_line, own_cautions

Export = dict[str, Any]


def page(export: Export) -> str:
    """One HTML page that loads nothing; the same export gives the same bytes, whatever time it took."""
    template = environment().get_template("choose.html.j2")
    return template.render(
        export=export, choose_tables=choose_tables, sweep_tables=sweep_tables,
        **looks(), **_words(export), **charts(export),
    )  # fmt: skip


def _words(export: Export) -> Export:
    """The sentences of the page."""
    best, first = export["recommended"], words.beforehand(export)
    lines = (
        words.search_line(export), words.closest_line(export), words.other_line(export),
        words.varied_line(export),
    )  # fmt: skip
    return {
        "axes": axes_line(export),
        "headline": words.headline(export),
        "lines": [line for line in lines if line],
        "binding": [] if best is None else [f"{path}: {text}" for path, text in words.binding(best)],
        "measured": words.measured_line(export),
        "scenario_cautions": [
            *([first] if first else []), *(each for each in export["cautions"] if each not in LASTING),
        ],
        "cell_cautions": own_cautions(export["cells"]),
        "command": f"{export['command']} --html {FILE_NAME}",
    }  # fmt: skip
