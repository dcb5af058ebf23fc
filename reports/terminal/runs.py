"""What became of whole runs: the final position, and how far the count strayed on the way."""

from __future__ import annotations

from typing import Any

from rich.console import Console
from rich.table import Table

from reports.exports import rate
from reports.numbers import counted, estimate_text, interval_text, on_the_point, whole
from reports.terminal.grid import Column, fitted

Export = dict[str, Any]
ROWS = 11
BAR = 24


def exact_line(export: Export) -> str:
    """The share of runs that ended where they ought to."""
    share, runs = export["exact_share"], counted(export["runs"], "run")
    return (
        f"{whole(export['exact_runs'])} of {runs} ended on the exact position, "
        f"{estimate_text(share, 100.0, 100.0)} % of them (95 % interval {interval_text(share, 100.0)})."
    )


def error_table(export: Export, console: Console) -> Table:
    """Runs by final error, the rare far ends in one row each."""
    from simcore.statistics.estimates import share_interval

    rows = error_rows({int(error): runs for error, runs in export["final_errors"].items()})
    shares = [rate(share_interval(runs, export["runs"])) for _, runs in rows]
    most = max(runs for _, runs in rows)
    mark = "█" if "utf" in console.encoding.lower() else "#"
    bars = [mark * round(BAR * runs / most) for _, runs in rows]
    return fitted(
        [
            Column("final error\n(counts)", [label for label, _ in rows]),
            *_ohm_column(export, rows),
            Column("runs", [whole(runs) for _, runs in rows]),
            Column("share (%)", on_the_point([estimate_text(share, 100.0, 100.0) for share in shares])),
            Column("95 % interval", [interval_text(share, 100.0) for share in shares], rank=2),
            Column("", bars, rank=1, side="left", style="cyan"),
        ],
        console,
    )


def _ohm_column(export: Export, rows: list[tuple[str, int]]) -> list[Column]:
    """The same errors in nominal ohms, if the counter drives a resistance."""
    if export["driven"] is None:
        return []
    one = export["driven"]["one_count"]["nominal"]
    texts = []
    for label, _ in rows:
        counts, _, more = label.partition(" ")
        ohms = f"{float(f'{int(counts) * one:.3g}'):+,.10g}" if int(counts) else "0"
        texts.append(f"{ohms} {more}".rstrip())
    return [Column("nominal\n(ohm)", texts, rank=2)]


def ohm_line(export: Export) -> str:
    """What one count and the worst final error are in ohm, or "" if nothing is driven."""
    driven = export["driven"]
    if driven is None:
        return ""
    one, worst = driven["one_count"], driven["worst_error"]
    text = f"One count is {_ohms(one['nominal'])}"
    if one["low"] < one["high"]:
        text += f" ({_ohms(one['low'])} to {_ohms(one['high'])} with its tolerances)"
    if worst is None or worst["counts"] == 0:
        return f"{text}."
    text += f"; the worst final error, {counted(worst['counts'], 'count')}, is {_ohms(worst['nominal'])}"
    most = f", at most {_ohms(worst['high'])} with tolerances" if worst["nominal"] < worst["high"] else ""
    return f"{text}{most}."


def _ohms(value: float) -> str:
    from scenarios.quantities import RESISTANCE, write_quantity

    return write_quantity(value, RESISTANCE, 3)


def error_rows(errors: dict[int, int]) -> list[tuple[str, int]]:
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


def signed(error: int) -> str:
    """An error with its sign, 0 without."""
    return f"{error:+d}" if error else "0"


def stray_line(export: Export) -> str:
    """How far the count strayed on its way through the steps, or "" if it never did."""
    excursions = export["excursions"]
    last = len(excursions) - 1
    parts = [
        f"by {astray} count{'' if astray == 1 else 's'}{' or more' if astray == last else ''} "
        f"in {counted(steps, 'step')}"
        for astray, steps in enumerate(excursions)
        if astray and steps
    ]
    if not parts:
        return ""
    return f"On the way the count strayed beyond where it belonged: {', '.join(parts)}."
