"""Networks beyond the single section at a pull-up, against published and computed values.

Pull-up at the capacitor, and the mirrored filter: Thevenin's theorem, computed; filter values of 10 kohm,
10 kohm and 10 nF at 5 V from a published encoder data sheet.  Two equal sections: H(s) = 1/(s^2 + 3s + 1),
computed three ways.  The first moment of the impulse response: W. C. Elmore, Journal of Applied Physics
19 (1948) 55 (from memory, recomputed).
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from scipy.integrate import quad

from simcore.networks.ladder import Ladder, TwoSection, ladder_modes
from simcore.networks.response import (
    NEVER_SECONDS,
    Drive,
    Node,
    network_parts,
    node_after,
    node_crosses,
    node_reaches,
    node_rest,
)
from simcore.networks.single_pole import AtCapacitor, PullDownAcross, PullDownDirect, PullDownSeries
from tests.outside.lines import CLOSED, OPEN, built, crossing_time, line, part, schmitt

NOMINAL = (0.5, 0.5, 0.5, 0.5)


def parts_of(network: Any) -> Any:
    """A unit whose parts are all nominal."""
    return network_parts(network, NOMINAL, NOMINAL)


def change(network: Any, before: int, volts: float, supply: float = 5.0, ohms: float = 0.0) -> float:
    """Seconds from the contact leaving its long-held state to ``volts``, by the response rules."""
    parts = parts_of(network)
    start = node_rest(parts, Drive(before, supply, ohms, 0.0))
    return node_reaches(parts, Drive(1 - before, supply, ohms, 0.0), start, volts)


AT_CAPACITOR = AtCapacitor(part(10e3), part(1e3), part(100e-9))


def test_pull_up_at_the_capacitor() -> None:
    """10 kohm to 5 V at 100 nF, 1 kohm to the contact: 1.000 ms up, 90.90909 us down, 0.4545455 V
    left, from 5 V to 1.5 V in 133.606906 us.
    """
    spec = line(5.0, AT_CAPACITOR, schmitt(3.5, 1.5))
    pole = built(spec)
    assert pole.tau_open == pytest.approx(1.000e-3, rel=1e-12)
    assert pole.tau_closed == pytest.approx(90.90909e-6, rel=1e-7)
    assert pole.v_closed == pytest.approx(0.4545455, rel=1e-7)
    assert crossing_time(spec, OPEN) == pytest.approx(133.606906e-6, rel=1e-6)
    assert change(AT_CAPACITOR, OPEN, 1.5) == pytest.approx(133.606906e-6, rel=1e-8)
    assert node_rest(parts_of(AT_CAPACITOR), Drive(1, 5.0, 0.0, 0.0)).x == pytest.approx(0.4545455, rel=1e-7)


DOWN = PullDownSeries(part(10e3), part(10e3), part(10e-9))
# The sheet's filter upside down: microseconds to 3.5 V and 1.5 V become those to 1.5 V and 3.5 V.
RISES = [(1.5, 0.0, 35.667494), (3.5, 0.0, 120.397280), (1.5, 3.0, 35.691053), (3.5, 3.0, 120.503434)]
FALLS = [(3.5, 71.33499), (1.5, 240.79456)]


@pytest.mark.parametrize(("volts", "ohms", "microseconds"), RISES)
def test_contact_to_the_supply_closes(volts: float, ohms: float, microseconds: float) -> None:
    spec = line(5.0, DOWN, schmitt(volts, 0.5), ohms)
    assert crossing_time(spec, OPEN) == pytest.approx(microseconds * 1e-6, rel=1e-6)
    assert change(DOWN, OPEN, volts, ohms=ohms) == pytest.approx(microseconds * 1e-6, rel=1e-6)


@pytest.mark.parametrize(("volts", "microseconds"), FALLS)
def test_contact_to_the_supply_opens(volts: float, microseconds: float) -> None:
    spec = line(5.0, DOWN, schmitt(4.5, volts))
    assert crossing_time(spec, CLOSED) == pytest.approx(microseconds * 1e-6, rel=1e-6)
    assert change(DOWN, CLOSED, volts) == pytest.approx(microseconds * 1e-6, rel=1e-6)


def test_capacitor_beside_the_pull_down() -> None:
    """Charged through the contact's own 3 ohm, discharged through 10 kohm: ln 2 of either."""
    network = PullDownAcross(part(10e3), part(10e-9))
    lower = 3.0 * 10e3 / 10003.0
    peak = 5.0 * 10e3 / 10003.0
    assert change(network, OPEN, peak / 2.0, ohms=3.0) == pytest.approx(
        math.log(2.0) * lower * 10e-9, rel=1e-9
    )
    assert change(network, CLOSED, peak / 2.0, ohms=3.0) == pytest.approx(math.log(2.0) * 1e-4, rel=1e-9)


