"""Noise on an input against Rice, Sheppard, and Cramer and Leadbetter.

Crossings of a level by Gaussian noise: S. O. Rice, Mathematical analysis of random noise, Bell System
Technical Journal 23 (1944) 282 and 24 (1945) 46, section 3.3 (formulas read in part; values from memory,
recomputed).  Sign changes of a sampled Gaussian process: W. F. Sheppard (1899); Kedem's cosine formula
(read).  Crossings of a ramp: H. Cramer and M. R. Leadbetter, Stationary and Related Stochastic Processes
(1967), section 13.2 (from memory, recomputed by quadrature).

The input decides at the instants of a grid, so beside each formula stands the exact law of the same
noise on that grid, from its own correlation.  Statistical tolerances are 4.5 standard errors
(false-alarm rate 7e-6 a test), seeds are fixed.
"""

from __future__ import annotations

import functools
import math
from typing import Any

import numpy as np
import pytest
from scipy import integrate, stats

from simcore.base.compiling import kernel
from simcore.base.draws import Part
from simcore.base.records import WATCHED, Edges, Floats, edges_of_runs, empty_edges
from simcore.base.ticks import TICKS_PER_SECOND, ticks
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import TIGHT, Level, PlainInput
from simcore.networks.noise import PER_PERIOD, ROWS, SPACING, WEIGHTS, Noise, noise_at
from simcore.networks.single_pole import SeriesCapacitor
from simcore.networks.supply import STEADY
from simcore.networks.waveform import Waveform
from simcore.stages.base import drive_stage
from tests.outside.lines import part

BANDWIDTH = 1.0e6
RATE = PER_PERIOD * BANDWIDTH
"""Instants of the grid per second."""
RICE = 2.0 / math.sqrt(3.0)
"""Crossings of the mean per second and hertz of bandwidth: 1.154701."""
STANDARD_ERRORS = 4.5


def correlation_at(row: int, lag: int) -> float:
    """Of the noise at instant ``row`` of a draw's span and at one ``lag`` later."""
    draws, other = divmod(row + lag, ROWS)
    width = WEIGHTS.shape[1] - SPACING * draws
    return float(WEIGHTS[row, -width:] @ WEIGHTS[other, :width]) if width > 0 else 0.0


def correlation(lag: int) -> float:
    """The same, averaged over where the first instant lies."""
    return float(np.mean([correlation_at(row, lag) for row in range(ROWS)]))


@functools.cache
def neighbours() -> Any:
    """The law of the noise at two neighbouring instants."""
    rho = correlation(1)
    return stats.multivariate_normal([0.0, 0.0], [[1.0, rho], [rho, 1.0]])


def upward(before: float, after: float) -> float:
    """Probability of noise below ``before`` at one instant and above ``after`` at the next."""
    return float(stats.norm.cdf(before) - neighbours().cdf([before, after]))


def line(volts: float, tau: float, threshold: float, rms: float) -> Waveform:
    """A noisy plain input behind a capacitor that charges and discharges with time constant ``tau``."""
    network = SeriesCapacitor(part(1e-9), part(1e3), part(tau / 1e3))
    level = Level(part(threshold), 0)
    logic = PlainInput(level, level, 0, TIGHT, Noise(rms, BANDWIDTH))
    return Waveform(Part(volts, 0.0), Resistance(0.0, 0.0), network, logic, STEADY, 0)


def crossings(spec: Waveform, source: Edges, seconds: float, room: int) -> list[int]:
    """Output edges of each run, watched for so many seconds."""
    runs = source.first.size
    out = empty_edges(room, runs)
    ends = np.full(runs, ticks(seconds) - WATCHED, np.int64)
    assert drive_stage(spec, 11, 0, 0, source, ends, out) == runs
    return [int(n) for n in np.diff(out.offsets)]


