"""The tables of margins and of electrical checks, drawn when the export holds them."""

from __future__ import annotations

from typing import Any

from reports.checks_export import advice_text, compared, quantity
from reports.page.tables import Column, Table
from reports.terminal.margins import asked_text, judged, not_gathered, quantity_text

Export = dict[str, Any]
NO_VALUE = "-"
NOT_APPLYING = "does not apply"


def margin_table(margins: Export) -> Table:
    """How near each quantity came to its limit."""
    rows = [each for each in margins["quantities"] if each["why_not"] is None]
    heads = {"worst": "Worst", "one_in_1000": "0.1 %", "one_in_100": "1 %", "median": "Median"}
    return Table(
        "How close edges and voltages came to their limits",
        [
            Column("Quantity", [each["label"] for each in rows], "name"),
            *(Column(head, [_value(each, key) for each in rows]) for key, head in heads.items()),
            Column("NamedScenario", [asked_text(each) for each in rows]),
            Column("Outcome", [judged(each) for each in rows], "short"),
        ],
    )


def margin_remarks(margins: Export) -> list[str]:
    """What was not gathered, and what the heads mean."""
    from reports.sentences import MARGINS_NOTE

    return [*not_gathered(margins), MARGINS_NOTE.format(least=margins["values_beyond"])]


def _value(each: Export, key: str) -> str:
    return NO_VALUE if each[key] is None else quantity_text(each[key], each["unit"])


def check_table(checks: list[Export]) -> Table:
    """The checks that apply, what fails first, with result and limit."""
    rows = applying(checks)
    pairs = [compared(check["result"], check["limit"], check["unit"]) for check in rows]
    return Table(
        "Electrical checks at the worst corner of all tolerances",
        [
            Column("Check", [check["name"] for check in rows], "name"),
            Column("Of", [check["subject"] for check in rows], "short"),
            Column("Outcome", [check["verdict"] for check in rows], "short"),
            Column("Result", [result for result, _ in pairs]),
            Column(
                "Is to be",
                [f"{check['relation']} {limit}" for check, (_, limit) in zip(rows, pairs, strict=True)],
                "short",
            ),
            Column("What would help", [advice_text(check) or NO_VALUE for check in rows], "text"),
        ],
    )


def worked_table(checks: list[Export]) -> Table:
    """How each of them came about."""
    rows = applying(checks)
    return Table(
        "How each check came about",
        [
            Column("Check", [f"{check['name']}, {check['subject']}" for check in rows], "name"),
            Column("Rule", [f"{check['rule']} {check['formula']}" for check in rows], "text"),
            Column("With", [_numbers(check) for check in rows], "text"),
            Column("Worst corner", [check["corner"] or NO_VALUE for check in rows], "text"),
            Column("Limit from", [check["source"] for check in rows], "text"),
        ],
    )


def applying(checks: list[Export]) -> list[Export]:
    """The checks that apply, what fails first."""
    order = {"fail": 0, "tight": 1}
    rows = [check for check in checks if check["verdict"] != NOT_APPLYING]
    return sorted(rows, key=lambda check: order.get(check["verdict"], 2))


def spared(checks: list[Export]) -> list[str]:
    """A line for each check that does not apply, and why."""
    return [f"{check['name']}: {check['why']}." for check in checks if check["verdict"] == NOT_APPLYING]


def check_line(checks: list[Export]) -> str:
    """How many checks have each verdict, in words."""
    from reports.checks_export import totals
    from reports.terminal.checks import total_line

    return total_line(totals(checks))


def _numbers(check: Export) -> str:
    told = [f"{each['name']} {quantity(each['value'], each['unit'], 4)}" for each in check["numbers"]]
    return ", ".join(told) or NO_VALUE
