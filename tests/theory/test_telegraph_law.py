"""A contact that opens and closes at random times, end to end through network and input.

The law and its sources are in telegraph_law.py.  Simulated means must agree with it within four
standard errors, found from the scatter over runs; a right program fails one such comparison in
16,000 seeds, and the seed is fixed.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest

from simcore.base.compiling import kernel
from simcore.base.draws import Part, four
from simcore.base.records import Edges, Floats, empty_edges
from simcore.base.ticks import TICKS_PER_SECOND
from simcore.networks.analogue import Analogue, Resistance
from simcore.networks.inputs import Level, PlainInput, SchmittInput
from simcore.networks.single_pole import SeriesCapacitor
from simcore.stages.base import drive_stage, stage_build, stage_edge, stage_start
from tests.theory.telegraph_law import Law


class Row(NamedTuple):
    """A law, and the digits published for it: mean, mean square, J(0.5), P(x > 0.5), and the
    output cycles of a Schmitt input with thresholds 0.3 and 0.6, all with one time constant as
    the unit of time.
    """

    law: Law
    mean: float
    square: float
    crossings: float
    above: float
    cycles: float


# Computed at planning time and confirmed there by an independent simulation.
ROWS = [
    Row(Law(1.0, 1.0, 1.0, 1.0), 0.5, 1.0 / 3.0, 0.250000, 0.5, 0.141121),
    Row(Law(2.0, 2.0, 1.0, 1.0), 0.5, 0.3, 0.375000, 0.5, 0.142787),
    Row(Law(0.5, 1.5, 1.0, 1.0), 0.75, 0.625, 0.159155, 0.818310, 0.074415),
    Row(Law(1.0, 1.0, 2.0, 1.0), 0.375, 0.2, 0.187500, 0.312500, 0.095784),
]
LOW, HIGH = 0.3, 0.6
SEED, PURPOSE = 20, 901
UNIT = 1.0e-3
"""Seconds to a unit of time."""
RUNS, LENGTH, SETTLE = 4000, 600, 40
"""Runs, and units of time that each lasts and that it is given to forget its start."""


@kernel
def switchings(seed: int, purpose: int, closing: float, opening: float, end: int, out: Edges) -> int:
    """Exponential holding times until ``end`` (ticks), for all runs of ``out``; returns the edges."""
    n = 0
    for r in range(out.first.size):
        level = 1 if four(seed, r, purpose + 1, 0)[0] < 0.5 else 0
        out.first[r] = level
        time, k = 0, 0
        while True:
            u = four(seed, r, purpose, k)[0]
            rate = opening if level else closing
            time += int(-np.log(1.0 - u) / rate) + 1
            if time >= end:
                break
            out.times[n] = time
            out.causes[n] = 16 * k
            n += 1
            k += 1
            level ^= 1
        out.offsets[r + 1] = n
    return n


@kernel
def moments(spec: Analogue, source: Edges, begin: int, end: int, out: Floats) -> None:
    """Per run the integrals of v and v^2 between two ticks, in volts and seconds.

    On a segment that tends to V with time constant tau, with w = v - V, the integral of v is
    V dt + tau (w0 - w1) and that of v^2 is V^2 dt + 2 V tau (w0 - w1) + tau (w0^2 - w1^2) / 2.
    """
    for r in range(source.first.size):
        pole = stage_build(spec, 0, r, 0)
        level = source.first[r] + 0
        state = stage_start(pole, level)
        for i in range(source.offsets[r], source.offsets[r + 1] + 1):
            time = end if i == source.offsets[r + 1] else source.times[i]
            if time > begin:
                if state.time < begin:
                    state = stage_edge(pole, state, begin, level)
                target = pole.v_closed if level else pole.v_open
                tau = pole.tau_closed if level else pole.tau_open
                w0 = state.volts - target
                w1 = stage_edge(pole, state, time, level).volts - target
                span = (time - state.time) * 1.0e-12
                out[r, 0] += target * span + tau * (w0 - w1)
                out[r, 1] += target**2 * span + 2 * target * tau * (w0 - w1) + 0.5 * tau * (w0**2 - w1**2)
            level ^= 1
            state = stage_edge(pole, state, time, level)


def section(law: Law, logic: object) -> Analogue:
    """1 V and 100 nF; (pull-up + series) C up, series x C down, contact of 0 ohm."""
    farads = 100e-9
    series = law.tau_down * UNIT / farads
    pull_up = max((law.tau_up - law.tau_down) * UNIT / farads, 1e-6)
    network = SeriesCapacitor(Part(pull_up, 0.0), Part(series, 0.0), Part(farads, 0.0))
    return Analogue(Part(1.0, 0.0), Resistance(0.0, 0.0), network, logic)


def ticks_of(units: float) -> int:
    """Units of time as ticks."""
    return round(units * UNIT * TICKS_PER_SECOND)


def contact(law: Law) -> Edges:
    """Runs of a telegraph contact; it closes at the law's rate ``closing``."""
    rate = max(law.closing, law.opening)
    room = int(RUNS * LENGTH * rate * 1.2) + 1000
    out = empty_edges(room, RUNS)
    per_tick = 1.0 / ticks_of(1.0)
    used = switchings(SEED, PURPOSE, law.closing * per_tick, law.opening * per_tick, ticks_of(LENGTH), out)
    assert used < room
    return out