def per_second(level: float) -> tuple[float, float]:
    """Crossings of a level (in rms values) per second and hertz, and their standard error: a line
    that rests so far from the threshold.
    """
    runs, seconds = 60, 0.01
    source = edges_of_runs([(0, [], [])] * runs)
    counts = crossings(line(3.3, 0.0, 3.3 + 0.1 * level, 0.1), source, seconds, 2_000_000)
    rates = np.array(counts) / seconds / BANDWIDTH
    return float(rates.mean()), float(rates.std(ddof=1) / math.sqrt(runs))


# Crossings of 0, 1 and 2 rms values by ideally low-passed noise, 2 B / sqrt 3 exp(-u^2 / 2), and how
# far short of it the grid falls.
LEVELS = [(0.0, 1.154701, 2e-4), (1.0, 0.700361, 3e-3), (2.0, 0.156271, 1e-2)]


@pytest.mark.parametrize(("level", "expected", "short"), LEVELS)
def test_crossings_per_second(level: float, expected: float, short: float) -> None:
    """The grid sees Rice's rate to 0.02 % at the mean; of the rare excursions to two rms values, one in
    a hundred fits between two instants.
    """
    assert expected == pytest.approx(RICE * math.exp(-0.5 * level**2), abs=1e-6)
    on_grid = 2.0 * PER_PERIOD * upward(level, level)
    assert on_grid == pytest.approx(expected, rel=short)
    found, error = per_second(level)
    assert error < 0.01 * expected
    assert abs(found - on_grid) < STANDARD_ERRORS * error


# Slope over the rms value of the noise's own slope, and the crossings of one level that a ramp makes.
RAMPS = [(0.05, 15.97763), (0.1, 8.018707), (0.2, 4.068946), (0.5, 1.791186), (1.0, 1.166631)]


def ramp_crossings(steepness: float) -> float:
    """erf(a / sqrt 2) + (2 / a) phi(a)."""
    return math.erf(steepness / math.sqrt(2.0)) + 2.0 / steepness * float(stats.norm.pdf(steepness))


def ramp_on_grid(steepness: float) -> float:
    """The same on the grid: crossings from one instant to the next, summed over the whole ramp."""
    rise = steepness * 2.0 * math.pi / math.sqrt(3.0) / PER_PERIOD

    def changes(level: float) -> float:
        return upward(level, level - rise) + upward(-level, -(level - rise))

    total, _ = integrate.quad(changes, -8.0, 8.0 + rise, epsabs=1e-7, limit=200, points=[0.0])
    return float(total) / rise


def ramps(steepness: float, rms: float) -> tuple[float, float]:
    """Output edges per edge of the contact, and the standard error.  The slope is that of the
    capacitor half-way up or down; over the reach of the noise it changes by a hundredth.
    """
    slope = steepness * 2.0 * math.pi * BANDWIDTH / math.sqrt(3.0) * rms
    tau = 50.0 / slope
    runs, edges = 40, 60
    times = [ticks(15.0 * tau * (k + 1)) for k in range(edges)]
    source = edges_of_runs([(0, times, [16 * k for k in range(edges)])] * runs)
    counts = crossings(line(100.0, tau, 50.0, rms), source, 15.0 * tau * (edges + 1), 200_000)
    each = np.array(counts) / edges
    return float(each.mean()), float(each.std(ddof=1) / math.sqrt(runs))


@pytest.mark.parametrize(("steepness", "expected"), RAMPS)
def test_crossings_of_a_ramp(steepness: float, expected: float) -> None:
    """The grid shows a slow ramp's crossings to 1.5 %, and the line makes as many."""
    assert ramp_crossings(steepness) == pytest.approx(expected, rel=1e-6)
    on_grid = ramp_on_grid(steepness)
    assert on_grid == pytest.approx(expected, rel=0.015)
    found, error = ramps(steepness, 0.05)
    assert error < 0.03 * expected
    assert abs(found - on_grid) < STANDARD_ERRORS * error + 0.005 * expected


