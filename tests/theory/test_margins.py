"""Margins in closed form: steady turning of clean contacts, and a capacitor driven by a square wave.

At one cycle of T seconds a step, upward, A closes at T/8, B at 3T/8, A opens at 5T/8, B at 7T/8, and the
counter is clocked as A falls.  If each level settles, an edge of a line comes its whole rise or fall
time late (see delays), so with (f, r) those of A and (f', r') those of B

* B has been steady for T/4 + f - r' before A falls, and stays so for T/4 + f' - f after;
* A is low for T/2 + r - f and high for T/2 + f - r;
* the lines' edges are T/4 + (f' - f, r - f', r' - r, f - r') apart;
* as A falls, B has been open for T/4 + f: its voltage is that of a rise of so many seconds.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.base.ticks import TICKS_PER_SECOND
from simcore.design import Design, StageEntry
from simcore.engines.batch import BatchEngine
from simcore.hand.geometry import Geometry
from simcore.judging.margins import (
    APART,
    CLOCK_HIGH,
    CLOCK_LOW,
    HIGH_A,
    HIGH_B,
    HOLD,
    LOW_A,
    LOW_B,
    MICROVOLTS,
    SETUP,
    SETUP_VOLTS,
    VOLTS_RESOLUTION,
    Margins,
    quantile,
    values,
)
from simcore.networks.analogue import Pole
from simcore.networks.inputs import SchmittInput
from simcore.networks.single_pole import SeriesCapacitor
from tests.theory import designs as make
from tests.theory.delays import charged, discharged, fall_time, rise_time
from tests.theory.looking import Run, look, poles

STEPS = 12
ROUNDING = 3
"""Ticks: each edge is rounded to one, and so is each transition."""
SUPPLY = 5.0


def margins_of(design: Design, seed: int = 0, runs: int = 1) -> Margins:
    found = BatchEngine(design, runs, margins=True).run(seed, 0, runs).margins
    assert found is not None
    return found


def extremes(margins: Margins, quantity: int) -> tuple[int, int]:
    return int(margins.least[quantity]), int(margins.most[quantity])


def check(margins: Margins, quantity: int, *seconds: float) -> None:
    """The least and the most of a quantity are those of the times given."""
    ticks = [value * TICKS_PER_SECOND for value in seconds]
    assert extremes(margins, quantity) == pytest.approx((min(ticks), max(ticks)), abs=ROUNDING)


@pytest.mark.parametrize("cycle", [80e-6, 20e-3, 1.0])
def test_a_bare_line_is_steady_for_a_quarter_of_the_cycle_on_both_sides(cycle: float) -> None:
    margins = margins_of(make.design(make.spin(STEPS, cycle)))
    check(margins, SETUP, cycle / 4)
    check(margins, HOLD, cycle / 4)
    check(margins, CLOCK_LOW, cycle / 2)
    check(margins, CLOCK_HIGH, cycle / 2)
    check(margins, APART, cycle / 4)
    # Before the first fall of A no line has changed; the last transition is an opening of B.
    counts = [values(margins, quantity) for quantity in (SETUP, HOLD, CLOCK_LOW, CLOCK_HIGH, APART)]
    assert counts == [STEPS - 1, STEPS, STEPS, STEPS - 1, 4 * STEPS - 1]
    assert not margins.missed.any()


series = st.builds(
    SeriesCapacitor,
    st.builds(Part, st.floats(1e3, 2e4), st.just(0.0)),
    st.builds(Part, st.floats(1e3, 2e4), st.just(0.0)),
    st.builds(Part, st.floats(1e-9, 2e-8), st.just(0.0)),
)


@settings(max_examples=40, deadline=None)
@given(series, series, st.floats(0.1, 0.5), st.floats(0.55, 0.9))
def test_delays_shift_the_margins(a: SeriesCapacitor, b: SeriesCapacitor, low: float, high: float) -> None:
    """Parts so fast that every level settles: 40 ms a cycle, time constants up to 0.8 ms."""
    cycle = 40e-3
    logic = make.schmitt(high * SUPPLY, low * SUPPLY)
    stages = (StageEntry("fa", a, (0,)), StageEntry("fb", b, (1,)), StageEntry("input", logic))
    design = make.design(make.spin(STEPS, cycle), stages=stages)
    margins = margins_of(design)
    pole_a, pole_b = poles(design, 0, 1)[0]
    fall, rise = fall_time(pole_a, pole_a.v_open), rise_time(pole_a, pole_a.v_closed)
    fall_b, rise_b = fall_time(pole_b, pole_b.v_open), rise_time(pole_b, pole_b.v_closed)
    quarter, half = cycle / 4, cycle / 2
    check(margins, SETUP, quarter + fall - rise_b)
    check(margins, HOLD, quarter + fall_b - fall)
    check(margins, CLOCK_LOW, half + rise - fall)
    check(margins, CLOCK_HIGH, half + fall - rise)
    shifts = (fall_b - fall, rise - fall_b, rise_b - rise, fall - rise_b)
    check(margins, APART, *(quarter + shift for shift in shifts))
    reached = charged(pole_b, pole_b.v_closed, quarter + fall) - pole_b.rising
    assert margins.least[SETUP_VOLTS] == pytest.approx(reached * MICROVOLTS, abs=2)
    assert values(margins, SETUP_VOLTS) == STEPS


@pytest.mark.parametrize(("open_share", "peak", "trough"), [(0.3, 0.410019538, 0.203609677)])
def test_levels_of_a_square_wave(open_share: float, peak: float, trough: float) -> None:
    """Steady state of one pole with one time constant tau, driven for D of each period T = tau: peak
    (1 - exp(-D T / tau)) / (1 - exp(-T / tau)) of the supply, trough that times exp(-(1 - D) T / tau).
    Derivation: any text on circuits; the numbers computed apart from this program when it was planned.
    The pull-up is a millionth of the series resistor, so that both ways take the same time.
    """
    cycle, ohms = 20e-3, 1e5
    network = SeriesCapacitor(Part(0.1, 0.0), Part(ohms, 0.0), Part(cycle / ohms, 0.0))
    geometry = Geometry(20.0, 1.0, 1.0 - open_share, 0.0, 0.2, 0.0, 0.0, 0.0)
    logic = make.schmitt(0.41 * SUPPLY, 0.2 * SUPPLY)
    design = make.design(make.spin(60, cycle), stages=make.filtered(network, logic), geometry=geometry)
    margins = margins_of(design)
    for low, high in ((LOW_A, HIGH_A), (LOW_B, HIGH_B)):
        # The first levels come from a full capacitor; from then on they sink to the steady state.
        assert margins.least[high] / MICROVOLTS == pytest.approx(peak * SUPPLY, rel=3e-6)
        assert margins.least[low] / MICROVOLTS == pytest.approx(trough * SUPPLY, rel=3e-6)
        resolution = VOLTS_RESOLUTION * SUPPLY
        median = quantile(margins, high, 0.5, int(SUPPLY * MICROVOLTS)) / MICROVOLTS
        assert median == pytest.approx(peak * SUPPLY, abs=resolution)
        # The steady trough stays above the falling threshold: no level ever gets below it.
        assert margins.missed[low] == values(margins, low)
        assert margins.missed[high] == 0


def turns(run: Run, line: int) -> list[tuple[int, int, bool]]:
    """(tick, state from then on, whether a burst begins) of the contact's changes."""
    found, before = [], -1
    for change in run.contact[line]:
        found.append((change.time, change.level, change.transition != before))
        before = change.transition
    return found


