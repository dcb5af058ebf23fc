"""Quadrature decoding: the table of sixteen transitions, x1, x2 and x4, and what chatter does.

The table and "multiplies by one, two or four" are those of a published quadrature counter
chip's data sheet (read); the other facts are properties with their reason beside them.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.draws import four
from simcore.counters.quadrature import Quadrature, transition_count
from simcore.counters.step_direction import StepDirection
from tests.outside.lines import counted, one_run

STATES = tuple(itertools.product((0, 1), (0, 1)))
# The sheet's order of states (A, B) when A leads B, which counts up; ours starts elsewhere
# on the same circle: (1, 0) (1, 1) (0, 1) (0, 0).
CIRCLE = ((1, 0), (1, 1), (0, 1), (0, 0))
FORWARD = 1_000_000_000


def test_sixteen_transitions() -> None:
    """Four of zero, four up, four down, four in which both lines change."""
    counts = [transition_count(*before, *after) for before in STATES for after in STATES]
    assert sorted(counts) == [-1] * 4 + [0] * 4 + [1] * 4 + [2] * 4


def test_direction_of_the_published_circle() -> None:
    for number, state in enumerate(CIRCLE):
        following = CIRCLE[(number + 1) % 4]
        opposite = CIRCLE[(number + 2) % 4]
        assert transition_count(*state, *following) == 1
        assert transition_count(*following, *state) == -1
        assert transition_count(*state, *opposite) == 2
        assert transition_count(*state, *state) == 0


def turning(cycles: int, direction: int) -> tuple[list[int], list[int]]:
    """Ticks of A's and B's edges over whole cycles from both high; A leads when turning up."""
    edges: tuple[list[int], list[int]] = ([], [])
    for number in range(4 * cycles):
        line = number % 2 if direction > 0 else 1 - number % 2
        edges[line].append((number + 1) * FORWARD)
    return edges


@pytest.mark.parametrize("counts", [1, 2, 4])
@pytest.mark.parametrize("direction", [1, -1])
def test_counts_per_cycle(counts: int, direction: int) -> None:
    a, b = turning(7, direction)
    pulses = counted(Quadrature(counts, 1), one_run(1, a), one_run(1, b))
    assert int(pulses.asked.sum()) == direction * counts * 7
    assert len(pulses.asked) == counts * 7
    mirrored = counted(Quadrature(counts, -1), one_run(1, a), one_run(1, b))
    assert int(mirrored.asked.sum()) == -direction * counts * 7


@settings(max_examples=300, deadline=None)
@given(
    st.integers(0, 1), st.integers(0, 1), st.integers(0, 1),
    st.lists(st.integers(1, 10**9), max_size=60),
)  # fmt: skip
def test_chatter_on_one_line_telescopes(a: int, b: int, moving: int, gaps: list[int]) -> None:
    """With the other line still, the net is what the end states alone make it: +1 and -1 cancel."""
    times = list(itertools.accumulate(gaps))
    lines = [one_run(a, []), one_run(b, [])]
    lines[moving] = one_run((a, b)[moving], times)
    net = int(counted(Quadrature(4, 1), lines[0], lines[1]).asked.sum())
    end = [a, b]
    end[moving] ^= len(times) & 1
    assert net == transition_count(a, b, end[0], end[1])


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 1), st.integers(1, 10**6)), max_size=80), st.sampled_from(STATES))
def test_any_path_telescopes(moves: list[tuple[int, int]], start: tuple[int, int]) -> None:
    """x4 counts net quarter turns: on the circle, the net modulo 4 depends on the ends alone."""
    lines: tuple[list[int], list[int]] = ([], [])
    time = 0
    for moved, gap in moves:
        time += gap
        lines[moved].append(time)
    net = int(counted(Quadrature(4, 1), one_run(start[0], lines[0]), one_run(start[1], lines[1])).asked.sum())
    end = tuple(level ^ (len(line) & 1) for level, line in zip(start, lines, strict=True))
    assert net % 4 == (CIRCLE.index(end) - CIRCLE.index(start)) % 4


def step_direction(active: int) -> StepDirection:
    """A clocks, B high counts up, no timing limits."""
    return StepDirection(0, active, 1, 0, 0, 0, 0, 0, 0)


@pytest.mark.parametrize("direction", [0, 1])
@pytest.mark.parametrize("extra", range(6))
def test_extra_makes_all_count_the_same_way(direction: int, extra: int) -> None:
    """A clocks and B says which way, as in an up/down counter chip: each extra make adds one
    count of the same sign and nothing cancels (property).
    """
    times = [(k + 1) * FORWARD for k in range(2 * extra + 1)]
    pulses = counted(step_direction(0), one_run(1, times), one_run(direction, []))
    sign = 1 if direction else -1
    assert pulses.asked.tolist() == [sign] * (1 + extra)


def test_mean_of_geometric_extra_makes() -> None:
    """With a further make of probability p each time there are p / (1 - p) extra ones on
    average (elementary; p = 0.6 gives 1.5), and just so many wrong counts.  Within four
    standard errors of 4,000 bursts, the variance being p / (1 - p)^2.
    """
    p, bursts = 0.6, 4000
    times: list[int] = []
    for burst in range(bursts):
        extra = 0
        while four(3, burst, 1, extra)[0] < p:
            extra += 1
        times += [burst * 10**9 + k * 1000 for k in range(2 * extra + 1)]
        times.append(burst * 10**9 + 5 * 10**8)
    pulses = counted(step_direction(0), one_run(1, times), one_run(1, []))
    extra_counts = int(pulses.asked.sum()) - bursts
    error = np.sqrt(bursts * p) / (1.0 - p)
    assert abs(extra_counts - 1.5 * bursts) < 4.0 * error
