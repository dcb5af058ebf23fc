"""One more bounce at one transition changes no other draw.

Draws are addressed by transition, not taken in order, so whatever happens at one transition
leaves every other burst, the hand and the parts as they were.
"""

from __future__ import annotations

from dataclasses import replace
from typing import cast

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from simcore.batch import BatchEngine
from simcore.bursts import ADDRESSES, MOST_PAIRS, Wiping, WipingSide
from simcore.chain import Design, HandEntry
from simcore.draws import BURST, four, poisson, purpose
from simcore.hand import CLICK, EITHER
from simcore.truth import Truth, TruthMaker
from tests.theory import designs as make
from tests.theory.looking import Burst, Run, look, run_of

RUNS = 5


def shape(burst: Burst) -> list[int]:
    """Ticks of a burst's changes after its first."""
    return [change.time - burst.changes[0].time for change in burst.changes]


def bursts_of(run: Run) -> list[Burst]:
    """All bursts of both lines by transition."""
    found = run.bursts(0) + run.bursts(1)
    return sorted(found, key=lambda burst: burst.changes[0].transition)


@st.composite
def wiping_designs(draw: st.DrawFn) -> Design:
    """Clicks and twists with wiping contacts straight into a counter."""
    contact = Wiping(draw(make.wiping_sides()), draw(make.wiping_sides()))
    return make.design(*draw(make.hands()), contact=contact, geometry=draw(make.geometries()))


def pairs_drawn(side: WipingSide, seed: int, run: int, one: Burst) -> int:
    """Extra pairs that a side's chatter has at a transition, from the uniform at its address."""
    transition = one.changes[0].transition
    u = four(seed, run, purpose(BURST, one.move.line), transition * ADDRESSES)
    return poisson(side.pairs, MOST_PAIRS, u[0])


@settings(max_examples=50, deadline=None)
@given(wiping_designs(), make.seeds, st.floats(0.1, 6.0))
def test_more_pairs_at_makes_leave_all_else_alone(design: Design, seed: int, more: float) -> None:
    """Every break, and every make whose number of pairs stays as it was, keeps its burst."""
    side = design.contact.make
    raised = side._replace(pairs=side.pairs + more)
    changed = replace(design, contact=design.contact._replace(make=raised))
    longer = 0
    for r, (one, other) in enumerate(zip(look(design, seed, RUNS), look(changed, seed, RUNS), strict=True)):
        assert one.moves == other.moves
        for mine, theirs in zip(bursts_of(one), bursts_of(other), strict=True):
            same = pairs_drawn(side, seed, r, mine) == pairs_drawn(raised, seed, r, mine)
            longer += mine.move.closed and not same
            if same or not mine.move.closed:
                assert shape(mine) == shape(theirs)
    assume(longer > 0)


class Slowed:
    """A maker of truth that changes the shaft's speed at one transition of the run and nothing else."""

    def __init__(self, genuine: TruthMaker, transition: int, factor: float) -> None:
        self.genuine, self.transition, self.factor = genuine, transition, factor

    def make(self, seed: int, first_run: int, runs: int) -> Truth:
        """The truth, altered."""
        truth = self.genuine.make(seed, first_run, runs)
        truth.transitions.speeds[self.transition] *= self.factor
        return truth


def slowed(design: Design, seed: int, transition: int, factor: float) -> list[list[int]]:
    """Shapes of all bursts of run 0 with the shaft slowed at one transition."""
    engine = BatchEngine(design, 1)
    engine.truth = cast(TruthMaker, Slowed(engine.truth, transition, factor))
    return [shape(burst) for burst in bursts_of(run_of(engine.detail(seed, 0, 1), 0))]


@settings(max_examples=60, deadline=None)
@given(wiping_designs(), make.seeds, st.floats(0.05, 0.9), st.integers(0, 10**6))
def test_altering_one_burst_leaves_all_others_alone(
    design: Design, seed: int, slower: float, pick: int
) -> None:
    """The shaft is slowed at one transition only, which stretches its chatter and no other's."""
    before = slowed(design, seed, 0, 1.0)
    chosen = pick % len(before)
    after = slowed(design, seed, chosen, slower)
    assert before[:chosen] == after[:chosen]
    assert before[chosen + 1 :] == after[chosen + 1 :]


def test_slowing_does_stretch_the_chosen_burst() -> None:
    """So the theorem above is not empty."""
    side = make.side(pairs=6.0, zone=0.1)
    turn = HandEntry("turn", make.gesture(CLICK), 3)
    design = make.design(turn, contact=Wiping(side, side))
    before, after = slowed(design, 2, 4, 1.0), slowed(design, 2, 4, 0.5)
    assert before[4] != after[4]
    assert after[4][-1] == pytest.approx(2 * before[4][-1], rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(make.designs(), make.designs(), make.seeds)
def test_two_designs_meet_the_same_hand(one: Design, other: Design, seed: int) -> None:
    """Common random numbers: whatever else differs, one seed gives the same movements and bursts."""
    alike = replace(other, hand=one.hand, geometry=one.geometry, contact=one.contact, sliding=one.sliding)
    for mine, theirs in zip(look(one, seed, RUNS), look(alike, seed, RUNS), strict=True):
        assert mine.moves == theirs.moves
        assert mine.contact == theirs.contact


def test_an_added_gesture_leaves_the_earlier_ones_alone() -> None:
    """The first movements of a hand do not depend on what comes after them."""
    first = HandEntry("first", make.gesture(CLICK, heading=EITHER, spread=0.3), 4)
    second = HandEntry("second", make.gesture(CLICK, heading=EITHER, duration=50e-3), 3)
    short, long = make.design(first), make.design(first, second)
    for mine, theirs in zip(look(short, 3, RUNS), look(long, 3, RUNS), strict=True):
        assert mine.moves == theirs.moves[: len(mine.moves)]
        assert len(theirs.moves) > len(mine.moves)
