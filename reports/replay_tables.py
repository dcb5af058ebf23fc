"""The tables of a replayed trace: totals, pulses beside bounce-free counts, bursts."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from reports.numbers import whole
from reports.replay_words import time_text
from reports.terminal.grid import Column, fitted

Export = dict[str, Any]
Row = TypeVar("Row")

OWN_CLOCK = 1000.0
"""A recorder's clock further from 0 (s) than this is not shown; times count from the first row then."""
DOUBTS = {
    "direction changed within the set-up time": "set-up",
    "direction changed within the hold time": "hold",
    "clock pulse shorter than the counter takes": "short pulse",
    "held by an end stop": "end stop",
    "both lines changed at once": "both lines",
}
TOTALS = (
    ("up", "counts up", True),
    ("down", "counts down", True),
    ("net", "net", True),
    ("ignored", "ignored or undecided", False),
    ("doubtful", "in doubt", False),
    ("held", "held by an end stop", False),
    ("spurious", "from no burst", False),
    ("position", "position at the end", True),
)


@dataclass(frozen=True)
class PulseRow:
    """One row of the table of pulses: what was counted, and with the first pulse of a burst what
    the bounce-free reading counts; ``plain`` when the burst was counted right.
    """

    time: float
    counted: str
    position: str
    bounce_free: str
    burst: int | None
    verdict: str
    doubts: str
    plain: bool


def pulse_rows(export: Export) -> list[PulseRow]:
    """All pulses, and a row for every bounce-free count that gave none, in order of time."""
    counts = {count["burst"]: count for count in export["counts"]}
    rows = []
    told = set()
    for pulse in export["pulses"]:
        count = None if pulse["burst"] in told else counts.get(pulse["burst"])
        told.add(pulse["burst"])
        rows.append(_pulse_row(pulse, count, counts.get(pulse["burst"])))
    for burst, count in counts.items():
        if burst not in told:
            free = _signed(count["bounce_free"])
            rows.append(PulseRow(count["time_s"], "none", "", free, burst, count["verdict"], "", False))
    return sorted(rows, key=lambda row: row.time)


def chosen(rows: Sequence[Row], limit: int, dull: Callable[[Row], bool], what: str) -> tuple[list[Row], str]:
    """At most ``limit`` rows (0: all) and a line on those left out; dull ones go first."""
    if limit == 0 or len(rows) <= limit:
        return list(rows), ""
    kept = [row for row in rows if not dull(row)] or list(rows)
    parts = [f"{whole(len(rows) - len(kept))} {what} left out"] if len(kept) < len(rows) else []
    if len(kept) > limit:
        parts.append(f"... {whole(len(kept) - limit)} more rows")
    return kept[:limit], f"{'; '.join(parts)} (--limit 0 shows all)"


def totals_table(export: Export, console: Console) -> Table:
    """Sums of what was counted, beside those of the bounce-free reading."""
    return fitted(totals_columns(export), console)


def totals_columns(export: Export) -> list[Column]:
    """The columns of that table."""
    counted, free = export["counted"], export["bounce_free"]
    rows = [(key, words) for key, words, always in TOTALS if always or counted[key] or free[key]]
    return [
        Column("", [words for _, words in rows], side="left"),
        Column("counted", [whole(counted[key]) for key, _ in rows]),
        Column("bounce-free", [whole(free[key]) for key, _ in rows]),
        Column("difference", [_signed(counted[key] - free[key]) for key, _ in rows], style="bold"),
    ]


def pulse_table(export: Export, console: Console, limit: int) -> Iterator[RenderableType]:
    """Pulse by pulse, what was counted and what a bounce-free reading counts."""
    rows, left_out = chosen(pulse_rows(export), limit, lambda row: row.plain, "pulses counted right are")
    yield fitted(pulse_columns(export, rows), console)
    if left_out:
        yield Text(left_out, style="dim")
    named = {doubt for row in rows for doubt in row.doubts.split(", ") if doubt}
    if named:
        meant = [f"{short}: {long}" for long, short in DOUBTS.items() if short in named]
        yield Text(f"Doubts: {'; '.join(meant)}.", style="dim")


