"""Margins as whole numbers: bins, quantiles against numpy's, adding up, and what makes them null."""

from __future__ import annotations

from functools import reduce

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.contacts.bursts import Clean
from simcore.counters.clocked import DOUBLE_IGNORED, ClockedQuadrature
from simcore.counters.facts import NO_CLOCK, Timing, counter_timing
from simcore.counters.prescaled import Prescaled
from simcore.counters.quadrature import Quadrature
from simcore.counters.two_clock import TwoClock
from simcore.design import StageEntry
from simcore.engines.gauging import GATHERED, NO_CLOCK_LINE, NO_VOLTAGE, NOT_LAST, NOT_STEADY, why_not
from simcore.judging.margins import (
    BINS,
    FIRST_OCTAVE,
    HIGH_A,
    LAST_OCTAVE,
    LOW_A,
    MICROVOLTS,
    SETUP,
    SETUP_VOLTS,
    TIME_RESOLUTION,
    VOLTS_RESOLUTION,
    Margins,
    bin_of_time,
    bin_of_volts,
    enter_time,
    enter_volts,
    joined,
    microvolts,
    no_margins,
    quantile,
    values,
)
from simcore.judging.tally import nothing, tally_of
from simcore.stages.quiet_time import QuietTime
from tests.simcore import builders

SUPPLY = 3_300_000
"""Microvolts."""
shares = st.sampled_from([0.001, 0.01, 0.1, 0.5, 0.999, 1.0])
times = st.integers(2**FIRST_OCTAVE, 2**LAST_OCTAVE - 1) | st.floats(10.0, 46.9).map(lambda x: int(2.0**x))
voltages = st.floats(-3.3, 1.3 * 3.3).map(microvolts)


def with_times(found: list[int], limit: int = 0) -> Margins:
    margins = no_margins()
    for time in found:
        enter_time(margins, SETUP, time, limit)
    return margins


def with_volts(found: list[int], quantity: int) -> Margins:
    margins = no_margins()
    for value in found:
        enter_volts(margins, quantity, value, SUPPLY, False)
    return margins


@given(st.lists(times, min_size=1, max_size=200), shares)
def test_quantiles_of_times_are_numpys_within_the_resolution(found: list[int], share: float) -> None:
    outside = float(np.quantile(found, share, method="inverted_cdf"))
    assert abs(quantile(with_times(found), SETUP, share, SUPPLY) - outside) <= TIME_RESOLUTION * outside


@given(st.lists(voltages, min_size=1, max_size=200), shares, st.sampled_from([HIGH_A, SETUP_VOLTS]))
def test_quantiles_of_voltages_are_numpys_within_the_resolution(
    found: list[int], share: float, quantity: int
) -> None:
    outside = float(np.quantile(found, share, method="inverted_cdf"))
    # One microvolt for the rounding of a bin's border.
    most = VOLTS_RESOLUTION * SUPPLY + 1
    assert abs(quantile(with_volts(found, quantity), quantity, share, SUPPLY) - outside) <= most


@given(st.lists(voltages, min_size=1, max_size=200), shares)
def test_the_worst_low_levels_are_the_highest(found: list[int], share: float) -> None:
    """The quantile from above is that of the values turned over."""
    outside = -float(np.quantile([-value for value in found], share, method="inverted_cdf"))
    assert abs(quantile(with_volts(found, LOW_A), LOW_A, share, SUPPLY) - outside) <= (
        VOLTS_RESOLUTION * SUPPLY + 1
    )


@given(st.lists(times, min_size=1, max_size=50), times)
def test_worst_and_misses_are_exact(found: list[int], limit: int) -> None:
    margins = with_times(found, limit)
    assert margins.least[SETUP] == min(found)
    assert margins.most[SETUP] == max(found)
    assert margins.missed[SETUP] == sum(time < limit for time in found)
    assert values(margins, SETUP) == len(found)


@given(st.lists(st.lists(times, max_size=20), min_size=1, max_size=5), st.randoms())
def test_margins_add_in_any_order(parts: list[list[int]], order: np.random.Generator) -> None:
    whole = with_times([time for part in parts for time in part], 10**9)
    order.shuffle(parts)
    added = reduce(joined, [with_times(part, 10**9) for part in parts])
    for mine, theirs in zip(added, whole, strict=True):
        assert np.array_equal(mine, theirs)
    for mine, theirs in zip(joined(whole, no_margins()), whole, strict=True):
        assert np.array_equal(mine, theirs)


