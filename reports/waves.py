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
    from simcore.tracing.tracing import LineNode, PulseFacts, TracedRun, Trail

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
