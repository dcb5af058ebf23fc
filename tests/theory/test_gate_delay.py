"""An inertial delay by its definition, and as it comes behind an input.

A level comes out its delay after the input took it, if the input kept it for longer than that delay and
the output does not show it already; nothing else comes out.  Hence: a pulse no longer than the delay of
its first edge is swallowed; equal delays shift what is left; a rise delay longer than a fall delay by d
shortens each high level by d.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.base.ticks import ticks
from simcore.design import StageEntry
from simcore.engines.events import EventEngine
from simcore.networks.inputs import TIGHT, Comparator, Leakage, Level, PlainInput, SchmittInput
from simcore.networks.noise import QUIET
from simcore.stages.base import stage_build
from simcore.stages.delay import BuiltDelay, GateDelay
from tests.simcore import builders
from tests.theory.waves import exact, passed, plain, section, waveform

NANOSECOND = 1000


def gate(rising: int, falling: int) -> GateDelay:
    """Delays in nanoseconds."""
    return GateDelay(exact(rising * 1e-9), exact(falling * 1e-9))


def expected(first: int, times: list[int], rising: int, falling: int) -> list[tuple[int, int]]:
    """Ticks and levels after them, by the definition."""
    shown, found = first, []
    for number, time in enumerate(times):
        level = (first + number + 1) % 2
        out = time + NANOSECOND * (rising if level else falling)
        kept = number + 1 == len(times) or times[number + 1] > out
        if kept and level != shown:
            shown = level
            found.append((out, level))
    return found


@settings(max_examples=300, deadline=None)
@given(st.integers(0, 1), st.lists(st.integers(0, 60), max_size=15), st.integers(0, 40), st.integers(0, 40))
def test_by_definition(first: int, gaps: list[int], rising: int, falling: int) -> None:
    times = [NANOSECOND * int(time) for time in np.cumsum(gaps)]
    found = passed(gate(rising, falling), first, times, 1e-3)
    assert [(e.time, e.level) for e in found] == expected(first, times, rising, falling)


def test_the_cause_is_that_of_the_edge_that_came_out() -> None:
    found = passed(gate(20, 20), 0, [NANOSECOND * t for t in (100, 110, 120, 200)], 1e-3)
    assert [(e.time // NANOSECOND, e.transition) for e in found] == [(140, 2), (220, 3)]


@pytest.mark.parametrize(("width", "edges"), [(29, 0), (30, 0), (31, 2)])
def test_pulse_as_long_as_the_delay(width: int, edges: int) -> None:
    found = passed(gate(30, 10), 0, [100 * NANOSECOND, (100 + width) * NANOSECOND], 1e-3)
    assert len(found) == edges


def test_unequal_delays_shorten_a_pulse() -> None:
    rise, fall = passed(gate(30, 10), 0, [NANOSECOND * 100, NANOSECOND * 200], 1e-3)
    assert fall.time - rise.time == NANOSECOND * (100 - 20)


def test_tolerance_is_each_delay_s_own() -> None:
    """Evenly within the tolerance, a rise apart from a fall, each line its own."""
    spec = GateDelay(Part(100e-9, 0.2), Part(50e-9, 0.1))
    units = [stage_build(spec, 5, run, line) for run in range(300) for line in (0, 1)]
    assert all(isinstance(unit, BuiltDelay) for unit in units)
    rises, falls = ([unit[i] for unit in units] for i in (0, 1))
    assert 80_000 <= min(rises) < 82_000 < 118_000 < max(rises) <= 120_000
    assert 45_000 <= min(falls) < 46_000 < 54_000 < max(falls) <= 55_000
    assert abs(np.corrcoef(rises, falls)[0, 1]) < 0.2
    assert len(set(rises)) > 590


SLOW = Level(exact(1.5), 0)
LATE = GateDelay(exact(2e-6), exact(5e-6))
INPUTS = (
    SchmittInput(SLOW, SLOW, 0, TIGHT, QUIET, LATE),
    PlainInput(SLOW, SLOW, 1, TIGHT, QUIET, LATE),
    Comparator(SLOW, exact(0.2), 0, Leakage(1e-9), QUIET, LATE),
)


@pytest.mark.parametrize("logic", INPUTS, ids=lambda each: type(each).__name__)
def test_an_input_s_delays_follow_it(logic: SchmittInput | PlainInput | Comparator) -> None:
    """A layer of its own, with draws of its own, that shifts each edge of the output by its delay."""
    prompt = logic._replace(delay=GateDelay(exact(0.0), exact(0.0)))
    entries = [StageEntry("filter", section(4.7e3, 1e3, 100e-9))]
    design = builders.design((*entries, StageEntry("input", logic)), contact=builders.CLEAN)
    chain = design.chain
    assert [layer.name for layer in chain.layers] == ["filter into input", "input delay"]
    assert len({layer.address for layer in chain.layers}) == 2
    quick = replace(design, stages=(*entries, StageEntry("input", prompt)))
    assert [layer.name for layer in quick.chain.layers] == ["filter into input"]
    late, soon = (EventEngine(each).record(3, 0).detail.lines[0] for each in (design, quick))
    level = int(soon[-1].first[0])
    shifts = [ticks(5e-6) if (level + i) % 2 else ticks(2e-6) for i in range(soon[-1].times.size)]
    assert soon[-1].times.size == 8
    assert list(late[-1].times) == [int(t) + s for t, s in zip(soon[-1].times, shifts, strict=True)]


def test_comparator_thresholds() -> None:
    """Half the hysteresis above and below; drawn, each with its own tolerance."""
    logic = Comparator(Level(Part(2.0, 0.1), 0), Part(0.4, 0.5), 0)
    for run in range(200):
        unit = stage_build(waveform(logic), 1, run, 0)
        assert 0.2 - 1e-12 <= unit.steady.rising - unit.steady.falling <= 0.6 + 1e-12
        assert 1.8 - 1e-12 <= 0.5 * (unit.steady.rising + unit.steady.falling) <= 2.2 + 1e-12
    exact_unit = stage_build(waveform(Comparator(SLOW, exact(0.2), 0)), 1, 0, 0)
    assert (exact_unit.steady.rising, exact_unit.steady.falling) == pytest.approx((1.6, 1.4))
    assert math.isclose(stage_build(waveform(plain(1.5)), 1, 0, 0).steady.rising, 1.5)
