"""Acceptable ranges of a key in sentences, as bars of text, and as a table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.cells import cell_len, set_cell_size

from reports.documents.document import Column, Drawing, Table
from reports.documents.rates import rate_sentence
from reports.results.sweep import FEW, values_in_words
from reports.words.numbers import share_text

if TYPE_CHECKING:
    from reports.results.sweep import AcceptableRange, CellsResult, LowestRate, RangeEnd

WIDEST_NAME = 20
WIDEST_VALUE = 10
"""Characters of one value on a bar, at most."""
MARKS = {"within": "█", "open": "▒", "outside": "·"}
MARKS_ASCII = {"within": "#", "open": "?", "outside": "."}


def range_sentence(result: CellsResult, found: AcceptableRange) -> str:
    """Where a range is, and the limiting cause at either end."""
    path = result.axes[0].path
    if found.first is None or found.below is None or found.above is None:
        return _no_range(result, found.lowest, path)
    verb = "meets the target" if result.target is not None else "gives rates near the lowest"
    reach = f"at {found.first}" if found.first == found.last else f"from {found.first} to {found.last}"
    sentences = [f"{path} {verb} {reach}.", _beyond(found.below, "Below"), _beyond(found.above, "Above")]
    if found.gaps:
        sentences.append(f"In between, {_undecided(found.gaps)}.")
    if found.elsewhere:
        sentences.append(f"Apart from these: {', '.join(found.elsewhere)}.")
    return " ".join(sentences)


def _no_range(result: CellsResult, best: LowestRate | None, path: str) -> str:
    goal = "is shown to meet the target" if result.target is not None else "could be judged"
    if best is None:
        return f"No value of {path} {goal}, because no step was simulated."
    cause = f"; main cause: {best.cause}" if best.cause else ""
    return (
        f"No value of {path} {goal}. The wrong rate with the lowest upper bound is at {best.value}: "
        f"{rate_sentence(best.wrong_rate)}{cause}."
    )


def _beyond(end: RangeEnd, side: str) -> str:
    undecided = f"; {_undecided(end.open)}" if end.open else ""
    if end.outside is None:
        return f"{side}, no value tried is outside{undecided}."
    cause = ""
    if end.cause is not None and end.of_wrong is not None:
        share = share_text(round(1000 * end.of_wrong), 1000)
        cause = f": {end.cause} ({share} of the wrong steps)"
    return f"{side}, {end.outside} is outside{cause}{undecided}."


def _undecided(values: Sequence[str]) -> str:
    told = values_in_words(values, numeric=len(values) > FEW)
    return f"{told} {'is' if len(values) == 1 else 'are'} undecided"


def range_table(result: CellsResult) -> Table:
    ranges = result.window
    return Table(
        f"Acceptable ranges of {result.axes[0].path}",
        (
            Column("steps", [each.gesture or "all steps" for each in ranges], sort="name"),
            Column("from", [each.first or "-" for each in ranges]),
            Column("to", [each.last or "-" for each in ranges]),
            Column("limiting cause below", [_limit(each.below) for each in ranges], sort="short"),
            Column("limiting cause above", [_limit(each.above) for each in ranges], sort="short"),
            Column("undecided", [", ".join(each.undecided) or "-" for each in ranges], rank=1, sort="text"),
        ),
        only=("page", "notebook"),
    )


def _limit(end: RangeEnd | None) -> str:
    if end is None:
        return "-"
    if end.outside is None:
        return "none tried is outside"
    return f"{end.outside}: {end.cause or 'cause unknown'}"


def range_bars(result: CellsResult) -> Drawing:
    """The axis, and a bar for each range with the limiting causes below it; readable without colour."""
    return Drawing(lambda width, encoding: bars(result, width, encoding))


def bars(result: CellsResult, width: int, encoding: str) -> str:
    """The lines of `range_bars`."""
    values, marks = result.axes[0].values, MARKS if "utf" in encoding.lower() else MARKS_ASCII
    names = [each.gesture or "all steps" for each in result.window]
    margin = min(max(map(cell_len, names)), WIDEST_NAME) + 2
    wide = min((width - margin) // len(values), WIDEST_VALUE)
    if not wide:
        return f"{len(values)} values are too many for a bar of this width."
    indent = " " * margin
    lines = [indent + ticks(values, wide)]
    for name, found in zip(names, result.window, strict=True):
        bar = "".join((marks[each] * max(wide - 1, 1)).ljust(wide) for each in found.standings)
        lines.append(f"{set_cell_size(name, margin - 1)} {bar}")
        lines += [indent + line for line in limiting_causes(found, values, wide)]
    legend = f"{marks['within']} acceptable  {marks['open']} undecided  {marks['outside']} outside"
    return "\n".join([*lines, indent + legend])


def ticks(values: Sequence[str], width: int) -> str:
    """As many of the values as have room, each where its part of the bar begins."""
    line = ""
    for number, value in enumerate(values):
        begin = number * width
        if begin >= len(line) + 2 or not line:
            if begin + len(value) > max(len(values) * width, len(value)):
                continue
            line = line.ljust(begin) + value
    return line


def limiting_causes(found: AcceptableRange, values: Sequence[str], width: int) -> list[str]:
    """The limiting causes, each where the first value outside is, in one line or two."""
    room = len(values) * width
    if found.below is None or found.above is None:
        return _lowest(found.lowest, values, width)
    lines: list[str] = []
    if found.below.cause and found.below.outside:
        text = found.below.cause
        end = (values.index(found.below.outside) + 1) * width
        lines.append(" " * max(end - len(text), 0) + text)
    if found.above.cause and found.above.outside:
        text = found.above.cause
        begin = max(min(values.index(found.above.outside) * width, room - len(text)), 0)
        if lines and len(lines[0]) + 2 <= begin:
            lines[0] = lines[0].ljust(begin) + text
        else:
            lines.append(" " * begin + text)
    return lines


def _lowest(best: LowestRate | None, values: Sequence[str], width: int) -> list[str]:
    if best is None:
        return []
    text = "^ lowest" + (f": {best.cause}" if best.cause else "")
    begin = values.index(best.value) * width
    if begin + len(text) > len(values) * width and len(text) <= begin:
        turned = (f"{best.cause}: " if best.cause else "") + "lowest ^"
        return [" " * (begin + 1 - len(turned)) + turned]
    return [" " * begin + text]