@kernel
def series(seed: int, line: int, first: int, out: Floats) -> None:
    """The noise at ``out.size`` instants."""
    for i in range(out.size):
        out[i] = noise_at(seed, 3, line, first + i)


@functools.cache
def noise() -> Floats:
    """A long stretch of noise."""
    out = np.zeros(1_600_000)
    series(29, 0, 1_000_003, out)
    return out


def mean_of_blocks(values: Floats) -> tuple[float, float]:
    """Mean and standard error from a hundred blocks, which are much longer than the noise's memory."""
    blocks = values[: values.size // 100 * 100].reshape(100, -1).mean(axis=1)
    return float(blocks.mean()), float(blocks.std(ddof=1) / 10.0)


# Probability that a Gaussian pair has different signs: arccos(rho) / pi.
SHEPPARD = [(0.9, 0.1435663), (0.99, 0.0450534), (0.999, 0.0142364), (0.5, 1.0 / 3.0)]


@pytest.mark.parametrize(("rho", "expected"), SHEPPARD)
def test_sign_changes_by_sheppard(rho: float, expected: float) -> None:
    assert math.acos(rho) / math.pi == pytest.approx(expected, abs=5e-8)


@pytest.mark.parametrize("lag", [1, 2, 4, 8, 12, 100])
def test_sign_changes_of_the_noise(lag: int) -> None:
    """Sampled every so many instants, the noise changes sign as Sheppard says of its correlation."""
    values = noise()
    changes = (values[lag:] > 0.0) != (values[:-lag] > 0.0)
    found, error = mean_of_blocks(changes.astype(float))
    assert abs(found - math.acos(correlation(lag)) / math.pi) < STANDARD_ERRORS * error


@pytest.mark.parametrize("row", range(ROWS))
def test_variance_is_the_same_at_every_instant(row: int) -> None:
    """Exactly, by the weights; and as it comes out."""
    assert math.fsum(WEIGHTS[row] ** 2) == pytest.approx(1.0, abs=1e-12)
    found, error = mean_of_blocks(noise()[row::ROWS] ** 2)
    assert abs(found - 1.0) < STANDARD_ERRORS * error


def test_noise_is_stationary() -> None:
    """Correlations hardly depend on where the first instant lies: to 0.0015, at every distance."""
    for lag in range(1, 100):
        each = [correlation_at(row, lag) for row in range(ROWS)]
        assert max(each) - min(each) < 0.0015


def test_noise_is_gaussian() -> None:
    """Instants far apart are independent and normal (false-alarm rate 1e-4)."""
    assert stats.kstest(noise()[::160], "norm").pvalue > 1e-4


def test_band_limited_noise_does_not_depend_on_the_grid() -> None:
    """White noise behind a single pole crosses its mean the oftener the closer one looks, by sqrt 2 for
    half the step (Rice's rate is infinite: its correlation has a corner, from memory).  Band-limited
    noise has a rate of its own: looking half as closely misses less than 3 %.
    """
    values = noise()
    pole = np.zeros(values.size)
    decay = math.exp(-0.05)
    steps = np.random.default_rng(5).standard_normal(values.size) * math.sqrt(1.0 - decay**2)
    for i in range(1, pole.size):
        pole[i] = decay * pole[i - 1] + steps[i]
    ratios = []
    for each in (values, pole):
        close, coarse = (np.count_nonzero(np.diff(each[::step] > 0.0)) for step in (1, 2))
        ratios.append(close / coarse)
    assert 1.0 <= ratios[0] < 1.03
    assert ratios[1] == pytest.approx(math.sqrt(2.0), rel=0.03)


def test_grid_step() -> None:
    """A megahertz of bandwidth has an instant every 62.5 ns."""
    assert ticks(1.0 / RATE) == 62_500
    assert TICKS_PER_SECOND // 62_500 == RATE
