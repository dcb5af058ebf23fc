"""The checks of a design as text: the network in words, a table, and how each result came about."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from reports.checks_export import STYLES, advice_text, compared, outcome, quantity
from reports.terminal.blocks import printed
from reports.terminal.grid import Column, fitted
from reports.terminal.prose import TITLE, hanging, prose

Export = dict[str, Any]
WIDE = 100
"""Columns from which on the table has room for what each check is of."""
PLURALS = {"fail": "fail", "tight": "are tight", "pass": "pass", "does not apply": "do not apply"}
SINGULARS = {"fail": "fails", "tight": "is tight", "pass": "passes", "does not apply": "does not apply"}
METHOD = (
    "Each check is made at the worst corner of the stated tolerances; what is drawn without bounds (the pace "
    "of the hand, the resistance of a contact) is taken at the value that one in a thousand exceeds. Tight "
    "is nearer to the limit than a tenth of it; where the direction or the order of A and B is concerned, "
    "than a tenth of the edges' spacing or of the supply. Nothing is simulated."
)


def checks_page(export: Export, console: Console, *, brief: bool = False) -> str:
    """The whole page, or only its table."""
    return printed(blocks(export, console, brief=brief), console)


def blocks(export: Export, console: Console, *, brief: bool = False) -> Sequence[RenderableType]:
    """The page, block by block, as wide as the console."""
    head = [*_head(export), _table(export["checks"], console)]
    if brief:
        return head
    return [*head, *_worked(export["checks"]), *_spared(export["checks"]), prose(METHOD, "dim")]


def total_line(totals: dict[str, int]) -> str:
    """How many checks have each verdict, in words."""
    parts = [
        f"{count} {(SINGULARS if count == 1 else PLURALS)[verdict]}"
        for verdict, count in totals.items()
        if count
    ]
    return f"{', '.join(parts)}."


def _head(export: Export) -> Iterator[RenderableType]:
    drawings = [hanging(f"{_line_words(each['lines'])}  ", each["words"]) for each in export["networks"]] or [
        prose("No network and no input: the counter reads the contacts as logic levels.")
    ]
    yield Group(prose(export["title"] or export["name"], TITLE), *drawings)
    yield prose(total_line(export["totals"]), "bold")


def _line_words(lines: list[str]) -> str:
    return f"{'Lines' if len(lines) > 1 else 'Line'} {' and '.join(lines)}"


def _table(checks: list[Export], console: Console) -> Table:
    rows = [check for check in checks if check["verdict"] != "does not apply"]
    names = [check["name"] for check in rows]
    pairs = [compared(check["result"], check["limit"], check["unit"]) for check in rows]
    limits = [f"{check['relation']} {limit}" for check, (_, limit) in zip(rows, pairs, strict=True)]
    wide = console.width >= WIDE
    told = [
        check["name"] if wide or names.count(check["name"]) == 1 else f"{check['name']}, {check['subject']}"
        for check in rows
    ]
    return fitted(
        [
            Column("verdict", [check["verdict"] for check in rows], side="left", style="bold"),
            Column("check", told, side="left", fold=True),
            *(
                [Column("of", [check["subject"] for check in rows], side="left", style="dim", fold=True)]
                if wide
                else []
            ),
            Column("result", [result for result, _ in pairs]),
            Column("is to be", limits, side="left"),
        ],
        console,
    )


def _worked(checks: list[Export]) -> Iterator[RenderableType]:
    order = {"fail": 0, "tight": 1, "pass": 2}
    rows = sorted((c for c in checks if c["verdict"] in order), key=lambda c: order[c["verdict"]])
    if rows:
        yield prose("How each came about", TITLE)
    for check in rows:
        yield Group(
            Text.assemble(
                (check["verdict"], STYLES[check["verdict"]]),
                "  ",
                (check["name"], "bold"),
                f", {check['subject']}",
            ),
            Padding(Group(*_details(check)), (0, 0, 0, 4)),
        )


def _details(check: Export) -> Iterator[RenderableType]:
    yield prose(check["rule"])
    yield hanging("rule    ", check["formula"])
    if check["numbers"]:
        numbers = [f"{each['name']} {quantity(each['value'], each['unit'], 4)}" for each in check["numbers"]]
        yield hanging("with    ", ", ".join(numbers))
    if check["corner"]:
        yield hanging("worst   ", check["corner"])
    yield hanging("gives   ", outcome(check) + (f"; {check['why']}" if check["why"] else ""))
    yield hanging("limit   ", f"from {check['source']}", "dim")
    if check["advice"]:
        yield hanging("try     ", advice_text(check))


def _spared(checks: list[Export]) -> Iterator[RenderableType]:
    rows = [check for check in checks if check["verdict"] == "does not apply"]
    if rows:
        yield Group(
            prose("What does not apply", TITLE),
            *(hanging("- ", f"{check['name']}: {check['why']}.{_value(check)}") for check in rows),
        )


def _value(check: Export) -> str:
    """The result of a check without a limit."""
    if check["result"] is None or check["limit"] is not None:
        return ""
    return f" It is {quantity(check['result'], check['unit'], 3)}."
