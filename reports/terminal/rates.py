"""The tables of verdicts: of all steps, by gesture, by spacing of edges."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.table import Table

from reports.numbers import estimate_text, interval_text, on_the_point, whole
from reports.sentences import VERDICTS
from reports.terminal.grid import Column, fitted

Export = dict[str, Any]
WRONG_VERDICTS = ("missed", "doubled", "reversed")
WRONG_STYLE = "bold"


def verdict_table(export: Export, console: Console) -> Table:
    """All steps by verdict: counts, rates per thousand steps and intervals."""
    counts = {**export["verdicts"], "wrong": export["wrong"], "spurious": export["spurious"]}
    rates = {
        **export["verdict_rates"],
        "wrong": export["wrong_rate"],
        "spurious": export["spurious_rate"],
    }
    names = list(counts)
    return fitted(
        [
            Column("verdict", names, side="left"),
            Column("steps", [whole(counts[name]) for name in names]),
            *_rate_columns([rates[name] for name in names], "per 1,000\nsteps"),
            Column("that is", [VERDICTS[name] for name in names], rank=1, side="left", style="dim"),
        ],
        console,
    )


def gesture_table(export: Export, console: Console) -> Table:
    """Each gesture of the hand."""
    groups = export["by_gesture"]
    return fitted(
        [
            Column("gesture", [group["name"] for group in groups], side="left", fold=True),
            Column("kind", [group["kind"] for group in groups], rank=4, side="left"),
            *_group_columns(groups),
        ],
        console,
    )


def spacing_table(export: Export, console: Console) -> Table:
    """Each class of edge spacing that has steps, and the even turning that would give it."""
    groups = [group for group in export["by_spacing"] if group["steps"]]
    columns = [
        Column("edges apart\n(ms)", [spacing_text(group) for group in groups], side="left"),
        Column("like turning\nevenly (rpm)", [rpm_text(group) for group in groups], rank=1),
        *_group_columns(groups),
    ]
    if export["target"] is not None:
        rate = export["target"]["rate"]
        columns.append(
            Column("target", [against(group["wrong_rate"], rate) for group in groups], rank=1, side="left")
        )
    return fitted(columns, console)


def spacing_text(group: Export) -> str:
    """A class of spacing in milliseconds."""
    low, high = group["low_ms"], group["high_ms"]
    if high is None:
        return f"{low:g} and over"
    return f"under {high:g}" if low == 0 else f"{low:g} to {high:g}"


def rpm_text(group: Export) -> str:
    """The speeds of even turning that would space edges like that."""
    slow, fast = group["slowest_rpm"], group["fastest_rpm"]
    if fast is None:
        return f"over {_two_digits(slow)}"
    return f"under {_two_digits(fast)}" if slow == 0 else f"{_two_digits(slow)} to {_two_digits(fast)}"


def against(rate: Export, target: float) -> str:
    """Whether an interval lies below the target, above it, or on both sides of it."""
    if rate["estimate"] is None:
        return ""
    if rate["high"] <= target:
        return "met"
    return "missed" if rate["low"] > target else "open"


def _two_digits(value: float) -> str:
    return f"{float(f'{value:.2g}'):,.10g}"


def _group_columns(groups: Sequence[Export]) -> list[Column]:
    def counts(verdict: str) -> list[str]:
        return [whole(group["verdicts"][verdict]) for group in groups]

    return [
        Column("steps", [whole(group["steps"]) for group in groups]),
        Column("right", counts("right"), rank=5),
        Column("flickered", counts("flickered"), rank=3),
        *(Column(verdict, counts(verdict), rank=2) for verdict in WRONG_VERDICTS),
        Column("wrong", [whole(group["wrong"]) for group in groups]),
        *_rate_columns([group["wrong_rate"] for group in groups], "wrong per\n1,000"),
    ]


def _rate_columns(rates: Sequence[Any], head: str) -> list[Column]:
    return [
        Column(head, on_the_point([estimate_text(rate) for rate in rates]), style=WRONG_STYLE),
        Column("95 % interval", [interval_text(rate) for rate in rates]),
    ]
