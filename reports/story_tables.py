"""The tables of a traced run: its steps, and of one step the contacts, voltages, stages and counts."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

from rich.console import Console, RenderableType
from rich.text import Text

from reports.edge_words import signed
from reports.numbers import whole
from reports.teller import DIGITS, instant_text, telling_digits, time_text, volts_text
from reports.terminal.grid import Column, fitted

Export = dict[str, Any]

MOST_ROWS = 24
"""Rows of one table; the JSON has all of them."""
DOUBT_WIDTH = 16
"""Columns of the text of a doubt."""


def _cut(rows: Sequence[Export]) -> tuple[Sequence[Export], list[RenderableType]]:
    """The rows to show, and a line on those left out."""
    if len(rows) <= MOST_ROWS:
        return rows, []
    left = Text(f"... {whole(len(rows) - MOST_ROWS)} more rows (--json has all)", style="dim")
    return rows[:MOST_ROWS], [left]


def step_table(trace: Export, console: Console) -> RenderableType:
    """All steps of the run; the one whose story follows is marked."""
    return fitted(step_columns(trace), console)


def step_columns(trace: Export) -> list[Column]:
    """The columns of that table."""
    steps = trace["steps"]
    return [
        Column("", [">" if step["number"] == trace["step"] else "" for step in steps], side="left"),
        Column("step", [str(step["number"]) for step in steps]),
        Column("gesture", [step["gesture"] for step in steps], side="left"),
        Column("turned", [step["direction"] for step in steps], side="left", rank=2),
        Column("meant", [step["meant"] for step in steps], side="left", rank=3),
        Column("begins", [f"{step['start_s']:.3f} s" for step in steps], rank=1),
        Column("due", [signed(step["expected"]) for step in steps]),
        Column("counted", [signed(step["received"]) for step in steps], style="bold"),
        Column("pulses", [whole(step["counts"]) for step in steps], rank=4),
        Column("verdict", [step["verdict"] for step in steps], side="left"),
        Column("root cause", [step["cause"] or "" for step in steps], side="left"),
    ]


def contact_table(story: Export, console: Console) -> list[RenderableType]:
    """One row per burst."""
    rows, left = _cut(story["contacts"])
    return [fitted(contact_columns(rows), console), *left]


def contact_columns(rows: Sequence[Export]) -> list[Column]:
    """The columns of that table."""
    return [
        Column("time", [instant_text(row["at_s"]) for row in rows]),
        Column("contact", [f"{row['line']} {_does(row)}" for row in rows], side="left"),
        Column("changes", [whole(row["changes"]) for row in rows]),
        Column("within", [_length(row, "length_s") for row in rows]),
        Column("longest\ngap", [_length(row, "longest_gap_s") for row in rows]),
        Column("edges at\ncounter", [whole(row["edges"]) for row in rows], style="bold"),
        Column("the first\nat", [_first(row) for row in rows], rank=1),
        Column("made of", [", ".join(row["origins"]) for row in rows], side="left", rank=2),
    ]


def _does(row: Export) -> str:
    return "closes" if row["closed"] else "opens"


def _length(row: Export, key: str) -> str:
    return time_text(row[key]) if row["changes"] > 1 else ""


def _first(row: Export) -> str:
    return "none" if row["first_edge_s"] is None else instant_text(row["first_edge_s"])


def voltage_table(story: Export, console: Console, noisy: bool) -> list[RenderableType]:
    """Where the voltages met their thresholds, and where they came short."""
    rows, left = _cut(story["voltages"])
    return [fitted(voltage_columns(rows, noisy), console), *left]


def voltage_columns(rows: Sequence[Export], noisy: bool) -> list[Column]:
    """The columns of that table."""
    return [
        Column("time", [instant_text(row["at_s"]) for row in rows]),
        Column("line", [row["line"] for row in rows], side="left"),
        Column(
            "voltage\n(without noise)" if noisy else "voltage",
            [volts_text(row["volts"], _digits(row)) for row in rows],
            style="bold",
        ),
        Column("threshold", [volts_text(row["threshold"], _digits(row)) for row in rows]),
        Column("", [_way(row) for row in rows], side="left"),
        Column("the input", [_input(row) for row in rows], side="left"),
    ]


def _digits(row: Export) -> int:
    """Digits of a row: so many that a voltage which did not get there is seen not to have."""
    return telling_digits(row["volts"], row["threshold"]) if row["level"] is None else DIGITS


def _way(row: Export) -> str:
    if row["level"] is None:
        return "highest reached" if row["rising"] else "lowest reached"
    return "rising through it" if row["rising"] else "falling through it"


def _input(row: Export) -> str:
    if row["level"] is None:
        return "saw no change"
    return "goes high" if row["level"] else "goes low"


def passed_table(story: Export, console: Console) -> RenderableType:
    """How many changes are left after each place."""
    return fitted(passed_columns(story), console)


def passed_columns(story: Export) -> list[Column]:
    """The columns of that table."""
    rows = story["passed"]
    return [
        Column("changes after", [row["name"] for row in rows], side="left"),
        *(
            Column(line, ["" if row[line] is None else whole(row[line]) for row in rows], style="bold")
            for line in ("A", "B")
        ),
    ]


def count_table(story: Export, console: Console) -> list[RenderableType]:
    """Pulse by pulse."""
    rows, left = _cut(story["counter"])
    return [fitted(count_columns(rows), console), *left]


def count_columns(rows: Sequence[Export]) -> list[Column]:
    """The columns of that table."""
    known = any(volts is not None for row in rows for volts in row["volts"])
    return [
        Column("time", [instant_text(row["at_s"]) for row in rows]),
        Column("counts", [_counts(row) for row in rows], style="bold"),
        Column("position", [whole(row["position"]) for row in rows]),
        *(
            Column(line, [_level(row, number, known) for row in rows], side="left", rank=1)
            for number, line in enumerate(("A", "B"))
        ),
        Column("because", [row["by"] for row in rows], side="left"),
        Column("by", [row["origin"] for row in rows], side="left", rank=3),
        *_doubts(rows),
    ]


def _doubts(rows: Sequence[Export]) -> list[Column]:
    """Why counts were in doubt, if any was; in short lines, so that nothing else has to give way."""
    if not any(row["doubts"] for row in rows):
        return []
    cells = ["\n".join(textwrap.wrap(", ".join(row["doubts"]), DOUBT_WIDTH)) for row in rows]
    return [Column("doubts", cells, side="left")]


def _counts(row: Export) -> str:
    if not row["asked"]:
        return "no count"
    if row["moved"] == row["asked"]:
        return signed(row["asked"])
    return f"{signed(row['asked'])}, held: {signed(row['moved'])}"


def _level(row: Export, line: int, known: bool) -> str:
    word = "high" if row["levels"][line] else "low"
    volts = row["volts"][line]
    return f"{word}, {volts_text(volts)}" if known and volts is not None else word
