"""The cells of a sweep or a choice in words, tables and grids of text."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from reports.documents.document import Column, Drawing, Sort, Table
from reports.documents.rates import CI, rate_columns, rate_sentence
from reports.words.numbers import PER, counted, estimate_text, interval_text, on_the_point, share_text, whole
from reports.words.sentences import WRONG_VERDICTS

if TYPE_CHECKING:
    from reports.results.sweep import CellGesture, CellsResult, CellTally, VariedKey

MET: Mapping[str | None, str] = {"yes": "met", "no": "missed", "undecided": "undecided", None: ""}
"""Whether a target is met, by the word for it in a result."""
LISTED = 40
"""Cells of two keys up to which each is listed below the grids as well."""
MOST_ROWS = 400
"""Cells that a table has, so that a page does not grow beyond what a browser takes at once."""
GAP = 2
"""Blanks between two columns of a grid."""


def main_cause(group: CellTally | CellGesture) -> str | None:
    """The root cause of most wrong steps; None where none went wrong."""
    return next(iter(group.causes), None)


def main_cause_text(cell: CellTally) -> str:
    cause = main_cause(cell)
    return "" if cause is None else f"{cause} {share_text(cell.causes[cause], cell.wrong)}"


def other_causes_text(cell: CellTally) -> str:
    """The second root cause with its share, and how many more there are."""
    others = [f"{cause} {share_text(count, cell.wrong)}" for cause, count in cell.causes.items()][1:]
    return "; ".join([*others[:1], *([f"{len(others) - 1} more"] if len(others) > 1 else [])])


def marked_rate(cell: CellTally) -> str:
    """The rate in few letters, with a mark for a cell that meets the target or is undecided."""
    text = estimate_text(cell.wrong_rate).replace("under ", "<").replace("over ", ">")
    return text + {"yes": "*", "undecided": "?"}.get(cell.meets_target or "", "")


def values_text(values: Mapping[str, str]) -> str:
    return ", ".join(f"{path} {value}" for path, value in values.items())


def axes_line(result: CellsResult) -> str:
    parts = []
    for key in result.axes:
        count = len(key.values)
        many = f" ({counted(count, 'value')})" if key.numbers is not None and count > 1 else ""
        parts.append(f"{key.path}: {key.words}{many}")
    cells = counted(result.cells_asked, "cell")
    return f"{cells} of up to {counted(result.runs_asked, 'run')}; {'; '.join(parts)}."


def lowest_sentence(result: CellsResult) -> str:
    cell = result.lowest_cell
    if cell is None:
        return "No rate is known, because no step was simulated."
    where, rate = values_text(cell.values), rate_sentence(cell.wrong_rate)
    return f"The wrong rate with the lowest upper bound is at {where}: {rate}."


def own_cautions(cells: Sequence[Any]) -> list[str]:
    """What holds for some cells only, each sentence once with where it holds."""
    where: dict[str, list[str]] = {}
    for cell in cells:
        for caution in cell.cautions:
            where.setdefault(caution, []).append(values_text(cell.values))
    return [
        f"At {'; '.join(places[:3])}{f' and {len(places) - 3} other cells' if len(places) > 3 else ''}: "
        f"{caution}"
        for caution, places in where.items()
    ]


def value_columns(keys: Sequence[VariedKey], cells: Sequence[CellTally]) -> list[Column]:
    """A column for each key varied, its path on several lines."""
    found = []
    for number, key in enumerate(keys):
        words: Sort = "short" if number else "name"
        sort: Sort = words if key.numbers is None else "number"
        found.append(
            Column(key.path.replace(".", ".\n"), [cell.values[key.path] for cell in cells], sort=sort)
        )
    return found


def cell_table(result: CellsResult) -> Table:
    """A row for each finished cell, of many the first."""
    cells = result.cells[:MOST_ROWS]

    def counts(verdict: str) -> list[str]:
        return [whole(getattr(cell.verdicts, verdict)) for cell in cells]

    met = [Column("target", [MET[cell.meets_target] for cell in cells], sort="short")]
    return Table(
        "Cells, each with its wrong steps and the confidence interval by itself",
        (
            *value_columns(result.axes, cells),
            Column("runs", [whole(cell.runs) for cell in cells], rank=2),
            Column("steps", [whole(cell.steps) for cell in cells], rank=4),
            *rate_columns([cell.wrong_rate for cell in cells], f"wrong per\n{PER:,}"),
            *(Column(verdict, counts(verdict), rank=3) for verdict in WRONG_VERDICTS),
            *(met if result.target is not None else ()),
            Column("main cause", [main_cause_text(cell) for cell in cells], rank=1, sort="short"),
            Column("other causes", [other_causes_text(cell) for cell in cells], rank=5, sort="short"),
        ),
    )


def left_out(result: CellsResult) -> str:
    """That the tables do not have all cells, "" if they do."""
    count = len(result.cells)
    if count <= MOST_ROWS:
        return ""
    return f"The tables have the first {MOST_ROWS} of {whole(count)} cells; the JSON file has all of them."


def gesture_table(result: CellsResult) -> Table:
    """Each gesture of each cell of a sweep over one key."""
    cells = result.cells[:MOST_ROWS]
    columns = value_columns(result.axes, cells)
    for number, gesture in enumerate(cells[0].by_gesture):
        groups = [cell.by_gesture[number] for cell in cells]
        rates = [group.wrong_rate for group in groups]
        texts = on_the_point([estimate_text(rate) for rate in rates])
        columns += [
            Column(f"{gesture.name}: wrong per {PER:,}", texts),
            Column(f"{gesture.name}: {CI}", [interval_text(rate) for rate in rates], rank=1),
        ]
        if result.target is not None:
            met = [MET[group.meets_target] for group in groups]
            columns.append(Column(f"{gesture.name}: target", met, rank=2, sort="short"))
    return Table("Wrong steps of each gesture", tuple(columns))


def grids(result: CellsResult) -> Iterator[Drawing]:
    """The rate and the main cause of each cell of two keys as text; the key with more values runs down."""
    down, across = sorted(result.axes, key=lambda key: -len(key.values))
    named = f"{down.path} down, {across.path} across"

    def drawing(caption: str, told: Callable[[CellTally], str]) -> Drawing:
        at = {(cell.values[down.path], cell.values[across.path]): told(cell) for cell in result.cells}
        columns = [[value, *(at.get((row, value), "") for row in down.values)] for value in across.values]
        return Drawing(
            lambda width, encoding: _grid(["", *down.values], columns, width), f"{caption}: {named}"
        )

    yield drawing(f"Wrong steps per {PER:,}", marked_rate)
    if any(cell.causes for cell in result.cells):
        yield drawing("Main cause", lambda cell: main_cause(cell) or "-")


def _grid(names: Sequence[str], columns: Sequence[Sequence[str]], width: int) -> str:
    """Columns beside the names of their rows, cut into as many parts as the width asks for."""
    first = max(map(len, names))
    parts: list[list[Sequence[str]]] = [[]]
    used = first
    for column in columns:
        wide = GAP + max(map(len, column))
        if parts[-1] and used + wide > width:
            parts.append([])
            used = first
        parts[-1].append(column)
        used += wide
    return "\n\n".join(_part(names, first, part) for part in parts)


def _part(names: Sequence[str], first: int, columns: Sequence[Sequence[str]]) -> str:
    widths = [max(map(len, column)) for column in columns]
    return "\n".join(
        f"{name:>{first}}"
        + "".join(f"{'':{GAP}}{column[i]:>{wide}}" for column, wide in zip(columns, widths, strict=True))
        for i, name in enumerate(names)
    )