@given(st.integers(0, 2**62))
def test_bins_of_times_rise_and_are_narrow(time: int) -> None:
    place = bin_of_time(time)
    assert 0 <= place < BINS
    assert bin_of_time(time + 1) >= place
    assert (place == 0) == (time < 2**FIRST_OCTAVE)
    # A float next to the last octave's end rounds up to it.
    if time < 2**LAST_OCTAVE:
        assert place < BINS - 1


def test_times_and_voltages_out_of_range_keep_the_exact_worst() -> None:
    margins = with_times([0, 3, 5, 2**50])
    assert quantile(margins, SETUP, 0.5, SUPPLY) == 0
    assert quantile(margins, SETUP, 1.0, SUPPLY) == 2**50
    assert bin_of_volts(-10 * SUPPLY, SUPPLY) == 0
    assert bin_of_volts(10 * SUPPLY, SUPPLY) == BINS - 1
    assert quantile(with_volts([-10 * SUPPLY], HIGH_A), HIGH_A, 0.5, SUPPLY) == -10 * SUPPLY


def test_a_quantile_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match=r"no quantile 0\.5 of 0 values"):
        quantile(no_margins(), SETUP, 0.5, SUPPLY)
    with pytest.raises(ValueError, match=r"no quantile 0\.0"):
        quantile(with_times([5]), SETUP, 0.0, SUPPLY)


def test_microvolts_round() -> None:
    assert [microvolts(volts) for volts in (1.9, -0.0000004, 0.0000006)] == [1_900_000, 0, 1]
    assert microvolts(3.3) / MICROVOLTS == 3.3


def test_each_counter_states_its_limits() -> None:
    plain = builders.PLAIN_COUNTER._replace(clock=1, active=1, setup=1, hold=2, low=3, high=4)
    assert counter_timing(plain) == Timing(1, 1, 1, 2, 3, 4, 0)
    assert counter_timing(Prescaled(plain, 4, 0)) == counter_timing(plain)
    assert counter_timing(TwoClock(0, 0, 1, 5, 2)) == Timing(0, 0, 0, 6, 0, 0, 0)
    assert counter_timing(Quadrature(4, 1)) == Timing(NO_CLOCK, 0, 0, 0, 0, 0, 0)
    clocked = ClockedQuadrature(4, 1, Part(1e-3, 0.1), DOUBLE_IGNORED)
    assert counter_timing(clocked) == Timing(NO_CLOCK, 0, 0, 0, 0, 0, 1_100_000_000)


def test_what_cannot_be_gathered_says_why() -> None:
    filtered = builders.filtered(100.0)
    quiet = StageEntry("quiet", QuietTime(Part(1e-3, 0.0)), (1,))
    noisy = builders.design(filtered)
    designs = {
        "bare": builders.design(contact=Clean(1)),
        "filtered": builders.design(filtered),
        "x4": builders.design(filtered, counter=Quadrature(4, 1)),
        "quiet after": builders.design((*filtered, quiet)),
        "dips": type(noisy)(**{**vars(noisy), "power_up": 1}),
    }
    found = {name: why_not(design, design.chain) for name, design in designs.items()}
    setups = {name: reasons[SETUP_VOLTS] for name, reasons in found.items()}
    assert setups == {
        "bare": NO_VOLTAGE, "filtered": GATHERED, "x4": NO_CLOCK_LINE, "quiet after": NOT_LAST,
        "dips": NOT_STEADY,
    }  # fmt: skip
    assert found["x4"][SETUP] == NO_CLOCK_LINE
    assert found["bare"][LOW_A] == NO_VOLTAGE
    assert {found[name][LOW_A] for name in designs if name != "bare"} == {GATHERED}


def test_a_tally_knows_the_margins_of_all_its_runs_or_none() -> None:
    """Those of a part of the runs would pass for those of all."""
    names = ("clicks",)
    sums = nothing(names).sums
    errors = np.zeros(1, np.int64)
    known = tally_of(names, sums, errors, with_times([2000, 5000]))
    unknown = tally_of(names, sums, errors)
    doubled = (known + nothing(names) + known).margins
    assert doubled is not None
    assert values(doubled, SETUP) == 4
    assert (nothing(names) + known).margins is known.margins
    for lacking in (known + unknown, unknown + known, nothing(names) + unknown + known):
        assert lacking.margins is None
