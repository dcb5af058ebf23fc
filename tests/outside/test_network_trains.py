"""Whole lines with two sections or a diode, edge train after edge train, against scipy.

Between two edges the reference samples the voltage by matrix exponential (two sections) or by the
differential equation solver (diode), and looks for thresholds with Brent's method; ours has closed forms
and Newton's.  Sources as in test_network_solver; Brent, Algorithms for Minimization without Derivatives
(1973).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.linalg import expm
from scipy.optimize import brentq

from simcore.base.draws import Part
from simcore.base.records import Floats
from simcore.base.ticks import TICKS_PER_SECOND
from simcore.networks.analogue import Resistance
from simcore.networks.diode import DiodeCapacitor, DiodePole
from simcore.networks.ladder import Ladder, TwoSection
from simcore.networks.response import Drive, node_rest
from simcore.networks.supply import STEADY
from simcore.networks.waveform import Waveform
from tests.outside.lines import one_run, part, schmitt, through, times_of
from tests.outside.test_network_solver import circuit, diode_slope

SUPPLY, OHMS, RISING, FALLING = 5.0, 20.0, 2.9, 1.7
TOLERANCE, TIE = 3, 1e-9
"""Ticks by which turns may differ; seconds within which turn and edge are too close to call."""
MORE = 400
"""Samples between two edges."""

Path = Callable[[int, Floats, Floats], Floats]
"""The nodes, a row each, at times (s) after an edge, given the contact and the nodes at that edge."""


def ladder_path(parts: Ladder) -> Path:
    """By the matrix exponential."""

    def path(closed: int, start: Floats, times: Floats) -> Floats:
        matrix, driven = circuit(parts, Drive(closed, SUPPLY, OHMS, 0.0))
        whole = np.zeros((3, 3))
        whole[:2, :2], whole[:2, 2] = matrix, driven
        found: Floats = (expm(whole * times[:, None, None]) @ np.array([*start, 1.0]))[:, :2]
        return found

    return path


def diode_path(parts: DiodePole) -> Path:
    """By the solver's own interpolation."""

    def path(closed: int, start: Floats, times: Floats) -> Floats:
        slope = diode_slope(parts, Drive(closed, SUPPLY, OHMS, 0.0))
        scale = parts.pull * parts.farads
        ends = np.unique(np.append(times, 0.0)) / scale
        solved = solve_ivp(
            lambda t, v: slope(t, v) * scale, (0.0, max(ends[-1], 1e-9)), [start[0]], method="DOP853",
            dense_output=True, rtol=1e-12, atol=1e-13, max_step=0.2,
        )  # fmt: skip
        assert solved.sol is not None
        first = solved.sol(times / scale)[0]
        return np.stack([first, 0.0 * first], axis=1)

    return path


def passing(path: Path, closed: int, node: Floats, mark: float) -> Callable[[float], float]:
    """Volts beyond a threshold as a function of the time since an edge."""
    return lambda seconds: float(path(closed, node, np.array([seconds]))[0, 0]) - mark


def turns_of(path: Path, start: Floats, first: int, times: list[int], tail: float) -> list[float]:
    """Ticks at which the input turns, edge by edge; a turn too close to an edge turns the example down."""
    closed, node, high = first, start, bool(start[0] >= RISING)
    found = []
    for begin, end in zip(times, [*times[1:], times[-1] + int(tail * TICKS_PER_SECOND)], strict=True):
        closed ^= 1
        span = (end - begin) / TICKS_PER_SECOND
        grid = np.linspace(0.0, span, MORE)
        volts = path(closed, node, grid)[:, 0]
        place = 0
        while place is not None:
            mark = FALLING if high else RISING
            beyond = (volts[place:] < mark) if high else (volts[place:] > mark)
            assume(not beyond[0])
            if not beyond.any():
                break
            place += int(np.argmax(beyond))
            ahead = passing(path, closed, node, mark)
            time = brentq(ahead, grid[place - 1], grid[place], xtol=1e-15, rtol=1e-14)
            assume(TIE < time < span - TIE)
            found.append(begin + time * TICKS_PER_SECOND)
            high = not high
        assume(abs(volts[-1] - (FALLING if high else RISING)) > 1e-6)
        node = path(closed, node, np.array([span]))[0]
    return found


def compare(network: Any, parts: Any, path: Path, first: int, times: list[int], tail: float) -> None:
    """Ours against the reference's."""
    line: Any = Waveform(part(SUPPLY), Resistance(OHMS, 0.0), network, schmitt(RISING, FALLING), STEADY, 0)
    rest = np.array(node_rest(parts, Drive(first, SUPPLY, OHMS, 0.0)))
    expected = turns_of(path, rest, first, times, tail)
    ours = through(line, one_run(first, times)).times
    assert ours.size == len(expected)
    assert np.abs(ours - np.array(expected)).max(initial=0.0) <= TOLERANCE


def spans(scale: float) -> st.SearchStrategy[list[int]]:
    """Edge ticks with spacings of the order of a time constant (s)."""
    shares = st.lists(st.floats(0.02, 3.0), min_size=1, max_size=8)
    return shares.map(lambda each: times_of([int(share * scale * TICKS_PER_SECOND) + 1 for share in each]))


ROOM = [HealthCheck.filter_too_much, HealthCheck.too_slow]


@settings(max_examples=30, deadline=None, suppress_health_check=ROOM)
@given(st.data(), st.floats(0.05, 20.0), st.floats(0.1, 5.0), st.integers(0, 1))
def test_two_sections(data: st.DataObject, unlike: float, weaker: float, first: int) -> None:
    values = 10e3, 4.7e3, 47e-9, 4.7e3 * weaker, 47e-9 * unlike
    network = TwoSection(*(Part(value, 0.0) for value in values))
    times = data.draw(spans(1e-3 * (1.0 + unlike)))
    compare(network, Ladder(*values), ladder_path(Ladder(*values)), first, times, 0.02 * (1.0 + unlike))


@settings(max_examples=20, deadline=None, suppress_health_check=ROOM)
@given(st.data(), st.floats(0.0, 1.5), st.floats(1e3, 3e4), st.integers(0, 1), st.integers(0, 1))
def test_steering_diode(data: st.DataObject, drop: float, ohms: float, charging: int, first: int) -> None:
    values = 10e3, ohms, 47e-9, drop
    parts = DiodePole(*values, charging)
    network = DiodeCapacitor(part(10e3), part(ohms), part(47e-9), part(drop), charging)
    compare(network, parts, diode_path(parts), first, data.draw(spans(1e-3)), 0.02)
