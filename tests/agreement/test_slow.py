"""The slow and obvious implementation against the batch engine, on random designs."""

from __future__ import annotations

import dataclasses
import itertools
from collections import Counter
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given, seed, settings

from simcore.base.draws import Part
from simcore.contacts.bursts import Clean, Telegraph, TelegraphSide
from simcore.contacts.crossing import Sliding
from simcore.counters.base import Range
from simcore.counters.quadrature import Quadrature
from simcore.counters.step_direction import StepDirection
from simcore.design import Chain, Design, HandEntry, StageEntry
from simcore.engines.batch import BatchEngine
from simcore.engines.blocks import BlockDetail
from simcore.hand.base import CLICK, ROCK, Gesture
from simcore.hand.geometry import Geometry
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import Level, SchmittInput
from simcore.networks.single_pole import SeriesCapacitor

from . import comparing, slow
from .designs import addresses, designs

PARTS, PART_SIZE, RUNS = 2, 120, 2
CLOSE_TICKS = 1000
"""Where rounding leaves more than this open, or contacts move within so few ticks of each other,
what follows may really differ; it is then compared from the engine's own transitions only."""


def compare_alone(
    design: Design, address: tuple[int, int], detail: BlockDetail, chain: Chain, run: int
) -> str:
    """From the hand on, everything worked out alone; returns how far it could be compared."""
    own = slow.run(design, address[0], address[1] + run)
    ticks = comparing.same_truth(own, detail.truth.transitions, run)
    times = [t.time for t in own.truth.transitions]
    gaps = [after - before for before, after in itertools.pairwise(times)]
    if ticks > CLOSE_TICKS or min(gaps, default=CLOSE_TICKS) < CLOSE_TICKS:
        return "transitions"
    seen = comparing.seen_of(detail, chain, run)
    for line in (0, 1):
        contact = comparing.wire_of(detail.lines[line][0], run)
        comparing.same_edges(own.contacts[line], contact, ticks + 1, f"contact {line}")
        comparing.same_edges(own.seen[line], seen[line], ticks + 2, f"line {line}")
    if own.tosses:
        return "edges"  # a coin belongs to the very tick of its clock edge
    comparing.same_pulses(own, detail.pulses, run, ticks + 2)
    comparing.same_steps(own, detail, run)
    return "all"


def compare_given(
    design: Design, address: tuple[int, int], detail: BlockDetail, chain: Chain, run: int
) -> slow.Record:
    """From the engine's transitions to the edges, and from the engine's edges to the verdicts."""
    place = address[0], address[1] + run
    transitions = comparing.transitions_of(detail.truth.transitions, run)
    given_transitions = slow.run(design, *place, transitions)
    seen = comparing.seen_of(detail, chain, run)
    for line in (0, 1):
        contact = comparing.wire_of(detail.lines[line][0], run)
        comparing.same_edges(given_transitions.contacts[line], contact, 0, f"contact {line}")
        comparing.same_edges(given_transitions.seen[line], seen[line], 1, f"line {line}")
    given_edges = slow.run(design, *place, transitions, seen)
    comparing.same_pulses(given_edges, detail.pulses, run, 0)
    comparing.same_steps(given_edges, detail, run)
    comparing.same_spacings(given_edges, detail, run)
    return dataclasses.replace(given_edges, cut=given_transitions.cut)


