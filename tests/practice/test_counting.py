"""Complaints about the counting itself.  The symptoms are common practice, no source."""

from __future__ import annotations

import functools
from collections import Counter

import pytest

from scenarios.loading.load import Scenario, load_scenario
from simcore.campaigns.campaign import run_campaign
from simcore.contacts.bursts import Telegraph, TelegraphSide
from simcore.contacts.crossing import Sliding
from simcore.counters.base import AT_STOP, SETUP, Range
from simcore.counters.quadrature import Quadrature
from simcore.counters.step_direction import StepDirection
from simcore.design import HandEntry
from simcore.engines.batch import BatchEngine
from simcore.engines.blocks import BlockDetail
from simcore.hand.base import CLICK, DOWN, UP
from simcore.judging.sums import CAUSES, VERDICTS
from simcore.judging.tally import Tally
from tests.scenarios.samples import load_text
from tests.simcore.counting import Counted, counted, net
from tests.theory import designs as make
from tests.theory.looking import look
from tests.theory.test_counting_laws import law, pairs_of

A, B = 0, 1
MICROSECOND = 1_000_000
X4 = Quadrature(4, 1)


def chatter(line: int, pairs: int, spacing: int = 20 * MICROSECOND) -> list[tuple[int, int]]:
    """A line that leaves its level and comes back ``pairs`` times."""
    return [(10**9 + k * spacing, line) for k in range(2 * pairs)]


def strays(pulses: list[Counted]) -> int:
    """The furthest that the count went from where it began."""
    furthest, place = 0, 0
    for pulse in pulses:
        place += pulse.moved
        furthest = max(furthest, abs(place))
    return furthest


# quadrature-forgives: noise on one line only, full decoding against step and direction.


@pytest.mark.parametrize("line", [A, B])
@pytest.mark.parametrize("first", [(1, 1), (0, 1), (0, 0), (1, 0)])
def test_x4_forgives_chatter_on_one_line(line: int, first: tuple[int, int]) -> None:
    """Up and down by turns: the net is 0, and on the way the count strays by one."""
    pulses = counted(X4, chatter(line, 7), first)
    assert len(pulses) == 14
    assert net(pulses) == 0
    assert strays(pulses) == 1


@pytest.mark.parametrize("level", [0, 1])
def test_step_and_direction_counts_every_fall_of_its_clock(level: int) -> None:
    pulses = counted(StepDirection(A, 0, 1, 0, 0, 0, 0, 0, 0), chatter(A, 7), (1, level))
    assert net(pulses) == (7 if level else -7)


def test_chatter_on_the_direction_alone_counts_nothing_unless_a_step_falls_into_it() -> None:
    """It matters within the set-up time of a step only: there the sense of that step is in doubt."""
    spec = StepDirection(A, 0, 1, 3 * MICROSECOND, 0, 0, 0, 3, 0)
    direction = chatter(B, 7)
    end = direction[-1][0]
    assert counted(spec, direction) == []
    (after,) = counted(spec, [*direction, (end + 3 * MICROSECOND, A)])
    assert (after.asked, after.flags) == (1, 0)
    (within,) = counted(spec, [*direction, (end + 3 * MICROSECOND - 1, A)])
    assert (within.asked, within.flags) == (-1, SETUP)


# paired-at-the-stop: x4 into a bounded counter that stands at position 0.


@pytest.mark.parametrize(("place", "line", "residue"), [(Range(100, 0, 0), B, 1), (Range(100, 99, 0), A, -1)])
def test_a_pair_at_the_stop_leaves_a_residue_of_one(place: Range, line: int, residue: int) -> None:
    """From both high a fall of B is one down, its return one up; at 0 the first is held, the second is
    not.  A the other way at the upper stop.  Anywhere else nothing is left.
    """
    pulses = counted(X4, chatter(line, 1), place=place)
    assert [pulse.moved for pulse in pulses] == [0, residue]
    assert pulses[0].flags == AT_STOP
    assert sum(p.moved for p in counted(X4, chatter(line, 1), place=Range(100, 50, 0))) == 0


def at_the_stop(heading: int) -> BlockDetail:
    """Clicks against the lower stop, both contacts closed at rest, opening for a moment as they slide."""
    clicks = HandEntry("clicks", make.gesture(CLICK, heading=heading, duration=40e-3), 4)
    design = make.design(
        clicks, counter=X4, counts_per_step=4, geometry=make.EXACT._replace(rest=0.5),
        sliding=Sliding(20.0, 1e-4, 0.5, 2e-3), place=Range(100, 0, 0),
    )  # fmt: skip
    return BatchEngine(design, 400).detail(5, 0, 400)


