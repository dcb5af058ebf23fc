"""The prescaler: its output follows from the inner count alone."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.counters.base import SETUP, counter_clocked, counter_ideal, counter_rate, counter_rests
from simcore.counters.clocked import DOUBLE_REPEATED, ClockedQuadrature
from simcore.counters.prescaled import Prescaled
from simcore.counters.quadrature import Quadrature
from simcore.counters.step_direction import StepDirection
from simcore.counters.two_clock import TwoClock
from simcore.counters.whole_cycle import WholeCycle
from tests.simcore.counting import Change, counted, gaps_to_changes, net, turned

X4 = Quadrature(4, 1)
INNER: list[Any] = [
    X4,
    Quadrature(1, -1),
    StepDirection(0, 0, 1, 5, 5, 5, 5, 0, 1),
    TwoClock(0, 0, 1, 12, 4),
    WholeCycle(1, 1),
    ClockedQuadrature(4, 1, Part(15e-12, 0.1), DOUBLE_REPEATED),
    Prescaled(X4, 2, 1),
]
changes = st.lists(st.tuples(st.integers(0, 30), st.integers(0, 1)), max_size=40).map(gaps_to_changes)


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(INNER), st.integers(1, 64), st.data(), changes)
def test_the_output_is_always_the_floor_of_phase_and_inner_count(
    inner: Any, divisor: int, data: st.DataObject, edges: list[Change]
) -> None:
    phase = data.draw(st.integers(0, divisor - 1))
    of_inner = counted(inner, edges)
    outputs = [(phase + n) // divisor for n in itertools.accumulate((p.asked for p in of_inner), initial=0)]
    expected = []
    for pulse, (before, after) in zip(of_inner, itertools.pairwise(outputs), strict=True):
        if before != after or pulse.flags:
            expected.append((pulse.time, after - before, pulse.edge, pulse.flags))
    found = counted(Prescaled(inner, divisor, phase), edges)
    assert [(p.time, p.asked, p.edge, p.flags) for p in found] == expected


def test_divided_by_one_it_is_the_inner_counter() -> None:
    edges = turned([1, 1, -1, 1, 1, 1, -1, -1], 10)
    assert counted(Prescaled(X4, 1, 0), edges) == counted(X4, edges)


def test_the_phase_decides_where_it_wraps() -> None:
    """Four counts to one: held 3, the first count up wraps; held 0, the first count down does."""
    up, down = turned([1] * 4, 10), turned([-1] * 4, 10)
    for phase in range(4):
        assert [pulse.edge for pulse in counted(Prescaled(X4, 4, phase), up)] == [3 - phase]
        assert [pulse.edge for pulse in counted(Prescaled(X4, 4, phase), down)] == [phase]


@pytest.mark.parametrize("phase", range(16))
def test_turned_there_and_back_it_comes_back(phase: int) -> None:
    walk = [1] * 23 + [-1] * 23
    assert net(counted(Prescaled(X4, 16, phase), turned(walk, 10))) == 0


def test_a_doubt_that_moves_no_output_stays_in_sight() -> None:
    inner = StepDirection(0, 0, 1, 1000, 0, 0, 0, 1, 0)
    edges = [(5000, 1), (5100, 0)]
    (pulse,) = counted(Prescaled(inner, 8, 4), edges)
    assert (pulse.asked, pulse.flags) == (0, SETUP)


def test_what_it_says_of_itself() -> None:
    clocked = ClockedQuadrature(4, 1, Part(1e-6, 0.1), DOUBLE_REPEATED)
    assert counter_ideal(Prescaled(clocked, 16, 3)) == Prescaled(X4, 16, 3)
    assert counter_rate(Prescaled(X4, 16, 3)) == 0.25
    assert counter_rate(Prescaled(Prescaled(X4, 16, 3), 2, 0)) == 0.125
    assert counter_clocked(Prescaled(clocked, 16, 3)) == 1
    assert counter_clocked(Prescaled(X4, 16, 3)) == 0
    assert counter_rests(Prescaled(WholeCycle(0, 1), 2, 0), 1, 1) == 0
