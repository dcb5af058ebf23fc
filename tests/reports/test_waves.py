"""The timing diagram: every change is in it, at its place, in any width, with and without Unicode."""

from __future__ import annotations

import io
import itertools
import pathlib
import re
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

from reports.wave_grid import (
    ASCII,
    UNICODE,
    UNITS,
    Grid,
    grid_of,
    number_text,
    round_step,
    time_axis,
    unit_for,
)
from reports.wave_rows import Pulse, Scale, level_row, position_row, pulse_row, volt_labels, volt_rows
from reports.waves import interesting_window, named_zero, timing_diagram, windows_of
from simcore.traced import TracedRun
from tests.reports.traced_runs import MS, US, by_hand, pulse, traced

RUNS = [
    ("panel-knob", 1, "filter.capacitor=10 nF"), ("panel-knob", 3), ("supply-dips", 3), ("long-leads", 2),
    ("interlock", 1),
]  # fmt: skip
BY_HAND = by_hand(
    ([2 * MS, 6 * MS, 6 * MS + 30 * US, 6 * MS + 60 * US, 9 * MS], [4 * MS, 8 * MS]),
    (
        [2 * MS + 102 * US, 6 * MS + 400 * US, 6 * MS + 401 * US, 6 * MS + 500 * US],
        [4 * MS + 102 * US, 8 * MS + 400 * US],
    ),
    [
        pulse(2 * MS + 102 * US, 1, 51), pulse(6 * MS + 401 * US, 0, 51, 0, 1), pulse(8 * MS, 0, 51, 1, 8),
        pulse(8 * MS + 900 * US, -1, 50),
    ],
    50,
)  # fmt: skip
DRAWN = (pathlib.Path(__file__).parent / "diagram.txt").read_text(encoding="ascii")


class _File(io.StringIO):
    encoding = "utf-8"


def screen(width: int, encoding: str = "utf-8", colour: bool = False) -> Console:
    file = _File()
    file.encoding = encoding
    return Console(
        file=file,
        width=width,
        color_system="truecolor" if colour else None,
        force_terminal=colour,
        highlight=False,
    )


def drawn(run: TracedRun, start: int, end: int, console: Console) -> list[str]:
    with console.capture() as capture:
        console.print(timing_diagram(run, start, end, console))
    return [line.rstrip() for line in capture.get().splitlines()]


def row(lines: list[str], label: str) -> str:
    """What stands beside a label, one character a column."""
    (found,) = [line for line in lines if line.lstrip().startswith(f"{label} ") or line.strip() == label]
    at = found.index(label) + len(label) + 1
    return found[at:]


def test_a_whole_diagram() -> None:
    assert drawn(BY_HAND, MS, 10 * MS, screen(80, "ascii")) == DRAWN.splitlines()


@pytest.mark.parametrize("asked", RUNS, ids=[" ".join(map(str, each)) for each in RUNS])
@pytest.mark.parametrize("width", [40, 80, 120, 200])
def test_it_fits_any_width_and_reads_alike_with_and_without_colour(asked: Any, width: int) -> None:
    run = traced(*asked)
    for step in run.steps[:3]:
        for window in windows_of(run, step):
            lines = drawn(run, window.start, window.end, screen(width))
            assert max(map(len, lines)) <= width
            plain = drawn(run, window.start, window.end, screen(width, "ascii"))
            assert "".join(plain).isascii()
            assert len(plain) == len(lines)
            console = screen(width, colour=True)
            with console.capture() as capture:
                console.print(timing_diagram(run, window.start, window.end, console))
            text = _without_codes(capture.get())
            assert [line.rstrip() for line in text.splitlines()] == lines


def _without_codes(text: str) -> str:
    return re.sub(r"\x1b\[[0-9;]*m", "", text)


