"""Steps along the E series: laws that hold for any value, and bad input."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from simcore.base.preferred import (
    SERIES,
    above,
    below,
    between,
    decade,
    downward,
    is_preferred,
    nearest,
    upward,
)

values = st.floats(1e-12, 1e9, allow_nan=False)
series = st.sampled_from(SERIES)


@given(values, series)
def test_a_value_lies_between_its_neighbours(value: float, number: int) -> None:
    # Within a thousand-millionth of a preferred value a number counts as that value.
    assume(is_preferred(value, number) or abs(nearest(value, number) / value - 1.0) > 1e-8)
    low, high = below(value, number), above(value, number)
    assert low < value < high
    assert is_preferred(low, number)
    assert is_preferred(high, number)
    near = nearest(value, number)
    assert near in (low, high) or is_preferred(value, number)
    assert near == min((low, near, high), key=lambda each: max(each / value, value / each))


@given(values, series)
def test_going_up_and_down_again_ends_where_it_began(value: float, number: int) -> None:
    start = nearest(value, number)
    assert nearest(start, number) == start
    assert below(above(start, number), number) == pytest.approx(start, rel=1e-12)
    rising = [value for value, _ in zip(upward(start, number), range(number), strict=False)]
    assert rising[-1] == pytest.approx(10.0 * start, rel=1e-12)
    falling = [value for value, _ in zip(downward(rising[-1], number), range(number), strict=False)]
    assert falling[-1] == pytest.approx(start, rel=1e-12)


def test_a_range_holds_both_ends() -> None:
    assert between(1e3, 10e3, 6) == (1e3, 1.5e3, 2.2e3, 3.3e3, 4.7e3, 6.8e3, 10e3)
    assert between(10e-9, 100e-9, 3) == (10e-9, 22e-9, 47e-9, 100e-9)
    assert between(1.1, 1.4, 6) == ()
    assert len(between(1.0, 9.99, 192)) == 192


def test_values_are_the_numbers_that_their_texts_are_read_as() -> None:
    assert nearest(47.1e-9, 12) == float("47e-9")
    assert all(row == float(str(row)) for row in itertools.chain(*map(decade, SERIES)))


@pytest.mark.parametrize("value", [0.0, -1.0, float("inf"), float("nan")])
def test_what_has_no_neighbours(value: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        above(value, 12)


def test_a_series_that_does_not_exist() -> None:
    with pytest.raises(ValueError, match="E13: there are E3, E6"):
        decade(13)