def walk(pole: Pole, run: Run, line: int) -> tuple[list[float], list[float]]:
    """Low and high levels (V) of one line by the exponential law, change by change."""
    low: list[float] = []
    high: list[float] = []
    changes = turns(run, line)
    closed = 1 - changes[0][1] if changes else 0
    volts, since = (pole.v_closed if closed else pole.v_open), None
    for time, level, fresh in changes:
        if since is not None:
            span = (time - since) / TICKS_PER_SECOND
            volts = discharged(pole, volts, span) if closed else charged(pole, volts, span)
        if fresh:
            (low if closed else high).append(volts)
        closed, since = level, time
    return low, high


def missed_by(levels: list[float], threshold: float, side: int, slack: float) -> int:
    """How many levels miss a threshold, give or take ``slack`` (V); ``side`` 0 for low levels."""
    wanted = [threshold - level if side == 0 else level - threshold for level in levels]
    return sum(beyond < -slack for beyond in wanted)


def bounded(missed: int, levels: list[float], threshold: float, side: int) -> bool:
    """Whether so many missed, but for those within a microvolt of the threshold."""
    return missed_by(levels, threshold, side, 1e-6) <= missed <= missed_by(levels, threshold, side, -1e-6)


@settings(max_examples=60, deadline=None)
@given(
    make.designs(), make.seeds, st.sampled_from([make.schmitt(1.9, 1.2, 0.1), make.schmitt(2.8, 0.1, 0.02)])
)
def test_levels_are_those_of_a_walk_along_the_exponentials(
    design: Design, seed: int, logic: SchmittInput
) -> None:
    """Bouncy contacts and tolerances; every unit is held against its own thresholds.  One run, for misses
    are counted over all of them.
    """
    assume(design.stages)
    design = replace(design, stages=make.filtered(design.stages[0].item, logic))
    built = poles(design, seed, 1)
    assume(all(pole.tau_closed > 0.0 and pole.tau_open > 0.0 for pair in built for pole in pair))
    margins = margins_of(design, seed, 1)
    for line, (low, high) in enumerate(((LOW_A, HIGH_A), (LOW_B, HIGH_B))):
        pole, levels = built[0][line], walk(built[0][line], look(design, seed, 1)[0], line)
        thresholds = (pole.falling, pole.rising)
        for side, quantity in enumerate((low, high)):
            volts = levels[side]
            assert values(margins, quantity) == len(volts)
            if volts:
                limits = (min(volts) * MICROVOLTS, max(volts) * MICROVOLTS)
                assert extremes(margins, quantity) == pytest.approx(limits, abs=1)
            assert bounded(int(margins.missed[quantity]), volts, thresholds[side], side)
