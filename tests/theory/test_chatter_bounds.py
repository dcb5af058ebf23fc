"""Closed forms of the contacts' chatter against bursts that are drawn."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from simcore.base.check import FASTEST, Chatter
from simcore.base.ticks import NEVER
from simcore.checks.context import chatter_of, slowest_crossing
from simcore.contacts.bursts import (
    BadPad,
    Crossing,
    Telegraph,
    TelegraphSide,
    Wiping,
    WipingSide,
    contact_burst,
    straggler_end,
    telegraph_back,
    telegraph_longest,
    wiping_back,
    wiping_dense,
)
from simcore.contacts.chatter import longer_gap
from simcore.contacts.crossing import SCRATCH, Sliding
from simcore.contacts.recorded import Recorded, bursts_of
from simcore.design import Design
from tests.theory import designs as make

BURSTS = 3000
SPEED = 700.0
"""Degrees of shaft per second."""
WIPING = make.side(zone=0.3, pairs=1.5, rebound=0.5, packets=0.3, straggler=0.05)
TELEGRAPH = TelegraphSide(2.0, 1e-3, 0.4, 2e-3)


def bursts(contact: object, closing: int = 1, count: int = BURSTS) -> list[list[float]]:
    """Times (s after the crossing) of bursts drawn by the rule itself."""
    times, origins = np.zeros(SCRATCH, np.int64), np.zeros(SCRATCH, np.int32)
    found = []
    for number in range(count):
        crossing = Crossing(11, number, 0, 0, closing, SPEED, 10**12, NEVER, 0)
        n = contact_burst(contact, crossing, times, origins)
        found.append([int(t) * 1e-12 for t in times[:n]])
    return found


def longest_return(burst: list[float]) -> float:
    """The longest time back in the old state."""
    return max((b - a for a, b in zip(burst[1::2], burst[2::2], strict=True)), default=0.0)


def within(share: float, chance: float) -> bool:
    """Four standard errors of a binomial share: one false alarm in 16,000."""
    return abs(share - chance) <= 4.0 * math.sqrt(chance * (1.0 - chance) / BURSTS)


@pytest.mark.parametrize(
    ("contact", "chance"),
    [
        (Wiping(WIPING, WIPING), wiping_back(WIPING, 0.3 / SPEED)),
        (Telegraph(TELEGRAPH, TELEGRAPH), telegraph_back(TELEGRAPH)),
    ],
    ids=["wiping", "telegraph"],
)
def test_the_chance_of_a_return_is_that_of_drawn_bursts(
    contact: object, chance: Callable[[float], float]
) -> None:
    found = [longest_return(burst) for burst in bursts(contact)]
    for gap in (10e-6, 40e-6, 100e-6, 200e-6, 400e-6):
        assert within(sum(each > gap for each in found) / BURSTS, chance(gap)), gap


def test_one_burst_in_a_thousand_is_longer_than_the_bound_at_most() -> None:
    """Four standard errors above one in a thousand."""
    allowed = FASTEST + 4.0 * math.sqrt(FASTEST / BURSTS)
    dense, late = wiping_dense(WIPING, 0.3 / SPEED), straggler_end(WIPING)
    ends = [burst[-1] for burst in bursts(Wiping(WIPING, WIPING))]
    assert sum(end > max(dense, late) for end in ends) / BURSTS <= allowed
    plain = WIPING._replace(straggler=0.0)
    ends = [burst[-1] for burst in bursts(Wiping(plain, plain))]
    assert sum(end > dense for end in ends) / BURSTS <= allowed
    assert max(ends) > 0.3 * dense
    ends = [burst[-1] for burst in bursts(Telegraph(TELEGRAPH, TELEGRAPH))]
    assert sum(end > telegraph_longest(TELEGRAPH) for end in ends) / BURSTS <= allowed


@pytest.mark.parametrize(("n", "share", "chance"), [(1, 0.5, 0.25), (1, 0.0, 1.0), (2, 0.5, 0.125)])
def test_gaps_among_uniform_points(n: int, share: float, chance: float) -> None:
    """Two points: their spacing exceeds x with (1 - x)^2.  Four: two gaps, not both longer than half."""
    assert longer_gap(n, share) == pytest.approx(chance)


def test_two_gaps_of_a_quarter_by_inclusion_and_exclusion() -> None:
    """2 (3/4)^4 - (1/2)^4."""
    assert longer_gap(2, 0.25) == pytest.approx(2 * 0.75**4 - 0.5**4)


def of(contact: object, sliding: Sliding = make.NO_SLIDING) -> Chatter | None:
    design: Design = make.design(make.spin(4, 20e-3), contact=contact, sliding=sliding)
    return chatter_of(design)


def test_each_kind_of_contact_has_its_bounds() -> None:
    quiet = of(make.CLEAN)
    assert quiet is not None
    assert (quiet.back, quiet.burst) == (0.0, 0.0)
    library = bursts_of([[0.0], [0.0, 20e-6, 50e-6, 60e-6, 70e-6]])
    recorded = of(Recorded(library, bursts_of([[0.0]]), 0.0, 1.0, 1.0))
    assert recorded is not None
    assert (recorded.back_make, recorded.burst, recorded.back_break) == pytest.approx((30e-6, 70e-6, 0.0))
    sound = Wiping(make.side(), make.side())
    bad = Telegraph(TELEGRAPH, TELEGRAPH)
    assert of(BadPad(sound, bad, 0, 20)) == of(bad)
    assert of(object()) is None


def test_an_open_while_sliding_counts_if_it_is_not_rare() -> None:
    long = Sliding(20.0, 300e-6, 0.0, 2e-3)
    chatter = of(make.CLEAN, long)
    assert chatter is not None
    assert chatter.back_make == pytest.approx(300e-6)
    rare = of(make.CLEAN, long._replace(rate=0.01))
    assert rare is not None
    assert rare.back_make == 0.0


def test_the_slowest_crossing_of_a_steady_turn() -> None:
    """20 steps a turn, 20 ms a step: a degree takes 20 / 18 ms."""
    slow, _ = slowest_crossing(make.design(make.spin(4, 20e-3)))
    assert slow == pytest.approx(20e-3 / 18.0)


def test_wear_without_bounce_is_none() -> None:
    nothing: WipingSide = make.side()
    assert wiping_back(nothing, 1e-3)(0.0) == 0.0
    assert wiping_dense(nothing, 1e-3) == 0.0
