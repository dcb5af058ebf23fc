"""The tables of a comparison's page, as plain rows of text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reports.compare_words import SHOWN, difference_interval_text, difference_text, outcome_text
from reports.numbers import estimate_text, interval_text, whole
from reports.page.tables import INTERVAL, Column, Table, aligned

Export = dict[str, Any]
NO_VALUE = "-"


def rate_table(export: Export) -> Table:
    """The wrong steps of each design."""
    designs = export["designs"]
    rates = [design["wrong_rate"] for design in designs]
    exact = [design["exact_share"] for design in designs]
    return Table(
        "Wrong steps of each design",
        [
            Column("Design", [f"{n}: {design['name']}" for n, design in enumerate(designs, start=1)], "name"),
            Column("Wrong", [whole(design["wrong"]) for design in designs]),
            Column("Wrong per 1,000", aligned([estimate_text(rate) for rate in rates])),
            Column(INTERVAL, [interval_text(rate) for rate in rates]),
            Column("Runs ended exactly (%)", aligned([estimate_text(each, 100.0, 100.0) for each in exact])),
        ],
    )


def what_differs(export: Export) -> Table:
    """Paths and values that are not the same in all designs."""
    rows = export["differences"]
    return Table(
        "What differs, and nothing else",
        [
            Column("Path", [row["path"] for row in rows], "name"),
            *(
                Column(f"Design {number + 1}", [_value(row, number) for row in rows], "short")
                for number in range(len(export["designs"]))
            ),
        ],
    )


def _value(row: Export, number: int) -> str:
    return row["values"][number] or NO_VALUE


def verdict_table(comparison: Export, number: int) -> Table:
    """All steps by verdict."""
    rows = [comparison["by_verdict"][name] for name in SHOWN]
    return Table(
        f"All steps, {number} against 1; wrong are those missed, doubled or reversed",
        [Column("Verdict", SHOWN, "name"), *_paired(rows, number)],
    )


def gesture_table(comparison: Export, number: int) -> Table:
    """Wrong steps by gesture."""
    rows = comparison["by_gesture"]
    return Table(
        f"Wrong steps by gesture of the hand, {number} against 1",
        [
            Column("Gesture", [row["name"] for row in rows], "name"),
            Column("Steps", [whole(row["steps"]) for row in rows]),
            *_paired(rows, number),
        ],
    )


def _paired(rows: Sequence[Export], number: int) -> list[Column]:
    rates = [row["difference"] for row in rows]
    return [
        Column("In 1 only", [whole(row["only_first"]) for row in rows]),
        Column(f"In {number} only", [whole(row["only_other"]) for row in rows]),
        Column("Difference per 1,000", aligned([difference_text(rate) for rate in rates])),
        Column(INTERVAL, [difference_interval_text(rate) for rate in rates]),
    ]


def runs_table(comparison: Export, number: int) -> Table:
    """Runs without and with a wrong step in either design."""
    table = comparison["runs_table"]
    return Table(
        f"Runs, {number} against 1",
        [
            Column("Runs", ["1 all right", "1 some wrong"], "name"),
            Column(f"{number} all right", [whole(table["both_right"]), whole(table["only_other_right"])]),
            Column(f"{number} some wrong", [whole(table["only_first_right"]), whole(table["both_wrong"])]),
        ],
    )


def parting_table(comparison: Export, number: int) -> Table:
    """Sorts of steps that ended differently, and the first of each."""
    rows = comparison["partings"]
    return Table(
        f"Where {number} and 1 part, and the first step of each sort",
        [
            Column("In 1", [outcome_text(row["first"]) for row in rows], "name"),
            Column(f"In {number}", [outcome_text(row["other"]) for row in rows], "short"),
            Column("Steps", [whole(row["steps"]) for row in rows]),
            Column("Run", [str(row["run"]) for row in rows]),
            Column("Step", [str(row["step"]) for row in rows]),
        ],
    )


def event_table(item: Export) -> Table:
    """What happened in the window of one step, in both designs."""
    events = item["events"]
    return Table(
        f"Run {item['run']}, step {item['step']}: what happened, in order",
        [
            Column("Time (us)", [f"{event['time_us']:,.3f}" for event in events], "name"),
            Column("In", [event["in"] for event in events], "short"),
            Column("What", [event["what"] for event in events], "text"),
        ],
    )
