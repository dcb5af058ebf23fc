"""Choosing: when a candidate is good, how many runs that takes, and where its neighbours are not."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.campaigns.campaign import run_campaign
from simcore.campaigns.choosing import (
    BAD,
    CONFIRMED,
    GOOD,
    UNDECIDED,
    confirmed,
    confirming_level,
    decades_below,
    fewest_runs,
    parts_of,
    shared,
    sides,
    worst_high,
)
from simcore.judging.tally import Cluster
from simcore.statistics.estimates import rate_interval
from simcore.statistics.stopping import (
    BETTER,
    WORSE,
    Stop,
    Target,
    analysis_level,
    decided,
    enough_runs,
    interim_analyses,
    joint_verdict,
)
from tests.simcore.builders import design, filtered

TARGET = Target(0.01, each=True, joint=True)
ONE_LOOK = 0.90
"""A two-sided interval whose upper bound alone holds with 95 %."""


def cluster(runs: int, steps: int, with_wrong: int, wrong: int = 1) -> Cluster:
    """``with_wrong`` of the runs had ``wrong`` wrong steps each."""
    total = with_wrong * wrong
    return Cluster(
        runs=runs, runs_with=with_wrong, x=runs * steps, xx=runs * steps * steps,
        y=total, yy=total * wrong, xy=total * steps,
    )  # fmt: skip


def test_the_rule_of_three() -> None:
    """No event in n trials: the upper 95 % bound is about 3 / n (Hanley and Lippman-Hand, J. Am. Med.
    Assoc. 249 (1983) 1743); the exact one is 1 - 0.05 ** (1 / n).
    """
    for rate in (0.1, 0.01, 0.001, 1.0e-4):
        least = math.ceil(math.log(0.05) / math.log1p(-rate))
        assert enough_runs(least, Target(rate), ONE_LOOK)
        assert not enough_runs(least - 1, Target(rate), ONE_LOOK)
        assert least * rate == pytest.approx(3.0, rel=0.06)


def test_a_hit_does_not_spare_runs() -> None:
    """A few wrong steps make the interval narrower than none at all does; that must not call it good."""
    few = cluster(100, 18, 1)
    assert not enough_runs(100, TARGET, ONE_LOOK)
    assert joint_verdict([few], TARGET, ONE_LOOK) is None
    assert joint_verdict([cluster(400, 18, 1)], TARGET, ONE_LOOK) == BETTER


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 3000), st.floats(0.0, 0.2)), min_size=1, max_size=4))
def test_good_means_every_part_and_bad_means_any(drawn: list[tuple[int, float]]) -> None:
    parts = [cluster(runs, 10, int(runs * share)) for runs, share in drawn]
    found = joint_verdict(parts, TARGET, 0.95)
    each = [decided(part, TARGET, 0.95) for part in parts]
    if found == BETTER:
        assert each == [BETTER] * len(parts)
        assert all(rate_interval(part, 0.95).high <= TARGET.rate for part in parts)
    if found == WORSE:
        assert WORSE in each
    if WORSE in each:
        assert found != BETTER


@pytest.mark.parametrize("rate", [0.3, 0.1, 0.01])
@pytest.mark.parametrize("block", [50, 187, 2000])
def test_fewest_runs_are_the_fewest(rate: float, block: int) -> None:
    """Counted up one by one: so many runs without a wrong step are called good and confirmed, none fewer."""
    target = Target(rate, each=True, joint=True)

    def good_at_the_last_look(runs: int) -> bool:
        parts, level = [cluster(runs, 10, 0)], analysis_level(target, len(interim_analyses(block, runs)))
        searched = joint_verdict(parts, target, level) == BETTER
        return searched and confirmed(parts, target, CONFIRMED) == GOOD

    assert fewest_runs(target, block) == next(filter(good_at_the_last_look, itertools.count(1)))


@pytest.mark.parametrize("rate", [0.02, 0.1, 0.5, 0.99])
def test_fewest_runs_may_be_less_than_a_block(rate: float) -> None:
    """By Clopper and Pearson's bound of no event in n trials, 1 - tail ** (1 / n), at each tail in use: one
    look at 5 %, and a fifth of that for each of those confirmed.
    """
    tail = 0.05 / CONFIRMED
    least = next(n for n in range(1, 500) if 1.0 - tail ** (1.0 / n) <= rate + 1.0e-12)
    assert fewest_runs(Target(rate, each=True, joint=True), 500) == least


def test_confirming_shares_the_chance_of_an_error() -> None:
    """Bonferroni: the tails of all that are tried again add up to 1 - confidence."""
    for count in (1, 2, 5):
        tail = 0.5 * (1.0 - confirming_level(TARGET, count))
        assert count * tail == pytest.approx(0.05)
        assert 1.0 - shared(TARGET, count).confidence == pytest.approx(0.05 / count)


def test_verdicts_on_new_runs() -> None:
    assert confirmed([cluster(5000, 10, 10)], TARGET, 1) == GOOD
    assert confirmed([cluster(5000, 10, 10), cluster(5000, 10, 1500)], TARGET, 1) == BAD
    assert confirmed([cluster(5000, 10, 10), cluster(5000, 10, 500)], TARGET, 1) == UNDECIDED


def test_the_worst_part_bounds() -> None:
    parts = [cluster(2000, 10, 5), cluster(2000, 5, 40)]
    assert worst_high(parts, 0.95) == rate_interval(parts[1], 0.95)
    assert decades_below(1.0e-4, 1.0e-3) == pytest.approx(1.0)
    assert decades_below(2.0e-3, 1.0e-3) == pytest.approx(-math.log10(2.0))


def test_the_search_ends_by_the_joint_rule() -> None:
    """A campaign under a joint target ends where the rule first decides, at a look, for every gesture."""
    bouncy = design(filtered(22.0))
    outcome = run_campaign(bouncy, seed=5, runs=4000, stop=Stop(4000, target=Target(0.9, 0.95, True, True)))
    assert outcome.ended_by == BETTER
    assert outcome.tally.runs < 4000
    assert joint_verdict(parts_of(outcome.tally), Target(0.9), 0.9) == BETTER
    strict = Target(1.0e-5, 0.95, True, True)
    outcome = run_campaign(bouncy, seed=5, runs=4000, stop=Stop(4000, target=strict))
    assert outcome.ended_by == WORSE


GRID = [
    "..##..",
    ".####.",
    "..##..",
]
"""Good cells, by hand: rows are axis 0, columns axis 1."""


def good(place: tuple[int, ...]) -> bool:
    return GRID[place[0]][place[1]] == "#"


def test_neighbours_that_are_not_good() -> None:
    numbers = [1.0, 2.0, 4.0, 8.0, 16.0, 32.0]
    (first, near), (last, far) = sides((1, 2), 1, numbers, 6, good)
    assert (first, last) == ((1, 0), (1, 5))
    assert (near, far) == pytest.approx((math.log10(4.0), math.log10(8.0)))
    (first, near), (last, far) = sides((1, 2), 0, [10.0, 20.0, 30.0], 3, good)
    assert (first, last) == (None, None)
    assert (near, far) == pytest.approx((2.0 * math.log10(2.0), 2.0 * math.log10(1.5)))
    words = list(sides((1, 2), 0, None, 3, good))
    assert all(place is None and math.isnan(distance) for place, distance in words)


def test_the_middle_has_more_room_than_the_edge() -> None:
    numbers = [10.0 ** (i / 6.0) for i in range(9)]
    inside = range(2, 7)

    def within(place: tuple[int, ...]) -> bool:
        return place[0] in inside

    rooms = {i: min(distance for _, distance in sides((i,), 0, numbers, 9, within)) for i in inside}
    assert max(rooms, key=lambda i: rooms[i]) == 4
    ordered = [rooms[i] for i in inside]
    assert ordered == pytest.approx(ordered[::-1])
    assert all(a < b for a, b in itertools.pairwise(ordered[:3]))
