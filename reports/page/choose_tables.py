"""The tables of a choice's page, as plain rows of text."""

from __future__ import annotations

from typing import Any

from reports.choose_words import decades_text, spoilt
from reports.numbers import PER, estimate_text, interval_text, whole
from reports.page.tables import INTERVAL, Column, Table, aligned

Export = dict[str, Any]


def ranked_table(export: Export) -> Table:
    """A row for each candidate that was tried again."""
    cells = export["ranked"]
    rates = [cell["wrong_rate"] for cell in cells]
    return Table(
        "Candidates tried again, the best first; all figures from the new runs",
        [
            Column("Rank", [str(place) for place in range(1, len(cells) + 1)], "name"),
            *(
                Column(axis["path"], [cell["values"][axis["path"]] for cell in cells])
                for axis in export["axes"]
            ),
            Column("Verdict", [cell["verdict"] for cell in cells], "short"),
            Column("Margin, decades", [decades_text(cell["margin"]) for cell in cells]),
            Column("of the rate", [decades_text(cell["decades"]) for cell in cells]),
            Column("of the values", [decades_text(cell["room"]) for cell in cells]),
            Column("Runs", [whole(cell["runs"]) for cell in cells]),
            Column(f"Wrong per {PER:,}", aligned([estimate_text(rate) for rate in rates])),
            Column(INTERVAL, [interval_text(rate) for rate in rates]),
            Column("Worst gesture", [cell["worst"]["gesture"] or "-" for cell in cells], "short"),
            Column("Spurious counts", [whole(cell["spurious"]) for cell in cells]),
            Column("Failed checks", [", ".join(cell["checks_failed"]) or "none" for cell in cells], "text"),
        ],
    )


def other_table(export: Export) -> Table:
    """A row for each other kind of stage."""
    cells = export["alternatives"]
    return Table(
        "Other kinds of stage, each simulated and judged by the same rule",
        [
            Column("Kind", [each["name"] for each in cells], "name"),
            Column("Values", [each["what"] for each in cells], "text"),
            Column("Verdict", [each["verdict"] for each in cells], "short"),
            Column("Runs", [whole(each["runs"]) for each in cells]),
            Column(f"Wrong per {PER:,}", aligned([estimate_text(each["wrong_rate"]) for each in cells])),
            Column(INTERVAL, [interval_text(each["wrong_rate"]) for each in cells]),
            Column("What spoils it", [_spoils(each) for each in cells], "text"),
            Column("Failed checks", [", ".join(each["checks_failed"]) or "none" for each in cells], "text"),
        ],
    )


def _spoils(cell: Export) -> str:
    if cell["verdict"] == "good":
        return "-"
    return spoilt({"spoiler": cell["worst"], "verdict": cell["verdict"]})
