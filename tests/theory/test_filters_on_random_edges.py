"""What the time filters make of random edges: rates in closed form, derived here.

The input changes at the instants of a Poisson process of rate n; T is the filter's time.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from simcore.base.draws import Part
from simcore.base.records import edges_of_runs, empty_edges
from simcore.stages.base import drive_stage
from simcore.stages.lockout import Lockout
from simcore.stages.quiet_time import QuietTime


def random_edges(rate: float, count: int, seed: int) -> list[int]:
    """Ticks of a Poisson process of ``rate`` per second."""
    gaps = np.random.default_rng(seed).exponential(1e12 / rate, count)
    return [int(tick) for tick in np.cumsum(np.rint(gaps).astype(np.int64))]


def changes_per_second(spec: object, rate: float, count: int, seed: int) -> float:
    """Changes of the output per second where every edge of the input is one of a Poisson process."""
    times = random_edges(rate, count, seed)
    source = edges_of_runs([(0, times, [0] * count)])
    out = empty_edges(4 * count, 1)
    assert drive_stage(spec, 1, 0, 0, source, np.array([times[-1]], np.int64), out) == 1
    return float(out.offsets[1]) / (times[-1] * 1e-12)


N_TAU = [0.2, 1.0, 3.0]
COUNT = 400_000


@pytest.mark.parametrize("n_tau", N_TAU)
def test_a_lockout_on_random_edges(n_tau: float) -> None:
    """Changes come a cycle of the lockout and, unless an odd number of edges fell into it, a wait apart.

    With edges at rate n the odd number has the chance (1 - exp(-2 n T)) / 2, so the mean cycle is
    T + (1 + exp(-2 n T)) / 2n.  Four standard errors of a count that varies no more than a
    Poisson count; chance of a false alarm below 1 in 15,000.
    """
    rate = 1000.0
    expected = 1.0 / (n_tau / rate + (1.0 + math.exp(-2.0 * n_tau)) / (2.0 * rate))
    found = changes_per_second(Lockout(Part(n_tau / rate, 0.0)), rate, COUNT, 1)
    assert abs(found - expected) < 4.0 * expected / math.sqrt(COUNT * expected / rate)


@pytest.mark.parametrize("n_tau", N_TAU)
def test_a_quiet_time_on_random_edges(n_tau: float) -> None:
    """An edge is followed by a rest with the chance s = exp(-n T); between two rests there is an odd
    number of edges, so that the level differs, with the chance 1 / (2 - s).  The same four errors.
    """
    rate = 1000.0
    s = math.exp(-n_tau)
    expected = rate * s / (2.0 - s)
    found = changes_per_second(QuietTime(Part(n_tau / rate, 0.0)), rate, COUNT, 2)
    assert abs(found - expected) < 4.0 * expected / math.sqrt(COUNT * expected / rate)
