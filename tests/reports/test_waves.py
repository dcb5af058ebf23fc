"""The timing diagram: every change is in it, at its place, in any width, with and without Unicode."""

from __future__ import annotations

import itertools
import pathlib
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.figures.waves import (
    ASCII,
    UNICODE,
    UNITS,
    PulseSign,
    TimeGrid,
    VoltScale,
    grid_of,
    level_row,
    named_zero,
    number_text,
    position_row,
    pulse_row,
    round_step,
    time_axis,
    timing_diagram,
    unit_for,
    volt_labels,
    volt_rows,
)
from reports.stories.evidence import case_of
from reports.stories.story import Story, story_of
from reports.stories.teller import INSTANT, SPAN, StatedValue, Statement
from reports.stories.windows import WIDE, closer_window, told_window, with_margin
from scenarios.loading.load import load_scenario
from simcore.tracing.tracing import TracedRun
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


def drawn(run: TracedRun, start: int, end: int, width: int, encoding: str = "utf-8") -> list[str]:
    return timing_diagram(run, start, end, width, encoding).splitlines()


def stories(asked: Any) -> list[Story]:
    """Every step of a run, told."""
    name, _, *sets = asked
    design, run = load_scenario(name, sets).design, traced(*asked)
    return [story_of(case_of(design, run, step.number)) for step in run.steps]


def windows(story: Story) -> list[tuple[int, int]]:
    return [story.window, *([] if story.closer is None else [story.closer])]


def row(lines: list[str], label: str) -> str:
    """What stands beside a label, one character a column."""
    (found,) = [line for line in lines if line.lstrip().startswith(f"{label} ") or line.strip() == label]
    at = found.index(label) + len(label) + 1
    return found[at:]


def test_a_whole_diagram() -> None:
    assert drawn(BY_HAND, MS, 10 * MS, 80, "ascii") == DRAWN.splitlines()


@pytest.mark.parametrize("asked", RUNS, ids=[" ".join(map(str, each)) for each in RUNS])
@pytest.mark.parametrize("width", [40, 80, 120, 200])
def test_it_fits_any_width_with_and_without_unicode(asked: Any, width: int) -> None:
    run = traced(*asked)
    for story in stories(asked)[:3]:
        for window in windows(story):
            lines = drawn(run, *window, width)
            assert max(map(len, lines)) <= width
            plain = drawn(run, *window, width, "ascii")
            assert "".join(plain).isascii()
            assert len(plain) == len(lines)


@pytest.mark.parametrize("asked", RUNS, ids=[" ".join(map(str, each)) for each in RUNS])
def test_every_change_and_every_pulse_shows(asked: Any) -> None:
    run = traced(*asked)
    for story in stories(asked):
        start, end = story.window
        lines = drawn(run, start, end, 80)
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
    grid = TimeGrid(0, 40, 40)
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
    scale = VoltScale(0.0, 3.0, 3)
    low, high = np.array([0.1, 0.5, 0.9, 1.5, 0.2, 2.9]), np.array([0.1, 0.5, 0.9, 1.5, 2.9, 3.5])
    rows = volt_rows(scale, low, high, [(2.2, 1.1)] * 6, ASCII)
    assert rows == ['----|"', "...=|.", '_="' + " | "]
    ends = (0.1, 2.9)
    assert volt_labels(scale, ends, (2.2, 2.2), (1.1, 1.1)) == ["2.20 V rising", "1.10 V falling", "0 V"]
    assert volt_labels(scale, ends, (1.5, 1.4), (1.2, 1.1))[1] == "1.50-1.40/1.20-1.10 V"
    assert volt_labels(scale, ends, (1.5, 1.5), (1.5, 1.5)) == ["2.90 V", "1.50 V threshold", "0 V"]
    lifted = VoltScale(0.5, 3.0, 3)
    assert volt_labels(lifted, (0.6, 2.9), (1.5, 1.5), (1.5, 1.5)) == ["2.90 V", "1.50 V threshold", "0.60 V"]


def test_pulses_and_positions_that_have_no_room() -> None:
    grid = TimeGrid(0, 100, 10)
    pulses = [
        PulseSign(5, "^", 99),
        PulseSign(21, "^", 100),
        PulseSign(29, "^", 101),
        PulseSign(33, "v", 100),
        PulseSign(200, "^", 7),
    ]
    assert pulse_row(grid, pulses) == "^ 2v      "
    assert position_row(grid, 98, pulses, "~") == "~ ~100    "
    assert position_row(grid, 98, [], "~") == "98        "


@pytest.mark.parametrize("asked", RUNS, ids=[" ".join(map(str, each)) for each in RUNS])
def test_windows_hold_what_the_sentences_speak_of(asked: Any) -> None:
    for story in stories(asked):
        (start, end), step = story.window, story.step
        length = step.end - step.start
        ticks = [t for each in story.why for said in each.stated for t in (said.since, said.tick) if t >= 0]
        near = [tick for tick in ticks if step.start - length <= tick <= step.end + length]
        assert all(start <= tick < end for tick in near or [step.start, step.end - 1])
        if story.closer is not None:
            inside = [tick for tick in near if story.closer[0] < tick < story.closer[1]]
            assert len(set(inside)) >= 2
            assert WIDE * (max(inside) - min(inside)) < end - start


def stated(what: Any, since: int, tick: int) -> StatedValue:
    return StatedValue("", what, 0.0, -1, since, tick)


def test_what_is_too_narrow_gets_a_window_of_its_own() -> None:
    wide = Statement("", (stated(INSTANT, -1, 2 * MS), stated(INSTANT, -1, 6 * MS)))
    narrow = Statement("", (stated(SPAN, 3 * MS, 3 * MS + US),))
    less = Statement("", (stated(SPAN, 4 * MS, 4 * MS + 20 * US),))
    window = told_window(BY_HAND.steps[0], [wide, narrow, less])
    assert window == (2 * MS - MS // 2, 6 * MS + MS // 2)
    assert closer_window(window, [wide, less, narrow]) == (3 * MS - 3 * US // 2, 3 * MS + 5 * US // 2)
    assert closer_window(window, [wide]) is None
    assert closer_window(window, []) is None


def test_windows_without_sentences_show_the_step() -> None:
    step = BY_HAND.steps[0]
    assert told_window(step, []) == with_margin([step.start, step.end])
    far = Statement("", (stated(INSTANT, -1, step.end + 2 * (step.end - step.start)),))
    assert told_window(step, [far]) == told_window(step, [])
    assert with_margin([5 * US]) == (0, 15 * US)


def test_zero_is_named() -> None:
    grid = grid_of(MS, 10 * MS, 60)
    assert named_zero(BY_HAND, grid) == (2 * MS, "Time 0 is where A closes in step 1, 2.000 ms into the run.")
    later = grid_of(6 * MS + 300 * US, 7 * MS, 60)
    assert named_zero(BY_HAND, later) == (
        6 * MS + 400 * US, "Time 0 is where A rises at the counter, 6.400 ms into the run.",
    )  # fmt: skip
    nothing = grid_of(4 * MS + 300 * US, 5 * MS, 60)
    assert named_zero(BY_HAND, nothing)[1] == "Time 0 is where this window begins, 4.300 ms into the run."


def test_noise_is_mentioned_and_lines_without_voltage_are_drawn() -> None:
    run = traced("slow-edge", 3)
    text = " ".join(drawn(run, *stories(("slow-edge", 3))[2].window, 80))
    assert "3 mV rms rides on the voltage and is not drawn" in text
    assert "threshold" in text
