"""Positions, and what the x1 decoder takes for its one count."""

from __future__ import annotations

import pytest

from simcore.counters.base import AT_STOP, Range, moved_by
from simcore.counters.quadrature import Quadrature
from tests.simcore.counting import counted, turned

X4 = Quadrature(4, 1)


@pytest.mark.parametrize("direction", [1, -1])
def test_x1_counts_the_change_of_a_while_b_is_low(direction: int) -> None:
    """Upward A rises while B is low on the third edge of a cycle from both high; downward A falls
    while B is low on the second: the same boundary of the encoder, so turning back undoes a count.
    """
    pulses = counted(Quadrature(1, 1), turned([direction] * 4, 10))
    assert [(pulse.asked, pulse.edge) for pulse in pulses] == [(direction, 2 if direction > 0 else 1)]
    there_and_back = counted(Quadrature(1, 1), turned([1, 1, 1, -1, -1, -1], 10))
    assert [(pulse.asked, pulse.edge) for pulse in there_and_back] == [(1, 2), (-1, 3)]


def test_x1_does_not_count_the_change_of_a_while_b_is_high() -> None:
    assert counted(Quadrature(1, 1), turned([1, -1] * 5, 10)) == []


def test_x2_counts_every_change_of_a_and_none_of_b() -> None:
    pulses = counted(Quadrature(2, 1), turned([1] * 4, 10))
    assert [pulse.edge for pulse in pulses] == [0, 2]


@pytest.mark.parametrize("start", [0, 3, 9])
def test_end_stops_hold_the_position_from_any_start(start: int) -> None:
    """Ten positions: 9 - start counts up are taken, start counts down; the rest are held."""
    place = Range(10, start, 0)
    up = counted(X4, turned([1] * 20, 10), place=place)
    assert [pulse.moved for pulse in up] == [1] * (9 - start) + [0] * (11 + start)
    assert [pulse.flags for pulse in up] == [0] * (9 - start) + [AT_STOP] * (11 + start)
    down = counted(X4, turned([-1] * 20, 10), place=place)
    assert [pulse.moved for pulse in down] == [-1] * start + [0] * (20 - start)


def test_off_a_stop_the_first_count_moves_again() -> None:
    pulses = counted(X4, turned([-1, -1, -1, 1], 10), place=Range(10, 1, 0))
    assert [pulse.moved for pulse in pulses] == [-1, 0, 0, 1]


@pytest.mark.parametrize("place", [Range(10, 9, 1), Range(0, 0, 0)])
def test_wrapping_and_boundless_counters_are_never_held(place: Range) -> None:
    for direction in (1, -1):
        pulses = counted(X4, turned([direction] * 30, 10), place=place)
        assert [(pulse.moved, pulse.flags) for pulse in pulses] == [(direction, 0)] * 30


@pytest.mark.parametrize(
    ("position", "asked", "moved"),
    [(0, -1, 0), (0, 1, 1), (9, 1, 0), (9, -1, -1), (8, 2, 1), (1, -2, -1), (5, 2, 2), (9, 2, 0)],
)
def test_a_count_moves_no_further_than_to_the_stop(position: int, asked: int, moved: int) -> None:
    assert moved_by(Range(10, 0, 0), position, asked) == moved
    assert moved_by(Range(10, 0, 1), position, asked) == asked
