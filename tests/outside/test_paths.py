"""The hand's path: published figures of the minimum-jerk law, and inverses against scipy's roots."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar

from simcore.hand.paths import (
    minimum_jerk,
    minimum_jerk_speed,
    minimum_jerk_time,
    ripple_place,
    ripple_speed,
)

# Flash and Hogan, J. Neurosci. 5 (1985) 1688: x = 10 s^3 - 15 s^4 + 6 s^5 (read), and what
# follows from it by calculus.
PEAK_SPEED = 1.875
PEAK_ACCELERATION = 10.0 / math.sqrt(3.0)
TIME_OF_PEAK_ACCELERATION = (3.0 - math.sqrt(3.0)) / 6.0

# Times at which a tenth, two tenths, ... of the way is done, from inverting that law with a
# root finder.
TENTHS = (
    0.246636, 0.326598, 0.389818, 0.446254, 0.5, 0.553746, 0.610182, 0.673402, 0.753364,
)  # fmt: skip


def path(s: float) -> float:
    """The published polynomial, written out plainly."""
    return 10.0 * s**3 - 15.0 * s**4 + 6.0 * s**5


@pytest.mark.parametrize("s", np.linspace(0.0, 1.0, 41))
def test_path(s: float) -> None:
    assert minimum_jerk(s) == pytest.approx(path(s), abs=4e-15)


def test_figures_of_the_law() -> None:
    assert minimum_jerk(0.25) == 0.103515625
    peak = minimize_scalar(lambda s: -minimum_jerk_speed(s), bounds=(0.0, 1.0), method="bounded")
    assert -peak.fun == pytest.approx(PEAK_SPEED, abs=1e-9)
    assert peak.x == pytest.approx(0.5, abs=1e-5)
    assert minimum_jerk_speed(0.0) == minimum_jerk_speed(1.0) == 0.0


def test_speed_is_the_derivative() -> None:
    for s in np.linspace(0.0, 0.95, 20):
        way, _ = quad(minimum_jerk_speed, 0.0, s)
        assert way == pytest.approx(minimum_jerk(s), abs=1e-12)


def test_acceleration_peaks_where_published() -> None:
    """Central difference of the speed, in units of way over duration squared."""
    step = 1e-6

    def acceleration(s: float) -> float:
        return (minimum_jerk_speed(s + step) - minimum_jerk_speed(s - step)) / (2 * step)

    assert acceleration(TIME_OF_PEAK_ACCELERATION) == pytest.approx(PEAK_ACCELERATION, abs=1e-6)
    peak = minimize_scalar(lambda s: -acceleration(s), bounds=(0.01, 0.49), method="bounded")
    assert peak.x == pytest.approx(TIME_OF_PEAK_ACCELERATION, abs=1e-4)


def test_faster_than_the_mean_between_two_times() -> None:
    for s in (0.240335, 0.759665):
        assert minimum_jerk_speed(s) == pytest.approx(1.0, abs=1e-5)


@pytest.mark.parametrize(("tenths", "time"), list(enumerate(TENTHS, start=1)))
def test_times_of_tenths(tenths: int, time: float) -> None:
    assert minimum_jerk_time(tenths / 10.0) == pytest.approx(time, abs=5e-7)


def root(f: float) -> float:
    """The answer of scipy to where the published path reaches ``f``."""
    return float(brentq(lambda s: path(s) - f, 0.0, 1.0, xtol=1e-15, rtol=1e-14))


def test_inverse_on_a_dense_grid() -> None:
    for f in np.linspace(0.0005, 0.9995, 4000):
        assert minimum_jerk_time(f) == pytest.approx(root(f), abs=1e-12)


@settings(max_examples=500, deadline=None)
@given(st.floats(0.0, 1.0))
def test_inverse_anywhere(f: float) -> None:
    """Near the ends the path is so flat that only what it does there can be compared."""
    s = minimum_jerk_time(f)
    assert 0.0 <= s <= 1.0
    assert minimum_jerk(s) == pytest.approx(f, abs=1e-15, rel=1e-11)


@settings(max_examples=500, deadline=None)
@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_inverse_keeps_order(f: float, g: float) -> None:
    low, high = sorted((f, g))
    assert minimum_jerk_time(low) <= minimum_jerk_time(high) + 2e-14


def turned(u: float, ripple: float) -> float:
    """How far the shaft has turned at smooth progress ``u``: detents slow it at rest positions."""
    return u - ripple / (2.0 * math.pi) * math.sin(2.0 * math.pi * u)


ripples = st.floats(0.0, 0.99)
places = st.floats(0.0, 50.0)


@settings(max_examples=1000, deadline=None)
@given(places, ripples)
def test_ripple_round_trip(place: float, ripple: float) -> None:
    """A place from smooth progress and back; by slope the way back is the harder one."""
    assert turned(ripple_place(place, ripple), ripple) == pytest.approx(place, abs=3e-14 * (1.0 + place))


@settings(max_examples=300, deadline=None)
@given(places, st.floats(0.01, 0.95))
def test_ripple_against_a_root_finder(place: float, ripple: float) -> None:
    theirs = brentq(lambda u: turned(u, ripple) - place, place - 0.2, place + 0.2, xtol=1e-15, rtol=1e-14)
    slope = ripple_speed(theirs, ripple)
    assert ripple_place(place, ripple) == pytest.approx(theirs, abs=1e-13 * (1.0 + place) / slope)


@settings(max_examples=300, deadline=None)
@given(places, ripples)
def test_ripple_speed_is_the_slope(u: float, ripple: float) -> None:
    step = 1e-5
    slope = (turned(u + step, ripple) - turned(u - step, ripple)) / (2 * step)
    assert ripple_speed(u, ripple) == pytest.approx(slope, abs=1e-8)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 50), ripples)
def test_whole_steps_stay_where_they_are(steps: int, ripple: float) -> None:
    assert ripple_place(float(steps), ripple) == pytest.approx(steps, abs=1e-6)
    assert turned(ripple_place(float(steps), ripple), ripple) == pytest.approx(steps, abs=1e-12)