def test_the_residue_at_the_stop_is_named_an_end_stop() -> None:
    """Every step asks for four down and for pairs, and runs against the stop: whatever is left is a pair
    of which the stop held one half.  (A slide that ends in the next step is a slide's fault.)
    """
    detail = at_the_stop(DOWN)
    names = [(VERDICTS[v], CAUSES[c]) for v, c in zip(detail.verdicts, detail.causes, strict=True)]
    wrong = Counter(pair for pair in names if pair[0] not in ("right", "flickered"))
    assert wrong[("doubled", "end stop")] > 5
    assert {cause for _, cause in wrong} <= {"end stop", "sliding"}
    assert sum(n for (_, cause), n in wrong.items() if cause == "end stop") > 0.9 * sum(wrong.values())
    away = at_the_stop(UP)
    assert "end stop" not in {CAUSES[cause] for cause in away.causes}


# half-cycle and twice-too-many: the geometry alone.

KNOB = """
title = "a knob"
[encoder]
detents = {detents}
cycles = {cycles}
[contacts]
kind = "{contacts}"
[[hand]]
gesture = "twist"
name = "turns"
twists = 1
detents = 12
direction = "up"
[[stage]]
kind = "pull-up"
pull_up = "10 kohm"
[[stage]]
kind = "schmitt input"
rising = "1.9 V"
falling = "1.2 V"
[counter]
kind = "{kind}"
counts_per_step = 1
"""


@functools.cache
def knob(detents: int, cycles: int, kind: str, contacts: str = "clean", *sets: str) -> Scenario:
    """A knob whose user wants one count a detent."""
    return load_text(KNOB.format(detents=detents, cycles=cycles, kind=kind, contacts=contacts), sets)


def tally_of(scenario: Scenario, runs: int = 50) -> Tally:
    """What becomes of its steps."""
    return run_campaign(scenario.design, seed=1, runs=runs).tally


@pytest.mark.parametrize(("detents", "cycles"), [(24, 12), (30, 15)])
@pytest.mark.parametrize("kind", ["step-direction", "two-clock", "whole-cycle"])
def test_half_a_cycle_per_detent_misses_exactly_every_second_click(
    detents: int, cycles: int, kind: str
) -> None:
    scenario = knob(detents, cycles, kind)
    tally = tally_of(scenario)
    assert tally.verdicts["missed"] * 2 == tally.steps
    assert tally.wrong == tally.verdicts["missed"]
    assert tally.causes == {"misfit": tally.wrong}
    (caution,) = scenario.cautions
    assert "gives 0.5 counts" in caution
    assert "x2 decoding would fit" in caution


def test_x1_misses_half_as_well_and_what_the_caution_names_does_fit() -> None:
    assert tally_of(knob(24, 12, "quadrature", "clean", "counter.decoding=x1")).verdicts["missed"] == 300
    named = knob(24, 12, "quadrature", "clean", "counter.decoding=x2")
    assert named.cautions == ()
    assert tally_of(named).wrong == 0


TWICE = [
    ("quadrature", ("counter.decoding=x2",), 12, "one count per cycle"),
    ("clocked quadrature", ("counter.decoding=x2", "counter.period=20 us"), 12, "one count per cycle"),
    ("quadrature", ("counter.decoding=x4",), 6, "x2 decoding"),
]


@pytest.mark.parametrize(("kind", "sets", "cycles", "cure"), TWICE)
def test_24_countable_events_on_12_detents_count_exactly_twice(
    kind: str, sets: tuple[str, ...], cycles: int, cure: str
) -> None:
    scenario = knob(12, cycles, kind, "clean", *sets)
    tally = tally_of(scenario)
    assert tally.verdicts["doubled"] == tally.steps
    assert tally.causes == {"misfit": tally.steps}
    assert tally.errors == {12: 50}
    (caution,) = scenario.cautions
    assert "gives 2 counts" in caution
    assert cure in caution
    assert "this counter with prescale = 2 would fit" in caution
    mended = knob(12, cycles, kind, "clean", *sets, "counter.prescale=2", "counter.prescale_phase=1")
    assert mended.cautions == ()
    assert tally_of(mended).wrong == 0


# straight-through: A to the clock, B to the direction of 100 positions, no filter.


