"""Clean contacts make no error as long as the network keeps up.

Theorem.  Let each contact change once per boundary, let the decoder fit, and for every run let

1. each level of each contact last longer than the longest delay of its own line into it;
2. neighbouring transitions of A and B lie further apart than the most by which two delays can
   differ, plus the counter's set-up or hold time;
3. each level last longer than that difference plus the counter's shortest clock level.

Then no step is wrong, none flickers, and the final position is exact.

Proof.  By 1 every transition sends exactly one edge, within the bounds of delays.py (induction
over the transitions of a line).  By 2 edges reach the counter in the order of the transitions,
with the direction steady over set-up and hold; by 3 no clock level is too short.  So the counter
sees what it would see without a network, only later, and each count bears the cause of its own
transition.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.counters.base import WORST
from simcore.counters.step_direction import StepDirection
from simcore.design import Design, StageEntry
from simcore.engines.batch import BatchEngine
from simcore.hand.base import DOWN, UP
from simcore.hand.geometry import Geometry
from simcore.judging.sums import RIGHT
from simcore.networks.single_pole import AcrossCapacitor, Direct, SeriesCapacitor
from tests.theory import designs as make
from tests.theory.delays import Delays, delays, in_ticks, spread, with_capacitor
from tests.theory.looking import Run, look, poles

RUNS = 6
TRIAL = 1e-9
"""Farad at which delays are found first; they grow with the capacitor."""


def limit_of(counter: object) -> int:
    """The longest of the counter's timing limits, in ticks."""
    if isinstance(counter, StepDirection):
        return max(counter.setup, counter.hold, counter.low, counter.high)
    return 0


def shortest_levels(run: Run, line: int) -> tuple[int, int]:
    """Shortest open and shortest closed time of a contact (ticks)."""
    bursts = run.bursts(line)
    rests = [(b.move.closed, b.rest) for b in bursts if b.rest is not None]
    return (
        min((rest for closed, rest in rests if not closed), default=10**15),
        min((rest for closed, rest in rests if closed), default=10**15),
    )


def closest(run: Run) -> int:
    """Least distance of two neighbouring transitions of different lines (ticks)."""
    pairs = zip(run.moves, run.moves[1:], strict=False)
    return min((b.time - a.time for a, b in pairs if a.line != b.line), default=10**15)


def room_for(run: Run, lines: tuple[Delays, Delays], limit: int) -> float:
    """The factor by which the delays of a run may grow before one of the conditions fails."""
    room = float("inf")
    differ = in_ticks(spread(*lines))
    levels = []
    for line in (0, 1):
        opens, closes = shortest_levels(run, line)
        levels += [opens, closes]
        room = min(room, opens / in_ticks(lines[line].rise_high))
        if lines[line].fall_high > 0.0:
            room = min(room, closes / in_ticks(lines[line].fall_high))
    return min(room, (closest(run) - limit) / differ, (min(levels) - limit) / differ)


def largest_capacitor(design: Design, seed: int) -> float:
    """The capacitor at which the first condition of the theorem fails."""
    bare = replace(design, stages=())
    limit = limit_of(design.counter)
    room = min(
        room_for(run, (delays(a), delays(b)), limit)
        for run, (a, b) in zip(look(bare, seed, RUNS), poles(design, seed, RUNS), strict=True)
    )
    return room * TRIAL


def faultless(design: Design, seed: int, runs: int = RUNS) -> bool:
    """Whether every step is right, without a flicker, and every final position exact."""
    detail = BatchEngine(design, runs).detail(seed, 0, runs)
    assert detail.verdicts.size > 0
    return bool((detail.verdicts == RIGHT).all() and (detail.result.errors == 0).all())


capacitors = st.one_of(
    st.builds(SeriesCapacitor, make.parts(1e3, 5e4), make.parts(100.0, 2e4), make.parts(TRIAL, TRIAL)),
    st.builds(AcrossCapacitor, make.parts(1e3, 5e4), make.parts(TRIAL, TRIAL)),
)


