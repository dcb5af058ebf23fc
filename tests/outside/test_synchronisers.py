"""Synchronisers: published failure rates, and the latency of a row of flip-flops."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from simcore.base.records import edges_of_runs
from simcore.stages.synchroniser import Synchroniser, failure_interval, metastable_rate
from tests.outside.sampled import CLOCK, PERIOD, first_edges, sent_through

DAY = 86400.0
TRIALS = 20_000


def test_a_worked_example_of_twenty_days() -> None:
    """A textbook on ASICs: 2.3 ns to settle, tau 0.31 ns, T0 9.6 as, 100 MHz, 1 MHz: 20.1 days."""
    seconds = failure_interval(2.3e-9, 0.31e-9, 9.6e-18, 100e6, 1e6)
    assert seconds == pytest.approx(1.737455e6, rel=1e-6)
    assert seconds / DAY == pytest.approx(20.1, abs=0.05)


@pytest.mark.parametrize(
    ("settling", "clock_rate", "seconds", "printed"),
    [(80e-9, 10e6, 3.6334e11, 3.6e11), (42.5e-9, 16e6, 3.154, 3.1)],
)
def test_flip_flops_of_a_low_power_schottky_family(
    settling: float, clock_rate: float, seconds: float, printed: float
) -> None:
    """Tau 1.5 ns, T0 0.4 s, 100,000 changes a second; results as printed in Wakerly, Digital Design
    (from memory): 3.6e11 s, and 3.1 s, which is cut off and not rounded.
    """
    found = failure_interval(settling, 1.5e-9, 0.4, clock_rate, 100e3)
    assert found == pytest.approx(seconds, rel=2e-4)
    assert printed <= found < printed * 1.04


def test_samples_that_fall_into_the_window() -> None:
    """A window of 50 ps, 200 MHz, a datum every 1000 periods: 2 in a millisecond (Ginosar, ASYNC 2003)."""
    assert metastable_rate(50e-12, 200e6, 200e3) == pytest.approx(2000.0)


def test_simulated_samples_fall_into_the_window_as_often() -> None:
    """The same ratio of window to period, 1 in 100, simulated: a caught sample settles late half of
    the time, so 1 change in 200 comes out a period later than without a window; 4 standard errors.
    """
    changes, share = 100_000, 0.01
    gaps = np.random.default_rng(5).integers(500 * PERIOD, 1500 * PERIOD, changes)
    source = edges_of_runs([(0, np.cumsum(gaps).tolist(), [0] * changes)])
    caught, sharp = (
        sent_through(Synchroniser(CLOCK, 1, window * PERIOD * 1e-12), source).times for window in (share, 0.0)
    )
    assert caught.size == sharp.size == changes
    late = caught - sharp
    assert set(late.tolist()) == {0, PERIOD}
    expected = changes * share / 2
    assert np.count_nonzero(late) == pytest.approx(expected, abs=4 * math.sqrt(expected))


@pytest.mark.parametrize("flops", [1, 2, 3])
def test_latency_of_a_row(flops: int) -> None:
    """Two flip-flops at a random phase: between one period and two, mean 1.5, variance 1/12
    (from memory); n of them: between n - 1 and n.  Kolmogorov and Smirnov's test at a false-alarm
    rate of 1e-4.
    """
    at = 10 * PERIOD
    source = edges_of_runs([(0, [at], [0])] * TRIALS)
    found = (first_edges(sent_through(Synchroniser(CLOCK, flops, 0.0), source)) - at) / PERIOD
    assert found.min() >= flops - 1
    assert found.max() < flops
    assert found.mean() == pytest.approx(flops - 0.5, abs=4 * math.sqrt(1 / 12 / TRIALS))
    assert found.var() == pytest.approx(1 / 12, rel=4 * math.sqrt(0.8 / TRIALS))
    assert stats.kstest(found - (flops - 1), "uniform").pvalue > 1e-4


def test_settling_in_two_stages_adds_in_the_exponent() -> None:
    """exp((t_r1 + t_r2) / tau) / (T0 f a), as several texts have it; other forms for several stages
    are in print too, so this figure is to be used with care.
    """
    first, second, tau = 20e-9, 15e-9, 1.5e-9
    both = failure_interval(first + second, tau, 0.4, 10e6, 100e3)
    assert both == pytest.approx(math.exp(second / tau) * failure_interval(first, tau, 0.4, 10e6, 100e3))
