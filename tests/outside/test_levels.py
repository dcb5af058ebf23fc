"""Logic levels: standards and data sheets say what is surely low and surely high."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from scenarios.loading.catalogue import part_keys
from scenarios.schema.kinds import stage_table
from simcore.base.draws import Part, four
from simcore.networks.analogue import Analogue, Pole, Resistance
from simcore.networks.inputs import (
    PLAIN_INPUT,
    SCHMITT_INPUT,
    Level,
    PlainInput,
    SchmittInput,
    input_thresholds,
)
from simcore.networks.single_pole import SeriesCapacitor
from simcore.stages.base import stage_build
from tests.outside.lines import CLOSED, crossing_time, part, series

# JEDEC JESD8-C and the families that take TTL levels, as printed in a maker's table (read):
# at most 0.8 V is low, at least 2.0 V is high.
TTL = PlainInput(Level(part(0.8), 0), Level(part(2.0), 0), 0)

uniforms = st.floats(0.0, 1.0, exclude_max=True)
blocks = st.tuples(uniforms, uniforms, uniforms, uniforms)


@settings(max_examples=300, deadline=None)
@given(blocks, st.floats(3.0, 5.5))
def test_ttl_threshold_lies_between_sure_low_and_sure_high(
    u: tuple[float, float, float, float], volts: float
) -> None:
    """2 V is a sure high for every unit (also common practice), 0.8 V a sure low; no hysteresis."""
    built = input_thresholds(TTL, volts, u)
    assert 0.8 <= built.falling == built.rising <= 2.0


def test_ttl_thresholds_fill_the_range() -> None:
    """Units differ evenly over what the standard leaves open (false-alarm rate 1e-4)."""
    seen = [input_thresholds(TTL, 5.0, four(4, run, 1, 0)).rising for run in range(4000)]
    assert stats.kstest(seen, "uniform", args=(0.8, 1.2)).pvalue > 1e-4


def test_every_ttl_unit_turns_between_the_two_levels() -> None:
    """10 kohm + 10 kohm, 10 nF at 5 V: a unit turns after the line passes 0.8 V and before 2.0 V."""
    network = SeriesCapacitor(part(10e3), part(10e3), part(10e-9))
    early, late = (-math.log(1.0 - v / 5.0) * 200e-6 for v in (0.8, 2.0))
    for run in range(200):
        pole = stage_build(Analogue(part(5.0), Resistance(0.0, 0.0), network, TTL), 3, run, 0)
        assert isinstance(pole, Pole)
        turn = -math.log(1.0 - pole.rising / 5.0) * pole.tau_open
        assert early <= turn <= late


# CMOS inputs of the HC family, data sheet (read): supply, sure low, sure high.
CMOS = [(2.0, 0.5, 1.5), (4.5, 1.35, 3.15), (6.0, 1.8, 4.2)]


@pytest.mark.parametrize(("volts", "low", "high"), CMOS)
def test_cmos_levels_as_shares_of_the_supply(volts: float, low: float, high: float) -> None:
    """The sheet's volts are 0.25 and 0.75 of 2 V, 0.30 and 0.70 of the other two."""
    shares = (0.25, 0.75) if volts == 2.0 else (0.30, 0.70)
    logic = PlainInput(Level(part(shares[0]), 1), Level(part(shares[1]), 1), 0)
    assert input_thresholds(logic, volts, (0.0, 0.0, 0.0, 0.0)).rising == pytest.approx(low)
    top = math.nextafter(1.0, 0.0)
    assert input_thresholds(logic, volts, (top, 0.0, 0.0, 0.0)).rising == pytest.approx(high)


# HC-family Schmitt inverter, data sheet, -40 to 85 C (read): supply, then least and most of the
# rising and the falling threshold.
SCHMITT = [
    (2.0, 0.7, 1.5, 0.3, 0.9), (4.5, 1.7, 3.15, 0.9, 2.0), (6.0, 2.1, 4.2, 1.2, 2.6),
]  # fmt: skip


def spread(low: float, high: float) -> Part:
    """A part whose tolerance reaches from ``low`` to ``high``."""
    middle = 0.5 * (low + high)
    return Part(middle, (high - middle) / middle)


@pytest.mark.parametrize(("volts", "rise_low", "rise_high", "fall_low", "fall_high"), SCHMITT)
def test_schmitt_units_stay_within_the_sheet(
    volts: float, rise_low: float, rise_high: float, fall_low: float, fall_high: float
) -> None:
    """Both thresholds within their limits, hysteresis never below zero nor above the sheet's own
    limit, which is the highest rising less the lowest falling threshold.
    """
    logic = SchmittInput(Level(spread(rise_low, rise_high), 0), Level(spread(fall_low, fall_high), 0), 0)
    for run in range(2000):
        unit = input_thresholds(logic, volts, four(8, run, 2, 0))
        assert rise_low - 1e-12 <= unit.rising <= rise_high + 1e-12
        assert fall_low - 1e-12 <= unit.falling <= fall_high + 1e-12
        assert 0.0 <= unit.rising - unit.falling <= rise_high - fall_low + 1e-12


