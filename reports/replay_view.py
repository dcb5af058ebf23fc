"""A replayed trace in the terminal: what was read, the verdict, every pulse, every burst."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.console import Console, Group, RenderableType
from rich.constrain import Constrain
from rich.table import Table
from rich.text import Text

from reports.numbers import share_text, whole
from reports.replay_tables import burst_table, pulse_table, totals_table
from reports.replay_words import all_right, time_text
from reports.terminal.blocks import printed

Export = dict[str, Any]

PROSE = 100
"""Prose is not set wider than this."""


def replay_page(export: Export, console: Console, limit: int) -> str:
    """The report as text, with control codes only if ``console`` shows colour.

    Tables show ``limit`` rows at most, all of them for 0.
    """
    return printed(blocks(export, console, limit), console)


def blocks(export: Export, console: Console, limit: int) -> Sequence[RenderableType]:
    """The report, block by block, as wide as the console."""
    return [Constrain(_head(export), PROSE), *_tables(export, console, limit), _tail(export)]


def replay_brief(export: Export, console: Console) -> str:
    """The verdict alone, for ``--quiet``."""
    return printed([Constrain(_verdict(export), PROSE)], console)


def read_line(export: Export) -> str:
    """What was read, in one line."""
    trace = export["trace"]
    noun = "rows" if trace["format"] == "CSV" else "times"
    rows = f"{whole(trace['rows'])} {noun} over {time_text(trace['duration_s'])} ({_recorded(trace)})"
    changes = ", ".join(f"{name} {whole(count)}" for name, count in trace["changes"].items())
    return f"{_printable(trace['file'])}: {rows}; changes: {changes}."


def taken_line(export: Export) -> str:
    """How the rows were taken, and by which parts they went."""
    trace = export["trace"]
    columns = ", ".join(_column(column) for column in trace["columns"])
    what = "Columns" if trace["format"] == "CSV" else "Variables"
    cut = trace["threshold"]
    sliced = "" if cut is None else f", read at {_volts(cut)}"
    return (
        f"{what}: {columns}; time in {_unit(trace['unit_s'])} ({trace['unit_from']}){sliced}; "
        f"{trace['closed']} is closed; settled after {time_text(export['settle_s'])}; {_parts(export)}."
    )


def edges_line(export: Export, line: str) -> str:
    """How many edges of a line are left after each stage."""
    steps = [f"{whole(step['edges'])} {_after(step['after'])}" for step in export["lines"][line]]
    return f"Edges on {line}: {', '.join(steps)}."


def _parts(export: Export) -> str:
    if export["run"] is None:
        return "every part nominal"
    return f"the parts of unit {export['run']}, seed {export['seed']}"


def _head(export: Export) -> Text:
    lines = [Text(export["title"], style="bold cyan"), Text(read_line(export)), Text(taken_line(export))]
    return Text("\n").join([*lines, Text(""), _verdict(export)])


def _verdict(export: Export) -> Text:
    return Text(export["verdict"], style="bold green" if all_right(export) else "bold red")


def _tables(export: Export, console: Console, limit: int) -> Iterator[RenderableType]:
    if not export["bursts"]:
        return
    edges = Text("\n".join(edges_line(export, line) for line in export["lines"]))
    yield _section("Counted, and bounce-free", totals_table(export, console))
    yield Constrain(edges, PROSE)
    if export["pulses"] or export["counts"]:
        yield _section("Pulse by pulse", *pulse_table(export, console, limit))
    if export["causes"]:
        yield _section("Why counts went wrong", *_causes(export))
    yield _section("Bursts", *burst_table(export, console, limit))


def _section(title: str, *content: RenderableType) -> RenderableType:
    return Group(Text(title, style="bold cyan"), *content)


def _causes(export: Export) -> Iterator[RenderableType]:
    total = sum(export["causes"].values())
    grid = Table.grid(padding=(0, 2, 0, 0))
    grid.add_column(justify="right", no_wrap=True)
    grid.add_column(justify="right", no_wrap=True)
    grid.add_column(max_width=PROSE - 14)
    for cause, count in export["causes"].items():
        grid.add_row(whole(count), share_text(count, total), Text(export["cause_sentences"][cause]))
    yield grid


def _tail(export: Export) -> RenderableType:
    grid = Table.grid(padding=0)
    grid.add_column(no_wrap=True)
    grid.add_column(max_width=PROSE - 2)
    for caution in export["cautions"]:
        grid.add_row("- ", Text(caution))
    return Group(Text("Mind", style="bold cyan"), grid)


def _recorded(trace: Export) -> str:
    if trace["recorded"] == "on change":
        return "recorded on change"
    shortest, longest = time_text(trace["shortest_interval_s"]), time_text(trace["longest_interval_s"])
    return f"{trace['recorded']}, every {shortest if shortest == longest else f'{shortest} to {longest}'}"


def _column(column: Export) -> str:
    name = _printable(column["name"])
    called = f" ({name})" if name and name != column["role"] else ""
    return f"{column['role']} {column['number']}{called}"


def _unit(seconds: float) -> str:
    """The unit of the time column: "us", or "5 us" for counts of five."""
    return time_text(seconds).removeprefix("1 ")


def _volts(cut: Export) -> str:
    if cut["rising"] == cut["falling"]:
        return f"{cut['rising']:g} V"
    return f"{cut['rising']:g} V rising and {cut['falling']:g} V falling"


def _after(stage: str) -> str:
    return "at the contact" if stage == "contact" else f"after {stage}"


def _printable(text: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in text)
