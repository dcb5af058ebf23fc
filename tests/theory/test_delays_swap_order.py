"""Unequal delays swap the order of A and B, and then swallow pulses.

Steady turning upward, clean contacts, A clocking on its falling edge, closed spans of c cycles a
phase p apart, T per cycle.  B opens and A closes (1 - c - p) T later.  B's rise reaches the
counter after the rise delay r, A's fall after the fall delay f.  So, once r - f exceeds
(1 - c - p) T, the clock edge finds B still low and every step but the first (before which B has
been high for long) counts backward.  Turning down, B is low at A's fall anyway: all is well.
Once r exceeds the open part (1 - c) T, A never rises again and every step but the first is missed,
whichever way.

The discharge is made so quick that every rise starts from the closed voltage; the fall starts
from where the rise has got to.
"""

from __future__ import annotations

import math

from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from simcore.base.draws import Part
from simcore.design import Design
from simcore.hand.base import DOWN, UP
from simcore.hand.geometry import Geometry
from simcore.judging.sums import MISSED, NO_CAUSE, ORDER, REVERSED, RIGHT, SWALLOWED
from simcore.networks.single_pole import SeriesCapacitor
from tests.theory import designs as make
from tests.theory.looking import look

VOLTS, RISING, FALLING = 5.0, 3.0, 2.0
PULL_UP, SERIES = 1e4, 1.0
STEPS = 9
CYCLE = 20e-3


def rise_delay(farads: float) -> float:
    """Seconds from the closed voltage, 0, to the rising threshold."""
    return (PULL_UP + SERIES) * farads * math.log(VOLTS / (VOLTS - RISING))


def fall_delay(farads: float, opened: float) -> float:
    """Seconds to the falling threshold after ``opened`` seconds of charging from 0."""
    start = VOLTS * (1.0 - math.exp(-opened / ((PULL_UP + SERIES) * farads)))
    return SERIES * farads * math.log(start / FALLING)


def turned(closed: float, phase: float, farads: float, heading: int) -> Design:
    """Steady turning of STEPS steps, a cycle each."""
    network = SeriesCapacitor(Part(PULL_UP, 0.0), Part(SERIES, 0.0), Part(farads, 0.0))
    return make.design(
        make.spin(STEPS, CYCLE, heading),
        geometry=Geometry(20.0, 1.0, closed, 0.0, phase, 0.0, 0.0, 0.0),
        stages=make.filtered(network, make.schmitt(RISING, FALLING)),
    )  # fmt: skip


spans = st.floats(0.4, 0.6)
phases = st.floats(0.15, 0.35)
just = st.one_of(st.floats(0.98, 0.9999), st.floats(1.0001, 1.02), st.floats(0.3, 0.98), st.floats(1.02, 1.4))
"""Shares of a limit, many of them close to it on either side."""


@settings(max_examples=100, deadline=None)
@given(spans, phases, just, st.sampled_from([UP, DOWN]))
def test_order_is_swapped_once_the_delays_differ_by_the_spacing(
    closed: float, phase: float, share: float, heading: int
) -> None:
    spacing, opened = (1.0 - closed - phase) * CYCLE, (1.0 - closed) * CYCLE
    wanted = min(share * spacing, 0.95 * opened)
    farads = float(brentq(lambda c: rise_delay(c) - fall_delay(c, opened) - wanted, 1e-12, 1e-4, xtol=1e-18))
    assert rise_delay(farads) < opened
    run = look(turned(closed, phase, farads, heading), 0, 1)[0]
    swapped = heading == UP and wanted > spacing
    assert run.verdicts == (RIGHT, *[REVERSED if swapped else RIGHT] * (STEPS - 1))
    assert run.causes == (NO_CAUSE, *[ORDER if swapped else NO_CAUSE] * (STEPS - 1))


@settings(max_examples=60, deadline=None)
@given(spans, phases, st.one_of(st.floats(1.0001, 1.02), st.floats(1.02, 4.0)), st.sampled_from([UP, DOWN]))
def test_pulses_are_lost_once_the_rise_outlasts_the_open_part(
    closed: float, phase: float, share: float, heading: int
) -> None:
    farads = share * (1.0 - closed) * CYCLE / rise_delay(1.0)
    run = look(turned(closed, phase, farads, heading), 0, 1)[0]
    assert run.verdicts == (RIGHT, *[MISSED] * (STEPS - 1))
    assert run.causes == (NO_CAUSE, *[SWALLOWED] * (STEPS - 1))
