"""A comparison of designs in the terminal, from top to bottom."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import Console, Group, RenderableType
from rich.table import Table

from reports.compare_words import (
    difference_interval_text,
    difference_text,
    outcome_text,
    runs_line,
    verdict_rows,
)
from reports.numbers import counted, duration_text, estimate_text, interval_text, on_the_point, whole
from reports.sentences import LASTING, MET_ALIKE
from reports.terminal.blocks import printed
from reports.terminal.grid import ENDLESS, Column, fitted
from reports.terminal.prose import TITLE, hanging, prose, run_numbers

Export = dict[str, Any]
STYLES = {"better": "bold green", "worse": "bold red", "unsettled": "bold yellow", "same": "bold"}
MOST_PARTINGS = 8
NO_VALUE = "-"


def page(export: Export, console: Console) -> str:
    """The report as text, with control codes only if ``console`` shows colour."""
    return printed(blocks(export, console), console)


def blocks(export: Export, console: Console) -> Sequence[RenderableType]:
    """The report, block by block, as wide as the console."""
    return [*_head(export, console), *_figures(export, console), *_tail(export)]


def brief(export: Export, console: Console) -> str:
    """The result in a line or two, for ``--quiet``."""
    return printed([_result(export)], console)


def _result(export: Export) -> RenderableType:
    comparisons = export["comparisons"]
    style = STYLES[comparisons[0]["verdict"]] if len(comparisons) == 1 else "bold"
    lines = [prose(export["headline"], style)]
    if len(comparisons) > 1:
        lines += [hanging("- ", each["sentence"], STYLES[each["verdict"]]) for each in comparisons]
    return Group(*lines)


def _head(export: Export, console: Console) -> Iterator[RenderableType]:
    yield _section(export["title"], prose(f"{export['met']}."))
    yield _result(export)
    own = [caution for caution in export["cautions"] if caution not in LASTING]
    if own:
        yield Group(*(hanging("- ", caution, "yellow") for caution in own))
    names = [
        hanging(f"{number}  ", _legend(export, design))
        for number, design in enumerate(export["designs"], start=1)
    ]
    yield _section("Designs", *names)
    if export["differences"]:
        yield _section("What differs", *_side_by_side(export, console))
    else:
        yield _section("What differs", prose("Nothing: the designs are the same."))


def _legend(export: Export, design: Export) -> str:
    """A design's name, and its title where that is not everyone's."""
    title = design["title"]
    return design["name"] if title in (export["title"], design["name"]) else f"{design['name']}: {title}"


def _side_by_side(export: Export, console: Console) -> Iterator[RenderableType]:
    """A column for each design; as many tables as it takes to keep within the width."""
    count = len(export["designs"])
    start = 1
    while start < count:
        end = start + 1
        while end < count and _natural(_differences(export, range(start, end + 1)), console) <= console.width:
            end += 1
        yield fitted(_differences(export, range(start, end)), console)
        start = end


def _natural(columns: Sequence[Column], console: Console) -> int:
    wide = console.options.update(max_width=ENDLESS)
    return console.measure(fitted(columns, console), options=wide).maximum


def _differences(export: Export, others: Sequence[int]) -> list[Column]:
    rows = export["differences"]
    return [
        Column("path", [row["path"] for row in rows], side="left", fold=True),
        *(
            Column(
                str(number + 1), [row["values"][number] or NO_VALUE for row in rows], side="left", fold=True
            )
            for number in (0, *others)
        ),
    ]


def _figures(export: Export, console: Console) -> Iterator[RenderableType]:
    if not export["steps"]:
        return
    yield _section("Wrong steps of each design", _rates(export, console))
    for number, each in enumerate(export["comparisons"], start=2):
        title = f"{number} against 1, on the same steps"
        yield _section(title, _verdicts(export, each, number, console))
        yield _section(f"{number} against 1, wrong steps by gesture", _gestures(each, number, console))
        yield _section(f"{number} against 1, run by run", *_runs(export, each, number, console))
        yield _section(f"Where {number} and 1 part", *_partings(each, number, console))
    if export["together"]:
        yield _section("Several comparisons", prose(export["together"]))


def _rates(export: Export, console: Console) -> Table:
    designs = export["designs"]
    rates = [design["wrong_rate"] for design in designs]
    return fitted(
        [
            Column("", [str(number) for number in range(1, len(designs) + 1)]),
            Column("design", [design["name"] for design in designs], rank=1, side="left", fold=True),
            Column("wrong", [whole(design["wrong"]) for design in designs]),
            Column("wrong per\n1,000", on_the_point([estimate_text(rate) for rate in rates]), style="bold"),
            Column("95 % interval", [interval_text(rate) for rate in rates]),
            *_spurious(designs),
            Column("runs ended\nexactly (%)", _shares(designs), rank=2),
        ],
        console,
    )


def _spurious(designs: Sequence[Export]) -> list[Column]:
    """Counts that no movement caused, if any design has them."""
    counts = [design["spurious"] for design in designs]
    return [Column("spurious\ncounts", [whole(count) for count in counts])] if any(counts) else []


def _shares(designs: Sequence[Export]) -> list[str]:
    return on_the_point([estimate_text(design["exact_share"], 100.0, 100.0) for design in designs])


def _verdicts(export: Export, comparison: Export, number: int, console: Console) -> Table:
    rows = verdict_rows(export, comparison)
    names = Column("verdict", [name for name, _ in rows], side="left")
    return fitted([names, *_paired([row for _, row in rows], number)], console)


def _gestures(comparison: Export, number: int, console: Console) -> Table:
    rows = comparison["by_gesture"]
    names = [
        Column("gesture", [row["name"] for row in rows], side="left", fold=True),
        Column("steps", [whole(row["steps"]) for row in rows], rank=1),
    ]
    return fitted([*names, *_paired(rows, number)], console)


def _paired(rows: Sequence[Export], number: int) -> list[Column]:
    """Steps of one design only, and the difference of the rates."""
    rates = [row["difference"] for row in rows]
    return [
        Column("in 1\nonly", [whole(row["only_first"]) for row in rows]),
        Column(f"in {number}\nonly", [whole(row["only_other"]) for row in rows]),
        Column(
            "difference\nper 1,000", on_the_point([difference_text(rate) for rate in rates]), style="bold"
        ),
        Column("95 % interval", [difference_interval_text(rate) for rate in rates]),
    ]


def _runs(export: Export, comparison: Export, number: int, console: Console) -> Iterator[RenderableType]:
    table = comparison["runs_table"]
    yield fitted(
        [
            Column("runs", ["1 all right", "1 some wrong"], side="left"),
            Column(f"{number} all right", [whole(table["both_right"]), whole(table["only_other_right"])]),
            Column(f"{number} some wrong", [whole(table["only_first_right"]), whole(table["both_wrong"])]),
        ],
        console,
    )
    yield prose(runs_line(export, comparison))


def _partings(comparison: Export, number: int, console: Console) -> Iterator[RenderableType]:
    rows = comparison["partings"][:MOST_PARTINGS]
    if not rows:
        yield prose("Nowhere: every step came out alike.")
        return
    yield fitted(
        [
            Column("steps", [whole(row["steps"]) for row in rows]),
            Column("in 1", [outcome_text(row["first"]) for row in rows], side="left"),
            Column(f"in {number}", [outcome_text(row["other"]) for row in rows], side="left"),
            Column("first in\nrun", [str(row["run"]) for row in rows]),
            Column("\nstep", [str(row["step"]) for row in rows]),
        ],
        console,
    )
    more = len(comparison["partings"]) - len(rows)
    if more:
        yield prose(f"{counted(more, 'rarer sort')} {'is' if more == 1 else 'are'} in the JSON.", "dim")
    yield prose("To look at the first of them:")
    for command in rows[0]["commands"]:
        yield hanging("  ", command)


def _tail(export: Export) -> Iterator[RenderableType]:
    yield Group(prose(_made_line(export), "dim"), prose(f"To make it again: {export['command']}", "dim"))
    yield _section("Mind", *(hanging("- ", each) for each in (MET_ALIKE, *LASTING)))


def _made_line(export: Export) -> str:
    """How the result was made."""
    return (
        f"Seed {export['seed']}, {counted(export['runs'], 'run')}{run_numbers(export)} of each design, "
        f"{export['engine']} engine, {duration_text(export['seconds'])}; ended by: {export['ended_by']}."
    )


def _section(title: str, *content: RenderableType) -> RenderableType:
    return Group(prose(title, TITLE), *content)