@pytest.mark.parametrize("asked", RUNS, ids=[" ".join(map(str, each)) for each in RUNS])
def test_every_change_and_every_pulse_shows(asked: Any) -> None:
    run = traced(*asked)
    for step in run.steps:
        start, end = interesting_window(run, step)
        lines = drawn(run, start, end, screen(80))
        for name, line in zip("AB", run.lines, strict=True):
            contact = row(lines, f"{name} contact")
            own = line.contact.between(start, end)
            assert _changes(contact) == own.stop - own.start or "+" in contact
        pulses = [each for each in run.pulses if start <= each.tick < end]
        assert _pulses(row(lines, "counter")) == len(pulses)
        last = row(lines, "count")
        assert last.endswith((str(run.position_at(end - 1)), UNICODE.cut))


def _changes(cells: str) -> int:
    return sum(1 if cell == UNICODE.edge else int(cell) if cell.isdigit() else 0 for cell in cells)


def _pulses(cells: str) -> int:
    return sum(int(cell) if cell.isdigit() else 1 for cell in cells if cell != " ")


ticks = st.lists(st.integers(0, 10_000), max_size=40).map(sorted)


@given(ticks, st.integers(0, 1), st.integers(0, 5000), st.integers(1, 5000), st.integers(10, 90))
@settings(max_examples=200, deadline=None)
def test_each_column_tells_its_level_or_its_changes(
    times: list[int], first: int, start: int, span: int, width: int
) -> None:
    grid = grid_of(start, start + span, width)
    assert grid.end - grid.start >= grid.width
    cells = level_row(grid, first, np.array(times, np.int64), ("_", "^"), ("", ""), "|")
    assert len(cells) == width
    for column, (begin, end) in enumerate(itertools.pairwise(grid.bounds.tolist())):
        inside = [t for t in times if begin <= t < end]
        assert all(grid.column(t) == column for t in inside)
        level = (first + sum(1 for t in times if t < end)) % 2
        expected = "_^"[level] if not inside else "|" if len(inside) == 1 else str(len(inside))
        assert cells[column] == (expected if len(inside) < 10 else "+")


def test_words_stand_where_there_is_room() -> None:
    grid = Grid(0, 40, 40)
    cells = level_row(grid, 1, np.array([7, 30]), ("_", "-"), ("low", "high"), "|")
    assert cells == "-------|_________low__________|--high---"
    assert level_row(grid, 0, np.array([0, 39]), ("_", "-"), ("low", "high"), "|")[1:39].strip("-") == "high"


@pytest.mark.parametrize(
    ("span", "marks", "step"),
    [
        (9, 5, 2),
        (10, 5, 2),
        (11, 5, 5),
        (1, 5, 1),
        (60, 6, 10),
        (61, 6, 20),
        (10**12, 4, 5 * 10**11),
        (5, 5, 1),
    ],
)
def test_round_steps(span: int, marks: int, step: int) -> None:
    assert round_step(span, marks) == step


@given(st.integers(0, 10**15), st.integers(60, 10**13), st.integers(20, 100), st.data())
@settings(max_examples=200, deadline=None)
def test_marks_of_the_time_axis_stand_at_their_times(start: int, span: int, width: int, data: Any) -> None:
    grid = grid_of(start, start + span, width)
    zero = data.draw(st.integers(grid.start, grid.end - 1))
    axis = time_axis(grid, zero, ASCII)
    assert len(axis.numbers) == len(axis.ruler) == width
    assert axis.ruler[grid.column(zero)] == ASCII.mark
    size = dict(UNITS)[axis.unit]
    numbers = axis.numbers.split()
    assert len(set(numbers)) == len(numbers) >= 1
    assert "0" in [number.rstrip("0").rstrip(".") or "0" for number in numbers] or grid.column(zero) < 8
    for number in numbers:
        tick = zero + round(float(number) * size)
        assert axis.ruler[grid.column(tick)] == ASCII.mark


def test_numbers_have_the_decimals_that_their_steps_need() -> None:
    assert [number_text(t, 10**6, 500_000) for t in (-500_000, 0, 1_500_000)] == ["-0.5", "0.0", "1.5"]
    assert number_text(20_000, 10**6, 20_000) == "0.02"
    assert number_text(3 * 10**9, 10**9, 10**9) == "3"
    assert [unit_for(t)[0] for t in (1, 999, 1000, 10**9, 10**13)] == ["ps", "ps", "ns", "ms", "s"]


