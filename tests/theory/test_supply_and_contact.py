"""Dips, power-up, leakage and a resistance per closure: closed forms on single lines.

With a supply V, a filter of time constants tau_open and tau_closed and thresholds between 0 and V:

* from empty capacitors the output rises after tau_open ln(V / (V - rising));
* a line without a capacitor follows a dip at once, so an absolute threshold between V (1 - depth) and V
  gives an edge at each end of a dip, and a threshold that is a share of the supply gives none;
* a leakage I drawn from the line behind R lowers what it tends to by I R;
* a closed contact of r ohm below a pull-up R leaves V r / (R + r).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from simcore.base.records import MAIN, POWER_UP, SUPPLY_DIP
from simcore.base.ticks import ticks
from simcore.networks.analogue import Analogue, Pole, Resistance
from simcore.networks.inputs import Leakage
from simcore.networks.supply import Dips
from simcore.stages.base import stage_build, stage_edge, stage_start
from tests.theory.waves import (
    CLOSED,
    OPEN,
    Out,
    exact,
    level,
    passed,
    plain,
    schmitt,
    section,
    waveform,
)

MILLISECOND = 10**9
BARE = section(farads=0.0)
DIPS = Dips(200.0, 0.4, 300e-6)


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.integers(1, 2 * MILLISECOND), max_size=12), st.sampled_from([0.0, 1e-9, 10e-9, 100e-9]),
    st.sampled_from([(3.5, 1.5), (2.5, 2.5), (4.999, 0.001)]), st.sampled_from([0.0, 3.0, 500.0]),
)  # fmt: skip
def test_a_quiet_waveform_is_the_analogue_stage(
    gaps: list[int], farads: float, thresholds: tuple[float, float], ohms: float
) -> None:
    """The same edges to one tick: where both apply, they are the same model."""
    times = [int(time) for time in np.cumsum(gaps)]
    logic, network = schmitt(*thresholds), section(farads=farads)
    general = waveform(logic, network, resistance=Resistance(ohms, 0.3))
    fast = Analogue(general.supply, general.resistance, network, logic)
    ours, theirs = (passed(spec, OPEN, times, 0.1) for spec in (general, fast))
    assert [e[1:] for e in ours] == [e[1:] for e in theirs]
    for mine, yours in zip(ours, theirs, strict=True):
        assert abs(mine.time - yours.time) <= 1


@pytest.mark.parametrize("rising", [1.0, 3.5, 4.5])
def test_power_up(rising: float) -> None:
    spec = waveform(schmitt(rising, 0.5), power_up=1)
    (edge,) = passed(spec, OPEN, [], 0.01)
    assert edge == Out(edge.time, 1, -1, POWER_UP)
    assert edge.time == pytest.approx(-math.log(1.0 - rising / 5.0) * 200e-6 * 1e12, abs=1)


def test_power_up_gives_nothing_where_nothing_rises() -> None:
    """A closed contact holds its line down, and a line without a capacitor is up at once."""
    assert passed(waveform(schmitt(3.5, 1.5), power_up=1), CLOSED, [], 0.01) == []
    assert passed(waveform(schmitt(3.5, 1.5), BARE, power_up=1), OPEN, [], 0.01) == []


def test_a_contact_that_moves_first_has_the_first_edge() -> None:
    """Closed before the line is up, then opened: the rise is the contact's."""
    spec = waveform(schmitt(3.5, 1.5), power_up=1)
    (edge,) = passed(spec, OPEN, [ticks(100e-6), ticks(300e-6)], 0.01)
    assert (edge.transition, edge.origin) == (1, MAIN)


def dips_of(run: int, line: int = 0) -> list[Out]:
    """Edges of an open line whose threshold lies above the dipped supply."""
    return passed(waveform(plain(4.0), BARE, dips=DIPS), OPEN, [], 1.0, run=run, line=line)


@pytest.mark.parametrize("run", range(5))
def test_a_dip_is_an_edge_down_and_one_up(run: int) -> None:
    found = dips_of(run)
    assert len(found) > 100
    for down, up in zip(found[::2], found[1::2], strict=True):
        assert up.time - down.time == ticks(DIPS.length)
        assert (down.level, up.level) == (0, 1)
    assert {(e.transition, e.origin) for e in found} == {(-1, SUPPLY_DIP)}
    assert dips_of(run, line=1) == found


def test_time_between_dips_is_exponential() -> None:
    """Mean 1 / rate from the end of one dip to the next (false-alarm rate 1e-4)."""
    gaps = []
    for run in range(20):
        found = dips_of(run)
        gaps += [down.time - up.time for up, down in zip(found[1:-1:2], found[2::2], strict=True)]
    assert len(gaps) > 3000
    assert stats.kstest(np.array(gaps) * 1e-12, "expon", args=(0.0, 1.0 / DIPS.rate)).pvalue > 1e-4


