"""Rates in tables and sentences: columns of counts and rates, classes of spacing, final errors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from reports.documents.document import Column
from reports.words.numbers import PER, estimate_text, interval_text, on_the_point, signed, whole
from reports.words.sentences import WRONG_VERDICTS

if TYPE_CHECKING:
    from reports.results.common import GestureTally, Rate, TargetRate
    from reports.results.run import SpacingClass

CI = "95 % CI"
VERDICT_MEANINGS = {
    "right": "the expected count, with no detour",
    "flickered": "the right count in the end, with extra counts to and fro",
    "missed": "too few counts",
    "doubled": "too many counts",
    "reversed": "counted the wrong way",
    "wrong": "missed, doubled or reversed",
    "spurious": "counts that no movement caused",
}
ROWS = 11
"""Most rows of a table of final errors."""


def rate_columns(rates: Sequence[Rate], head: str) -> tuple[Column, ...]:
    return (
        Column(head, on_the_point([estimate_text(rate) for rate in rates]), tone="strong"),
        Column(CI, [interval_text(rate) for rate in rates]),
    )


def group_columns(groups: Sequence[GestureTally | SpacingClass]) -> tuple[Column, ...]:
    def counts(verdict: str) -> list[str]:
        return [whole(getattr(group.verdicts, verdict)) for group in groups]

    return (
        Column("steps", [whole(group.steps) for group in groups]),
        Column("right", counts("right"), rank=5),
        Column("flickered", counts("flickered"), rank=3),
        *(Column(verdict, counts(verdict), rank=2) for verdict in WRONG_VERDICTS),
        Column("wrong", [whole(group.wrong) for group in groups]),
        *rate_columns([group.wrong_rate for group in groups], "wrong per\n1,000"),
    )


def rate_sentence(rate: Rate) -> str:
    return f"{estimate_text(rate)} per {PER:,} (95 % confidence interval {interval_text(rate)})"


def spacing_text(group: SpacingClass) -> str:
    if group.high_ms is None:
        return f"{group.low_ms:g} and over"
    return f"under {group.high_ms:g}" if group.low_ms == 0 else f"{group.low_ms:g} to {group.high_ms:g}"


def rpm_text(group: SpacingClass) -> str:
    slow = two_digits(group.slowest_rpm)
    if group.fastest_rpm is None:
        return f"over {slow}"
    fast = two_digits(group.fastest_rpm)
    return f"under {fast}" if group.slowest_rpm == 0 else f"{slow} to {fast}"


def two_digits(value: float) -> str:
    return f"{float(f'{value:.2g}'):,.10g}"


def against(rate: Rate, target: TargetRate) -> str:
    """Whether a target is met, missed or undecided; "" without data."""
    if rate.low is None or rate.high is None:
        return ""
    if rate.high <= target.rate:
        return "met"
    return "missed" if rate.low > target.rate else "undecided"


def error_rows(errors: Mapping[int, int]) -> list[tuple[str, int]]:
    """Rows (label, runs), rising, at most ROWS of them: 0 is kept in sight, far errors are joined."""
    reach = ROWS // 2
    low, high = min(errors), max(errors)
    rows: list[tuple[str, int]] = []
    if low < -reach:
        rows.append((f"{-reach} or less", sum(runs for error, runs in errors.items() if error <= -reach)))
    for error in range(max(low, -reach), min(high, reach) + 1):
        if not (error == -reach and low < -reach) and not (error == reach and high > reach):
            rows.append((signed(error), errors.get(error, 0)))
    if high > reach:
        rows.append((f"+{reach} or more", sum(runs for error, runs in errors.items() if error >= reach)))
    return rows
