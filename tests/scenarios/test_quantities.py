"""Quantities: IEC 60062 codes, units, what must be refused, and writing back."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenarios.quantities import (
    ANGLE,
    CAPACITANCE,
    CURRENT,
    FREQUENCY,
    RESISTANCE,
    SHARE,
    SPEED,
    TIME,
    VOLTAGE,
    Dimension,
    QuantityError,
    read_quantity,
    read_rate,
    write_quantity,
)

DIMENSIONS = (RESISTANCE, CAPACITANCE, TIME, VOLTAGE, CURRENT, FREQUENCY, ANGLE, SPEED, SHARE)


@pytest.mark.parametrize(
    ("code", "ohms"),
    [
        ("R47", 0.47), ("R10", 0.1), ("4R7", 4.7), ("33R", 33.0), ("470R", 470.0), ("4K7", 4700.0),
        ("4k7", 4700.0), ("1K0", 1000.0), ("47K3", 47300.0), ("470K", 470e3), ("4M7", 4.7e6),
        ("2M2", 2.2e6), ("1G0", 1e9), ("L47", 0.47e-3), ("4L7", 4.7e-3), ("4\u03a97", 4.7),
        ("4\u21267", 4.7),
    ],
)  # fmt: skip
def test_resistor_codes_of_iec_60062(code: str, ohms: float) -> None:
    """IEC 60062:2016, RKM code; the examples as general references print them, the standard not seen."""
    assert read_quantity(code, RESISTANCE) == ohms


@pytest.mark.parametrize(
    ("code", "farads"),
    [
        ("10p", 10e-12), ("4p7", 4.7e-12), ("n47", 0.47e-9), ("4n7", 4.7e-9), ("2n2", 2.2e-9),
        ("1u0", 1e-6), ("1\u00b50", 1e-6), ("1\u03bc0", 1e-6), ("47u", 47e-6), ("1m0", 1e-3), ("4F7", 4.7),
    ],
)  # fmt: skip
def test_capacitor_codes_of_iec_60062(code: str, farads: float) -> None:
    """IEC 60062:2016, RKM code; the examples as general references print them, the standard not seen."""
    assert read_quantity(code, CAPACITANCE) == farads


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("4.7 kohm", RESISTANCE, 4700.0), ("4.7kOhm", RESISTANCE, 4700.0), ("4.7k\u03a9", RESISTANCE, 4700.0),
        ("4.7k", RESISTANCE, 4700.0), ("33 R", RESISTANCE, 33.0), ("50 mohm", RESISTANCE, 0.05),
        ("1 Mohm", RESISTANCE, 1e6), ("1e3 ohm", RESISTANCE, 1000.0), ("0 ohm", RESISTANCE, 0.0),
        ("47 nF", CAPACITANCE, 47e-9), ("47nF", CAPACITANCE, 47e-9), ("47n", CAPACITANCE, 47e-9),
        ("0.1 uF", CAPACITANCE, 1e-7), ("0.1 \u00b5F", CAPACITANCE, 1e-7), ("0 F", CAPACITANCE, 0.0),
        ("500 us", TIME, 500e-6), ("28 ms", TIME, 28e-3), ("2 min", TIME, 120.0), ("2min", TIME, 120.0),
        ("0.5 h", TIME, 1800.0), ("3 s", TIME, 3.0), (" 3 s ", TIME, 3.0), ("30 ns", TIME, 30e-9),
        ("3.3 V", VOLTAGE, 3.3), ("3V3", VOLTAGE, 3.3), ("800 mV", VOLTAGE, 0.8),
        ("10 mA", CURRENT, 0.01), ("50 uA", CURRENT, 50e-6), ("100 nA", CURRENT, 1e-7),
        ("1 MHz", FREQUENCY, 1e6), ("32.768 kHz", FREQUENCY, 32768.0), ("50Hz", FREQUENCY, 50.0),
        ("0.3 deg", ANGLE, 0.3), ("0.3\u00b0", ANGLE, 0.3), ("-15 deg", ANGLE, -15.0),
        ("\u221215 deg", ANGLE, -15.0),
        ("60 rpm", SPEED, 1.0), ("2 rev/s", SPEED, 2.0), ("360 deg/s", SPEED, 1.0),
        ("5 %", SHARE, 0.05), ("5%", SHARE, 0.05), ("5.3 %", SHARE, 0.053), ("0.1 %", SHARE, 0.001),
    ],
)  # fmt: skip
def test_texts_with_units(text: str, dimension: Dimension, value: float) -> None:
    assert read_quantity(text, dimension) == value


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("4k7", CAPACITANCE), ("2n2", RESISTANCE), ("47m", RESISTANCE), ("47 m", RESISTANCE),
        ("5 m", TIME), ("5 V", TIME), ("5 msec", TIME), ("47 nf", CAPACITANCE), ("60 rpm", TIME),
        ("60 Hz", SPEED), ("5 A", VOLTAGE), ("3.3 %", VOLTAGE), ("5 V", SHARE),
        ("1 MV", FREQUENCY), ("60 rpm", FREQUENCY), ("10 mV", CURRENT),
    ],
)  # fmt: skip
def test_a_unit_of_another_dimension_is_refused(text: str, dimension: Dimension) -> None:
    with pytest.raises(QuantityError, match="is not a unit of") as caught:
        read_quantity(text, dimension)
    assert text in caught.value.read
    assert dimension.example in caught.value.message


@pytest.mark.parametrize("text", ["5", "5.0", "-5", "1e3"])
@pytest.mark.parametrize("dimension", DIMENSIONS, ids=lambda each: each.name)
def test_a_number_without_unit_is_refused(text: str, dimension: Dimension) -> None:
    with pytest.raises(QuantityError, match="the unit is missing"):
        read_quantity(text, dimension)
    with pytest.raises(QuantityError, match="a bare number has no unit"):
        read_quantity(float(text), dimension)


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "ohm", "Z0", "k", "h", "x = 5 s", "5 s // remark", "5 s # remark", "1,5 s", "1.500,0 s",
        "inf s", "nan s", "$5", "5 s 6", "++5 s", "0x10 s", "1_000 s", "\u0663 s", "5 s\x00", "5\u00b2 s",
        "__import__('os')",
    ],
)  # fmt: skip
def test_what_is_no_quantity_is_refused(text: str) -> None:
    """Much of this quantiphy would read by its defaults: constants, assignments, commas, currencies."""
    for dimension in DIMENSIONS:
        with pytest.raises(QuantityError):
            read_quantity(text, dimension)


@pytest.mark.parametrize("value", [None, True, [1], {"a": 1}])
def test_other_types_are_refused(value: object) -> None:
    with pytest.raises(QuantityError, match='expected a time with its unit, for example "500 us"'):
        read_quantity(value, TIME)


def test_numbers_beyond_floats_and_endless_texts_are_refused() -> None:
    with pytest.raises(QuantityError, match="too large"):
        read_quantity("1e999 s", TIME)
    with pytest.raises(QuantityError) as caught:
        read_quantity("9" * 100_000 + " s", TIME)
    assert len(str(caught.value)) < 250


def test_the_nearest_unit_is_named() -> None:
    with pytest.raises(QuantityError, match='did you mean "nF"'):
        read_quantity("47 nf", CAPACITANCE)
    with pytest.raises(QuantityError, match='did you mean "rpm"'):
        read_quantity("60 rmp", SPEED)


@pytest.mark.parametrize(
    ("text", "rate"),
    [("1 in 10000", 1e-4), ("1 in 1000 steps", 1e-3), ("3 in 200 detents", 0.015), ("0.1 %", 1e-3)],
)
def test_rates(text: str, rate: float) -> None:
    assert read_rate(text) == rate


@pytest.mark.parametrize("text", ["1 in 0", "0 in 5", "5 in 5", "often", "0.001", "100 %", "0 %", 0.5, None])
def test_what_is_no_rate_is_refused(text: object) -> None:
    with pytest.raises(QuantityError, match='"1 in 1000 steps"'):
        read_rate(text)


@pytest.mark.parametrize(
    ("value", "dimension", "text"),
    [
        (4700.0, RESISTANCE, "4.7 kohm"), (47e-9, CAPACITANCE, "47 nF"), (1e-7, CAPACITANCE, "100 nF"),
        (0.0005, TIME, "500 us"), (120.0, TIME, "120 s"), (1.0, SPEED, "60 rpm"), (0.05, SHARE, "5 %"),
        (0.3, ANGLE, "0.3 deg"), (3.3, VOLTAGE, "3.3 V"), (0.01, CURRENT, "10 mA"), (0.0, TIME, "0 s"),
        (2.5e6, FREQUENCY, "2.5 MHz"), (-15.0, ANGLE, "-15 deg"),
    ],
)  # fmt: skip
def test_neat_texts(value: float, dimension: Dimension, text: str) -> None:
    assert write_quantity(value, dimension) == text


def test_rounding_for_reports() -> None:
    assert write_quantity(1.0 / 3.0 * 1e-3, TIME, 3) == "333 us"
    assert write_quantity(0.99999e-3, TIME, 3) == "1 ms"
    assert write_quantity(2.0 / 3.0, SPEED, 3) == "40 rpm"


@given(
    st.floats(1e-15, 1e15) | st.floats(-1e6, -1e-6) | st.just(0.0),
    st.sampled_from(DIMENSIONS),
)
def test_written_text_reads_back_as_the_same_number(value: float, dimension: Dimension) -> None:
    assert read_quantity(write_quantity(value, dimension), dimension) == value


@given(st.decimals(Decimal("0.001"), Decimal(9999), places=3), st.sampled_from(["p", "n", "u", "m"]))
def test_decimal_texts_give_the_nearest_float(number: Decimal, prefix: str) -> None:
    power = {"p": -12, "n": -9, "u": -6, "m": -3}[prefix]
    assert read_quantity(f"{number} {prefix}F", CAPACITANCE) == float(number.scaleb(power))


@given(st.text(max_size=12), st.sampled_from(DIMENSIONS))
def test_any_text_gives_a_finite_number_or_a_clear_refusal(text: str, dimension: Dimension) -> None:
    refusal = None
    value = 0.0
    try:
        value = read_quantity(text, dimension)
    except QuantityError as error:
        refusal = error
    assert math.isfinite(value)
    assert refusal is None or (refusal.read and dimension.example in refusal.message)
