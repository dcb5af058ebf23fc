"""Laws of the two-clock, clocked, whole-cycle and prescaled counters, from the hand to the verdict.

Whole cycle: its count changes only in the rest state, to the number of cycles gone round since the
start.  As long as bursts of A and B do not overlap, chatter moves the pair of levels to and fro
between two neighbouring states, so each step is right with a single pulse: not even a flicker.

Prescaler: it moves nothing but by wraps of (phase + inner count), so the sum of all its counts is
floor((phase + sum of all inner counts) / divisor), chatter or not.

Fit: where a step is a whole number of wraps, a bounce-free step gives just that many from any
phase, whichever way it goes and wherever the turn is reversed.

Clocked: bounce-free edges further apart than the longest clock period are all seen, one by one.
Where two of A and B come closer, a state may be skipped, and then that is the root cause.
"""

from __future__ import annotations

import dataclasses
import itertools
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.contacts.bursts import Wiping
from simcore.counters.clocked import DOUBLE_FLAGGED, DOUBLE_IGNORED, ClockedQuadrature
from simcore.counters.prescaled import Prescaled
from simcore.counters.quadrature import Quadrature
from simcore.counters.two_clock import TwoClock
from simcore.counters.whole_cycle import WholeCycle
from simcore.design import HandEntry, fits, geometric_counts, sense
from simcore.hand.base import ALTERNATE, CLICK, ROCK, SPIN, UP, Gesture
from simcore.judging.sums import CAUSES, MISFIT, MISSED, NO_CAUSE, RIGHT, SKIPPED
from tests.theory import designs as make
from tests.theory.looking import Run, look
from tests.theory.test_counting_laws import apart, bouncy

RUNS = 4
X4 = Quadrature(4, 1)


@st.composite
def hands(draw: st.DrawFn) -> tuple[HandEntry, ...]:
    """Clicks and turns of whole detents in any direction, and rocks part of the way and back."""
    clicks = make.gesture(CLICK, heading=draw(make.headings), duration=draw(st.floats(15e-3, 60e-3)))
    steps = float(draw(st.integers(1, 4)))
    turn = make.gesture(SPIN, steps=steps, heading=draw(make.headings), duration=steps * 40e-3)
    away = draw(st.floats(0.2, 0.95))
    rock = Gesture(ROCK, 1, away, away, draw(make.headings), 60e-3, 0.0, 50e-3, 0.0, 0, 0.0)
    entries = [HandEntry("clicks", clicks, draw(st.integers(1, 5))), HandEntry("turn", turn, 1)]
    return (*entries, HandEntry("rock", rock, 2)) if draw(st.booleans()) else tuple(entries)


def all_apart(run: Run, step: int) -> bool:
    """Whether no burst of the step overlaps one of the other line."""
    return all(
        apart(burst, run.bursts(1 - line))
        for line in (0, 1)
        for burst in run.bursts(line)
        if burst.move.step == step
    )


@settings(max_examples=40, deadline=None)
@given(hands(), bouncy, make.geometries(), make.seeds)
def test_whole_cycles_do_not_even_flicker(hand: Any, contact: Any, geometry: Any, seed: int) -> None:
    design = make.design(*hand, contact=contact, counter=WholeCycle(1, 1), geometry=geometry)
    for run in look(design, seed, RUNS):
        if all(all_apart(run, step) for step in range(len(run.directions))):
            assert set(run.verdicts) == {RIGHT}


def test_there_are_runs_in_which_no_bursts_overlap() -> None:
    """So that the theorem above is not about nothing: clicks of an ordinary, slowly turned contact."""
    contact = make.side(pairs=3.0, rebound=1.0, flight=60e-6)
    clicks = HandEntry("clicks", make.gesture(CLICK, duration=60e-3), 8)
    design = make.design(clicks, contact=Wiping(contact, contact), counter=WholeCycle(1, 1))
    runs = look(design, 3, 20)
    apart_runs = [run for run in runs if all(all_apart(run, s) for s in range(len(run.directions)))]
    assert len(apart_runs) > 10
    assert all(any(len(burst.changes) > 1 for line in (0, 1) for burst in run.bursts(line)) for run in runs)
    assert all(set(run.verdicts) == {RIGHT} for run in apart_runs)


@settings(max_examples=40, deadline=None)
@given(hands(), bouncy, make.seeds, st.sampled_from([2, 3, 4, 16]), st.data())
def test_the_prescaled_sum_is_the_floor_of_the_inner_sum(
    hand: Any, contact: Any, seed: int, divisor: int, data: st.DataObject
) -> None:
    phase = data.draw(st.integers(0, divisor - 1))
    plain = make.design(*hand, contact=contact, counter=X4, counts_per_step=4)
    divided = dataclasses.replace(plain, counter=Prescaled(X4, divisor, phase), counts_per_step=1)
    pairs = zip(look(plain, seed, RUNS), look(divided, seed, RUNS), strict=True)
    for inner, outer in pairs:
        assert sum(outer.counts) == (phase + sum(inner.counts)) // divisor


