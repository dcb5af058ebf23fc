"""The tables of the page, as plain rows of text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reports.numbers import estimate_text, interval_text, on_the_point, share_text, whole
from reports.sentences import VERDICTS
from reports.terminal.rates import against, rpm_text, spacing_text

Export = dict[str, Any]
INTERVAL = "95 % interval"
POINT_SPACE, DIGIT_SPACE = "\u2008", "\u2007"


@dataclass(frozen=True)
class Column:
    """One column: its head, its cells, and their sort: number, text, short (text that needs little room),
    bar (with the lengths of ``bars``, shares of one), or name for the one that names the rows.
    """

    head: str
    cells: Sequence[str]
    sort: str = "number"
    bars: Sequence[float] = ()


@dataclass(frozen=True)
class Table:
    """A table under its caption; the first column names the rows."""

    caption: str
    columns: Sequence[Column]

    @property
    def rows(self) -> list[list[tuple[Column, str, float | None]]]:
        """The cells of each row, with their column and the length of their bar."""
        count = len(self.columns[0].cells)
        return [
            [(each, each.cells[i], each.bars[i] if each.bars else None) for each in self.columns]
            for i in range(count)
        ]


def verdict_table(export: Export) -> Table:
    """All steps by verdict."""
    counts = {**export["verdicts"], "wrong": export["wrong"], "spurious": export["spurious"]}
    rates = {
        **export["verdict_rates"],
        "wrong": export["wrong_rate"],
        "spurious": export["spurious_rate"],
    }
    names = list(counts)
    return Table(
        "Steps by verdict; the wrong ones are those missed, doubled or reversed",
        [
            Column("Verdict", names, "name"),
            Column("Steps", [whole(counts[name]) for name in names]),
            *_rates([rates[name] for name in names]),
            Column("That is", [VERDICTS[name] for name in names], "text"),
        ],
    )


def gesture_table(export: Export) -> Table:
    """Each gesture of the hand."""
    groups = export["by_gesture"]
    return Table(
        "Steps by gesture of the hand",
        [
            Column("Gesture", [group["name"] for group in groups], "name"),
            Column("Kind", [group["kind"] for group in groups], "short"),
            *_group_columns(groups),
        ],
    )


def spacing_table(export: Export) -> Table:
    """Each class of spacing that has steps."""
    groups = [group for group in export["by_spacing"] if group["steps"]]
    columns = [
        Column("Edges apart (ms)", [spacing_text(group) for group in groups], "name"),
        Column("Like turning evenly (rpm)", [rpm_text(group) for group in groups]),
        Column("Share of the steps", [share_text(group["steps"], export["steps"]) for group in groups]),
        *_group_columns(groups),
    ]
    if export["target"] is not None:
        goal = export["target"]["rate"]
        columns.append(Column("Target", [against(group["wrong_rate"], goal) for group in groups], "short"))
    return Table("Wrong steps by the closest spacing of edges within a step", columns)


def cause_table(export: Export) -> Table:
    """Wrong steps by root cause."""
    causes, wrong = export["causes"], export["wrong"]
    most = max(causes.values(), default=1)
    return Table(
        "Wrong steps by root cause",
        [
            Column("Root cause", list(causes), "name"),
            Column("Steps", [whole(count) for count in causes.values()]),
            Column(
                "Share of the wrong steps",
                [share_text(count, wrong) for count in causes.values()],
                "bar",
                [count / most for count in causes.values()],
            ),
            Column("What happened", [export["cause_sentences"][cause] for cause in causes], "text"),
        ],
    )


def error_table(export: Export) -> Table:
    """Runs by final error."""
    from reports.exports import rate
    from reports.terminal.runs import error_rows
    from simcore.statistics.estimates import share_interval

    rows = error_rows({int(error): runs for error, runs in export["final_errors"].items()})
    shares = [rate(share_interval(runs, export["runs"])) for _, runs in rows]
    return Table(
        "Runs by final position minus the position expected",
        [
            Column("Final error (counts)", [label for label, _ in rows], "name"),
            Column("Runs", [whole(runs) for _, runs in rows]),
            Column("Share (%)", aligned([estimate_text(share, 100.0, 100.0) for share in shares])),
            Column(INTERVAL + " (%)", [interval_text(share, 100.0) for share in shares]),
        ],
    )


def event_table(item: Export) -> Table:
    """What happened in the window of one wrong step."""
    events = item["events"]
    return Table(
        f"Run {item['run']}, step {item['step']}: what happened, in order",
        [
            Column("Time (us)", [f"{event['time_us']:,.3f}" for event in events], "name"),
            Column("What", [event["what"] for event in events], "text"),
        ],
    )


def version_table(export: Export) -> Table:
    """What the result, and the page, were made with."""
    from importlib.metadata import version

    told = {
        "seed": str(export["seed"]),
        "runs": whole(export["runs"]),
        "first run": whole(export["first_run"]),
        "engine": export["engine"],
        "ended by": export["ended_by"],
        **{name.replace("_", " "): listed(value) for name, value in export["versions"].items()},
        "plotly, which draws this page's charts": version("plotly"),
    }
    return Table(
        "Seed and versions",
        [Column("What", list(told), "name"), Column("Value", list(told.values()), "text")],
    )


def listed(value: Any) -> str:
    """A value, or all values of a list, as text."""
    return ", ".join(value) if isinstance(value, list) else str(value)


def _group_columns(groups: Sequence[Export]) -> list[Column]:
    return [
        Column("Steps", [whole(group["steps"]) for group in groups]),
        *(
            Column(verdict.capitalize(), [whole(group["verdicts"][verdict]) for group in groups])
            for verdict in ("flickered", "missed", "doubled", "reversed")
        ),
        Column("Wrong", [whole(group["wrong"]) for group in groups]),
        *_rates([group["wrong_rate"] for group in groups], "Wrong per 1,000"),
    ]


def aligned(texts: Sequence[str]) -> list[str]:
    """Numbers with their decimal points one below the other, by spaces as wide as a point and a digit."""
    padded = []
    for text, wide in zip(texts, on_the_point(texts), strict=True):
        missing = len(wide) - len(text)
        point = 0 if "." in text else min(missing, 1)
        padded.append(text + POINT_SPACE * point + DIGIT_SPACE * (missing - point))
    return padded


def _rates(rates: Sequence[Any], head: str = "Per 1,000 steps") -> list[Column]:
    return [
        Column(head, aligned([estimate_text(rate) for rate in rates])),
        Column(INTERVAL, [interval_text(rate) for rate in rates]),
    ]
