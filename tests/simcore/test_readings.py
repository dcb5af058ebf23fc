"""Bursts of recorded lines, and the transitions behind them."""

from __future__ import annotations

import pytest

from simcore.base.records import edges_of_runs
from simcore.tracing.replay import Burst, read_bursts
from tests.simcore.recordings import END, MS, US, cycle, line


def test_changes_closer_than_the_settling_time_are_one_burst() -> None:
    times = [10 * MS, 10 * MS + 300 * US, 10 * MS + 1300 * US - 1, 20 * MS, 20 * MS + 50 * US, 25 * MS]
    reading = read_bursts(line(times), line([]), MS, 40 * MS)
    assert reading.bursts == (
        Burst(0, 0, 3, 10 * MS, 10 * MS + 1300 * US - 1, 1, 1, 1),
        Burst(0, 3, 2, 20 * MS, 20 * MS + 50 * US, 1, 0, 1),
        Burst(0, 5, 1, 25 * MS, 25 * MS, 0, 1, 1),
    )
    assert [burst.words for burst in reading.bursts] == ["A closes", "A glitches", "A opens"]
    assert [burst.length for burst in reading.bursts] == [1300 * US - 1, 50 * US, 0]
    assert reading.clean[0].times.tolist() == [10 * MS, 25 * MS]
    assert reading.longest_gap == MS - 1
    assert reading.shortest_pause == 25 * MS - (20 * MS + 50 * US)


def test_stillness_of_just_the_settling_time_ends_a_burst() -> None:
    assert len(read_bursts(line([MS, 2 * MS, 3 * MS]), line([]), MS, END).bursts) == 3
    assert len(read_bursts(line([MS, 2 * MS, 3 * MS]), line([]), MS + 1, END).bursts) == 1


def test_a_burst_at_the_end_of_the_trace_is_not_settled() -> None:
    assert [b.settled for b in read_bursts(line([MS, 9 * MS]), line([]), MS, 10 * MS).bursts] == [1, 1]
    assert [b.settled for b in read_bursts(line([MS, 9 * MS]), line([]), MS, 10 * MS - 1).bursts] == [1, 0]


def test_bursts_are_in_order_and_a_comes_first_at_the_same_tick() -> None:
    reading = read_bursts(line([5 * MS, 9 * MS]), line([5 * MS, 7 * MS]), MS, END)
    assert [(burst.start, burst.line) for burst in reading.bursts] == [
        (5 * MS, 0), (5 * MS, 1), (7 * MS, 1), (9 * MS, 0),
    ]  # fmt: skip


def test_a_movement_is_upward_when_a_leads() -> None:
    a, b = cycle()
    assert read_bursts(a, b, MS, END).movements.directions.tolist() == [1, 1, 1, 1]
    assert read_bursts(b, a, MS, END).movements.directions.tolist() == [-1, -1, -1, -1]
    back_and_forth = read_bursts(line([10 * MS, 30 * MS]), line([]), MS, END)
    assert back_and_forth.movements.directions.tolist() == [1, -1]


def test_one_run_and_a_settling_time_are_asked_for() -> None:
    two = edges_of_runs([(0, [], []), (0, [], [])])
    with pytest.raises(ValueError, match="got 2 of A and 1 of B"):
        read_bursts(two, line([]), MS, END)
    with pytest.raises(ValueError, match="settling time is 0 ticks"):
        read_bursts(line([]), line([]), 0, END)