# Parts of the shelf: supply, sure low, sure high.  TTL and 3.3 V levels: JEDEC JESD8-C, as printed in a
# maker's table (read); 1.5 V: JESD8-11, 1.2 V: JESD8-12A (read); the HC family: data sheet (read).
PLAIN_PARTS = [
    ("ttl-plain", 5.0, 0.8, 2.0), ("cmos-3v3-plain", 3.3, 0.8, 2.0), ("cmos-3v3-plain", 3.0, 0.8, 2.0),
    ("cmos-1v2-plain", 1.2, 0.42, 0.78), ("cmos-1v2-plain", 1.5, 0.525, 0.975),
    ("hc-plain-2v", 2.0, 0.5, 1.5), ("hc-plain", 4.5, 1.35, 3.15), ("hc-plain", 6.0, 1.8, 4.2),
]  # fmt: skip


@pytest.mark.parametrize(("name", "volts", "low", "high"), PLAIN_PARTS)
def test_levels_of_plain_parts(name: str, volts: float, low: float, high: float) -> None:
    """Units of a part lie between the standard's sure low and sure high, and reach both."""
    keys = part_keys(name, "stage")
    assert keys is not None
    logic = stage_table(PLAIN_INPUT).model_validate({"name": "input", **keys}).build().item
    ends = [
        input_thresholds(logic, volts, (u, 0.5, 0.5, 0.5)).rising for u in (0.0, math.nextafter(1.0, 0.0))
    ]
    assert ends == pytest.approx([low, high])


# Supply; least and most of the rising and of the falling threshold, and of the hysteresis.  HC family
# (data sheet, read); at 3 V a second source (read); TTL-level family (data sheet, read).
SCHMITT_PARTS = [
    ("hc-schmitt-2v", 2.0, 0.7, 1.5, 0.3, 0.9, 0.2, 1.0),
    ("hc-schmitt-3v", 3.0, 1.5, 2.15, 0.5, 1.4, 0.25, 1.65),
    ("cmos-schmitt", 4.5, 1.7, 3.15, 0.9, 2.0, 0.4, 1.4),
    ("hc-schmitt-6v", 6.0, 2.1, 4.2, 1.2, 2.6, 0.6, 1.6),
    ("ttl-schmitt", 4.5, 1.2, 1.9, 0.5, 1.2, 0.4, 1.4),
    ("ttl-schmitt-5v5", 5.5, 1.4, 2.1, 0.6, 1.4, 0.4, 1.5),
]
# Typical thresholds, where the sheet has them, and the share of the supply that they come to.
TYPICAL = [
    ("hc-schmitt-2v", 2.0, 1.09, 0.60), ("cmos-schmitt", 4.5, 2.36, 1.53), ("hc-schmitt-6v", 6.0, 3.12, 2.08),
]  # fmt: skip


def schmitt_part(name: str) -> SchmittInput:
    """A part of the shelf."""
    keys = part_keys(name, "stage")
    assert keys is not None
    built: SchmittInput = stage_table(SCHMITT_INPUT).model_validate({"name": "input", **keys}).build().item
    return built


@pytest.mark.parametrize(
    ("name", "volts", "rise_low", "rise_high", "fall_low", "fall_high", "least", "most"), SCHMITT_PARTS
)
def test_units_of_schmitt_parts_stay_within_the_sheet(
    name: str, volts: float, rise_low: float, rise_high: float, fall_low: float, fall_high: float,
    least: float, most: float,
) -> None:  # fmt: skip
    """Thresholds and hysteresis of any unit, the extreme ones first (shares are rounded to 0.1 %)."""
    logic = schmitt_part(name)
    slack = 0.005
    top = math.nextafter(1.0, 0.0)
    corners = [(a, b, 0.5, 0.5) for a in (0.0, top) for b in (0.0, top)]
    for u in corners + [four(8, run, 2, 0) for run in range(500)]:
        unit = input_thresholds(logic, volts, u)
        assert rise_low - slack <= unit.rising <= rise_high + slack
        assert fall_low - slack <= unit.falling <= fall_high + slack
        assert least - slack <= unit.rising - unit.falling <= most + slack


@pytest.mark.parametrize(("name", "volts", "rising", "falling"), TYPICAL)
def test_typical_thresholds_of_schmitt_parts(name: str, volts: float, rising: float, falling: float) -> None:
    unit = input_thresholds(schmitt_part(name), volts, (0.5, 0.5, 0.5, 0.5))
    assert (unit.rising, unit.falling) == pytest.approx((rising, falling), abs=0.005)


def test_slow_filter_on_a_plain_input() -> None:
    """The 10-90 % time of the 200 us filter is 439.445 us, 879 times the 500 ns that an HC-type
    input without hysteresis takes at 4.5 V (inverter data sheet, read): it needs a Schmitt input.
    """
    low, high = (
        crossing_time(series(5.0, 10e3, 10e3, 10e-9, PlainInput(level, level, 0)), CLOSED)
        for level in (Level(part(0.1), 1), Level(part(0.9), 1))
    )
    assert high - low == pytest.approx(439.445e-6, rel=1e-6)
    assert (high - low) / 500e-9 == pytest.approx(879, abs=0.5)
