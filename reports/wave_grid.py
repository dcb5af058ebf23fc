"""The columns of a timing diagram: which ticks each covers, round times along it, and its signs."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from simcore.base.records import Ints

UNITS = (("s", 10**12), ("ms", 10**9), ("us", 10**6), ("ns", 10**3), ("ps", 1))
APART = 10
"""Columns between two marks of the time axis, at least."""


class Signs(NamedTuple):
    """The characters of a diagram."""

    high: str
    low: str
    closed: str
    open: str
    edge: str
    top: str
    middle: str
    bottom: str
    upright: str
    rising: str
    falling: str
    up: str
    down: str
    nothing: str
    held: str
    ruler: str
    mark: str
    cut: str


UNICODE = Signs(*"▔▁━╌│▔━▁┃╌┈▲▼○✕─┴…")
ASCII = Signs(*'"_=.|"=_|-.^vox-+~')


def signs_for(encoding: str) -> Signs:
    """The signs that an encoding can carry."""
    return UNICODE if "utf" in encoding.lower() else ASCII


class Grid(NamedTuple):
    """``width`` columns over the ticks from ``start`` up to but not including ``end``."""

    start: int
    end: int
    width: int

    @property
    def bounds(self) -> Ints:
        """The first tick of each column, and the end: width + 1 ticks."""
        import numpy as np

        span = self.end - self.start
        return np.array([self.start - (-k * span // self.width) for k in range(self.width + 1)], np.int64)

    def column(self, tick: int) -> int:
        """The column of a tick."""
        return (tick - self.start) * self.width // (self.end - self.start)

    def holds(self, tick: int) -> bool:
        """Whether the grid covers a tick."""
        return self.start <= tick < self.end


def grid_of(start: int, end: int, width: int) -> Grid:
    """A grid; a window of fewer ticks than columns is made longer."""
    return Grid(start, max(end, start + width), width)


def round_step(span: int, marks: int) -> int:
    """The smallest of 1, 2, 5, 10, 20, ... ticks that divides ``span`` into at most ``marks`` parts."""
    step, factors = 1, (2, 5, 10)
    while True:
        for factor in (1, *factors[:-1]):
            if step * factor * marks >= span:
                return step * factor
        step *= 10


def unit_for(largest: int) -> tuple[str, int]:
    """The unit in which ``largest`` ticks are 1 or more: its name and its ticks."""
    return next(((name, size) for name, size in UNITS if largest >= size), UNITS[-1])


def number_text(ticks: int, size: int, step: int) -> str:
    """A multiple of ``step`` ticks in units of ``size`` ticks, with the decimals that steps need."""
    places = 0
    while step * 10**places % size and places < 12:
        places += 1
    scaled = abs(ticks) * 10**places // size
    text = str(scaled) if not places else f"{scaled // 10**places}.{scaled % 10**places:0{places}d}"
    return f"-{text}" if ticks < 0 and scaled else text


class Axis(NamedTuple):
    """The two rows of a time axis, and the unit of its numbers."""

    numbers: str
    ruler: str
    unit: str


def time_axis(grid: Grid, zero: int, signs: Signs) -> Axis:
    """Round times, counted from the tick ``zero``."""
    step = round_step(grid.end - grid.start, max(grid.width // APART, 1))
    first = -((zero - grid.start) // step) * step
    times = [t for t in range(first, grid.end - zero, step) if grid.holds(zero + t)]
    name, size = unit_for(max([abs(t) for t in times] + [step]))
    numbers, ruler = [" "] * grid.width, [signs.ruler] * grid.width
    free = 0
    for time in times:
        column = grid.column(zero + time)
        ruler[column] = signs.mark
        text = number_text(time, size, step)
        begin = min(max(column - len(text) // 2, 0), grid.width - len(text))
        if begin >= free:
            numbers[begin : begin + len(text)] = text
            free = begin + len(text) + 1
    return Axis("".join(numbers), "".join(ruler), name)