FITTING = [
    (Quadrature(4, 1), 4, 1.0, 1), (Quadrature(4, 1), 16, 4.0, 1), (Quadrature(4, 1), 8, 4.0, 2),
    (Quadrature(2, 1), 4, 2.0, 1), (Quadrature(1, 1), 3, 3.0, 1),
    (TwoClock(0, 0, 1, 1_000_000, 0), 2, 2.0, 1), (WholeCycle(1, 1), 4, 4.0, 1),
    (Quadrature(4, -1), 2, 0.5, 1),
]  # fmt: skip


@settings(max_examples=80, deadline=None)
@given(hands(), st.sampled_from(FITTING), st.data(), make.seeds)
def test_a_prescaled_decoder_that_fits_is_right_from_any_phase_and_over_any_reversal(
    hand: Any, kind: tuple[Any, int, float, int], data: st.DataObject, seed: int
) -> None:
    """Also four cycles a detent on x4 divided by 16: one count a detent."""
    inner, divisor, pitch, wanted = kind
    phase = data.draw(st.integers(0, divisor - 1))
    geometry = make.EXACT._replace(cycles_per_step=pitch)
    spec = Prescaled(inner, divisor, phase)
    design = make.design(*hand, counter=spec, geometry=geometry, counts_per_step=wanted)
    assert fits(design)
    assert geometric_counts(design) == pytest.approx(wanted)
    way = sense(design)
    for run in look(design, seed, RUNS):
        assert set(run.verdicts) == {RIGHT}
        whole = [abs(net) == wanted for net in run.nets]
        assert [net for net, full in zip(run.nets, whole, strict=True) if full] == [
            way * wanted * direction for direction, full in zip(run.directions, whole, strict=True) if full
        ]


SENSES = [
    TwoClock(0, 0, 1, 5_000_000, 0), ClockedQuadrature(1, 1, Part(1e-3, 0.1), DOUBLE_IGNORED),
    WholeCycle(1, 1), WholeCycle(0, 1), Prescaled(Quadrature(1, 1), 64, 0),
    Prescaled(Quadrature(1, 1), 64, 63), Prescaled(Prescaled(WholeCycle(1, 1), 64, 0), 64, 0),
]  # fmt: skip


def turned_over(spec: Any) -> Any:
    """The same counter counting the other way."""
    if isinstance(spec, Prescaled):
        return spec._replace(inner=turned_over(spec.inner))
    return spec._replace(up=1 - spec.up) if isinstance(spec, TwoClock) else spec._replace(sign=-spec.sign)


@pytest.mark.parametrize("spec", SENSES, ids=str)
def test_the_sense_is_found_however_rarely_it_counts(spec: Any) -> None:
    clicks = HandEntry("clicks", make.gesture(CLICK), 1)
    up, down = make.design(clicks, counter=spec), make.design(clicks, counter=turned_over(spec))
    assert (sense(up), sense(down)) == (1, -1)


@settings(max_examples=30, deadline=None)
@given(hands(), make.seeds, st.sampled_from([1, 2, 4]), st.integers(0, 2))
def test_a_clock_that_keeps_up_makes_no_error(hand: Any, seed: int, counts: int, double: int) -> None:
    """Rocks may turn within a state, but even then no two edges of these hands come within 100 us."""
    spec = ClockedQuadrature(counts, 1, Part(100e-6, 0.2), double)
    design = make.design(*hand, counter=spec, counts_per_step=counts)
    for run in look(design, seed, RUNS):
        times = sorted(move.time for move in run.moves)
        if all(later - earlier > 120_000_000 for earlier, later in itertools.pairwise(times)):
            assert set(run.verdicts) == {RIGHT}


@settings(max_examples=30, deadline=None)
@given(make.seeds, st.integers(0, 2), st.floats(2e-3, 20e-3))
def test_a_clock_that_does_not_keep_up_skips_states_and_nothing_else(
    seed: int, double: int, pace: float
) -> None:
    spec = ClockedQuadrature(4, 1, Part(2e-3, 0.0), double)
    design = make.design(make.spin(12, pace), counter=spec, counts_per_step=4)
    for run in look(design, seed, RUNS):
        assert {CAUSES[cause] for cause in run.causes} <= {"none", "skipped state"}
        wrong = sum(cause == SKIPPED for cause in run.causes)
        if pace > 8.1e-3:
            assert wrong == 0
        elif pace < 7.0e-3 and double == DOUBLE_FLAGGED:
            assert wrong > 0


@settings(max_examples=30, deadline=None)
@given(make.seeds, st.integers(2, 8))
def test_a_rest_state_that_is_not_the_encoders_loses_a_click_at_every_reversal(
    seed: int, clicks: int
) -> None:
    """Counting from both low on an encoder that rests with both high, no bounce at all: the first
    click and each click after a reversal only bring the decoder half a cycle on its way.
    """
    turns = HandEntry("clicks", make.gesture(CLICK, heading=ALTERNATE), clicks)
    ahead = HandEntry("ahead", make.gesture(CLICK, heading=UP), 3)
    design = make.design(turns, ahead, counter=WholeCycle(0, 1))
    assert geometric_counts(design) == 1.0
    assert not fits(design)
    for run in look(design, seed, 2):
        before = [0, *run.directions[:-1]]
        lost = [way != last for way, last in zip(run.directions, before, strict=True)]
        assert [verdict == MISSED for verdict in run.verdicts] == lost
        assert list(run.causes) == [MISFIT if gone else NO_CAUSE for gone in lost]
