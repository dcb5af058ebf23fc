"""Random networks and edge trains against scipy's differential equation solver.

The solver steps dv/dt = (v_end - v) / tau from edge to edge and looks for thresholds with its
own event finder; ours takes logarithms.  Solver: DOP853, Hairer, Norsett and Wanner, Solving
Ordinary Differential Equations I (1993).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from simcore.base.records import Floats
from simcore.base.ticks import TICKS_PER_SECOND
from simcore.networks.analogue import Analogue, Pole, volts_at
from simcore.stages.base import stage_edge, stage_start
from tests.outside.lines import CLOSED, OPEN, across, built, one_run, schmitt, series, through, times_of

TOLERANCE = 2
"""Ticks: one for each engine's rounding."""
TIE = 20
"""Ticks within which a crossing and an edge are too close to say which comes first."""

ENOUGH = 8.0
"""Time constants in which every threshold drawn here is crossed."""


@dataclass
class Solved:
    """What the solver says: ticks of the input's turns, and the voltage at each edge."""

    turns: list[float]
    volts: list[float]


def segment(target: float, tau: float, start: float, taus: float, mark: float) -> tuple[float, float | None]:
    """Voltage after ``taus`` time constants, and the time (time constants) at which it meets ``mark``."""

    def slope(_: float, v: Floats) -> list[float]:
        return [target - float(v[0])]

    def meets(_: float, v: Floats) -> float:
        return float(v[0]) - mark

    solved = solve_ivp(
        slope, (0.0, taus), [start], method="DOP853", events=meets, rtol=1e-13, atol=1e-14, max_step=0.05
    )
    assert solved.t_events is not None
    met = solved.t_events[0]
    return float(solved.y[0][-1]), float(met[0]) if met.size else None


def ahead(pole: Pole, target: float, high: bool) -> float | None:
    """The threshold that the voltage makes for, if it lies on the way."""
    if high:
        return pole.falling if target < pole.falling else None
    return pole.rising if target > pole.rising else None


def solve(pole: Pole, first: int, times: list[int]) -> Solved:
    """Edge by edge; hypotheses with ties are turned down."""
    closed = first
    v = pole.v_closed if closed else pole.v_open
    high = v >= pole.rising
    now = times[0]
    turns, volts = [], []
    last = times[-1] + int(ENOUGH * max(pole.tau_open, pole.tau_closed) * TICKS_PER_SECOND)
    for following in [*times[1:], last]:
        closed ^= 1
        volts.append(v)
        target, tau = (pole.v_closed, pole.tau_closed) if closed else (pole.v_open, pole.tau_open)
        scale = tau * TICKS_PER_SECOND
        taus = min((following - now) / scale, ENOUGH if following == last else 40.0)
        mark = ahead(pole, target, high)
        before = v
        v, met = segment(target, tau, v, taus, pole.rising if mark is None else mark)
        if mark is not None and met is not None and abs(before - mark) > 1e-12:
            assume(taus - met > TIE / scale)
            turns.append(now + met * scale)
            high = not high
        elif mark is not None:
            slope = abs(target - v) / scale
            assume(abs(v - mark) > TIE * slope)
        now = following
    return Solved(turns, volts)


@st.composite
def lines(draw: st.DrawFn) -> Analogue:
    """A network with an input whose thresholds lie well within the swing."""
    supply = draw(st.floats(1.5, 6.0))
    rising = supply * draw(st.floats(0.45, 0.85))
    falling = rising - supply * draw(st.floats(0.02, 0.25))
    logic = schmitt(rising, falling)
    farads = draw(st.floats(1e-9, 3e-7))
    pull_up = draw(st.floats(1e3, 5e4))
    if draw(st.booleans()):
        resistor = draw(st.floats(100.0, 2e4))
        return series(supply, pull_up, resistor, farads, logic, draw(st.floats(0.0, 100.0)))
    return across(supply, pull_up, farads, logic, pull_up * draw(st.floats(0.01, 0.06)))


@st.composite
def trains(draw: st.DrawFn, pole: Pole) -> list[int]:
    """Edge ticks whose spacings are of the order of the time constants."""
    shares = draw(st.lists(st.floats(0.01, 3.0), min_size=1, max_size=14))
    taus = [pole.tau_open, pole.tau_closed]
    kinds = draw(st.lists(st.integers(0, 1), min_size=len(shares), max_size=len(shares)))
    spans = [share * taus[kind] for share, kind in zip(shares, kinds, strict=True)]
    return times_of([int(span * TICKS_PER_SECOND) + 1 for span in spans])


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_edge_trains(data: st.DataObject) -> None:
    spec = data.draw(lines())
    pole = built(spec)
    times = data.draw(trains(pole))
    first = data.draw(st.integers(OPEN, CLOSED))
    solved = solve(pole, first, times)
    ours = through(spec, one_run(first, times)).times
    assert ours.size == len(solved.turns)
    assert np.abs(ours - np.array(solved.turns)).max(initial=0.0) <= TOLERANCE


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_voltages_at_edges(data: st.DataObject) -> None:
    pole = built(data.draw(lines()))
    times = data.draw(trains(pole))
    first = data.draw(st.integers(OPEN, CLOSED))
    state = stage_start(pole, first)
    level = first
    for time, volts in zip(times, solve(pole, first, times).volts, strict=True):
        level ^= 1
        assert volts_at(pole, state, time) == pytest.approx(volts, abs=1e-11)
        state = stage_edge(pole, state, time, level)


def test_the_solver_itself() -> None:
    """The yardstick is good to a thousandth of a tick where the answer is known."""
    _, met = segment(5.0, 1.0, 0.0, 5.0, 3.5)
    assert met == pytest.approx(-math.log(0.3), abs=1e-13)