def test_thresholds_that_follow_the_supply_see_no_dip() -> None:
    spec = waveform(plain(0.8, of_supply=1), BARE, dips=DIPS)
    assert passed(spec, OPEN, [], 1.0) == []


def test_a_capacitor_holds_the_line_through_a_short_dip() -> None:
    """From 5 V towards 3 V with 200 us: 4 V after ln 2 of that, 138.6 us."""
    for length, edges in ((138e-6, False), (139e-6, True)):
        spec = waveform(plain(4.0), dips=Dips(20.0, 0.4, length))
        assert bool(passed(spec, OPEN, [], 1.0)) == edges


def test_a_threshold_that_jumps_up_again_at_the_end_of_a_dip() -> None:
    """In a long dip the line settles at 3 V; then the threshold is back at 4 V at once, the line
    200 us ln 2 later: low until then.
    """
    spec = waveform(plain(0.8, of_supply=1), dips=Dips(20.0, 0.4, 5e-3))
    found = passed(spec, OPEN, [], 1.0)
    assert len(found) >= 2
    for down, up in zip(found[::2], found[1::2], strict=True):
        assert up.time - down.time == pytest.approx(200e-6 * math.log(2.0) * 1e12, abs=2)
        assert (down.origin, up.origin) == (SUPPLY_DIP, SUPPLY_DIP)


def test_a_change_on_its_way_stays_the_contact_s() -> None:
    """A contact opens; while the line still rises to 2.5 V the supply dips: the rise is the contact's."""
    dips = Dips(2000.0, 0.1, 20e-6)
    seen = set()
    for run in range(40):
        (edge,) = passed(waveform(schmitt(2.5, 1.0), dips=dips), CLOSED, [0], 1e-3, run=run)
        assert (edge.transition, edge.origin) == (0, MAIN)
        seen.add(edge.time)
    assert len(seen) > 3, "no dip came in between"


def test_leakage_shifts_what_a_line_tends_to() -> None:
    """Evenly within +- 10 uA through 20 kohm: +- 0.2 V (false-alarm rate 1e-4); the same unit in both
    stages.
    """
    logic = schmitt(3.5, 1.5, leakage=Leakage(10e-6))
    general = waveform(logic)
    ends = []
    for run in range(2000):
        pole = stage_build(Analogue(general.supply, general.resistance, section(), logic), 5, run, 0)
        line = stage_build(general, 5, run, 0)
        assert isinstance(pole, Pole)
        state = stage_start(line, OPEN)
        assert state.node.x == pole.v_open
        assert stage_start(line, CLOSED).node.x == pole.v_closed
        ends.append(pole.v_open)
    assert stats.kstest(ends, "uniform", args=(4.8, 0.4)).pvalue > 1e-4


def test_no_leakage_changes_no_bit() -> None:
    spec = Analogue(exact(5.0), Resistance(3.0, 0.5), section(), schmitt(3.5, 1.5))
    pole = stage_build(spec, 5, 9, 0)
    assert pole.v_open == 5.0
    assert pole.tau_open == (10e3 + 10e3) * 10e-9


def closures(per_closure: int, run: int = 0) -> list[float]:
    """The contact's resistance at each of twenty closures, by what the line is left at."""
    spec = waveform(schmitt(3.5, 1.5), BARE, resistance=Resistance(100.0, 0.5, per_closure))
    unit = stage_build(spec, 5, run, 0)
    state = stage_start(unit, OPEN)
    found = []
    for number in range(20):
        state = stage_edge(unit, state, (2 * number + 1) * MILLISECOND, CLOSED)
        volts = state.node.x
        assert volts == pytest.approx(5.0 * state.ohms / (10e3 + state.ohms), rel=1e-12)
        found.append(state.ohms)
        state = stage_edge(unit, state, (2 * number + 2) * MILLISECOND, OPEN)
        assert state.node.x == 5.0
    return found


def test_resistance_per_closure() -> None:
    """One value per unit, or a lognormal value at each closure (false-alarm rate 1e-4)."""
    assert len(set(closures(0))) == 1
    found = [ohms for run in range(40) for ohms in closures(1, run)]
    assert len(set(found)) == len(found)
    assert stats.kstest(np.log(np.array(found) / 100.0), "norm", args=(0.0, 0.5)).pvalue > 1e-4


def test_thresholds_in_a_dip() -> None:
    """Absolute ones stay, shares of the supply follow it."""
    unit = stage_build(waveform(plain(4.0), dips=DIPS), 1, 0, 0)
    assert unit.low_volts == pytest.approx(3.0)
    assert unit.dipped == unit.steady
    share = stage_build(waveform(schmitt(3.5, 1.5)._replace(rising=level(0.7, 1)), dips=DIPS), 1, 0, 0)
    assert share.dipped.rising == pytest.approx(0.6 * share.steady.rising)
