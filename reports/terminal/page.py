"""The whole report of a run, from top to bottom."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import Console, Group, RenderableType
from rich.text import Text

from reports.checks_export import summary_lines
from reports.numbers import share_text, whole
from reports.sentences import BOUND_NOTE, LASTING, SPACING_NOTE
from reports.terminal.blocks import printed
from reports.terminal.margins import margins_section
from reports.terminal.prose import (
    TITLE,
    cut_line,
    ending_line,
    hanging,
    headline,
    made_line,
    prose,
    spurious_line,
    target_line,
)
from reports.terminal.rates import gesture_table, spacing_table, verdict_table
from reports.terminal.runs import error_table, exact_line, ohm_line, stray_line

Export = dict[str, Any]


def page(export: Export, console: Console) -> str:
    """The report as text, with control codes only if ``console`` shows colour."""
    return printed(blocks(export, console), console)


def blocks(export: Export, console: Console) -> Sequence[RenderableType]:
    """The report, block by block, as wide as the console."""
    return [*_head(export), *_tables(export, console), *_tail(export)]


def brief(export: Export, console: Console) -> str:
    """The result in a line or two, for ``--quiet``."""
    return printed([_result(export)], console)


def _result(export: Export) -> RenderableType:
    lines = [prose(headline(export), "bold")]
    target = export["target"]
    if target is not None:
        lines.append(prose(target_line(export), "bold green" if target["met"] else "bold red"))
    return Group(*lines)


def _head(export: Export) -> Iterator[RenderableType]:
    yield _section(export["title"] or export["name"], prose(export["simulated"]))
    yield _result(export)
    if ending_line(export):
        yield prose(ending_line(export), "dim")
    own = [caution for caution in export["cautions"] if caution not in LASTING]
    if own:
        yield Group(*(hanging("- ", caution, "yellow") for caution in own))
    found = summary_lines(export["checks"])
    if found:
        lines = (hanging(f"{verdict:<7}", line, style) for verdict, line, style in found)
        yield _section("Checks at the worst corner of the tolerances (see steptally check)", *lines)


def _tables(export: Export, console: Console) -> Iterator[RenderableType]:
    if export["runs"] == 0:
        return
    yield _section("What became of the steps", verdict_table(export, console), *_bound_note(export))
    if export["steps"]:
        yield _section("By gesture", gesture_table(export, console))
        yield _section(
            "How fast may it be turned?", spacing_table(export, console), prose(SPACING_NOTE, "dim")
        )
        yield _section("Why steps went wrong", *_causes(export))
    yield _section("Margins", *margins_section(export, console))
    in_ohms = [prose(line) for line in (ohm_line(export),) if line]
    yield _section("Final position", prose(exact_line(export)), error_table(export, console), *in_ohms)


def _tail(export: Export) -> Iterator[RenderableType]:
    for line in (spurious_line(export), stray_line(export), cut_line(export)):
        if line:
            yield prose(line)
    yield prose(made_line(export), "dim")
    yield _section("Mind", *(hanging("- ", caution) for caution in LASTING))


def _section(title: str, *content: RenderableType) -> RenderableType:
    return Group(prose(title, TITLE), *content)


def _bound_note(export: Export) -> list[RenderableType]:
    unseen = [rate for rate in export["verdict_rates"].values() if rate["estimate"] == 0.0]
    return [prose(BOUND_NOTE, "dim")] if unseen else []


def _causes(export: Export) -> list[RenderableType]:
    if not export["causes"]:
        return [Text("No step went wrong.")]
    width = max(len(whole(count)) for count in export["causes"].values())
    return [
        hanging(
            f"{whole(count):>{width}}  {share_text(count, export['wrong']):>8}  ",
            export["cause_sentences"][cause],
        )
        for cause, count in export["causes"].items()
    ]
