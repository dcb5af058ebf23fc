"""Preferred values against IEC 60063, and the traps of published lists.

The whole of E3 to E192 was also compared once, value by value, with the lists of the Python package
eseries 1.2.1; they are alike.  It is no part of the tests, for it does not run on every Python that we do.
"""

from __future__ import annotations

import itertools

import pytest

from simcore.base.preferred import E24, SERIES, decade, is_preferred, nearest, series_for, series_of

IEC_24 = "1.0 1.1 1.2 1.3 1.5 1.6 1.8 2.0 2.2 2.4 2.7 3.0 3.3 3.6 3.9 4.3 4.7 5.1 5.6 6.2 6.8 7.5 8.2 9.1"
"""IEC 60063, E24."""


def test_e24_and_every_second_fourth_and_eighth_of_it() -> None:
    values = tuple(float(text) for text in IEC_24.split())
    assert decade(24) == E24 == values
    assert decade(12) == values[::2]
    assert decade(6) == (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)
    assert decade(3) == (1.0, 2.2, 4.7)


def test_the_eight_entries_of_e24_that_the_formula_would_round_otherwise() -> None:
    rounded = [round(10 ** (i / 24), 1) for i in range(24)]
    differ = {ours: formula for ours, formula in zip(E24, rounded, strict=True) if ours != formula}
    assert differ == {
        2.7: 2.6, 3.0: 2.9, 3.3: 3.2, 3.6: 3.5, 3.9: 3.8, 4.3: 4.2, 4.7: 4.6, 8.2: 8.3,
    }  # fmt: skip


def test_e192_is_the_formula_but_for_one_entry() -> None:
    """IEC 60063: 9.20 where 10 ** (185 / 192) = 9.1948 would give 9.19."""
    values = decade(192)
    assert len(values) == len(set(values)) == 192
    formula = [round(10 ** (i / 192), 2) for i in range(192)]
    assert [i for i in range(192) if values[i] != formula[i]] == [185]
    assert (values[185], formula[185]) == (9.2, 9.19)
    assert decade(96) == values[::2]
    assert decade(48) == values[::4]
    assert 9.2 not in decade(96)


def test_values_that_published_lists_misprint() -> None:
    """Seen in print: 2.20 for 2.21, 3.08 for 3.09, 2.61 for 3.61, 7.79 for 7.96; 9.88 left out."""
    values = decade(192)
    for right in (2.21, 3.09, 3.61, 7.96, 9.88):
        assert right in values
    for wrong in (2.20, 3.08, 7.79):
        assert wrong not in values


def test_values_of_e24_that_are_also_in_e192() -> None:
    assert [value for value in E24 if value in decade(192)] == [
        1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.4, 4.7, 7.5,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("series", "per_cent"), [(6, 20.0), (12, 11.111), (24, 7.143), (48, 2.594), (96, 1.481), (192, 0.971)]
)
def test_the_widest_half_gap_of_a_series(series: int, per_cent: float) -> None:
    """What a value may be off its nearest preferred one: about the tolerance of the series."""
    rows = [*decade(series), 10.0]
    widest = max((b - a) / (b + a) for a, b in itertools.pairwise(rows))
    assert 100.0 * widest == pytest.approx(per_cent, abs=5e-4)


def test_the_series_that_goes_with_a_tolerance() -> None:
    pairs = {0.2: 6, 0.1: 12, 0.05: 24, 0.02: 48, 0.01: 96, 0.005: 192}
    assert {tolerance: series_for(tolerance) for tolerance in pairs} == pairs
    assert (series_for(0.0), series_for(0.001), series_for(0.3)) == (24, 192, 6)


def test_well_known_values_and_one_that_is_not() -> None:
    assert (series_of(4700.0), series_of(100e-9), series_of(3.3e3)) == (3, 3, 6)
    assert (series_of(9.2e3), series_of(9.31e3), series_of(5.1e3)) == (192, 96, 24)
    assert series_of(50e3) is None
    assert nearest(50e3, 24) == 51e3
    assert all(is_preferred(1.0e-6, series) for series in SERIES)