@settings(max_examples=120, deadline=None)
@given(
    make.designs(), make.seeds, capacitors, make.inputs,
    st.one_of(st.floats(0.9, 0.999), st.floats(0.01, 0.9)),
)  # fmt: skip
def test_no_error_while_the_network_keeps_up(
    design: Design, seed: int, network: SeriesCapacitor, logic: object, share: float
) -> None:
    """A capacitor as large as the conditions allow, or any share of that."""
    trial = replace(design, contact=make.CLEAN, sliding=make.NO_SLIDING, stages=make.filtered(network, logic))
    largest = largest_capacitor(trial, seed)
    assume(largest > 0.0)
    fitted = with_capacitor(network, share * largest)
    assert faultless(replace(trial, stages=make.filtered(fitted, logic)), seed)


@settings(max_examples=60, deadline=None)
@given(make.designs(), make.seeds, make.inputs, st.booleans())
def test_no_error_without_a_network(design: Design, seed: int, logic: object, read: bool) -> None:
    """No delay at all: only the counter's own limits count."""
    stages = make.filtered(Direct(Part(1e4, 0.05)), logic) if read else ()
    bare = replace(design, contact=make.CLEAN, sliding=make.NO_SLIDING, stages=stages)
    limit = limit_of(design.counter)
    assume(all(closest(run) > limit for run in look(bare, seed, RUNS)))
    assert faultless(bare, seed)


@settings(max_examples=60, deadline=None)
@given(
    st.floats(50e-6, 20e-3), st.sampled_from(["setup", "hold", "low", "high"]), st.sampled_from([UP, DOWN]),
    make.geometries(), st.booleans(),
)  # fmt: skip
def test_timing_limits_are_sharp_to_the_tick(
    pace: float, limit: str, heading: int, geometry: Geometry, excess: bool
) -> None:
    """A limit as long as the time it is compared with does no harm; one tick more does.

    Steady turning with A straight to the clock, falling edges active.  The set-up time is compared
    with the time since B changed, the hold time with the time until B changes, the low time with
    that for which A stays closed and the high time with that for which it was open.
    """
    steady = geometry._replace(closed_spread=0.0, phase_spread=0.0, rest_spread=0.0)
    bare = make.design(make.spin(8, pace, heading), geometry=steady)
    run = look(bare, 0, 1)[0]
    closings = [(i, move.time) for i, move in enumerate(run.moves) if move.line == 0 and move.closed]
    opens, closes = shortest_levels(run, 0)
    times = {
        "setup": min(time - run.moves[i - 1].time for i, time in closings if i > 0),
        "hold": min(run.moves[i + 1].time - time for i, time in closings),
        "low": closes,
        "high": opens,
    }
    counter = make.step_direction(doubt=WORST)._replace(**{limit: times[limit] + int(excess)})
    assert faultless(replace(bare, counter=counter), 0, 1) != excess


@pytest.mark.parametrize(("share", "exact"), [(0.99, True), (1.01, False)])
def test_the_open_level_is_a_sharp_limit(share: float, exact: bool) -> None:
    """Steady turning, half the cycle open, and a discharge so quick that each rise starts from
    the closed voltage; B is not filtered.  1 % beyond the delay that just fits, clicks are missed.
    """
    hand = make.spin(12, 20e-3, UP)
    network = SeriesCapacitor(Part(1e4, 0.0), Part(1.0, 0.0), Part(TRIAL, 0.0))
    logic = make.schmitt(3.0, 2.0)
    trial = make.design(hand, stages=make.filtered(network, logic))
    (pole, _) = poles(trial, 0, 1)[0]
    farads = TRIAL * share * 10e-3 / delays(pole).rise_high
    stages = (
        StageEntry("filter", with_capacitor(network, farads), (0,)),
        StageEntry("input", logic, (0,)),
    )
    assert faultless(replace(trial, stages=stages), 0, 1) == exact
