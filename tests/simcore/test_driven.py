"""The tapped potentiometer: resistance by position, and errors in ohms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.counters.driven import Driven, Ohms, counts_in_ohms, resistances

EXACT = Driven(Part(10e3, 0.0), Part(100.0, 0.0))
USUAL = Driven(Part(10e3, 0.2), Part(100.0, 0.5), Part(1.0, 0.25))


def test_without_tolerances_it_is_wiper_and_even_steps() -> None:
    """Wiper + end-to-end x position / (positions - 1)."""
    found = resistances(EXACT, 100, 1, 2)
    assert found[0] == 100.0
    assert found[-1] == pytest.approx(10_100.0)
    assert found == pytest.approx(100.0 + 10e3 * np.arange(100) / 99)


def test_100_positions_of_100_kohm_are_about_1_kohm_a_step() -> None:
    """Common practice, no source."""
    one = counts_in_ohms(Driven(Part(100e3, 0.0), Part(0.0, 0.0)), 100, 1)
    assert one.nominal == pytest.approx(1e3, rel=0.02)
    assert one == Ohms(one.nominal, one.nominal, one.nominal)


def test_a_unit_has_its_own_values_and_keeps_them() -> None:
    first, again, other = (resistances(USUAL, 32, 7, run) for run in (0, 0, 1))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)
    assert len(first) == 32


@settings(max_examples=200, deadline=None)
@given(st.integers(2, 70), st.integers(0, 2**40), st.integers(0, 10**6), st.data())
def test_every_unit_lies_within_what_is_said(
    positions: int, seed: int, run: int, data: st.DataObject
) -> None:
    found = resistances(USUAL, positions, seed, run)
    low, high = sorted(data.draw(st.tuples(*[st.integers(0, positions - 1)] * 2)))
    bounds = counts_in_ohms(USUAL, positions, high - low)
    assert bounds.low - 1e-6 <= found[high] - found[low] <= bounds.high + 1e-6
    assert counts_in_ohms(USUAL, positions, low - high) == bounds
    assert 50.0 <= found[0] <= 150.0
    assert np.all(np.diff(found) > 0.0)


def test_tolerances_are_used_up_over_many_units() -> None:
    ends = [resistances(USUAL, 2, 1, run) for run in range(500)]
    spans = [end[1] - end[0] for end in ends]
    assert min(spans) < 0.65 * 10e3
    assert max(spans) > 1.4 * 10e3
    wipers = [end[0] for end in ends]
    assert min(wipers) < 52.0
    assert max(wipers) > 148.0


@pytest.mark.parametrize("positions", [1, 0, -5])
def test_less_than_two_positions_are_refused(positions: int) -> None:
    with pytest.raises(ValueError, match="2 positions or more"):
        resistances(EXACT, positions, 0, 0)
    with pytest.raises(ValueError, match="2 positions or more"):
        counts_in_ohms(EXACT, positions, 1)
