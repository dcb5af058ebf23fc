"""A timing diagram in text: contacts, voltages with thresholds, levels after each stage, the counter."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from rich.console import Console, Group, RenderableType
from rich.text import Text

from reports.samples import places, voltage_samples
from reports.teller import TICK, instant_text
from reports.terminal.prose import prose
from reports.wave_grid import Grid, Signs, grid_of, signs_for, time_axis
from reports.wave_rows import (
    MORE,
    Pulse,
    Scale,
    extremes,
    level_row,
    position_row,
    pulse_row,
    volt_labels,
    volt_rows,
)

if TYPE_CHECKING:
    from simcore.traced import LineNode, PulseFacts, TracedRun, Trail

LINES = ("A", "B")
STYLES = ("cyan", "magenta")
VOLT_ROWS = 7
NARROWEST = 20
"""Columns of time, at least, however narrow the terminal."""
CLOSE = 0.6
"""A line whose voltage and thresholds span less than this share of what lies above 0 V is drawn larger."""
TIGHT = 0.04
"""Share of the span that is left free at the edge of a plot."""
LEAST_SWING = 0.01
"""Volts."""


class Row(NamedTuple):
    """A label, what stands beside it, and how both look in colour."""

    label: str
    cells: str
    style: str = ""


def timing_diagram(
    traced: TracedRun, start: int, end: int, console: Console, zero: int | None = None
) -> RenderableType:
    """The run from tick ``start`` up to ``end``, as wide as the console.

    Times count from tick ``zero``, of which whoever gives it has spoken; else the diagram names its own.
    Reads without colour; in signs of ASCII where the console's encoding is none of Unicode.
    """
    signs = signs_for(console.encoding)
    gutter = _gutter(traced, console.width)
    grid = grid_of(start, end, max(console.width - gutter - 1, NARROWEST))
    own, words = named_zero(traced, grid)
    axis = time_axis(grid, own if zero is None else zero, signs)
    rows = [Row(f"time ({axis.unit})", axis.numbers, "dim"), Row("", axis.ruler, "dim")]
    for line in (0, 1):
        rows += [*_line_rows(traced, line, grid, signs), Row("", "")]
    rows += _counter_rows(traced, grid, signs)
    lines = [_text(row, gutter, signs) for row in rows]
    head = [prose(words)] if zero is None else []
    return Group(*head, *lines, prose(_legend(traced, grid, rows, signs), "dim"))


def named_zero(traced: TracedRun, grid: Grid) -> tuple[int, str]:
    """The tick that times are counted from, and a sentence that says which it is.

    The first boundary of a step within the grid; else the first edge at the counter; else the start.
    """
    step, crossing = min(
        ((step, each) for step in traced.steps for each in step.transitions if grid.holds(each.tick)),
        key=lambda pair: pair[1].tick,
        default=(None, None),
    )
    if step is not None and crossing is not None:
        does = f"{LINES[crossing.line]} {'closes' if crossing.closed else 'opens'} in step {step.number}"
        return crossing.tick, f"Time 0 is where {does}, {_run_time(crossing.tick)} into the run."
    seen = [
        (int(tick), f"where {name} {'rises' if level else 'falls'} at the counter")
        for name, line in zip(LINES, traced.lines, strict=True)
        for tick, level in zip(line.seen.ticks.tolist(), line.seen.levels.tolist(), strict=True)
        if grid.holds(tick)
    ]
    tick, what = min(seen, default=(grid.start, "where this window begins"))
    return tick, f"Time 0 is {what}, {_run_time(tick)} into the run."


def _run_time(tick: int) -> str:
    return instant_text(tick * TICK)


def _gutter(traced: TracedRun, width: int) -> int:
    """Room for labels: the longest one, within a quarter of the width."""
    labels = [f"{line} {place.name}" for line in LINES for place in places(traced)]
    return min(max([16, *map(len, labels)]), max(width // 4, 16))


def _text(row: Row, gutter: int, signs: Signs) -> Text:
    label = row.label if len(row.label) <= gutter else row.label[: gutter - 1] + signs.cut
    text = Text(f"{label:>{gutter}} ", style="dim", no_wrap=True, overflow="crop")
    text.append(row.cells.rstrip(), style=row.style or None)
    return text


def _line_rows(traced: TracedRun, line: int, grid: Grid, signs: Signs) -> Iterator[Row]:
    name, style, facts = LINES[line], STYLES[line], traced.lines[line]
    contact = level_row(
        grid,
        facts.contact.first,
        facts.contact.ticks,
        (signs.open, signs.closed),
        ("open", "closed"),
        signs.edge,
    )
    yield Row(f"{name} contact", contact, style)
    if facts.node is not None:
        yield from _volts(facts.node, grid, signs, style)
    shown = facts.contact
    for place in places(traced):
        trail = place.trails[line]
        if trail is not None:
            yield Row(f"{name} {place.name}", _logic(trail, grid, signs), style)
            shown = trail
    if not _same(shown, facts.seen) or shown is facts.contact:
        yield Row(f"{name} at the counter", _logic(facts.seen, grid, signs), style)


def _logic(trail: Trail, grid: Grid, signs: Signs) -> str:
    return level_row(grid, trail.first, trail.ticks, (signs.low, signs.high), ("low", "high"), signs.edge)


def _same(one: Trail, other: Trail) -> bool:
    return one.first == other.first and one.ticks.tolist() == other.ticks.tolist()


def _volts(node: LineNode, grid: Grid, signs: Signs, style: str) -> Iterator[Row]:
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
        yield Row(label, cells, style)


def _scale(low: float, high: float) -> Scale:
    """From 0 V, or below, to the highest voltage or threshold; closer around them where they lie
    close together.
    """
    from_zero, swing = min(low, 0.0), max(high - low, LEAST_SWING)
    if swing < CLOSE * (high - from_zero):
        return Scale(low - TIGHT * swing, high + TIGHT * swing, VOLT_ROWS)
    return Scale(
        from_zero * (1.0 + TIGHT), from_zero + max(high - from_zero, LEAST_SWING) * (1.0 + TIGHT), VOLT_ROWS
    )


def _drawn(pulse: PulseFacts, signs: Signs) -> Pulse:
    if pulse.asked == 0:
        sign = signs.nothing
    elif pulse.moved == 0:
        sign = signs.held
    else:
        sign = signs.up if pulse.moved > 0 else signs.down
    return Pulse(pulse.tick, sign, pulse.position)


def _counter_rows(traced: TracedRun, grid: Grid, signs: Signs) -> list[Row]:
    pulses = [_drawn(pulse, signs) for pulse in traced.pulses]
    before = traced.position_at(grid.start - 1)
    return [
        Row("counter", pulse_row(grid, pulses), "bold"),
        Row("count", position_row(grid, before, pulses, signs.cut), "bold"),
    ]


def _legend(traced: TracedRun, grid: Grid, rows: list[Row], signs: Signs) -> str:
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
    parts.append(f"one column is {column_text(grid)}")
    return "; ".join(parts) + "."


def column_text(grid: Grid) -> str:
    """How long a column lasts."""
    from scenarios.quantities import TIME, write_quantity

    return write_quantity((grid.end - grid.start) / grid.width * 1.0e-12, TIME, 3)


#GRID
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


#ROWS
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
