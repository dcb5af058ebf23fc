"""The batch engine's tallies equal those of an independent program in plain C, to the last digit.

The C program shares no code with simcore and no order of work: it goes run by run through all
stages, the batch engine stage by stage through all runs.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simcore.base.draws import Part
from simcore.campaigns.campaign import run_campaign
from simcore.contacts.bursts import Wiping
from simcore.contacts.crossing import Sliding
from simcore.counters.base import NEW, OLD, WORST, Range
from simcore.counters.quadrature import Quadrature
from simcore.counters.step_direction import StepDirection
from simcore.design import Design, HandEntry, StageEntry
from simcore.hand.base import ALTERNATE, CLICK, CREEP, DOWN, EITHER, ROCK, SPIN, TWIST, UP, Gesture
from simcore.hand.geometry import Geometry
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import Level, SchmittInput
from simcore.networks.single_pole import SeriesCapacitor
from tests.benchmarks.fused import Fused, NoCompilerError, NotCoveredError, compiler
from tests.benchmarks.yardstick import default_design
from tests.theory.designs import side

pytestmark = pytest.mark.skipif(compiler() is None, reason="there is no C compiler on this machine")

MICROSECOND = 1_000_000
CHATTER = Wiping(
    side(pairs=1.0, rebound=0.7, packets=0.1, straggler=0.003),
    side(pairs=1.5, packets=0.1, straggler=0.003),
)
BUSY = Wiping(
    side(pairs=6.0, rebound=1.0, restitution=0.8, packets=2.0, straggler=0.5),
    side(zone=3.0, pairs=12.0, packets=3.0, straggler=0.5),
)
CLICKS = Gesture(CLICK, 1, 1.0, 1.0, EITHER, 28e-3, 0.25, 150e-3, 0.4, 0, 0.0)
TWISTS = Gesture(TWIST, 1, 5.0, 5.0, ALTERNATE, 50e-3, 0.15, 150e-3, 0.4, 0, 0.3)
SPINS = Gesture(SPIN, 1, 12.0, 12.0, DOWN, 200e-3, 0.5, 10e-3, 0.0, 1, 0.6)
CREEPS = Gesture(CREEP, 1, 1.0, 1.0, UP, 400e-3, 0.3, 100e-3, 0.4, 0, 0.0)
ROCKS = Gesture(ROCK, 1, 0.9, 0.2, EITHER, 60e-3, 0.3, 100e-3, 0.4, 0, 0.0)
EVERYTHING = (CLICKS, TWISTS, SPINS, CREEPS, ROCKS)


def line(farads: float, *, of_supply: int = 0, inverting: int = 0) -> tuple[StageEntry, ...]:
    """A network of so many farads into a Schmitt input, on both lines."""
    rising, falling = (0.6, 0.35) if of_supply else (1.9, 1.2)
    logic = SchmittInput(Level(Part(rising, 0.1), of_supply), Level(Part(falling, 0.1), of_supply), inverting)
    network = SeriesCapacitor(Part(4700.0, 0.05), Part(1000.0, 0.05), Part(farads, 0.2))
    return (StageEntry("filter", network), StageEntry("input", logic))


def limits(ticks: int, **others: int) -> StepDirection:
    """A counter on A's falling edge with all its limits at so many ticks."""
    return StepDirection(0, 0, 1, ticks, ticks, ticks, ticks, 0, 0)._replace(**others)


def design(*gestures: Gesture, farads: float = 100e-9) -> Design:
    """An ordinary design with one entry of the hand per gesture."""
    hand = tuple(HandEntry(str(number), gesture, 6) for number, gesture in enumerate(gestures or EVERYTHING))
    return Design(
        Geometry(20.0, 1.0, 0.5, 0.02, 0.25, 0.02, 0.0, 0.01), hand, CHATTER, Sliding(0.0, 1e-4, 0.5, 2e-3),
        Resistance(0.5, 0.3), Part(3.3, 0.05), line(farads), limits(MICROSECOND), Range(0, 0, 0), 1,
    )  # fmt: skip


