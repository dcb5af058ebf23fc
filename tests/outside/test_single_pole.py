"""Voltages and crossing times of one resistor-capacitor section against closed forms.

Charging: any text on circuits, for instance Horowitz and Hill, The Art of Electronics, 3rd ed.,
section 1.4.2 (from memory, recomputed).  Filter values 10 kohm, 10 kohm, 10 nF at 5 V and a
contact resistance of 3 ohm: published encoder data sheets (read; which end the pull-up is
joined to is from memory).  Thevenin's theorem does the rest.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.ticks import NEVER, TICKS_PER_SECOND, ticks
from simcore.networks.analogue import Analogue, PoleState, volts_at
from simcore.stages.base import stage_edge, stage_expire, stage_start, stage_wake
from tests.outside.lines import CLOSED, OPEN, across, built, crossing_time, one_run, schmitt, series, through

HALF_TICK = 0.5 / TICKS_PER_SECOND
TAU = 200e-6
NOTHING = 1e-9
"""A pull-up so small (ohm) that both ways take the same time."""


def plain_section(logic: object) -> Analogue:
    """Supply of 1 V and a time constant of TAU both ways."""
    return series(1.0, NOTHING, 20e3, 10e-9, logic)


def sheet(rising: float = 3.5, falling: float = 1.5, ohms: float = 0.0) -> Analogue:
    """The suggested encoder filter of a published data sheet."""
    return series(5.0, 10e3, 10e3, 10e-9, schmitt(rising, falling), ohms)


STEPS = [(1, 0.632121), (2, 0.864665), (3, 0.950213), (4, 0.981684), (5, 0.993262)]


@pytest.mark.parametrize(("taus", "share"), STEPS)
def test_charge_after_whole_time_constants(taus: int, share: float) -> None:
    pole = built(plain_section(schmitt(0.6, 0.4)))
    rise = stage_edge(pole, stage_start(pole, CLOSED), 0, OPEN)
    assert volts_at(pole, rise, ticks(taus * TAU)) == pytest.approx(share, abs=1e-6)
    fall = stage_edge(pole, stage_start(pole, OPEN), 0, CLOSED)
    assert volts_at(pole, fall, ticks(taus * TAU)) == pytest.approx(1.0 - share, abs=1e-6)


# 0.3, 0.5, two thirds (the ln 3 of a one-shot timer) and 0.7 of the supply.
TIMES = [(0.3, 0.3566749), (0.5, 0.6931472), (2.0 / 3.0, 1.0986123), (0.7, 1.2039728)]


@pytest.mark.parametrize(("share", "taus"), TIMES)
def test_time_to_a_share_of_the_supply(share: float, taus: float) -> None:
    seen = crossing_time(plain_section(schmitt(share, 0.1)), CLOSED)
    assert seen == pytest.approx(taus * TAU, abs=5e-8 * TAU)
    assert seen == pytest.approx(-math.log(1.0 - share) * TAU, abs=2 * HALF_TICK)
    falling = crossing_time(plain_section(schmitt(0.95, 1.0 - share)), OPEN)
    assert falling == pytest.approx(seen, abs=2 * HALF_TICK)


def test_rise_from_a_tenth_to_nine_tenths() -> None:
    """2.1972246 time constants, the logarithm of nine."""
    low, high = (crossing_time(plain_section(schmitt(share, 0.05)), CLOSED) for share in (0.1, 0.9))
    assert high - low == pytest.approx(2.1972246 * TAU, abs=5e-8 * TAU)
    assert high - low == pytest.approx(math.log(9.0) * TAU, abs=3 * HALF_TICK)


# Microseconds by the sheet's values; see the head of this file.
OPENS = [(1.5, 71.33499), (3.5, 240.79456)]
CLOSES = [(3.5, 35.667494), (1.5, 120.397280)]
CLOSES_ON_3_OHM = [(3.5, 35.691053), (1.5, 120.503434)]


@pytest.mark.parametrize(("volts", "microseconds"), OPENS)
def test_suggested_filter_contact_opens(volts: float, microseconds: float) -> None:
    assert built(sheet()).tau_open == pytest.approx(200e-6, rel=1e-12)
    assert crossing_time(sheet(volts, 0.5), CLOSED) == pytest.approx(microseconds * 1e-6, rel=1e-6)


@pytest.mark.parametrize(("volts", "microseconds"), CLOSES)
def test_suggested_filter_contact_closes(volts: float, microseconds: float) -> None:
    assert built(sheet()).tau_closed == pytest.approx(100e-6, rel=1e-12)
    assert crossing_time(sheet(4.5, volts), OPEN) == pytest.approx(microseconds * 1e-6, rel=1e-6)


@pytest.mark.parametrize(("volts", "microseconds"), CLOSES_ON_3_OHM)
def test_suggested_filter_closes_on_3_ohm(volts: float, microseconds: float) -> None:
    """3 ohm is the sheet's largest contact resistance."""
    pole = built(sheet(ohms=3.0))
    assert pole.v_closed == pytest.approx(1.4995501e-3, rel=1e-7)
    assert pole.tau_closed == pytest.approx(100.029991e-6, rel=1e-8)
    assert crossing_time(sheet(4.5, volts, 3.0), OPEN) == pytest.approx(microseconds * 1e-6, rel=1e-6)


