"""The sentences of the report, and how prose is set."""

from __future__ import annotations

from typing import Any

from rich.console import RenderableType
from rich.constrain import Constrain
from rich.table import Table
from rich.text import Text

from reports.numbers import PER, counted, duration_text, estimate_text, interval_text, whole
from reports.sentences import CUT_BURSTS, ENDING_NOTE, WITHOUT_LAST

Export = dict[str, Any]
TITLE = "bold cyan"
WIDEST = 100
"""Prose is not set wider than this."""


def prose(text: str, style: str = "") -> RenderableType:
    """A paragraph."""
    return Constrain(Text(text, style=style), WIDEST)


def hanging(lead: str, text: str, style: str = "") -> RenderableType:
    """A paragraph whose lines all begin to the right of ``lead``."""
    table = Table.grid(padding=0)
    table.add_column(no_wrap=True)
    table.add_column()
    table.add_row(Text(lead, style=style), Text(text, style=style))
    return Constrain(table, WIDEST)


def headline(export: Export) -> str:
    """The rate of wrong steps in words."""
    rate = export["wrong_rate"]
    if rate["estimate"] is None:
        return "Wrong steps: no data, for no step was simulated."
    unbent = " without the bias of the ending" if export["estimate_method"] == WITHOUT_LAST else ""
    return (
        f"Wrong steps: {estimate_text(rate)} per {PER:,}{unbent} (95 % interval {interval_text(rate)}), "
        f"{whole(export['wrong'])} of {whole(export['steps'])}."
    )


def ending_line(export: Export) -> str:
    """How the rates were freed of what ended the simulation, or "" where nothing bends them."""
    return ENDING_NOTE if export["estimate_method"] == WITHOUT_LAST else ""


def target_line(export: Export) -> str:
    """Whether the target is met, in words."""
    target, rate = export["target"], export["wrong_rate"]
    goal = f"Target ({target['text']}): "
    if rate["estimate"] is None:
        return goal + "not shown to be met, for there is no data."
    if target["met"]:
        return goal + "met; the whole interval lies within it."
    if rate["low"] > target["rate"]:
        return goal + "missed; the whole interval lies above it."
    if rate["estimate"] > target["rate"]:
        return goal + "missed; the estimate lies above it, though the interval reaches below."
    return (
        goal + "not shown to be met; the estimate lies within it, but the upper bound of the interval "
        "does not. More runs may tell."
    )


def cut_line(export: Export) -> str:
    """How many bursts outlasted their contact's state, or "" if none did."""
    count = export["cut_bursts"]
    return CUT_BURSTS.format(count=whole(count)) if count else ""


def spurious_line(export: Export) -> str:
    """Where the spurious counts came from, or "" without any."""
    origins = export["spurious_origins"].items()
    parts = [f"{whole(count)} by {origin}" for origin, count in origins]
    return f"Spurious counts: {', '.join(parts)}." if parts else ""


def made_line(export: Export) -> str:
    """How the result was made, so that it can be made again."""
    return (
        f"Scenario {export['name']}, seed {export['seed']}, "
        f"{counted(export['runs'], 'run')}{run_numbers(export)}, {export['engine']} engine, "
        f"{duration_text(export['seconds'])}{rules_text(export)}; ended by: {export['ended_by']}."
    )


def run_numbers(export: Export) -> str:
    """The numbers of the runs, to follow their count; "" without any."""
    first, last = export["first_run"], export["first_run"] + export["runs"] - 1
    if last < first:
        return ""
    return f" (number {whole(first)})" if last == first else f" (numbers {whole(first)} to {whole(last)})"


def rules_text(export: Export) -> str:
    """What was to end the simulation early, to follow other words, or "" if nothing was."""
    stop, said = export["stop"], []
    if stop["errors"] is not None:
        said.append(f"at {counted(stop['errors'], 'wrong step')}")
    if stop["precision"] is not None:
        said.append(f"at a rate known within {100.0 * stop['precision']:g} % of it")
    if stop["seconds"] is not None:
        said.append(f"after {duration_text(stop['seconds'])}")
    return f"; to end early {' or '.join(said)}" if said else ""
