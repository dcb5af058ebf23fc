"""A timing diagram in text: contacts, voltages with thresholds, levels after each stage, the counter.

From the bottom: the columns of time, the rows of one level, voltage or pulses from plain arrays, and the
diagram of a traced run.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from reports.results.common import TICK
from reports.stories.samples import VoltageSamples, places, voltage_samples
from reports.stories.teller import instant_text, time_text
from reports.words.numbers import decimals
from simcore.base.records import LINE_NAMES

if TYPE_CHECKING:
    from simcore.base.records import Floats, Ints
    from simcore.tracing.tracing import LineNode, PulseFacts, TracedRun, Trail

UNITS = (("s", 10**12), ("ms", 10**9), ("us", 10**6), ("ns", 10**3), ("ps", 1))
APART = 10
"""Columns between two marks of the time axis, at least."""
MOST_COUNTED = 9
MORE = "+"
VOLT_ROWS = 7
NARROWEST = 20
"""Columns of time, at least, however narrow the terminal."""
CLOSE = 0.6
"""A line whose voltage and thresholds span less than this share of what lies above 0 V is drawn larger."""
TIGHT = 0.04
"""Share of the span that is left free at the edge of a plot."""
LEAST_SWING = 0.01
"""Volts."""
WIDEST = 100
"""The legend is not set wider than this."""


class DiagramSigns(NamedTuple):
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


UNICODE = DiagramSigns(*"▔▁━╌│▔━▁┃╌┈▲▼○✕─┴…")
ASCII = DiagramSigns(*'"_=.|"=_|-.^vox-+~')


def signs_for(encoding: str) -> DiagramSigns:
    """The signs that an encoding can carry."""
    return UNICODE if "utf" in encoding.lower() else ASCII


class TimeGrid(NamedTuple):
    """``width`` columns over the ticks from ``start`` up to but not including ``end``."""

    start: int
    end: int
    width: int

    @property
    def bounds(self) -> Ints:
        """The first tick of each column, and the end: width + 1 ticks."""
        span = self.end - self.start
        return np.array([self.start - (-k * span // self.width) for k in range(self.width + 1)], np.int64)

    def column(self, tick: int) -> int:
        """The column of a tick."""
        return (tick - self.start) * self.width // (self.end - self.start)

    def holds(self, tick: int) -> bool:
        """Whether the grid covers a tick."""
        return self.start <= tick < self.end


def grid_of(start: int, end: int, width: int) -> TimeGrid:
    """A grid; a window of fewer ticks than columns is made longer."""
    return TimeGrid(start, max(end, start + width), width)


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


class TimeAxis(NamedTuple):
    """The two rows of a time axis, and the unit of its numbers."""

    numbers: str
    ruler: str
    unit: str


def time_axis(grid: TimeGrid, zero: int, signs: DiagramSigns) -> TimeAxis:
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
    return TimeAxis("".join(numbers), "".join(ruler), name)


def count_sign(count: int) -> str:
    """A column with several changes: how many, "+" for more than nine."""
    return str(count) if count <= MOST_COUNTED else MORE


def level_row(
    grid: TimeGrid, first: int, ticks: Ints, lines: tuple[str, str], words: tuple[str, str], edge: str
) -> str:
    """One line of a level over time.

    ``first`` is the level before the first of ``ticks``, at each of which it changes; ``lines`` are
    the signs of 0 and 1, and ``words`` name them where there is room.  A column with one change
    shows ``edge``, one with several their number.
    """
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


class VoltScale(NamedTuple):
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


def extremes(grid: TimeGrid, samples: VoltageSamples) -> tuple[Floats, Floats]:
    """The lowest and the highest voltage in each column; ``samples`` reach from start to end."""
    bounds = grid.bounds
    edges = np.interp(bounds, samples.ticks, samples.volts)
    first, last = np.searchsorted(samples.ticks, bounds[:-1]), np.searchsorted(samples.ticks, bounds[1:])
    low, high = np.minimum(edges[:-1], edges[1:]), np.maximum(edges[:-1], edges[1:])
    for k in np.flatnonzero(last > first).tolist():
        inside = samples.volts[first[k] : last[k]]
        low[k], high[k] = min(low[k], inside.min()), max(high[k], inside.max())
    return low, high


def volt_rows(
    scale: VoltScale,
    low: Floats,
    high: Floats,
    thresholds: Sequence[tuple[float, float]],
    signs: DiagramSigns,
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
    scale: VoltScale, ends: tuple[float, float], rising: tuple[float, float], falling: tuple[float, float]
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


class PulseSign(NamedTuple):
    """A pulse of a counter for drawing: the sign, and the position after it."""

    tick: int
    sign: str
    position: int


def pulse_row(grid: TimeGrid, pulses: Sequence[PulseSign]) -> str:
    """One line of pulses; a column with several shows how many."""
    found: dict[int, list[PulseSign]] = {}
    for pulse in pulses:
        if grid.holds(pulse.tick):
            found.setdefault(grid.column(pulse.tick), []).append(pulse)
    cells = [" "] * grid.width
    for column, each in found.items():
        cells[column] = each[0].sign if len(each) == 1 else count_sign(len(each))
    return "".join(cells)


def position_row(grid: TimeGrid, start: int, pulses: Sequence[PulseSign], cut: str) -> str:
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


class DiagramRow(NamedTuple):
    """A label, and what stands beside it."""

    label: str
    cells: str


def timing_diagram(
    traced: TracedRun, start: int, end: int, width: int, encoding: str, zero: int | None = None
) -> str:
    """The run from tick ``start`` up to ``end``, so many characters wide, with a legend below.

    Times count from tick ``zero``, of which the caller has spoken; else the diagram names its own.  In signs
    of ASCII where the encoding is none of Unicode.
    """
    signs = signs_for(encoding)
    gutter = _gutter(traced, width)
    grid = grid_of(start, end, max(width - gutter - 1, NARROWEST))
    own, words = named_zero(traced, grid)
    axis = time_axis(grid, own if zero is None else zero, signs)
    rows = [DiagramRow(f"time ({axis.unit})", axis.numbers), DiagramRow("", axis.ruler)]
    for line in (0, 1):
        rows += [*_line_rows(traced, line, grid, signs), DiagramRow("", "")]
    rows += _counter_rows(traced, grid, signs)
    lines = [_text(row, gutter, signs) for row in rows]
    prose = textwrap.wrap(_legend(traced, grid, rows, signs), min(width, WIDEST))
    named = textwrap.wrap(words, min(width, WIDEST)) if zero is None else []
    return "\n".join([*named, *lines, *prose])


def named_zero(traced: TracedRun, grid: TimeGrid) -> tuple[int, str]:
    """The tick that times are counted from, and a sentence that says which it is.

    The first boundary of a step within the grid; else the first edge at the counter; else the start.
    """
    step, crossing = min(
        ((step, each) for step in traced.steps for each in step.transitions if grid.holds(each.tick)),
        key=lambda pair: pair[1].tick,
        default=(None, None),
    )
    if step is not None and crossing is not None:
        does = f"{LINE_NAMES[crossing.line]} {'closes' if crossing.closed else 'opens'} in step {step.number}"
        return crossing.tick, f"Time 0 is where {does}, {instant_text(crossing.tick * TICK)} into the run."
    seen = [
        (int(tick), f"where {name} {'rises' if level else 'falls'} at the counter")
        for name, line in zip(LINE_NAMES, traced.lines, strict=True)
        for tick, level in zip(line.seen.ticks.tolist(), line.seen.levels.tolist(), strict=True)
        if grid.holds(tick)
    ]
    tick, what = min(seen, default=(grid.start, "where this window begins"))
    return tick, f"Time 0 is {what}, {instant_text(tick * TICK)} into the run."


def _gutter(traced: TracedRun, width: int) -> int:
    """Room for labels: the longest one, within a quarter of the width."""
    labels = [f"{line} {place.name}" for line in LINE_NAMES for place in places(traced)]
    return min(max([16, *map(len, labels)]), max(width // 4, 16))


def _text(row: DiagramRow, gutter: int, signs: DiagramSigns) -> str:
    label = row.label if len(row.label) <= gutter else row.label[: gutter - 1] + signs.cut
    return f"{label:>{gutter}} {row.cells}".rstrip()


def _line_rows(traced: TracedRun, line: int, grid: TimeGrid, signs: DiagramSigns) -> Iterator[DiagramRow]:
    name, facts = LINE_NAMES[line], traced.lines[line]
    contact = level_row(
        grid,
        facts.contact.first,
        facts.contact.ticks,
        (signs.open, signs.closed),
        ("open", "closed"),
        signs.edge,
    )
    yield DiagramRow(f"{name} contact", contact)
    if facts.node is not None:
        yield from _volts(facts.node, grid, signs)
    shown = facts.contact
    for place in places(traced):
        trail = place.trails[line]
        if trail is not None:
            yield DiagramRow(f"{name} {place.name}", _logic(trail, grid, signs))
            shown = trail
    if not _same(shown, facts.seen) or shown is facts.contact:
        yield DiagramRow(f"{name} at the counter", _logic(facts.seen, grid, signs))


def _logic(trail: Trail, grid: TimeGrid, signs: DiagramSigns) -> str:
    return level_row(grid, trail.first, trail.ticks, (signs.low, signs.high), ("low", "high"), signs.edge)


def _same(one: Trail, other: Trail) -> bool:
    return one.first == other.first and one.ticks.tolist() == other.ticks.tolist()


def _volts(node: LineNode, grid: TimeGrid, signs: DiagramSigns) -> Iterator[DiagramRow]:
    samples = voltage_samples(node, grid.start, grid.end)
    low, high = extremes(grid, samples)
    thresholds = [node.thresholds_at(tick) for tick in grid.bounds[:-1].tolist()]
    levels = [samples.volts.min(), samples.volts.max(), *(volts for pair in thresholds for volts in pair)]
    lowest, highest = float(min(levels)), float(max(levels))
    scale = _scale(lowest, highest)
    (rise, fall), (last_rise, last_fall) = thresholds[0], thresholds[-1]
    labels = volt_labels(scale, (max(lowest, scale.low), highest), (rise, last_rise), (fall, last_fall))
    plot = volt_rows(scale, low, high, thresholds, signs)
    for label, cells in zip(labels, plot, strict=True):
        yield DiagramRow(label, cells)


def _scale(low: float, high: float) -> VoltScale:
    """From 0 V, or below, to the highest voltage or threshold; closer around them where they lie
    close together.
    """
    from_zero, swing = min(low, 0.0), max(high - low, LEAST_SWING)
    if swing < CLOSE * (high - from_zero):
        return VoltScale(low - TIGHT * swing, high + TIGHT * swing, VOLT_ROWS)
    return VoltScale(
        from_zero * (1.0 + TIGHT), from_zero + max(high - from_zero, LEAST_SWING) * (1.0 + TIGHT), VOLT_ROWS
    )


def _drawn(pulse: PulseFacts, signs: DiagramSigns) -> PulseSign:
    if pulse.asked == 0:
        sign = signs.nothing
    elif pulse.moved == 0:
        sign = signs.held
    else:
        sign = signs.up if pulse.moved > 0 else signs.down
    return PulseSign(pulse.tick, sign, pulse.position)


def _counter_rows(traced: TracedRun, grid: TimeGrid, signs: DiagramSigns) -> list[DiagramRow]:
    pulses = [_drawn(pulse, signs) for pulse in traced.pulses]
    before = traced.position_at(grid.start - 1)
    return [
        DiagramRow("counter", pulse_row(grid, pulses)),
        DiagramRow("count", position_row(grid, before, pulses, signs.cut)),
    ]


def _legend(traced: TracedRun, grid: TimeGrid, rows: list[DiagramRow], signs: DiagramSigns) -> str:
    """What the signs mean that this diagram uses."""
    counter = rows[-2].cells
    parts = [
        f"{sign} {words}"
        for sign, words in (
            (signs.up, "counts up"),
            (signs.down, "counts down"),
            (signs.nothing, "an active edge that gave no count"),
            (signs.held, "a count held by an end stop"),
        )
        if sign in counter
    ]
    levels = [row.cells for row in rows[2:-1] if row.label and " V" not in row.label]
    digits = {sign for cells in levels for sign in cells if sign.isdigit() or sign == MORE}
    if digits:
        more = f", {MORE} for more than 9" if MORE in digits else ""
        parts.append(f"a digit: so many changes within one column, too narrow to be drawn{more}")
    if signs.cut in rows[-1].cells:
        parts.append(f"{signs.cut} a count with no room for its number")
    nodes = [line.node for line in traced.lines if line.node is not None]
    if any(node.rising.tolist() != node.falling.tolist() for node in nodes):
        parts.append(f"{signs.rising} rising and {signs.falling} falling threshold")
    elif nodes:
        parts.append(f"{signs.rising} threshold")
    noise = max((node.noise for node in nodes), default=0.0)
    if noise > 0.0:
        parts.append(f"noise of {1000.0 * noise:.3g} mV rms rides on the voltage and is not drawn")
    parts.append(f"one column is {time_text((grid.end - grid.start) / grid.width * TICK)}")
    return "; ".join(parts) + "."
