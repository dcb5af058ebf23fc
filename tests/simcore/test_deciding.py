"""What counts as settled, alone and among several; P values raised for being several."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.statistics.paired import BETTER, SAME, UNSETTLED, WORSE, Pair, decide, difference_interval, holm

RUNS, STEPS = 1000, 18


def pair(more: int, fewer: int, runs: int = RUNS) -> Pair:
    """So many of the runs of 18 steps have one step wrong in the other design only, or in the first only."""
    return Pair(
        runs, runs * STEPS, runs * STEPS**2, more, more, STEPS * more, fewer, fewer, STEPS * fewer, 0,
        runs - more - fewer, more, fewer, 0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("more", "fewer", "verdict"),
    [(0, 200, BETTER), (200, 0, WORSE), (50, 250, BETTER), (11, 10, UNSETTLED), (30, 30, UNSETTLED),
     (0, 0, SAME)],
)  # fmt: skip
def test_verdicts(more: int, fewer: int, verdict: str) -> None:
    (found,) = decide([pair(more, fewer)])
    assert found.verdict == verdict
    assert found.level == 0.95
    assert found.interval == difference_interval(pair(more, fewer), 0.95)
    assert found.interval.estimate == pytest.approx((more - fewer) / (RUNS * STEPS))


def test_more_runs_are_told_for_the_unsettled_only() -> None:
    near, nearer, even, clear, none = decide(
        [pair(20, 10), pair(15, 10), pair(10, 10), pair(0, 300), pair(0, 0)]
    )
    assert near.more_runs is not None
    assert nearer.more_runs is not None
    assert 0 < near.more_runs < nearer.more_runs
    assert even.more_runs is clear.more_runs is none.more_runs is None


@pytest.mark.parametrize(("share", "settled"), [(0.9, False), (1.1, True)])
def test_so_many_more_runs_would_settle_it(share: float, settled: bool) -> None:
    """With all counts grown in the proportion that is told, but for a tenth to either side."""
    more, fewer, runs = 2600, 2500, 100_000
    (found,) = decide([pair(more, fewer, runs)])
    assert found.verdict == UNSETTLED
    assert found.more_runs is not None
    factor = 1.0 + share * found.more_runs / runs
    (grown,) = decide([pair(round(more * factor), round(fewer * factor), round(runs * factor))])
    assert (grown.verdict == WORSE) == settled


def edge() -> tuple[int, int]:
    """Steps in one design only that are just settled alone, and not among ten."""
    for more in range(11, 100):
        if difference_interval(pair(more, 10), 0.95).low > 0.0:
            return more, 10
    raise AssertionError("never settled")


def test_what_is_settled_alone_may_not_be_among_many() -> None:
    just = pair(*edge())
    assert decide([just])[0].verdict == WORSE
    among = decide([just, *[pair(10, 10)] * 9])
    assert among[0].verdict == UNSETTLED
    assert among[0].level == pytest.approx(1.0 - 0.05 / 10)
    assert among[0].interval.level == 0.95


def test_what_is_settled_makes_room_for_the_rest() -> None:
    """Holm's step: with all others settled, the last is judged as if it were alone."""
    just = pair(*edge())
    found = decide([just, *[pair(0, 400)] * 9])
    assert [each.verdict for each in found] == [WORSE, *[BETTER] * 9]


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=1, max_size=5))
def test_never_more_is_settled_together_than_alone(counts: list[tuple[int, int]]) -> None:
    pairs = [pair(*each) for each in counts]
    together = decide(pairs)
    for each, found in zip(pairs, together, strict=True):
        (alone,) = decide([each])
        assert found.interval == alone.interval
        assert found.verdict in (alone.verdict, UNSETTLED)


values = st.lists(st.floats(0.0, 1.0), min_size=1, max_size=6)


@settings(max_examples=300, deadline=None)
@given(values)
def test_raised_p_values_are_those_of_the_closed_test(given_values: list[float]) -> None:
    """Marcus, Peritz and Gabriel (Biometrika 63 (1976) 655): a hypothesis falls when every intersection that
    holds it does; with Bonferroni's test of each, that is Holm's procedure (from memory).
    """
    numbers = range(len(given_values))
    subsets = [
        chosen for size in range(1, len(given_values) + 1) for chosen in itertools.combinations(numbers, size)
    ]
    expected = [
        max(
            min(1.0, len(chosen) * min(given_values[i] for i in chosen))
            for chosen in subsets
            if number in chosen
        )
        for number in numbers
    ]
    assert holm(given_values) == pytest.approx(expected)