def test_voltages_stand_in_their_rows() -> None:
    scale = Scale(0.0, 3.0, 3)
    low, high = np.array([0.1, 0.5, 0.9, 1.5, 0.2, 2.9]), np.array([0.1, 0.5, 0.9, 1.5, 2.9, 3.5])
    rows = volt_rows(scale, low, high, [(2.2, 1.1)] * 6, ASCII)
    assert rows == ['----|"', "...=|.", '_="' + " | "]
    assert volt_labels(scale, (2.2, 2.2), (1.1, 1.1)) == ["2.20 V rising", "1.10 V falling", "0 V"]
    assert volt_labels(scale, (1.5, 1.4), (1.2, 1.1))[1] == "1.50-1.40/1.20-1.10 V"
    assert volt_labels(scale, (1.5, 1.5), (1.5, 1.5))[1] == "1.50 V threshold"


def test_pulses_and_positions_that_have_no_room() -> None:
    grid = Grid(0, 100, 10)
    pulses = [
        Pulse(5, "^", 99),
        Pulse(21, "^", 100),
        Pulse(29, "^", 101),
        Pulse(33, "v", 100),
        Pulse(200, "^", 7),
    ]
    assert pulse_row(grid, pulses) == "^ 2v      "
    assert position_row(grid, 98, pulses, "~") == "~ ~100    "
    assert position_row(grid, 98, [], "~") == "98        "


@pytest.mark.parametrize("asked", RUNS, ids=[" ".join(map(str, each)) for each in RUNS])
def test_windows_hold_what_they_are_about(asked: Any) -> None:
    run = traced(*asked)
    zoomed = 0
    for step in run.steps:
        overview, *closer = windows_of(run, step)
        assert overview.start == 0 or overview.start < step.start
        assert overview.end > step.end
        seen = sorted(tick for line in run.lines for tick in line.seen.ticks.tolist())
        for window in closer:
            zoomed += 1
            assert 20 * (window.end - window.start) < 8 * (overview.end - overview.start)
            inside = [tick for tick in seen if window.start < tick < window.end]
            if step.edges:
                assert len(inside) >= 2
                assert {edge.tick for edge in step.edges} & set(inside)
    if asked == RUNS[0]:
        assert zoomed > 5


def test_a_doubt_is_shown_between_the_lines() -> None:
    """The direction changed 2 us after the clock edge; the clock chatters closer than that elsewhere."""
    run = by_hand(
        ([1 * MS], [3 * MS]),
        ([1 * MS, 5 * MS, 5 * MS + US], [1 * MS + 2 * US]),
        [pulse(1 * MS, 1, 1, flags=2)],
    )
    window = windows_of(run, run.steps[0])[1]
    assert window.words == "edges of A and B at the counter"
    assert window.start < 1 * MS < 1 * MS + 2 * US < window.end


def test_without_an_edge_at_the_counter_the_contact_is_looked_at() -> None:
    run = by_hand(([1 * MS, 1 * MS + US, 5 * MS], []), ([], []))
    overview, closer = windows_of(run, run.steps[0])
    assert closer.words == "two changes of contact A" or overview.end > 0
    assert closer.start < 1 * MS < 1 * MS + US < closer.end


def test_zero_is_named() -> None:
    grid = grid_of(MS, 10 * MS, 60)
    assert named_zero(BY_HAND, grid) == (2 * MS, "Time 0 is where A closes in step 1, 2 ms into the run.")
    later = grid_of(6 * MS + 300 * US, 7 * MS, 60)
    assert named_zero(BY_HAND, later) == (
        6 * MS + 400 * US, "Time 0 is where A rises at the counter, 6.4 ms into the run.",
    )  # fmt: skip
    nothing = grid_of(4 * MS + 300 * US, 5 * MS, 60)
    assert named_zero(BY_HAND, nothing)[1] == "Time 0 is where this window begins, 4.3 ms into the run."


def test_noise_is_mentioned_and_lines_without_voltage_are_drawn() -> None:
    run = traced("slow-edge", 3)
    text = " ".join(drawn(run, *interesting_window(run, run.step(3)), screen(80)))
    assert "3 mV rms rides on the voltage and is not drawn" in text
    assert "threshold" in text