@pytest.mark.parametrize("part", range(PARTS))
def test_slow_equals_batch(part: int) -> None:
    done: Counter[str] = Counter()

    @seed(1000 + part)
    @settings(max_examples=PART_SIZE, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(designs(), addresses())
    def compare(design: Design, address: tuple[int, int]) -> None:
        engine = BatchEngine(design, RUNS)
        detail = engine.detail(*address, RUNS)
        for run in range(RUNS):
            done["alone: " + compare_alone(design, address, detail, engine.chain, run)] += 1
        records = [compare_given(design, address, detail, engine.chain, run) for run in range(RUNS)]
        comparing.same_sums(records, detail)
        done["designs"] += 1
        done.update(cause for record in records for cause in record.judgement.causes)

    compare()
    assert done["designs"] >= PART_SIZE
    assert done["alone: all"] > PART_SIZE
    common = {"none", "chatter", "swallowed", "misfit", "sliding"}
    assert not common - set(done), "the designs have become too tame"


def plain_design() -> Design:
    """A click, a bouncing contact, a filter, a step and direction counter with end stops."""
    side = TelegraphSide(3.0, 1e-3, 0.3, 3e-3)
    click = Gesture(CLICK, 8, 1.0, 1.0, 2, 0.02, 0.2, 0.05, 0.2, 0, 0.0)
    logic = SchmittInput(Level(Part(1.9, 0.1), 0), Level(Part(1.2, 0.1), 0), 0)
    filtered = SeriesCapacitor(Part(4700.0, 0.05), Part(1000.0, 0.05), Part(22e-9, 0.2))
    return Design(
        geometry=Geometry(20.0, 1.0, 0.5, 0.02, 0.25, 0.02, 0.0, 0.05),
        hand=(HandEntry("click", click, 8),),
        contact=Telegraph(side, side),
        sliding=Sliding(0.0, 1e-4, 0.5, 2e-3),
        resistance=Resistance(3.0, 0.5),
        supply=Part(3.3, 0.05),
        stages=(StageEntry("filter", filtered), StageEntry("input", logic)),
        counter=StepDirection(0, 0, 1, 2_000_000, 1_000_000, 1_000_000, 1_000_000, 3, 0),
        range=Range(8, 4, 0),
    )


def later_edge(detail: BlockDetail) -> None:
    detail.lines[1][1].times[3] += 2


def other_origin(detail: BlockDetail) -> None:
    detail.lines[0][0].causes[2] ^= 1


def later_crossing(detail: BlockDetail) -> None:
    detail.truth.transitions.times[5] += 3


def turned_pulse(detail: BlockDetail) -> None:
    detail.pulses.moved[1] *= -1


def other_verdict(detail: BlockDetail) -> None:
    detail.verdicts[4] = (detail.verdicts[4] + 1) % 5


def other_error(detail: BlockDetail) -> None:
    detail.result.errors[0] += 1


def other_excursion(detail: BlockDetail) -> None:
    detail.result.sums.excursions[1] += 1


@pytest.mark.parametrize(
    "damage",
    [later_edge, other_origin, later_crossing, turned_pulse, other_verdict, other_error, other_excursion],
)
def test_comparison_notices(damage: Callable[[BlockDetail], None]) -> None:
    """A comparison that cannot fail proves nothing: one changed integer anywhere is noticed."""
    design, address = plain_design(), (7, 11)
    engine = BatchEngine(design, 1)
    detail = engine.detail(*address, 1)

    def compare() -> None:
        compare_alone(design, address, detail, engine.chain, 0)
        comparing.same_sums([compare_given(design, address, detail, engine.chain, 0)], detail)

    compare()
    damage(detail)
    with pytest.raises(AssertionError):
        compare()


def test_rock_between_close_stops() -> None:
    """A faultless chain rocks to and fro between two stops that are closer than the rock is wide."""
    rock = Gesture(ROCK, 2, 0.9, 0.9, 1, 0.03, 0.0, 0.05, 0.0, 0, 0.0)
    design = dataclasses.replace(
        plain_design(),
        geometry=Geometry(12.0, 1.0, 0.5, 0.0, 0.25, 0.0, 0.0, 0.0),
        hand=(HandEntry("rock", rock, 2),),
        contact=Clean(1),
        stages=(),
        counter=Quadrature(2, 1),
        range=Range(2, 0, 0),
        counts_per_step=2,
    )
    engine = BatchEngine(design, 1)
    compare_given(design, (0, 0), engine.detail(0, 0, 1), engine.chain, 0)
