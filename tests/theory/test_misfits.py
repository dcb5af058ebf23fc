"""Geometry that does not fit the decoder: errors that no filter cures and no bounce explains.

With half a cycle per detent the rest alternates between both contacts open and both closed.  A
counter on one edge of A gets that edge on the way out of one of the two only: exactly every
second click is missed.  A decoder that gives twice what the detents need doubles every one.
"""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.counters.quadrature import Quadrature
from simcore.design import Design, HandEntry, fits, geometric_counts
from simcore.hand.base import CLICK, TWIST
from simcore.hand.geometry import Geometry
from simcore.judging.sums import DOUBLED, MISFIT, MISSED, NO_CAUSE, RIGHT
from tests.theory import designs as make
from tests.theory.looking import look

RUNS = 4


@st.composite
def whole_detents(draw: st.DrawFn) -> tuple[HandEntry, ...]:
    """Clicks and twists of whole detents."""
    clicks = make.gesture(CLICK, heading=draw(make.headings), spread=0.3)
    twists = make.gesture(
        TWIST, steps=float(draw(st.integers(2, 6))), heading=draw(make.headings), duration=0.1,
        ripple=draw(st.floats(0.0, 0.8)),
    )  # fmt: skip
    return HandEntry("clicks", clicks, draw(st.integers(1, 7))), HandEntry("twists", twists, 2)


def clean(hand: tuple[HandEntry, ...], pitch: float, counter: object, geometry: Geometry) -> Design:
    """Clean contacts straight into a counter, one count wanted of each detent."""
    return make.design(*hand, counter=counter, geometry=geometry._replace(cycles_per_step=pitch))


@settings(max_examples=60, deadline=None)
@given(whole_detents(), make.geometries(), make.seeds, st.integers(0, 1), st.integers(0, 1))
def test_half_a_cycle_on_a_one_edge_counter_misses_every_second_click(
    hand: tuple[HandEntry, ...], geometry: Geometry, seed: int, clock: int, active: int
) -> None:
    """On the falling edge those from both closed are missed, on the rising edge those from both open."""
    upward = (1 - active) ^ clock
    counter = make.step_direction(clock=clock, active=active, up=upward)
    design = clean(hand, 0.5, counter, geometry)
    assert geometric_counts(design) == 0.5
    assert not fits(design)
    for run in look(design, seed, RUNS):
        missed = [verdict == MISSED for verdict in run.verdicts]
        assert missed == [step % 2 == (1 if active == 0 else 0) for step in range(len(missed))]
        assert sum(missed) in (len(missed) // 2, (len(missed) + 1) // 2)
        assert list(run.causes) == [MISFIT if gone else NO_CAUSE for gone in missed]
        nets = [0 if gone else way for gone, way in zip(missed, run.directions, strict=True)]
        assert list(run.nets) == nets


@settings(max_examples=60, deadline=None)
@given(whole_detents(), make.geometries(), make.seeds, st.sampled_from([(2, 1.0), (4, 0.5)]))
def test_twice_the_counts_double_every_click(
    hand: tuple[HandEntry, ...], geometry: Geometry, seed: int, kind: tuple[int, float]
) -> None:
    counts, pitch = kind
    for run in look(clean(hand, pitch, Quadrature(counts, 1), geometry), seed, RUNS):
        assert set(run.verdicts) == {DOUBLED}
        assert set(run.causes) == {MISFIT}
        assert list(run.nets) == [2 * direction for direction in run.directions]


@settings(max_examples=60, deadline=None)
@given(whole_detents(), make.geometries(), make.seeds, st.sampled_from([(1, 1.0), (2, 0.5)]))
def test_a_decoder_that_fits_is_right(
    hand: tuple[HandEntry, ...], geometry: Geometry, seed: int, kind: tuple[int, float]
) -> None:
    """x1 with a whole cycle, x2 with half a cycle per detent."""
    counts, pitch = kind
    design = clean(hand, pitch, Quadrature(counts, 1), geometry)
    assert fits(design)
    for run in look(design, seed, RUNS):
        assert set(run.verdicts) == {RIGHT}
        assert list(run.nets) == list(run.directions)
