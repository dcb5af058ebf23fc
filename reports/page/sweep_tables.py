"""The tables of a sweep's page, as plain rows of text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reports.numbers import PER, estimate_text, interval_text, share_text, whole
from reports.page.tables import INTERVAL, Column, Table, aligned, listed
from reports.sweep_words import axis_text

Export = dict[str, Any]
TOLD = 2
"""Root causes that a row of the table tells."""
MOST_ROWS = 600
"""Cells that a table has, lest the page grow beyond what a browser takes at once."""


def cell_table(export: Export) -> Table:
    """A row for each finished cell."""
    cells = export["cells"][:MOST_ROWS]
    rates = [cell["wrong_rate"] for cell in cells]
    first, *others = export["axes"]
    columns = [
        _values(first, cells, "name"),
        *(_values(axis, cells, "short" if axis["numbers"] is None else "number") for axis in others),
        Column("Runs", [whole(cell["runs"]) for cell in cells]),
        Column("Steps", [whole(cell["steps"]) for cell in cells]),
        Column(f"Wrong per {PER:,}", aligned([estimate_text(rate) for rate in rates])),
        Column(INTERVAL, [interval_text(rate) for rate in rates]),
    ]
    if export["target"] is not None:
        columns.append(Column("Meets the target", [cell["meets_target"] for cell in cells], "short"))
    columns += [
        *(
            Column(verdict.capitalize(), [whole(cell["verdicts"][verdict]) for cell in cells])
            for verdict in ("missed", "doubled", "reversed")
        ),
        Column("Root causes", [_causes(cell) for cell in cells], "short"),
    ]
    return Table("Cells, each with its wrong steps; interval and verdict of each by itself", columns)


def left_out(export: Export) -> str:
    """That not all cells stand in the tables, "" where they do."""
    count = len(export["cells"])
    if count <= MOST_ROWS:
        return ""
    return (
        f"The tables have the first {MOST_ROWS} of {whole(count)} cells; all of them stand in the JSON file."
    )


def _values(axis: Export, cells: Sequence[Export], sort: str) -> Column:
    return Column(axis["path"], [cell["values"][axis["path"]] for cell in cells], sort)


def _causes(cell: Export) -> str:
    """The shares of the first causes, and how many more there are."""
    shares = [f"{cause} {share_text(count, cell['wrong'])}" for cause, count in cell["causes"].items()]
    more = [f"{len(shares) - TOLD} more"] if len(shares) > TOLD else []
    return ", ".join([*shares[:TOLD], *more]) or "-"


def gesture_table(export: Export) -> Table:
    """Each gesture of each cell of a sweep over one key."""
    axis, cells = export["axes"][0], export["cells"][:MOST_ROWS]
    columns = [_values(axis, cells, "name")]
    for number, gesture in enumerate(cells[0]["by_gesture"]):
        groups = [cell["by_gesture"][number] for cell in cells]
        rates = [group["wrong_rate"] for group in groups]
        name = gesture["name"]
        columns += [
            Column(f"{name}: wrong per {PER:,}", aligned([estimate_text(rate) for rate in rates])),
            Column(f"{name}: {INTERVAL}", [interval_text(rate) for rate in rates]),
        ]
        if export["target"] is not None:
            columns.append(Column(f"{name}: meets it", [group["meets_target"] for group in groups], "short"))
    return Table("Wrong steps of each gesture", columns)


def window_table(export: Export) -> Table:
    """Each window with what bounds it."""
    windows = export["window"]
    return Table(
        f"Windows of {export['axes'][0]['path']}",
        [
            Column("Steps", [window["gesture"] or "all steps" for window in windows], "name"),
            Column("From", [window["from"] or "-" for window in windows]),
            Column("To", [window["to"] or "-" for window in windows]),
            Column("Below it", [_border(window["below"]) for window in windows], "short"),
            Column("Above it", [_border(window["above"]) for window in windows], "short"),
            Column("Open", [_open(window) for window in windows], "short"),
        ],
    )


def _border(border: Export | None) -> str:
    if border is None:
        return "-"
    if border["outside"] is None:
        return "none tried is outside"
    return f"{border['outside']}: {border['cause'] or 'cause unknown'}"


def _open(window: Export) -> str:
    values = [*window["gaps"]]
    for side in ("below", "above"):
        values += window[side]["open"] if window[side] is not None else []
    return ", ".join(values) or "-"


def version_table(export: Export) -> Table:
    """What the result, and the page, were made with."""
    from importlib.metadata import version

    told = {
        "seed": str(export["seed"]),
        "cells": f"{whole(len(export['cells']))} of {whole(export['cells_asked'])}",
        "runs": whole(sum(cell["runs"] for cell in export["cells"])),
        "most runs of a cell": whole(export["runs_asked"]),
        **{axis["path"]: _axis(axis) for axis in export["axes"]},
        **{name.replace("_", " "): listed(value) for name, value in export["versions"].items()},
        "plotly, which draws this page's charts": version("plotly"),
    }
    return Table(
        "Seed, ranges and versions",
        [Column("What", list(told), "name"), Column("Value", list(told.values()), "text")],
    )


def _axis(axis: Export) -> str:
    text = axis_text(axis["values"], numeric=axis["numbers"] is not None)
    return f"{text}; given as {axis['given']}"
