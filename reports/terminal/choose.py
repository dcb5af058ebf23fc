"""The report of a choice, from top to bottom: what to take, what binds, the ranked table, other stages."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from reports.choose_words import (
    beforehand,
    binding,
    closest_line,
    decades_text,
    headline,
    measured_line,
    other_line,
    search_line,
    spoilt,
    varied_line,
)
from reports.numbers import PER, counted, duration_text, estimate_text, interval_text, on_the_point, whole
from reports.sentences import LASTING
from reports.sweep_words import axes_line
from reports.terminal.blocks import printed
from reports.terminal.grid import Column, fitted
from reports.terminal.grids import grids
from reports.terminal.prose import TITLE, hanging, prose
from reports.terminal.rates import WRONG_STYLE
from reports.terminal.sweep import LISTED, cell_table
from reports.terminal.window import window_section

Export = dict[str, Any]


def page(export: Export, console: Console) -> str:
    """The report as text, with control codes only if ``console`` shows colour."""
    return printed(blocks(export, console), console)


def blocks(export: Export, console: Console) -> Sequence[RenderableType]:
    """The report, block by block, as wide as the console."""
    return [*_head(export), *_result(export, console), *_search(export, console), *_tail(export)]


def brief(export: Export, console: Console) -> str:
    """The result in a line or two, for ``--quiet``."""
    lines = [prose(headline(export), "bold")]
    if export["recommended"] is None and export["closest"] is not None:
        lines.append(prose(closest_line(export)))
    return printed([Group(*lines)], console)


def _section(title: str, *content: RenderableType) -> RenderableType:
    return Group(prose(title, TITLE), *content)


def _head(export: Export) -> Iterator[RenderableType]:
    lines = [prose(axes_line(export)), prose(export["simulated"], "dim")]
    if varied_line(export):
        lines.append(prose(varied_line(export), "dim"))
    yield _section(export["title"] or export["name"], *lines)
    told = [prose(headline(export), "bold"), prose(search_line(export))]
    told += [prose(line) for line in (closest_line(export), other_line(export)) if line]
    yield Group(*told)
    own = [caution for caution in export["cautions"] if caution not in LASTING]
    warnings = [*([beforehand(export)] if beforehand(export) else []), *own]
    if warnings:
        yield Group(*(hanging("- ", each, "yellow") for each in warnings))


def _result(export: Export, console: Console) -> Iterator[RenderableType]:
    best = export["recommended"]
    if best is not None:
        lines = [hanging(f"{path}: ", text) for path, text in binding(best)]
        yield _section("What binds", *lines)
    if export["ranked"]:
        note = prose(f"From the new runs alone. {export['margin_rule']}", "dim")
        yield _section("Ranked", ranked_table(export, console), *_failed(export["ranked"]), note)
    if export["alternatives"]:
        yield _section("Other kinds of stage", other_table(export, console))
        for each in export["alternatives"]:
            if each["verdict"] == "good":
                yield _section(f"To paste: {each['name']}", Text(each["toml"].rstrip()))


def _failed(ranked: Sequence[Export]) -> Iterator[RenderableType]:
    """The checks that fail, each with the candidates that fail it."""
    where: dict[str, list[str]] = {}
    for place, each in enumerate(ranked, start=1):
        for name in each["checks_failed"]:
            where.setdefault(name, []).append(str(place))
    for name, places in where.items():
        yield hanging("- ", f"Fails a check: {name}, at rank {', '.join(places)}", "yellow")


def ranked_table(export: Export, console: Console) -> Table:
    """A row for each candidate that was tried again."""
    cells = export["ranked"]
    rates = [cell["wrong_rate"] for cell in cells]
    columns = [
        Column("rank", [str(place) for place in range(1, len(cells) + 1)]),
        *_values(export, cells),
        Column("verdict", [cell["verdict"] for cell in cells], side="left"),
        Column("margin", [decades_text(cell["margin"]) for cell in cells]),
        Column("of\nrate", [decades_text(cell["decades"]) for cell in cells], rank=2),
        Column("of\nvalues", [decades_text(cell["room"]) for cell in cells], rank=2),
        Column(
            f"wrong per\n{PER:,}", on_the_point([estimate_text(rate) for rate in rates]), style=WRONG_STYLE
        ),
        Column("95 % interval", [interval_text(rate) for rate in rates], rank=1),
        Column("worst\ngesture", [cell["worst"]["gesture"] or "" for cell in cells], rank=3, side="left"),
        Column("spurious", [whole(cell["spurious"]) for cell in cells], rank=4),
        Column("checks\nfailed", [str(len(cell["checks_failed"])) for cell in cells], rank=1),
    ]
    return fitted(columns, console)


def _values(export: Export, cells: Sequence[Export]) -> list[Column]:
    return [
        Column(axis["path"].replace(".", ".\n"), [cell["values"][axis["path"]] for cell in cells])
        for axis in export["axes"]
    ]


def other_table(export: Export, console: Console) -> Table:
    """A row for each other kind of stage."""
    cells = export["alternatives"]
    columns = [
        Column("in place of the stages", [f"{each['name']}: {each['what']}" for each in cells],
               side="left", fold=True),
        Column("verdict", [each["verdict"] for each in cells], side="left"),
        Column(f"wrong per\n{PER:,}", [estimate_text(each["wrong_rate"]) for each in cells]),
        Column("95 % interval", [interval_text(each["wrong_rate"]) for each in cells], rank=2),
        Column("what spoils it", [_spoils(each) for each in cells], rank=1, side="left"),
        Column("checks\nfailed", [str(len(each["checks_failed"])) for each in cells], rank=3),
    ]  # fmt: skip
    return fitted(columns, console)


def _spoils(cell: Export) -> str:
    if cell["verdict"] == "good":
        return ""
    return spoilt({"spoiler": cell["worst"], "verdict": "bad"})


def _search(export: Export, console: Console) -> Iterator[RenderableType]:
    """The search as a sweep shows it."""
    cells = export["cells"]
    if not cells:
        return
    if export["window"]:
        yield _section(*window_section(export, console))
    if len(export["axes"]) == 2:
        for title, tables in grids(export, console):
            yield _section(title, *tables)
    if len(cells) <= LISTED:
        yield _section("Searched", cell_table(export, console))
    else:
        yield prose("Each candidate searched stands in --json and in --html.", "dim")
    yield prose(export["rule"], "dim")


def _tail(export: Export) -> Iterator[RenderableType]:
    runs = sum(cell["runs"] for part in ("cells", "ranked", "alternatives") for cell in export[part])
    ended = "" if export["complete"] else "; interrupted"
    yield prose(measured_line(export), "dim")
    yield prose(
        f"Scenario {export['name']}, seed {export['seed']}, {whole(len(export['cells']))} of "
        f"{counted(export['cells_asked'], 'candidate')}, {counted(runs, 'run')}, "
        f"{duration_text(export['seconds'])}{ended}.",
        "dim",
    )
    yield _section("Mind", *(hanging("- ", caution) for caution in LASTING))
