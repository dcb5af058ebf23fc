"""One more bounce at one transition changes no other draw, nor does one more stage.

Draws are addressed by transition, not taken in order, so whatever happens at one transition
leaves every other burst, the hand and the parts as they were.  The parts of a stage are addressed by
its name, so that stages may come and go around it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from simcore.base.draws import BURST, DRIVEN, ITEMS, MIX, Part, four, named_address, poisson, purpose
from simcore.contacts.bursts import ADDRESSES, MOST_PAIRS, Wiping, WipingSide
from simcore.design import Design, HandEntry, StageEntry
from simcore.engines.batch import BatchEngine
from simcore.engines.truth import Truth, TruthMaker
from simcore.hand.base import CLICK, EITHER
from simcore.networks.analogue import Analogue
from simcore.networks.single_pole import SeriesCapacitor
from simcore.stages.base import stage_build
from simcore.stages.delay import GateDelay
from simcore.stages.pickup import PickUp
from simcore.stages.quiet_time import QuietTime
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


LOOSE = Part(1e-3, 0.2)
CHAIN = (
    StageEntry("filter", SeriesCapacitor(Part(4700.0, 0.05), Part(1000.0, 0.05), Part(1e-7, 0.2))),
    StageEntry("input", make.schmitt(1.9, 1.2, 0.1)._replace(delay=GateDelay(LOOSE, LOOSE))),
    StageEntry("leads", PickUp(50.0, 2e-3, 0.3, 0)),
    StageEntry("quiet", QuietTime(LOOSE)),
)
OTHERS = (
    StageEntry("more leads", PickUp(50.0, 2e-3, 0.3, 0)),
    StageEntry("gate", GateDelay(LOOSE, LOOSE)),
    StageEntry("second quiet", QuietTime(LOOSE), (1,)),
)


def units(stages: tuple[StageEntry, ...], seed: int, run: int) -> dict[tuple[str, int], Any]:
    """Every built unit of a run by the name of its layer and its line."""
    layers = make.design(stages=stages).chain.layers
    return {
        (layer.name, line): stage_build(layer.line[line], seed, run, layer.address + line)
        for layer in layers
        for line in (0, 1)
        if layer.line[line] is not None
    }


@settings(max_examples=100, deadline=None)
@given(st.permutations(OTHERS), st.lists(st.integers(0, 2), min_size=3, max_size=3), make.seeds)
def test_stages_that_come_and_go_leave_the_parts_of_others_alone(
    others: list[StageEntry], places: list[int], seed: int
) -> None:
    """Stages put anywhere behind the input: every other stage is the same built unit as without."""
    without = units(CHAIN, seed, 3)
    stages = list(CHAIN)
    for entry, place in zip(others, places, strict=True):
        stages.insert(2 + place, entry)
    found = units(tuple(stages), seed, 3)
    assert {name: found[name] for name in without} == without
    assert len({(type(unit), unit) for unit in found.values()}) == len(found), "no two draw alike"


@settings(max_examples=50, deadline=None)
@given(make.seeds)
def test_a_filter_keeps_its_parts_before_another_input(seed: int) -> None:
    """The network's draws are its own: only the thresholds are other ones."""
    plain = StageEntry("another input", CHAIN[1].item)
    mine, theirs = (units((CHAIN[0], logic), seed, 0) for logic in (CHAIN[1], plain))
    one, other = mine["filter into input", 0], theirs["filter into another input", 0]
    assert (one.tau_open, one.tau_closed, one.v_closed) == (other.tau_open, other.tau_closed, other.v_closed)
    assert (one.rising, one.falling) != (other.rising, other.falling)


def test_names_do_not_meet_each_other_or_what_has_no_name() -> None:
    """Two stages of one name have addresses of their own; no item of a name is an item of a code."""
    spec = QuietTime(LOOSE)
    twice = make.design(stages=(StageEntry("same", spec), StageEntry("same", spec))).chain.layers
    assert twice[0].address == named_address("same") != twice[1].address
    networks = [type(layer.line[0]) for layer in make.design(stages=CHAIN).chain.layers]
    assert networks[0] is Analogue
    plain = {purpose(code, item) for code in (1, DRIVEN, MIX) for item in (0, 1, ITEMS - 1)}
    address = named_address("filter")
    named = {purpose(code, address + item) for code in (1, DRIVEN, MIX) for item in (0, 1, ITEMS - 1)}
    assert len(plain | named) == len(plain) + len(named)
    assert max(named) < 2**63
