"""Digits, bounds and alignment of the numbers that people read."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.results.common import Rate
from reports.words.numbers import (
    decimals,
    duration_text,
    estimate_text,
    interval_text,
    on_the_point,
    share_text,
)
from tests.reports.samples import NO_DATA, rate


@st.composite
def rates(draw: st.DrawFn) -> Rate:
    low, estimate, high = sorted(draw(st.tuples(*[st.floats(1e-7, 1.0)] * 3)))
    return rate(low, estimate, high)


@pytest.mark.parametrize(
    ("half_width", "places"),
    [(123.0, 0), (12.3, 0), (1.0, 1), (1.23, 1), (0.999, 2), (0.1, 2), (0.0123, 3), (0.0, 0)],
)
def test_two_digits_of_the_half_width_are_shown(half_width: float, places: int) -> None:
    assert decimals(half_width) == places


def test_a_rate_is_shown_per_thousand_with_the_digits_that_its_interval_supports() -> None:
    shown = rate(0.0080412, 0.0090199, 0.0100777)
    assert estimate_text(shown) == "9.0"
    assert interval_text(shown) == "8.0 to 10.1"


def test_no_hits_show_an_upper_bound_and_nothing_but_hits_a_lower_one() -> None:
    none = rate(0.0, 0.0, 0.00074)
    assert estimate_text(none) == "under 0.74"
    assert interval_text(none) == "0 to 0.74"
    every = rate(0.9877, 1.0, 1.0)
    assert estimate_text(every) == "over 987.7"
    assert estimate_text(every, 100.0, 100.0) == "over 98.77"


def test_without_data_nothing_is_claimed() -> None:
    assert estimate_text(Rate.model_validate(NO_DATA)) == "no data"
    assert interval_text(Rate.model_validate(NO_DATA)) == ""


@given(rates())
def test_printed_bounds_enclose_the_true_ones(shown: Rate) -> None:
    low, high = (float(text.replace(",", "")) for text in interval_text(shown).split(" to "))
    assert shown.low is not None
    assert shown.high is not None
    assert low <= shown.low * 1000 * (1 + 1e-9)
    assert high >= shown.high * 1000 * (1 - 1e-9)


@given(rates())
def test_a_rate_above_nothing_never_reads_as_nothing(shown: Rate) -> None:
    text = estimate_text(shown)
    assert text.startswith(("under", "over")) or float(text.replace(",", "")) > 0.0


@given(st.floats(1e-9, 1.0))
def test_a_rate_of_nothing_never_reads_as_nothing(high: float) -> None:
    text = estimate_text(rate(0.0, 0.0, high))
    assert text.startswith("under ")
    assert float(text.removeprefix("under ").replace(",", "")) > 0.0


def test_decimal_points_align_when_set_flush_right() -> None:
    aligned = on_the_point(["1.25", "10", "over 7.5"])
    assert aligned == ["1.25", "10   ", "over 7.5 "]
    ends = [len(text) - (text.index(".") if "." in text else len(text.rstrip())) for text in aligned]
    assert len(set(ends)) == 1


@pytest.mark.parametrize(
    ("part", "whole", "text"),
    [(1, 3, "33.3 %"), (1, 100_000, "< 0.1 %"), (99_999, 100_000, "> 99.9 %"), (5, 5, "100 %"), (0, 0, "")],
)
def test_a_share_is_never_rounded_to_nothing_or_to_all(part: int, whole: int, text: str) -> None:
    assert share_text(part, whole) == text


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.4219, "0.42 s"), (12.3, "12 s"), (185.0, "3 min 5 s"), (7500.0, "2 h 5 min")]
)
def test_durations(seconds: float, text: str) -> None:
    assert duration_text(seconds) == text
