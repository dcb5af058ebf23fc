"""Facts of the trade.  All of this file: common practice, no source."""

from __future__ import annotations

import pytest

from simcore.base.ticks import ticks
from simcore.counters.base import Range, moved_by
from simcore.networks.analogue import Pole, volts_at
from simcore.stages.base import stage_edge, stage_start
from tests.outside.lines import CLOSED, OPEN, across, built, crossing_time, schmitt, series

SUPPLY = 5.0
PULL_UP = 10e3
FARADS = 50e-9
LOGIC = schmitt(2.0, 0.8)


def risen(pole: Pole, seconds: float) -> float:
    """Volts so long after the contact opened from a long closed state."""
    state = stage_edge(pole, stage_start(pole, CLOSED), 0, OPEN)
    return volts_at(pole, state, ticks(seconds))


def test_time_constant_of_10_kohm_and_50_nf() -> None:
    """About 500 us, at which a rise to 5 V stands near 3 V; common practice, no source."""
    pole = built(across(SUPPLY, PULL_UP, FARADS, LOGIC))
    assert pole.tau_open == pytest.approx(500e-6, rel=1e-3)
    assert risen(pole, 500e-6) == pytest.approx(3.0, abs=0.2)


def test_100_ohm_limits_the_closing_current_to_50_ma() -> None:
    """5 V across 100 ohm; the current is C dv/dt of the capacitor as the contact closes; common
    practice, no source.
    """
    pole = built(series(SUPPLY, PULL_UP, 100.0, FARADS, LOGIC))
    state = stage_edge(pole, stage_start(pole, OPEN), 0, CLOSED)
    step = 1000
    current = FARADS * (state.volts - volts_at(pole, state, step)) / (step * 1e-12)
    assert current == pytest.approx(50e-3, rel=1e-3)


def test_two_lines_a_spacing_apart() -> None:
    """10 kohm + 100 ohm, 50 nF, 5 V; the contacts open 1.08 ms apart, each line from about 0 V.
    When the later line has risen to 2.16 V, the earlier one reads about 4.7 V: 4.665 V by
    5 (1 - e^(-t / 505 us)), 4.72 V in a reading at the bench; common practice, no source.
    """
    spec = series(SUPPLY, PULL_UP, 100.0, FARADS, schmitt(2.16, 0.8))
    pole = built(spec)
    assert pole.tau_open == pytest.approx(505e-6, rel=1e-9)
    later_line = crossing_time(spec, CLOSED)
    earlier = risen(pole, later_line + 1.08e-3)
    assert earlier == pytest.approx(4.665, abs=5e-4)
    assert earlier == pytest.approx(4.72, abs=0.06)


def test_100_positions_of_100_kohm() -> None:
    """About 1 kohm a step: from stop to stop there are 99 steps; common practice, no source."""
    place = Range(100, 0, 0)
    position, steps = 0, 0
    while moved_by(place, position, 1):
        position += moved_by(place, position, 1)
        steps += 1
    assert position == 99
    assert 100e3 / steps == pytest.approx(1e3, rel=0.02)
    assert moved_by(place, 0, -1) == 0
