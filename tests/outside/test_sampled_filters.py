"""Sampled filters: data sheets, Feller's runs and random walks, and a fact of the trade."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from typing import Any

import numpy as np
import pytest
from scipy import stats

from simcore.base.records import edges_of_runs
from simcore.stages.sampled import Agree, Integrate, Majority, Sampled
from tests.outside.sampled import (
    CLOCK,
    PERIOD,
    Chain,
    bits_before_output,
    first_edges,
    lines_of,
    sent_through,
)
from tests.scenarios.samples import load_text
from tests.theory.looking import look

TRIALS = 20_000


def accepted(rule: Any, width: float, runs: int = TRIALS) -> float:
    """Share of pulses of ``width`` periods that a filter passes, each at a phase of its own."""
    pulse = (0, [10 * PERIOD, 10 * PERIOD + round(width * PERIOD)], [0, 0])
    passed = sent_through(Sampled(CLOCK, rule), edges_of_runs([pulse] * runs))
    return float(np.mean(first_edges(passed) >= 0))


def latencies(rule: Any, runs: int = TRIALS) -> np.ndarray[Any, Any]:
    """Periods from a lasting change to the output's, each run at a phase of its own."""
    at = 10 * PERIOD
    return (
        first_edges(sent_through(Sampled(CLOCK, rule), edges_of_runs([(0, [at], [0])] * runs))) - at
    ) / PERIOD


@pytest.mark.parametrize(("samples", "rejected"), [(3, 2.0), (4, 3.0)])
def test_digital_filters_of_data_sheets(samples: int, rejected: float) -> None:
    """Data sheet of a quadrature counter chip, and the like of a controller's quadrature block: with
    the same value wanted on three rising edges of the clock, pulses shorter than two periods are
    rejected; a controller's filter of four samples removes pulses of fewer than four whole clocks.
    """
    assert accepted(Agree(samples), rejected) == 0.0
    assert accepted(Agree(samples), rejected + 0.02) > 0.0
    assert accepted(Agree(samples), samples - 0.02) < 1.0
    assert accepted(Agree(samples), samples) == 1.0


@pytest.mark.parametrize("samples", [3, 4, 8])
def test_latency_is_uniform_over_the_last_period(samples: int) -> None:
    """N samples at a random phase: uniform between N - 1 and N periods, mean N - 1/2, variance 1/12
    (arithmetic).  Kolmogorov and Smirnov's test at a false-alarm rate of 1e-4.
    """
    found = latencies(Agree(samples))
    assert found.min() >= samples - 1
    assert found.max() < samples
    assert found.mean() == pytest.approx(samples - 0.5, abs=4 * math.sqrt(1 / 12 / TRIALS))
    assert stats.kstest(found - (samples - 1), "uniform").pvalue > 1e-4


@pytest.mark.parametrize("width", [2.2, 2.5, 2.9])
@pytest.mark.parametrize("rule", [Agree(3), Integrate(3), Majority(3, 3), Majority(5, 3)])
def test_share_of_pulses_that_pass(rule: Any, width: float) -> None:
    """clip(w - (N - 1), 0, 1) for N samples wanted (arithmetic); 4 standard errors."""
    expected = width - 2.0
    error = math.sqrt(expected * (1.0 - expected) / TRIALS)
    assert accepted(rule, width) == pytest.approx(expected, abs=4 * error)


FELLER = {10: (1023, 880, 520, 251, 112, 48, 20, 8, 3, 1), 8: (255, 201, 107, 48, 20, 8, 3, 1)}
"""Strings of n bits with a run of at least r ones, r = 1, 2, ...: OEIS A050227, which cites Feller,
An Introduction to Probability Theory and Its Applications, vol. I, p. 300."""


@pytest.mark.parametrize("size", [10, 8])
def test_runs_in_all_strings_of_coin_flips(size: int) -> None:
    """The output shows just for the strings with a run that is long enough."""
    source = lines_of([(*bits, 0) for bits in itertools.product((0, 1), repeat=size)])
    for run, expected in enumerate(FELLER[size], start=1):
        rose = first_edges(sent_through(Sampled(CLOCK, Agree(run)), source)) >= 0
        assert rose.sum() == expected


@pytest.mark.parametrize(
    ("run", "p", "mean"),
    [(1, 0.5, 2), (2, 0.5, 6), (3, 0.5, 14), (4, 0.5, 30), (5, 0.5, 62), (8, 0.5, 510), (3, 0.1, 1110)],
)
def test_mean_wait_for_a_run(run: int, p: float, mean: float) -> None:
    """(1 - p^N) / ((1 - p) p^N), Feller, vol. I, XIII.7; the chain of the filter's own memory solved."""
    assert Chain(Agree(run), p).mean == pytest.approx(mean, rel=1e-9)
    assert Chain(Majority(run, run), p).mean == pytest.approx(mean, rel=1e-9)