def test_straight_through_the_net_is_what_the_falls_of_a_make_it() -> None:
    """One, plus each further fall as A closes, less each fall as A opens; the position stays within 0
    to 99, and the runs jump both ways.
    """
    noisy = Telegraph(TelegraphSide(2.0, 5e-4, 0.4, 2e-3), TelegraphSide(2.0, 5e-4, 0.4, 2e-3))
    clicks = HandEntry("clicks", make.gesture(CLICK, heading=UP, duration=60e-3), 20)
    design = make.design(clicks, contact=noisy, counter=make.step_direction(), place=Range(100, 97, 0))
    free = make.design(clicks, contact=noisy, counter=make.step_direction())
    nets = Counter[int]()
    for run in look(free, 2, 40):
        for closing, opening in pairs_of(run):
            assert run.nets[closing.move.step] == law(closing, opening)
            nets[law(closing, opening)] += 1
    assert min(nets) < 0
    assert max(nets) > 2
    detail = BatchEngine(design, 40).detail(2, 0, 40)
    for r in range(40):
        position, places = 97, [97]
        for p in range(int(detail.pulses.offsets[r]), int(detail.pulses.offsets[r + 1])):
            position += int(detail.pulses.moved[p])
            places.append(position)
        assert 0 <= min(places) <= max(places) <= 99
    assert {CAUSES[cause] for cause in detail.causes} <= {"none", "chatter", "end stop"}


# not-bounce: the same complaint with a clean generator.

MISFITS = [
    ("step-direction", 24, 12, ()), ("whole-cycle", 30, 15, ()), ("quadrature", 20, 20, ()),
    ("whole-cycle", 20, 20, ("counter.rest=low",)), ("two-clock", 20, 30, ()),
    ("quadrature", 20, 20, ("counter.prescale=3",)),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "detents", "cycles", "sets"), MISFITS)
def test_with_clean_contacts_the_error_stays_and_is_no_bounce(
    kind: str, detents: int, cycles: int, sets: tuple[str, ...]
) -> None:
    back_and_forth = (*sets, "hand.turns.detents=5", "hand.turns.twists=8", "hand.turns.direction=alternate")
    scenario = knob(detents, cycles, kind, "clean", *back_and_forth)
    tally = tally_of(scenario)
    assert tally.wrong > 0
    assert tally.causes == {"misfit": tally.wrong}
    assert "even without any bounce" in scenario.cautions[0]


def test_a_rest_state_moved_by_half_a_cycle_is_said_and_mended() -> None:
    """An inverting input turns both high at rest into both low: a counter that counts from both high
    then loses a click at every reversal, though no edge is lost.
    """
    turned = ("schmitt input.inverting=true", "hand.turns.twists=8", "hand.turns.direction=alternate")
    moved = knob(20, 20, "whole-cycle", "clean", *turned)
    assert [c for c in moved.cautions if "every reversal" in c and 'rest = "low" would fit' in c]
    tally = tally_of(moved, 10)
    assert tally.wrong == tally.verdicts["missed"] == 10 * 8
    mended = knob(20, 20, "whole-cycle", "clean", *turned, "counter.rest=low")
    assert not [c for c in mended.cautions if "reversal" in c]
    assert tally_of(mended, 10).wrong == 0


def test_bounce_on_a_misfit_is_told_apart_from_it() -> None:
    """With bounce both are there: the misfit keeps its share and chatter gets its own."""
    tally = tally_of(knob(24, 12, "step-direction", "telegraph"), 100)
    assert tally.causes["misfit"] > 0
    assert tally.causes["chatter"] > 0


def test_ready_scenarios_show_what_they_say() -> None:
    def of(name: str, *sets: str) -> Tally:
        return run_campaign(load_scenario(name, sets).design, seed=1, runs=300).tally

    slow, fast = of("slow-clock"), of("slow-clock", "counter.period=200 us")
    assert slow.wrong > 0.05 * slow.steps
    assert next(iter(slow.causes)) == "skipped state"
    assert fast.wrong == 0
    whole, divided = of("whole-cycle-no-filter"), of("x4-divided-by-four")
    assert whole.verdicts["flickered"] == 0
    assert whole.wrong < 0.002 * whole.steps
    assert divided.wrong < 0.002 * divided.steps
    assert divided.verdicts["flickered"] > 0
    gates = of("two-clock-gates")
    assert 0.02 < gates.wrong / gates.steps < 0.2
    assert next(iter(gates.causes)) == "chatter"