def variations() -> dict[str, Design]:
    """Designs that together reach every branch of the C program."""
    plain = design()
    half = plain.geometry._replace(cycles_per_step=0.5)
    return {
        "22 nF": design(farads=22e-9),
        "1 uF": design(farads=1e-6),
        "too slow to be seen": design(CLICKS._replace(dwell=1e-3), TWISTS._replace(dwell=1e-3), farads=20e-6),
        "no capacitor": design(farads=0.0),
        "clicks": design(CLICKS),
        "twists": design(TWISTS),
        "spins": design(SPINS),
        "creeps": design(CREEPS),
        "rocks": design(ROCKS),
        "busy contacts that slide": replace(plain, contact=BUSY, sliding=Sliding(20.0, 1e-4, 0.5, 2e-3)),
        "nothing drawn": replace(
            design(CLICKS._replace(duration_spread=0.0), farads=47e-9), resistance=Resistance(0.5, 0.0)
        ),
        "inverting share of the supply": replace(plain, stages=line(47e-9, of_supply=1, inverting=1)),
        "end stops": replace(design(farads=22e-9), range=Range(8, 3, 0)),
        "wrapping": replace(design(farads=22e-9), range=Range(8, 3, 1)),
        "half a cycle per detent": replace(design(farads=22e-9), geometry=half),
        "half a cycle, counting down": replace(design(farads=22e-9), geometry=half, counter=limits(0, up=0)),
        "slow counter": replace(design(farads=22e-9), counter=limits(3000 * MICROSECOND)),
        "coins": replace(design(farads=10e-9), counter=limits(500 * MICROSECOND, short=1, high=0)),
        "old": replace(design(farads=1e-6), counter=limits(2000 * MICROSECOND, low=0, high=0, doubt=OLD)),
        "new": replace(design(farads=1e-6), counter=limits(2000 * MICROSECOND, low=0, high=0, doubt=NEW)),
        "worst": replace(design(farads=1e-6), counter=limits(2000 * MICROSECOND, low=0, high=0, doubt=WORST)),
        "B clocks, rising": replace(plain, counter=limits(MICROSECOND, clock=1, active=1, up=0)),
    }  # fmt: skip


def assert_equal(chosen: Design, seed: int, runs: int) -> None:
    """Every number of both tallies is the same."""
    try:
        fused = Fused(chosen).tally(seed, runs)
    except NoCompilerError as error:
        pytest.skip(str(error))
    batch = run_campaign(chosen, seed=seed, runs=runs).tally
    for name, ours, theirs in zip(batch.sums._fields, batch.sums, fused.sums, strict=True):
        np.testing.assert_array_equal(ours, theirs, err_msg=name)
    assert batch.errors == fused.errors
    assert batch.steps > 0


def test_default_scenario() -> None:
    assert_equal(default_design(), 1, 5000)


@pytest.mark.parametrize("seed", [0, 2**63 - 1])
def test_other_seeds(seed: int) -> None:
    assert_equal(default_design(), seed, 1000)


@pytest.mark.parametrize("name", variations())
def test_variations(name: str) -> None:
    assert_equal(variations()[name], 7, 1000)


def test_the_variations_go_wrong_in_many_ways() -> None:
    """Equal tallies say little where nothing happens: nearly every cause must occur somewhere."""
    found = {cause for chosen in variations().values() for cause in Fused(chosen).tally(7, 300).causes}
    assert found >= {
        "chatter", "swallowed", "short pulse", "late direction", "early direction", "sliding",
        "end stop", "misfit", "swapped order",
    }  # fmt: skip


def test_a_design_that_c_does_not_cover_is_refused() -> None:
    with pytest.raises(NotCoveredError, match="Quadrature"):
        Fused(replace(design(), counter=Quadrature(4, 1)))
    with pytest.raises(NotCoveredError, match="one network into one input"):
        Fused(replace(design(), stages=()))