def pulse_columns(export: Export, rows: Sequence[PulseRow]) -> list[Column]:
    """The columns of that table."""
    does = {burst["number"]: burst["does"] for burst in export["bursts"]}
    places = {pulse["burst"]: str(pulse["position"]) for pulse in export["bounce_free_pulses"]}
    head, show = _clock(export)
    return [
        Column(head, [show(row.time) for row in rows]),
        Column("counted", [row.counted for row in rows], style="bold"),
        Column("position", [row.position for row in rows]),
        Column("bounce-\nfree", [row.bounce_free for row in rows]),
        Column(
            "bounce-free\nposition",
            [places.get(row.burst, "") if row.bounce_free else "" for row in rows],
            2,
        ),
        Column("caused by\nburst", ["" if row.burst is None else str(row.burst) for row in rows]),
        Column("", ["" if row.burst is None else does[row.burst] for row in rows], side="left", rank=1),
        Column("verdict", [row.verdict for row in rows], side="left"),
        Column("doubts", [row.doubts for row in rows], side="left", fold=True),
    ]


def burst_table(export: Export, console: Console, limit: int) -> Iterator[RenderableType]:
    """The bursts of both lines."""
    rows, left_out = chosen(
        export["bursts"], limit, lambda burst: burst["changes"] == 1, "clean transitions without bounce are"
    )
    yield fitted(burst_columns(export, rows), console)
    if left_out:
        yield Text(left_out, style="dim")


def burst_columns(export: Export, rows: Sequence[Export]) -> list[Column]:
    """The columns of that table."""
    head, show = _clock(export)
    return [
        Column("burst", [str(burst["number"]) for burst in rows]),
        Column("line", [burst["line"] for burst in rows], side="left"),
        Column("does", [_does(burst) for burst in rows], side="left"),
        Column(head, [show(burst["start_s"]) for burst in rows]),
        Column("length", [time_text(burst["length_s"]) if burst["length_s"] else "0" for burst in rows]),
        Column("changes", [whole(burst["changes"]) for burst in rows]),
    ]


def _does(burst: Export) -> str:
    words = str(burst["does"]).split(" ", 1)[1]
    return words if burst["settled"] else f"{words}, unsettled"


def _clock(export: Export) -> tuple[str, Callable[[float], str]]:
    """A head for a column of times, and how to write one: the recorder's own time where it is short."""
    trace = export["trace"]
    start, duration = trace["starts_at_s"], trace["duration_s"]
    name, scale, places = ("us", 1.0e6, 3) if duration < 1.0e-3 else ("ms", 1.0e3, 3)
    if duration >= 100.0:
        name, scale, places = "s", 1.0, 6
    if abs(start) > OWN_CLOCK:
        return f"{name} after the\nfirst row", lambda time: f"{time * scale:.{places}f}"
    return f"time\n({name})", lambda time: f"{(start + time) * scale:.{places}f}"


def _pulse_row(pulse: Export, first: Export | None, count: Export | None) -> PulseRow:
    """``first`` is what is known of the pulse's burst if this is its first pulse."""
    counted = _signed(pulse["count"]) if pulse["count"] else "ignored"
    doubts = ", ".join(DOUBTS.get(doubt, doubt) for doubt in pulse["doubts"])
    free = "" if first is None else _signed(first["bounce_free"])
    verdict = "" if first is None else str(first["verdict"])
    plain = count is not None and count["verdict"] == "right" and not doubts
    return PulseRow(
        pulse["time_s"], counted, str(pulse["position"]), free, pulse["burst"], verdict, doubts, plain
    )


def _signed(count: int) -> str:
    return f"{count:+,d}" if count else "0"
