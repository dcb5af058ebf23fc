"""The table of margins."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rich.console import Console, RenderableType

from reports.numbers import PER
from reports.sentences import MARGINS_LEFT_OUT, MARGINS_NOTE
from reports.terminal.grid import Column, fitted
from reports.terminal.prose import prose

Export = dict[str, Any]
NO_VALUE = "-"


def margins_section(export: Export, console: Console) -> Iterator[RenderableType]:
    """The table, what was not gathered, and what the heads mean."""
    margins = export["margins"]
    if margins is None:
        yield prose(MARGINS_LEFT_OUT)
        return
    gathered = [each for each in margins["quantities"] if each["why_not"] is None]
    yield fitted(
        [
            Column("", [each["label"] for each in gathered], side="left", fold=True),
            Column("worst", [_value(each, "worst") for each in gathered], style="bold"),
            Column("0.1 %", [_value(each, "one_in_1000") for each in gathered], rank=2),
            Column("1 %", [_value(each, "one_in_100") for each in gathered], rank=3),
            Column("median", [_value(each, "median") for each in gathered], rank=4),
            Column("asked", [asked_text(each) for each in gathered], rank=1),
            Column("", [judged(each) for each in gathered], side="left", fold=True),
        ],
        console,
    )
    for line in not_gathered(margins):
        yield prose(line)
    yield prose(MARGINS_NOTE.format(least=margins["values_beyond"]), "dim")


def quantity_text(value: float, unit: str) -> str:
    """A time to three digits, a voltage to hundredths of a volt."""
    from scenarios.quantities import TIME, write_quantity

    if unit == "V":
        # 0.0 is added so that nothing reads as minus zero.
        return f"{round(value, 2) + 0.0:.2f} V"
    return write_quantity(value, TIME, 3)


def _value(each: Export, key: str) -> str:
    return NO_VALUE if each[key] is None else quantity_text(each[key], each["unit"])


def asked_text(each: Export) -> str:
    """The limit, with the side of it that is wanted."""
    if each["asked"] is None:
        return NO_VALUE
    side = "at most" if each["worst_is"] == "most" else "at least"
    return f"{side} {quantity_text(each['asked'], each['unit'])}"


def judged(each: Export) -> str:
    """Whether the limit was met, in words."""
    if each["values"] == 0:
        return "did not occur"
    if each["asked"] is None:
        return "no limit stated"
    if each["missed"] == 0:
        return "met"
    share = PER * each["missed"] / each["values"]
    return f"not met in {float(f'{share:.2g}'):,.10g} per {PER:,}"


def not_gathered(margins: Export) -> Iterator[str]:
    """A line for each reason why something was not gathered."""
    found: dict[str, list[str]] = {}
    for each in margins["quantities"]:
        if each["why_not"] is not None:
            found.setdefault(each["why_not"], []).append(each["label"])
    for reason, labels in found.items():
        yield f"Not gathered: {', '.join(labels)}; {reason}."
