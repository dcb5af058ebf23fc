"""Checks against published values: time constants, thresholds, transition limits, contact currents.

A4, A4' and A4": the filter that a published encoder data sheet suggests, 5 V, 10 kohm, 10 kohm and 10 nF,
with thresholds of 1.5 and 3.5 V from the same sheet.  B6: the data sheet of a high-speed CMOS inverter
allows edges of 500 ns from 10 to 90 % at 4.5 V; 2.197 tau: any text on circuits.
"""

from __future__ import annotations

import math

import pytest

from simcore.base.check import FAIL, NOT_APPLICABLE, PASS, Check
from simcore.base.draws import Part
from simcore.checks.context import CheckContext, context_of
from simcore.checks.networks import (
    charge,
    discharge,
    energy_at_closure,
    peak,
    ride_through,
    transition,
    wetting,
)
from simcore.contacts.bursts import Telegraph, TelegraphSide
from simcore.design import Design, StageEntry
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import Level, PlainInput, SchmittInput
from simcore.networks.ladder import TwoSection
from simcore.networks.single_pole import AcrossCapacitor, AtCapacitor, SeriesCapacitor
from tests.theory import designs as make

SHEET = SeriesCapacitor(Part(10e3, 0.0), Part(10e3, 0.0), Part(10e-9, 0.0))
LEVELS = make.schmitt(3.5, 1.5)
CHATTER = TelegraphSide(3.0, 200e-6, 0.0, 200e-6)


def design_of(
    network: object,
    logic: object = LEVELS,
    ohms: float = 0.0,
    edge: float | None = None,
    contact: object = make.CLEAN,
) -> Design:
    """One section on both lines at 5 V, turned slowly."""
    stages = (StageEntry("filter", network), StageEntry("input", logic, (0, 1), edge))
    return make.design(
        make.spin(3, 0.1),
        stages=stages,
        resistance=Resistance(ohms, 0.0),
        contact=contact,
        supply=Part(5.0, 0.0),
    )


def context(
    network: object, logic: object = LEVELS, ohms: float = 0.0, edge: float | None = None
) -> CheckContext:
    return context_of(design_of(network, logic, ohms, edge))


def result(check: Check) -> float:
    assert check.result is not None
    return check.result


def test_charge_time_of_the_suggested_filter() -> None:
    """A4: 240.79456 us to 3.5 V with tau = 200 us."""
    this = context(SHEET)
    assert result(charge(this, this.sections[0])) == pytest.approx(240.79456e-6, rel=1e-6)


@pytest.mark.parametrize(("ohms", "seconds"), [(0.0, 120.397280e-6), (3.0, 120.503434e-6)])
def test_discharge_time_of_the_suggested_filter(ohms: float, seconds: float) -> None:
    """A4' without contact resistance and A4" with 3 ohm, the most that a data sheet states."""
    this = context(SHEET, ohms=ohms)
    assert result(discharge(this, this.sections[0])) == pytest.approx(seconds, rel=1e-6)


def test_discharge_with_the_pull_up_at_the_capacitor() -> None:
    """A4b: 10 kohm at the capacitor, 1 kohm to the contact, 100 nF: 133.606906 us from 5 to 1.5 V."""
    this = context(AtCapacitor(Part(10e3, 0.0), Part(1e3, 0.0), Part(100e-9, 0.0)))
    assert result(discharge(this, this.sections[0])) == pytest.approx(133.606906e-6, rel=1e-6)


def test_charge_time_of_two_equal_sections() -> None:
    """A5': the second node of two equal sections passes 70 % after 3.56478608 RC; here with no pull-up worth
    mentioning, so that the first section is the resistor alone.
    """
    rc = TwoSection(Part(1e-6, 0.0), Part(10e3, 0.0), Part(10e-9, 0.0), Part(10e3, 0.0), Part(10e-9, 0.0))
    logic = make.schmitt(3.5, 1.5)
    this = context(rc, logic)
    assert result(charge(this, this.sections[0])) == pytest.approx(3.56478608 * 1e-4, rel=1e-6)


def test_an_opening_shorter_than_the_way_to_the_threshold_is_bridged() -> None:
    """A6: the shortest isolated opening that can cross 3.5 V is 240.79 us; 200 us of chatter are shorter."""
    this = context_of(design_of(SHEET, contact=Telegraph(CHATTER, CHATTER)))
    check = ride_through(this, this.sections[0])
    assert result(check) == pytest.approx(240.79456e-6, rel=1e-6)
    assert check.verdict == PASS
    assert check.limit == pytest.approx(200e-6, rel=0.2)


PLAIN = PlainInput(Level(Part(0.3, 0.0), 1), Level(Part(0.7, 0.0), 1), 0)


def test_a_capacitor_in_front_of_a_plain_input_is_879_times_too_slow() -> None:
    """B7: 439.445 us from 10 to 90 %, 879 times the 500 ns allowed."""
    this = context(SHEET, PLAIN, edge=500e-9)
    check = transition(this, this.sections[0])
    assert (check.verdict, check.limit) == (FAIL, 500e-9)
    assert result(check) == pytest.approx(439.445e-6, rel=1e-6)
    assert round(result(check) / 500e-9) == 879
    assert "hysteresis" in check.advice


@pytest.mark.parametrize(("tau", "verdict"), [(227.55e-9, "tight"), (227.57e-9, FAIL), (200e-9, PASS)])
def test_the_longest_time_constant_that_meets_500_ns(tau: float, verdict: str) -> None:
    """B7: 227.56 ns."""
    network = AcrossCapacitor(Part(10e3, 0.0), Part(tau / 10e3, 0.0))
    this = context(network, PLAIN, edge=500e-9)
    assert transition(this, this.sections[0]).verdict == verdict


def test_an_input_with_hysteresis_knows_no_such_limit() -> None:
    """B8: a data sheet of inverters with hysteresis: no requirement on the rate of transitions."""
    this = context(SHEET)
    check = transition(this, this.sections[0])
    assert check.verdict == NOT_APPLICABLE
    assert "hysteresis" in check.why


def test_currents_of_the_suggested_filter() -> None:
    """Ohm's law: 5 V over 10 kohm through the capacitor and as much through the pull-up, less what the 3 ohm
    of the contact take; 0.5 mA go on to flow (10 kohm at 5 V, the usual contact current).
    """
    this = context(SHEET, ohms=3.0)
    section = this.sections[0]
    assert result(peak(this, section)) == pytest.approx(5.0 / (5e3 + 3.0), rel=1e-12)
    assert result(wetting(this, section)) == pytest.approx(5.0 / 10003.0, rel=1e-12)
    assert result(energy_at_closure(this, section)) == pytest.approx(0.5 * 10e-9 * 25.0, rel=1e-12)


def test_thresholds_at_all_ends_of_a_data_sheet() -> None:
    """B3: an inverter with hysteresis at 4.5 V rises anywhere from 1.7 to 3.15 V and falls from 0.9 to 2.0 V:
    the charge time is that to the highest, the discharge time that to the lowest.
    """
    rising, falling = Part((1.7 + 3.15) / 2, 0.725 / 2.425), Part((0.9 + 2.0) / 2, 0.55 / 1.45)
    logic = SchmittInput(Level(rising, 0), Level(falling, 0), 0)
    design = design_of(SHEET, logic)
    this = context_of(design)
    section = this.sections[0]
    assert result(charge(this, section)) == pytest.approx(200e-6 * math.log(5.0 / (5.0 - 3.15)), rel=1e-9)
    assert result(discharge(this, section)) == pytest.approx(100e-6 * math.log(5.0 / 0.9), rel=1e-9)
