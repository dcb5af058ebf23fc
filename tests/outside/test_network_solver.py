"""Random ladders and diode networks against scipy: matrix exponential and differential equation solver.

The references know Kirchhoff's laws and nothing of our closed forms.  The ladder's has three nodes and
the contact as a resistor, reduced by linear algebra; the diode's asks at every instant how the current
divides.  Matrix exponential: Al-Mohy and Higham, SIAM J. Matrix Anal. Appl. 31 (2009) 970.  Solver:
DOP853, Hairer, Norsett and Wanner, Solving Ordinary Differential Equations I (1993).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from simcore.base.records import Floats
from simcore.networks.diode import DiodePole
from simcore.networks.ladder import Ladder, ladder_modes
from simcore.networks.response import (
    NEVER_SECONDS,
    Drive,
    Node,
    node_after,
    node_crosses,
    node_reaches,
    node_rest,
)


def spread(low: float, high: float) -> st.SearchStrategy[float]:
    """A number whose logarithm is uniform, or nearly so."""
    return st.floats(np.log(low), np.log(high)).map(lambda value: float(np.exp(value)))


@st.composite
def drives(draw: st.DrawFn) -> Drive:
    """Either contact state, any supply, clean and dirty contacts, leakage both ways."""
    leak = draw(st.sampled_from([0.0, 1e-6, -1e-6, 2e-5, -2e-5]))
    return Drive(draw(st.integers(0, 1)), draw(st.floats(1.0, 15.0)), draw(spread(0.1, 1e4)), leak)


@st.composite
def ladders(draw: st.DrawFn, stiff: float = 1e3) -> Ladder:
    """Sections alike and unlike; ``stiff`` bounds how unlike the capacitors are."""
    first = draw(spread(1e-10, 1e-6))
    ohms = [draw(spread(100.0, 1e5)) for _ in range(3)]
    return Ladder(ohms[0], ohms[1], first, ohms[2], first * draw(spread(1.0 / stiff, stiff)))


@st.composite
def nodes(draw: st.DrawFn, supply: float) -> Node:
    """Anywhere within the rails and a little beyond, at rest or not."""
    return Node(*(supply * draw(st.floats(-0.1, 1.1)) for _ in range(2)))


def circuit(parts: Ladder, drive: Drive) -> tuple[Floats, Floats]:
    """A and b of d(x, y)/dt = A (x, y) + b, from the conductances between joint, y and x."""
    pull, first, second = 1.0 / parts.pull, 1.0 / parts.first_series, 1.0 / parts.second_series
    contact = 1.0 / drive.ohms if drive.closed else 0.0
    across = np.array([
        [second, -second, 0.0],
        [-second, first + second, -first],
        [0.0, -first, first + pull + contact],
    ])  # fmt: skip
    into = np.array([-drive.leak, 0.0, drive.volts * pull])
    kept = across[:2, :2] - np.outer(across[:2, 2], across[2, :2]) / across[2, 2]
    driven = into[:2] - across[:2, 2] * into[2] / across[2, 2]
    farads = np.array([parts.second_farads, parts.first_farads])
    return -kept / farads[:, None], driven / farads


def stepped(parts: Ladder, drive: Drive, node: Node, seconds: Floats) -> Floats:
    """The nodes after each of some times, a row each, by the exponential of the matrix with the drive
    in a third row.
    """
    matrix, driven = circuit(parts, drive)
    whole = np.zeros((3, 3))
    whole[:2, :2], whole[:2, 2] = matrix, driven
    found: Floats = (expm(whole * seconds[:, None, None]) @ np.array([*node, 1.0]))[:, :2]
    return found


@settings(max_examples=150, deadline=None)
@given(st.data(), ladders(), drives(), spread(1e-3, 20.0))
def test_ladder_voltages(data: st.DataObject, parts: Ladder, drive: Drive, share: float) -> None:
    node = data.draw(nodes(drive.volts))
    modes = ladder_modes(parts, drive)
    times = share * np.array([modes.slow, modes.fast])
    ours = np.array([node_after(parts, drive, node, float(seconds)) for seconds in times])
    assert np.abs(ours - stepped(parts, drive, node, times)).max() < 1e-8


def test_ladder_rest_solves_the_circuit() -> None:
    parts = Ladder(4700.0, 1000.0, 1e-7, 2200.0, 1e-8)
    for drive in (Drive(0, 3.3, 5.0, 1e-5), Drive(1, 3.3, 5.0, -1e-5), Drive(1, 5.0, 700.0, 0.0)):
        matrix, driven = circuit(parts, drive)
        rest = np.linalg.solve(matrix, -driven)
        assert np.array(node_rest(parts, drive)) == pytest.approx(rest, rel=1e-12)


@settings(max_examples=100, deadline=None)
@given(st.data(), ladders(), drives(), st.floats(-0.2, 1.2))
def test_ladder_crossings(data: st.DataObject, parts: Ladder, drive: Drive, share: float) -> None:
    """At the time found the reference has the voltage, and it has not passed it before."""
    node = data.draw(nodes(drive.volts))
    volts = share * drive.volts
    rest = node_rest(parts, drive).x
    assume(min(abs(volts - rest), abs(volts - node.x)) > 1e-3 * drive.volts)
    modes = ladder_modes(parts, drive)
    found = node_reaches(parts, drive, node, volts)
    last = 30.0 * modes.slow if found == NEVER_SECONDS else found
    times = last * np.concatenate([np.geomspace(1e-6, 0.03, 20), np.linspace(0.05, 0.999, 25), [1.0]])
    ahead = (stepped(parts, drive, node, times)[:, 0] - volts) * np.sign(node.x - volts)
    assert ahead[:-1].min() > -1e-9
    if found != NEVER_SECONDS:
        assert abs(ahead[-1]) < 1e-9


Slope = Callable[[float, Floats], Floats]


def solved(
    slope: Slope, start: list[float], scale: float, last: float, volts: float
) -> list[tuple[float, int]]:
    """Times (s) at which the first of the solver's variables passes ``volts``, with the direction."""
    found = []
    for direction in (1, -1):

        def meets(_: float, v: Floats) -> float:
            return float(v[0]) - volts

        meets.direction = direction  # type: ignore[attr-defined]
        answer = solve_ivp(
            lambda t, v: slope(t * scale, v) * scale, (0.0, last / scale), start, method="DOP853",
            events=meets, rtol=1e-12, atol=1e-13, max_step=0.25,
        )  # fmt: skip
        assert answer.t_events is not None
        found += [(float(t) * scale, direction) for t in answer.t_events[0]]
    return found