def level_of(share: float) -> Level:
    """A threshold as a share of the supply."""
    return Level(Part(share, 0.0), 1)


def output(law: Law, source: Edges, logic: object) -> Edges:
    """What the input makes of the contact."""
    out = empty_edges(source.times.size + RUNS, RUNS)
    ends = np.full(source.first.size, 2**62, np.int64)
    assert drive_stage(section(law, logic), 0, 0, 0, source, ends, out) == RUNS
    return out


def rises_and_highs(out: Edges) -> tuple[Floats, Floats]:
    """Per run, after it has settled: rises per unit of time, and the share of time spent high."""
    begin, end = ticks_of(SETTLE), ticks_of(LENGTH)
    rises, high = np.zeros(RUNS), np.zeros(RUNS)
    for r in range(RUNS):
        times = out.times[out.offsets[r] : out.offsets[r + 1]]
        levels = (int(out.first[r]) + 1 + np.arange(times.size)) & 1
        rises[r] = ((levels == 1) & (times >= begin) & (times < end)).sum()
        marks = np.clip(np.concatenate([[0], times, [end]]), begin, end)
        spans = np.diff(marks)
        high[r] = spans[np.concatenate([[int(out.first[r])], levels]) == 1].sum()
    return rises / (LENGTH - SETTLE), high / (end - begin)


def agrees(seen: Floats, expected: float) -> None:
    """The mean over runs lies within four standard errors, and those are small enough to tell."""
    error = seen.std(ddof=1) / np.sqrt(seen.size)
    assert abs(seen.mean() - expected) < 4.0 * error
    assert error < 0.004 * expected


@pytest.mark.parametrize("row", ROWS)
def test_closed_forms(row: Row) -> None:
    """Our closed forms against the digits of the table (from memory, recomputed)."""
    law = row.law
    assert law.moment(0) == pytest.approx(1.0, abs=1e-12)
    assert law.moment(1) == pytest.approx(row.mean, abs=1e-9)
    assert law.moment(2) == pytest.approx(row.square, abs=1e-9)
    assert law.crossings(0.5) == pytest.approx(row.crossings, abs=5e-7)
    assert 1.0 - law.distribution(0.5) == pytest.approx(row.above, abs=5e-7)
    assert law.cycles(LOW, HIGH) == pytest.approx(row.cycles, abs=5e-7)
    assert law.cycles(0.5 - 1e-9, 0.5) == pytest.approx(law.crossings(0.5), abs=1e-6)


@pytest.mark.parametrize("row", ROWS)
def test_single_threshold(row: Row) -> None:
    """Up-crossings of half the supply, and the time spent above it."""
    plain = PlainInput(level_of(0.5), level_of(0.5), 0)
    rises, high = rises_and_highs(output(row.law, contact(row.law), plain))
    agrees(rises, row.law.crossings(0.5))
    agrees(high, 1.0 - row.law.distribution(0.5))


@pytest.mark.parametrize("row", ROWS)
def test_schmitt_input(row: Row) -> None:
    """Output cycles between thresholds of 0.3 and 0.6 of the supply."""
    logic = SchmittInput(level_of(HIGH), level_of(LOW), 0)
    rises, _ = rises_and_highs(output(row.law, contact(row.law), logic))
    agrees(rises, row.law.cycles(LOW, HIGH))


@pytest.mark.parametrize("row", ROWS)
def test_voltage(row: Row) -> None:
    """Mean and mean square of the voltage over time."""
    spec = section(row.law, PlainInput(level_of(0.5), level_of(0.5), 0))
    out = np.zeros((RUNS, 2))
    moments(spec, contact(row.law), ticks_of(SETTLE), ticks_of(LENGTH), out)
    span = (LENGTH - SETTLE) * UNIT
    agrees(out[:, 0] / span, row.law.moment(1))
    agrees(out[:, 1] / span, row.law.moment(2))