def test_pull_up_at_the_capacitor() -> None:
    """10 kohm to 5 V at 100 nF, discharged through 1 kohm, here the contact's own: 1.000 ms up,
    90.90909 us down, 0.4545455 V left, 1.5 V after 133.606906 us (Thevenin, computed).
    """
    spec = across(5.0, 10e3, 100e-9, schmitt(3.5, 1.5), ohms=1e3)
    pole = built(spec)
    assert pole.tau_open == pytest.approx(1.000e-3, rel=1e-12)
    assert pole.tau_closed == pytest.approx(90.90909e-6, rel=1e-7)
    assert pole.v_closed == pytest.approx(0.4545455, rel=1e-7)
    assert crossing_time(spec, OPEN) == pytest.approx(133.606906e-6, rel=1e-6)


def opened_for(width: int) -> int:
    """Output edges when the suggested filter's contact, closed for long, opens for ``width`` ticks."""
    start = 1_000_000_000
    return int(through(sheet(), one_run(CLOSED, [start, start + width])).times.size)


def test_shortest_open_pulse() -> None:
    """From 0 V, every open shorter than the time to 3.5 V (240.79456 us) gives no output edge; a
    longer one gives two.  The border is exact to the picosecond.
    """
    border = round(-math.log(1.0 - 3.5 / 5.0) * 200e-6 * TICKS_PER_SECOND)
    assert border / TICKS_PER_SECOND == pytest.approx(240.79456e-6, rel=1e-7)
    assert opened_for(border - 2) == 0
    assert opened_for(border + 2) == 2
    assert opened_for(border // 2) == 0
    assert opened_for(2 * border) == 2


@settings(max_examples=200, deadline=None)
@given(st.integers(1, 10**9))
def test_shortest_open_pulse_anywhere(width: int) -> None:
    border = -math.log(0.3) * 200e-6 * TICKS_PER_SECOND
    if abs(width - border) > 2.0:
        assert opened_for(width) == (0 if width < border else 2)


def periodic(duty: float, taus: float) -> tuple[float, float]:
    """Peak and trough after sixty periods of a contact that is open for a share ``duty``."""
    pole = built(plain_section(schmitt(0.6, 0.4)))
    state = stage_start(pole, CLOSED)
    period = ticks(taus * TAU)
    peak = trough = 0.0
    for number in range(60):
        state = stage_edge(pole, state, number * period, OPEN)
        trough = state.volts
        state = stage_edge(pole, state, number * period + round(duty * period), CLOSED)
        peak = state.volts
    return peak, trough


def test_periodic_steady_state() -> None:
    """Open for 0.3 of a period of one time constant: (1 - e^-DT)/(1 - e^-T), computed."""
    peak, trough = periodic(0.3, 1.0)
    assert peak == pytest.approx(0.410019538, abs=1e-9)
    assert trough == pytest.approx(0.203609677, abs=1e-9)


@pytest.mark.parametrize(("duty", "taus"), [(0.1, 0.5), (0.5, 2.0), (0.8, 1.3), (0.95, 4.0)])
def test_periodic_steady_state_by_formula(duty: float, taus: float) -> None:
    peak, trough = periodic(duty, taus)
    expected = (1.0 - math.exp(-duty * taus)) / (1.0 - math.exp(-taus))
    assert peak == pytest.approx(expected, abs=1e-8)
    assert trough == pytest.approx(expected * math.exp(-(1.0 - duty) * taus), abs=1e-8)


# Thresholds typical of an HC-family Schmitt inverter (data sheet, read) at its three supplies, and
# the period of the relaxation oscillator made of it, in time constants:
# ln[(V - VT-)/(V - VT+) VT+/VT-] (from memory, recomputed).
OSCILLATORS = [
    (2.0, 1.09, 0.60, 1.027786), (4.5, 2.36, 1.53, 0.761150), (6.0, 3.12, 2.08, 0.713766),
]  # fmt: skip


@pytest.mark.parametrize(("volts", "rising", "falling", "taus"), OSCILLATORS)
def test_relaxation_oscillator(volts: float, rising: float, falling: float, taus: float) -> None:
    """Each turn of the input moves the contact back: a dozen such turns."""
    spec = series(volts, NOTHING, 20e3, 10e-9, schmitt(rising, falling))
    pole = built(spec)
    state: PoleState = stage_edge(pole, stage_start(pole, CLOSED), 0, OPEN)
    turns = []
    for number in range(13):
        wake = stage_wake(pole, state, NEVER)
        turns.append(wake)
        state = stage_edge(pole, stage_expire(pole, state, wake), wake, CLOSED if number % 2 == 0 else OPEN)
    for start in range(0, 11, 2):
        period = (turns[start + 2] - turns[start]) / TICKS_PER_SECOND
        assert period == pytest.approx(taus * TAU, rel=1e-6)