def test_a_pull_down_alone_follows_at_once() -> None:
    parts = parts_of(PullDownDirect(part(10e3)))
    shut, opened = Drive(1, 5.0, 3.0, 0.0), Drive(0, 5.0, 3.0, 0.0)
    assert node_rest(parts, shut).x == pytest.approx(5.0 * 10e3 / 10003.0, rel=1e-12)
    assert node_after(parts, opened, node_rest(parts, shut), 0.0) == Node(0.0, 0.0)
    assert node_reaches(parts, opened, node_rest(parts, shut), 2.5) == 0.0
    assert node_reaches(parts, opened, node_rest(parts, opened), 2.5) == NEVER_SECONDS


EQUAL = Ladder(0.25, 0.75, 1.0, 1.0, 1.0)
"""Two equal sections of 1 ohm and 1 F with the contact open; the pull-up is part of the first."""
RISE = Drive(0, 1.0, 0.0, 0.0)
ZERO = Node(0.0, 0.0)


def test_poles_of_two_equal_sections() -> None:
    """(3 - sqrt 5)/2 and (3 + sqrt 5)/2 per RC."""
    modes = ladder_modes(EQUAL, RISE)
    assert 1.0 / modes.slow == pytest.approx(0.381966011, abs=1e-9)
    assert 1.0 / modes.fast == pytest.approx(2.618033989, abs=1e-9)


STEP = [(1.0, 0.213354401), (2.0, 0.455504334), (3.0, 0.627817694), (5.0, 0.826595350)]


@pytest.mark.parametrize(("seconds", "volts"), STEP)
def test_step_of_two_equal_sections(seconds: float, volts: float) -> None:
    seen = node_after(EQUAL, RISE, ZERO, seconds).x
    assert seen == pytest.approx(volts, abs=1e-9)
    slow, fast = math.exp(-0.381966011250105 * seconds), math.exp(-2.618033988749895 * seconds)
    assert seen == pytest.approx(1.0 - 1.170820393249937 * slow + 0.170820393249937 * fast, abs=1e-14)


TIMES = [
    (0.1, 0.58284467), (0.3, 1.32693661), (0.5, 2.22491916), (0.7, 3.56478608), (0.9, 6.44112207),
]  # fmt: skip


@pytest.mark.parametrize(("volts", "seconds"), TIMES)
def test_times_of_two_equal_sections(volts: float, seconds: float) -> None:
    assert node_reaches(EQUAL, RISE, ZERO, volts) == pytest.approx(seconds, abs=1e-8)


def test_rise_of_two_equal_sections() -> None:
    low, high = (node_reaches(EQUAL, RISE, ZERO, volts) for volts in (0.1, 0.9))
    assert high - low == pytest.approx(5.85827740, abs=1e-8)


def elmore(parts: Ladder) -> float:
    """First moment of the impulse response, the area above the step response (s)."""
    modes = ladder_modes(parts, RISE)

    def missing(share: float) -> float:
        return 1.0 - node_after(parts, RISE, ZERO, share * modes.slow).x

    return modes.slow * float(quad(missing, 0.0, 60.0, epsabs=1e-13, epsrel=1e-13, limit=400)[0])


def test_delay_of_two_equal_sections() -> None:
    """R1 (C1 + C2) + R2 C2 = 3 RC."""
    assert elmore(EQUAL) == pytest.approx(3.0, abs=1e-9)


def test_unequal_sections() -> None:
    """10 kohm and 1 nF, 10 kohm and 10 nF: 205.124922 us, 4.875078 us, first moment 210.000 us."""
    network = TwoSection(part(1.0), part(9999.0), part(1e-9), part(10e3), part(10e-9))
    modes = ladder_modes(parts_of(network), RISE)
    assert modes.slow == pytest.approx(205.124922e-6, rel=1e-8)
    assert modes.fast == pytest.approx(4.875078e-6, rel=1e-6)
    assert elmore(parts_of(network)) == pytest.approx(210.000e-6, rel=1e-9)


def test_closing_on_the_first_section() -> None:
    """With the contact shut and the pull-up shorted away the first section has its resistor alone: the
    poles of RC = 1 again, now falling, with 0.9, 0.7 ... as the mirrored times.
    """
    parts = Ladder(5.0, 1.0, 1.0, 1.0, 1.0)
    start = node_rest(parts, Drive(0, 1.0, 0.0, 0.0))
    assert start == Node(1.0, 1.0)
    for volts, seconds in TIMES:
        found = node_crosses(parts, Drive(1, 1.0, 0.0, 0.0), start, 1.0 - volts, 0)
        assert found == pytest.approx(seconds, abs=1e-8)