def compare_crossings(
    parts: Ladder | DiodePole,
    drive: Drive,
    node: Node,
    volts: float,
    seen: list[tuple[float, int]],
    near: float,
) -> None:
    """Each crossing of the solver's is ours, and the other way round."""
    for up, direction in ((1, 1), (0, -1)):
        ours = node_crosses(parts, drive, node, volts, up)
        theirs = [time for time, way in seen if way == direction]
        assert len(theirs) == (0 if ours == NEVER_SECONDS else 1)
        assert [ours] * len(theirs) == pytest.approx(theirs, abs=near)


@settings(max_examples=30, deadline=None)
@given(st.data(), ladders(stiff=5.0), drives(), st.floats(-0.1, 1.1))
def test_ladder_crossings_by_the_solver(
    data: st.DataObject, parts: Ladder, drive: Drive, share: float
) -> None:
    """Both directions, so the turning back is seen as well."""
    matrix, driven = circuit(parts, drive)
    modes = ladder_modes(parts, drive)
    assume(modes.slow < 20.0 * modes.fast)
    node = data.draw(nodes(drive.volts))
    volts = share * drive.volts
    clear = 1e-3 * drive.volts
    assume(abs(volts - modes.x) > clear and abs(volts - node.x) > clear)
    scale, last = modes.fast, 12.0 * modes.slow
    peak = solve_ivp(
        lambda t, v: (matrix @ v + driven) * scale, (0.0, last / scale), list(node), method="DOP853",
        rtol=1e-10, atol=1e-11, max_step=0.1,
    ).y[0]  # fmt: skip
    assume(min(abs(peak.max() - volts), abs(peak.min() - volts)) > clear)
    seen = solved(lambda _, v: matrix @ v + driven, list(node), scale, last, volts)
    compare_crossings(parts, drive, node, volts, seen, 1e-8 * modes.slow)


@st.composite
def diodes(draw: st.DrawFn) -> DiodePole:
    """Either way round, large and small drops."""
    drop = draw(st.sampled_from([0.0, 0.2, 0.6, 1.8]))
    ohms = draw(spread(500.0, 1e5)), draw(spread(500.0, 1e5))
    return DiodePole(*ohms, draw(spread(1e-9, 1e-6)), drop, draw(st.integers(0, 1)))


def diode_slope(parts: DiodePole, drive: Drive) -> Slope:
    """dv/dt by Kirchhoff: without the diode first, and with it where the resistor would drop too much."""
    shut = 1.0 / drive.ohms if drive.closed else 0.0
    sign = 1.0 if parts.charging else -1.0

    def slope(_: float, v: Floats) -> Floats:
        across = 1.0 / parts.series
        joint = (drive.volts / parts.pull + v * across) / (1.0 / parts.pull + shut + across)
        if sign * (joint[0] - v[0]) > parts.drop:
            joint = v + sign * parts.drop
        current = (drive.volts - joint) / parts.pull - joint * shut
        return np.asarray((current - drive.leak) / parts.farads)

    return slope


@settings(max_examples=60, deadline=None)
@given(diodes(), drives(), st.floats(-0.1, 1.1), st.floats(-0.1, 1.1), st.floats(0.05, 5.0))
def test_diode(parts: DiodePole, drive: Drive, start: float, mark: float, taus: float) -> None:
    """Voltage after a time, and crossings in both directions."""
    node = Node(start * drive.volts, 0.0)
    volts = mark * drive.volts
    rest = node_rest(parts, drive).x
    assume(abs(volts - rest) > 1e-3 * drive.volts and abs(volts - node.x) > 1e-3 * drive.volts)
    slowest = (parts.pull + parts.series) * parts.farads
    ohms = parts.pull * drive.ohms / (parts.pull + drive.ohms) if drive.closed else parts.pull
    scale = ohms * parts.farads
    assume(slowest < 20.0 * scale)
    slope = diode_slope(parts, drive)
    answer = solve_ivp(
        lambda t, v: slope(t, v) * scale, (0.0, taus * slowest / scale), [node.x], method="DOP853",
        rtol=1e-12, atol=1e-13, max_step=0.25,
    )  # fmt: skip
    ours = node_after(parts, drive, node, taus * slowest).x
    assert ours == pytest.approx(float(answer.y[0][-1]), abs=1e-9)
    seen = solved(slope, [node.x], scale, 12.0 * slowest, volts)
    compare_crossings(parts, drive, node, volts, seen, 1e-8 * slowest)


@given(diodes(), drives())
def test_diode_rests_where_no_current_flows_into_the_capacitor(parts: DiodePole, drive: Drive) -> None:
    rest = np.array([node_rest(parts, drive).x])
    current = diode_slope(parts, drive)(0.0, rest)[0] * parts.farads
    assert abs(current) < 1e-12 + 1e-9 * drive.volts / min(parts.pull, parts.series)
