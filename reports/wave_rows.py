"""The rows of a timing diagram, from plain arrays: levels, voltages, pulses."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from reports.numbers import decimals
from reports.wave_grid import Grid, Signs

if TYPE_CHECKING:
    from reports.samples import Samples
    from simcore.base.records import Floats, Ints

MOST_COUNTED = 9
MORE = "+"


def count_sign(count: int) -> str:
    """A column with several changes: how many, "+" for more than nine."""
    return str(count) if count <= MOST_COUNTED else MORE


def level_row(
    grid: Grid, first: int, ticks: Ints, lines: tuple[str, str], words: tuple[str, str], edge: str
) -> str:
    """One line of a level over time.

    ``first`` is the level before the first of ``ticks``, at each of which it changes; ``lines`` are
    the signs of 0 and 1, and ``words`` name them where there is room.  A column with one change
    shows ``edge``, one with several their number.
    """
    import numpy as np

    before = np.searchsorted(ticks, grid.bounds)
    counts = np.diff(before).tolist()
    levels = ((first + before[1:]) & 1).tolist()
    cells = [
        lines[level] if count == 0 else edge if count == 1 else count_sign(count)
        for count, level in zip(counts, levels, strict=True)
    ]
    begin = 0
    while begin < grid.width:
        end = begin
        while end < grid.width and counts[end] == 0:
            end += 1
        _put_word(cells, begin, end, words[levels[begin]])
        begin = end + 1
    return "".join(cells)


def _put_word(cells: list[str], begin: int, end: int, word: str) -> None:
    """A word in the middle of a stretch that has room for it."""
    if end - begin >= len(word) + 4:
        at = begin + (end - begin - len(word)) // 2
        cells[at : at + len(word)] = word


class Scale(NamedTuple):
    """Volts from ``low`` (the lower edge of the last row) to ``high`` (the upper edge of the first)."""

    low: float
    high: float
    rows: int

    def third(self, volts: float) -> int:
        """Thirds of a row from the lower edge up."""
        share = (volts - self.low) / (self.high - self.low)
        return min(max(int(3 * self.rows * share), 0), 3 * self.rows - 1)

    def row(self, volts: float) -> int:
        """The row, from the top."""
        return self.rows - 1 - self.third(volts) // 3


def extremes(grid: Grid, samples: Samples) -> tuple[Floats, Floats]:
    """The lowest and the highest voltage in each column; ``samples`` reach from start to end."""
    import numpy as np

    bounds = grid.bounds
    edges = np.interp(bounds, samples.ticks, samples.volts)
    first, last = np.searchsorted(samples.ticks, bounds[:-1]), np.searchsorted(samples.ticks, bounds[1:])
    low, high = np.minimum(edges[:-1], edges[1:]), np.maximum(edges[:-1], edges[1:])
    for k in np.flatnonzero(last > first).tolist():
        inside = samples.volts[first[k] : last[k]]
        low[k], high[k] = min(low[k], inside.min()), max(high[k], inside.max())
    return low, high


def volt_rows(
    scale: Scale, low: Floats, high: Floats, thresholds: Sequence[tuple[float, float]], signs: Signs
) -> list[str]:
    """The voltage as rows, the first one on top; ``thresholds`` are the rising and the falling one
    of each column.
    """
    canvas = [[" "] * len(low) for _ in range(scale.rows)]
    for column, (rising, falling) in enumerate(thresholds):
        canvas[scale.row(falling)][column] = signs.falling
        canvas[scale.row(rising)][column] = signs.rising
    for column, (bottom, top) in enumerate(zip(low.tolist(), high.tolist(), strict=True)):
        upper, lower = scale.row(top), scale.row(bottom)
        if upper == lower:
            third = scale.third(0.5 * (top + bottom)) % 3
            canvas[upper][column] = (signs.bottom, signs.middle, signs.top)[third]
        for row in range(upper, lower + 1) if upper < lower else ():
            canvas[row][column] = signs.upright
    return ["".join(row) for row in canvas]


def volt_labels(
    scale: Scale, ends: tuple[float, float], rising: tuple[float, float], falling: tuple[float, float]
) -> list[str]:
    """A label for each row: the lowest and the highest of all that is drawn (``ends``; 0 V where the plot
    begins there), and the thresholds, each of which has a value at the beginning and one at the end of the
    window.
    """
    labels = [""] * scale.rows
    places = decimals(0.1 * (scale.high - scale.low))
    labels[0] = f"{ends[1]:.{places}f} V"
    labels[-1] = f"{ends[0]:.{places}f} V" if scale.low else "0 V"
    up, down = scale.row(rising[0]), scale.row(falling[0])
    rise, fall = _span(rising, places), _span(falling, places)
    if rising == falling:
        labels[up] = f"{rise} V threshold"
    elif up == down:
        labels[up] = f"{rise}/{fall} V"
    else:
        labels[up], labels[down] = f"{rise} V rising", f"{fall} V falling"
    return labels


def _span(values: tuple[float, float], places: int) -> str:
    first, last = (f"{value:.{places}f}" for value in values)
    return first if first == last else f"{first}-{last}"


class Pulse(NamedTuple):
    """A pulse of a counter for drawing: the sign, and the position after it."""

    tick: int
    sign: str
    position: int


def pulse_row(grid: Grid, pulses: Sequence[Pulse]) -> str:
    """One line of pulses; a column with several shows how many."""
    found: dict[int, list[Pulse]] = {}
    for pulse in pulses:
        if grid.holds(pulse.tick):
            found.setdefault(grid.column(pulse.tick), []).append(pulse)
    cells = [" "] * grid.width
    for column, each in found.items():
        cells[column] = each[0].sign if len(each) == 1 else count_sign(len(each))
    return "".join(cells)


def position_row(grid: Grid, start: int, pulses: Sequence[Pulse], cut: str) -> str:
    """The position from each column on in which it changes, ``cut`` where it has no room."""
    last: dict[int, int] = {0: start}
    for pulse in pulses:
        if grid.holds(pulse.tick):
            last[grid.column(pulse.tick)] = pulse.position
    cells = [" "] * grid.width
    columns = sorted(last)
    shown: int | None = None
    for column, end in zip(columns, [*columns[1:], grid.width], strict=True):
        text = str(last[column])
        if last[column] == shown:
            continue
        shown = last[column]
        if column + len(text) < end or column + len(text) == grid.width:
            cells[column : column + len(text)] = text
        else:
            cells[column] = cut
    return "".join(cells)
