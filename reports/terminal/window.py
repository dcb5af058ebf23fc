"""The windows of a sweep as bars over the axis, readable without colour."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rich.cells import cell_len, set_cell_size
from rich.console import Console, RenderableType
from rich.text import Text

from reports.sweep_words import brief, window_sentence
from reports.terminal.prose import hanging, prose

Export = dict[str, Any]
WIDEST_NAME = 20
WIDEST_VALUE = 10
"""Columns of one value on a bar, at most."""
MARKS = {"within": "█", "open": "▒", "outside": "·"}
MARKS_ASCII = {"within": "#", "open": "?", "outside": "."}
STYLES = {"within": "green", "open": "yellow", "outside": "dim"}


def window_section(export: Export, console: Console) -> Iterator[Any]:
    """Title, axis, a bar for each window with what binds on either side below it, and the sentences."""
    axis, windows = export["axes"][0], export["window"]
    yield f"Where {axis['path']} may lie"
    names = [window["gesture"] or "all steps" for window in windows]
    margin = min(max(map(cell_len, names)), WIDEST_NAME) + 2
    width = min((console.width - margin) // len(axis["values"]), WIDEST_VALUE)
    if width:
        yield Text(" " * margin + ticks(axis["values"], width), style="dim")
        for name, window in zip(names, windows, strict=True):
            yield _bar(set_cell_size(name, margin - 1) + " ", window, width, console)
            for line in borders(window, axis["values"], width):
                yield Text(" " * margin + line)
        yield Text(" " * margin + _legend(console), style="dim")
    for name, window in list(zip(names, windows, strict=True))[1:]:
        yield hanging(f"{name}: ", window_sentence(export, window))
    yield prose(export["window_rule"], "dim")


def _marks(console: Console) -> dict[str, str]:
    return MARKS if "utf" in console.encoding.lower() else MARKS_ASCII


def _legend(console: Console) -> str:
    marks = _marks(console)
    return f"{marks['within']} in the window  {marks['open']} open  {marks['outside']} outside"


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


def _bar(lead: str, window: Export, width: int, console: Console) -> RenderableType:
    marks, bar = _marks(console), Text(lead)
    for standing in window["standings"]:
        part = marks[standing] * max(width - 1, 1)
        bar.append(part.ljust(width), style=STYLES[standing])
    return bar


def borders(window: Export, values: Sequence[str], width: int) -> list[str]:
    """What binds below and above, each where the first value outside stands, in one line or two."""
    room = len(values) * width
    if window["from"] is None:
        return _lowest(window, values, width)
    parts: list[tuple[int, str]] = []
    below, above = window["below"], window["above"]
    if below["cause"]:
        text = brief(below["cause"])
        end = (values.index(below["outside"]) + 1) * width
        parts.append((max(end - len(text), 0), text))
    if above["cause"]:
        text = brief(above["cause"])
        begin = values.index(above["outside"]) * width
        parts.append((max(min(begin, room - len(text)), 0), text))
    return _laid(parts)


def _lowest(window: Export, values: Sequence[str], width: int) -> list[str]:
    """Where the lowest rate is, where there is no window."""
    best = window["lowest"]
    if best is None:
        return []
    text = "^ lowest" + (f": {brief(best['cause'])}" if best["cause"] else "")
    begin = values.index(best["value"]) * width
    if begin + len(text) > len(values) * width and len(text) <= begin:
        turned = (f"{brief(best['cause'])}: " if best["cause"] else "") + "lowest ^"
        return [" " * (begin + 1 - len(turned)) + turned]
    return [" " * begin + text]


def _laid(parts: Sequence[tuple[int, str]]) -> list[str]:
    """Texts at their columns, on the first line that has room."""
    lines: list[str] = []
    for begin, text in parts:
        if lines and len(lines[-1]) + 2 <= begin:
            lines[-1] = lines[-1].ljust(begin) + text
        else:
            lines.append(" " * begin + text)
    return lines
