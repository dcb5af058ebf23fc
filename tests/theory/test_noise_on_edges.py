"""What noise does to a slow edge, and what it cannot do.

* With thresholds further apart than twice SIGMAS rms values, noise that stays within SIGMAS rms values
  of the mean turns the input over once per crossing: to turn it back, noise would have to reach the
  other threshold, beyond its bound.
* Without hysteresis an edge of the contact gives an odd number of output edges, the first of which is
  the contact's and the others the noise's.
* The noise has a value at every instant whoever asks, so the answer below a limit does not depend on
  the limit, and asking piece by piece (CHUNK) changes nothing.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.records import MAIN, NOISE
from simcore.base.ticks import NEVER, ticks
from simcore.networks import waveform as rules
from simcore.networks.noise import Noise
from simcore.stages.base import stage_build, stage_edge, stage_expire, stage_start, stage_wake
from tests.theory.waves import CLOSED, OPEN, passed, plain, schmitt, section, waveform

MILLISECOND = 10**9
SLOW = section(farads=100e-9)
"""Charges with 2 ms, discharges with 1 ms."""


def toggles(*milliseconds: float) -> list[int]:
    return [round(each * MILLISECOND) for each in milliseconds]


@pytest.mark.parametrize("rms", [0.01, 0.05])
@pytest.mark.parametrize("run", range(5))
def test_wide_hysteresis_leaves_one_edge_per_edge(rms: float, run: int) -> None:
    """And at most the time that the noise may hasten or delay it by away from the quiet one."""
    half = 0.5 * (2.0 * rules.SIGMAS + 0.5) * rms
    times = toggles(20, 40, 60, 80)
    noise = Noise(rms, 200e3)
    noisy = passed(waveform(schmitt(2.5 + half, 2.5 - half, noise), SLOW), OPEN, times, 0.1, run=run)
    quiet = passed(waveform(schmitt(2.5 + half, 2.5 - half), SLOW), OPEN, times, 0.1)
    assert [(e.level, e.transition, e.origin) for e in noisy] == [
        (e.level, e.transition, e.origin) for e in quiet
    ]
    assert len(noisy) == 4
    slowest = 2e-3 * math.log((2.5 + half + rules.SIGMAS * rms) / (2.5 - half - rules.SIGMAS * rms))
    for seen, due in zip(noisy, quiet, strict=True):
        assert seen.time != due.time
        assert abs(seen.time - due.time) < ticks(slowest)


@pytest.mark.parametrize("run", range(8))
def test_without_hysteresis_the_extra_edges_are_the_noise_s(run: int) -> None:
    times = toggles(20, 40, 60, 80)
    found = passed(waveform(plain(2.5, Noise(0.02, 100e3)), SLOW), OPEN, times, 0.1, run=run)
    extra = 0
    for number, time in enumerate(times):
        mine = [e for e in found if time < e.time < time + 20 * MILLISECOND]
        assert len(mine) % 2 == 1
        assert {e.transition for e in mine} == {number}
        assert mine[0].origin == MAIN
        assert {e.origin for e in mine[1:]} <= {NOISE}
        assert mine[-1].level == number % 2
        extra += len(mine) - 1
    assert extra > 0


@settings(max_examples=30, deadline=None)
@given(st.floats(1e-9, 1e-6), st.integers(0, 1000))
def test_noise_that_fades_away_leaves_the_quiet_crossing(rms: float, run: int) -> None:
    """The instant tends to the exact one: it is off by no more than the noise's reach over the slope,
    here 5 V / 4 ms charging and 2.5 V / 1 ms discharging.
    """
    times = toggles(20, 40)
    noisy = passed(waveform(plain(2.5, Noise(rms, 1e5)), SLOW), OPEN, times, 0.06, run=run)
    quiet = passed(waveform(plain(2.5), SLOW), OPEN, times, 0.06)
    first = {e.transition: e.time for e in reversed(noisy)}
    for due in quiet:
        assert abs(first[due.transition] - due.time) <= ticks(rules.SIGMAS * rms / 1250.0) + 2


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 4 * MILLISECOND))
def test_the_answer_does_not_depend_on_the_limit(run: int, after: int) -> None:
    unit = stage_build(waveform(plain(2.5, Noise(0.05, 50e3)), SLOW), 3, run, 0)
    state = stage_edge(unit, stage_start(unit, CLOSED), 20 * MILLISECOND, OPEN)
    for _ in range(4):
        full = stage_wake(unit, state, NEVER)
        limit = 20 * MILLISECOND + after
        short = stage_wake(unit, state, limit)
        assert short == full if full < limit else short >= limit
        if full == NEVER:
            break
        state = stage_expire(unit, state, full)


def test_looking_piece_by_piece_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    spec = waveform(plain(2.5, Noise(0.05, 100e3)), SLOW)
    times = toggles(20, 40, 41, 60)
    whole = passed(spec, OPEN, times, 0.08)
    monkeypatch.setattr(rules, "CHUNK", 7)
    assert passed(spec, OPEN, times, 0.08) == whole
    assert len(whole) > 4


def test_a_jump_over_the_whole_band_is_not_noisy() -> None:
    """A line without a capacitor crosses at the contact's own instant."""
    spec = waveform(plain(2.5, Noise(0.1, 1e6)), section(farads=0.0))
    times = toggles(1, 1.001, 1.5)
    found = passed(spec, OPEN, times, 0.002)
    assert [(e.time, e.origin) for e in found] == [(time, MAIN) for time in times]


def test_lines_have_noise_of_their_own() -> None:
    spec = waveform(plain(2.5, Noise(0.02, 100e3)), SLOW)
    a, b = (passed(spec, OPEN, toggles(20), 0.03, line=line) for line in (0, 1))
    assert [e.time for e in a] != [e.time for e in b]
    assert a == passed(spec, OPEN, toggles(20), 0.03, line=0)