def test_variance_of_the_wait_for_a_run() -> None:
    """142 for three heads (Feller, from memory)."""
    assert Chain(Agree(3), 0.5).variance == pytest.approx(142.0, rel=1e-9)


WALKS = [
    (4, 0.5, 20.0), (8, 0.5, 72.0), (4, 0.9, 4.843774), (8, 0.9, 9.843750), (4, 0.3, 115.308642),
    (8, 0.3, 3819.70431),
]  # fmt: skip
"""Random walk from 0 to N with a reflecting barrier at 0: N (N + 1) for p = 1/2, else
N / (p - q) - q (1 - (q / p)^N) / (p - q)^2 (linear equations and closed form agree)."""


@pytest.mark.parametrize(("top", "p", "mean"), WALKS)
def test_mean_time_from_stop_to_stop(top: int, p: float, mean: float) -> None:
    assert Chain(Integrate(top), p).mean == pytest.approx(mean, abs=5e-6 * max(1.0, mean / 100))


@pytest.mark.parametrize(
    ("p", "start", "top", "ruin", "duration"),
    [
        (0.45, 9, 10, 0.210, 11.0), (0.4, 9, 10, 0.339, 12.0),
        (0.45, 90, 100, 0.866, 765.6), (0.45, 99, 100, 0.182, 171.8),
    ],
)  # fmt: skip
def test_gamblers_ruin(p: float, start: int, top: int, ruin: float, duration: float) -> None:
    """Feller, vol. I, XIV, Table 1 (from memory): an integrator between its stops is that gambler."""
    chain = Chain(Integrate(top), p, both_ends=True, start=start)
    assert 1.0 - chain.top_chance == pytest.approx(ruin, abs=5e-4)
    assert chain.mean == pytest.approx(duration, abs=0.05)


@pytest.mark.parametrize(
    ("rule", "p", "length"),
    [(Agree(3), 0.5, 400), (Agree(4), 0.5, 900), (Integrate(4), 0.5, 500), (Integrate(4), 0.9, 60)],
)
def test_whole_stages_wait_as_long(rule: Any, p: float, length: int) -> None:
    """The same through the stages, one random bit a sample; 4 standard errors."""
    trials = 4000
    bits = np.random.default_rng(17).random((trials, length)) < p
    waits = bits_before_output(rule, bits)
    chain = Chain(rule, p)
    assert waits.mean() == pytest.approx(chain.mean, abs=4 * math.sqrt(chain.variance / trials))


KNOB = """\
title = "coarse sampling"

[encoder]
part = "ordinary"

[contacts]
part = "ordinary"

[[hand]]
gesture = "click"
direction = "either"

[[hand]]
gesture = "twist"
direction = "alternate"

[[stage]]
name = "sampler"
kind = "agree"
period = "290 us"
samples = 2
tolerance = { period = "14 %" }

[counter]
kind = "step-direction"
"""


def falls_per_closing(*sets: str, runs: int = 200) -> Counter[int]:
    """How many falling edges a closing contact sends through the sampler, and how often."""
    found: Counter[int] = Counter()
    for run in look(load_text(KNOB, sets).design, 1, runs):
        for line in (0, 1):
            falls = Counter(change.transition for change in run.seen[line] if not change.level)
            closings = (i for i, move in enumerate(run.moves) if move.line == line and move.closed)
            found.update(falls[closing] for closing in closings)
    return found


def test_coarse_sampling_hides_most_of_the_bounce() -> None:
    """Lines sampled every 250 to 330 us, a falling edge taken after two low samples: at most an
    occasional single bounce is seen, and two samples are clearly better than one; common practice,
    no source.
    """
    two, one = falls_per_closing(), falls_per_closing("sampler.samples=1")
    closings = two.total()
    assert closings == one.total() > 5000
    assert set(two) <= {1, 2}
    assert two[2] < 0.005 * closings
    assert closings - one[1] > 5 * max(two[2], 4)


def test_coarse_sampling_of_tired_contacts() -> None:
    """The same with contacts past their best: hardly ever more than a single bounce, where one
    sample sees most of them bounce; common practice, no source.
    """
    two = falls_per_closing("contacts.part=tired")
    one = falls_per_closing("contacts.part=tired", "sampler.samples=1")
    closings = two.total()
    assert sum(times for falls, times in two.items() if falls > 2) < 0.005 * closings
    assert two[2] < 0.2 * closings
    assert closings - one[1] > 4 * (closings - two[1])
