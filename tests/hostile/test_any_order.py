"""Any stored spans, any blocks, any order of arrival, any executor: the same tally, the same end.

The reference is the campaign in its plainest way: nothing stored, blocks of the grid, each taken before the
next is asked for; and for what a rule decides, the rule applied by hand to sums of runs.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from simcore.campaigns.campaign import Campaign, Outcome, SpanCutter, drive
from simcore.campaigns.computing import Job
from simcore.campaigns.ledger import Span
from simcore.statistics.stopping import ALL_RUNS, ENOUGH_ERRORS, Stop, Target
from tests.hostile.pretended import GRID, Disorderly, Stored, campaign_of, computed, told
from tests.theory.test_same_answer import same_tally

MOST = 12 * GRID

spans = st.lists(st.builds(Span, first=st.integers(0, MOST), runs=st.integers(1, 3 * GRID)), max_size=25)
stops = st.builds(
    Stop,
    runs=st.integers(0, MOST),
    errors=st.none() | st.integers(1, 60),
    precision=st.none() | st.sampled_from([0.2, 0.5, 1.0]),
    seconds=st.none(),
    target=st.none() | st.sampled_from([Target(0.01), Target(0.045), Target(0.2)]),
)


def plainly(stop: Stop, first_run: int = 0) -> Outcome:
    """The outcome with nothing stored and every block taken at once."""
    going = campaign_of(stop, first_run=first_run)
    while (job := going.next()) is not None:
        going.take(job, computed(job))
    return going.outcome()


def same(one: Outcome, other: Outcome) -> None:
    """All but the time taken, and what was stored."""
    same_tally(one.tally, other.tally)
    assert one.ended_by == other.ended_by
    assert (one.rates is None) == (other.rates is None)
    if one.rates is not None and other.rates is not None:
        assert np.array_equal(one.rates, other.rates, equal_nan=True)


@settings(max_examples=400, deadline=None)
@given(spans, st.integers(0, MOST), st.integers(1, MOST), st.integers(1, 2 * GRID), st.integers(1, GRID))
@example([Span(0, GRID), Span(0, GRID + 1), Span(GRID, 1)], 0, 2 * GRID, GRID, 3)
def test_a_cutter_covers_all_runs_once_and_crosses_no_border(
    stored: list[Span], first: int, runs: int, grid: int, size: int
) -> None:
    cutter = SpanCutter(first, first + runs, grid, size, stored)
    at = first
    while (cut := cutter()) is not None:
        span, is_stored = cut
        assert span.first == at
        assert (span.first - first) // grid == (span.end - 1 - first) // grid
        assert span in stored if is_stored else 0 < span.runs <= size
        at = span.end
    assert at == first + runs


@settings(max_examples=200, deadline=None)
@given(spans, stops, st.integers(0, 2 * GRID), st.none() | st.integers(1, 2 * GRID), st.randoms(), st.data())
def test_whatever_is_stored_and_however_blocks_arrive(
    stored: list[Span], stop: Stop, first_run: int, block: int | None, order: Random, data: st.DataObject
) -> None:
    """Blocks are asked for ahead, and taken in any order."""
    ledger = Stored(stored)
    going = campaign_of(stop, ledger, first_run, block)
    out: list[Job] = []
    ahead = data.draw(st.integers(1, 9))
    while True:
        while len(out) < ahead and (job := going.next()) is not None:
            out.append(job)
        if not out:
            break
        job = out.pop(order.randrange(len(out)))
        going.take(job, computed(job))
    outcome = going.outcome()
    same(outcome, plainly(stop, first_run))
    assert ledger.asked <= outcome.kept <= outcome.tally.runs
    again = campaign_of(stop, ledger, first_run, block)
    assert again.next() is None
    same(again.outcome(), outcome)
    assert again.outcome().kept == outcome.tally.runs


@settings(max_examples=60, deadline=None)
@given(spans, st.lists(stops, min_size=1, max_size=8), st.integers(1, 8), st.integers(0, 2**32))
def test_many_campaigns_come_out_in_order_whoever_computes_them(
    stored: list[Span], rules: list[Stop], in_hand: int, seed: int
) -> None:
    executor = Disorderly(seed)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("simcore.campaigns.campaign.compute", computed)
        campaigns = [
            campaign_of(stop, Stored(stored), number, 1 + number % GRID) for number, stop in enumerate(rules)
        ]
        ended = list(drive(campaigns, executor, in_hand))
    executor.shutdown()
    assert ended == campaigns
    assert executor.most <= in_hand
    for number, (each, stop) in enumerate(zip(ended, rules, strict=True)):
        same(each.outcome(), plainly(stop, number))


def test_the_end_by_errors_is_where_a_sum_by_hand_has_it() -> None:
    for errors in (1, 7, 40):
        outcome = plainly(Stop(MOST, errors=errors))
        ends = range(GRID, MOST + 1, GRID)
        by_hand = next(end for end in ends if told(Span(0, end)).wrong >= errors)
        assert (outcome.ended_by, outcome.tally.runs) == (ENOUGH_ERRORS, by_hand)
    assert plainly(Stop(MOST, errors=10**6)).ended_by == ALL_RUNS


def test_campaigns_that_a_ledger_has_whole_are_alive_a_few_at_a_time() -> None:
    """So that memory does not grow with the number of cells of a sweep."""
    alive: list[int] = []
    ledger = Stored([Span(at, GRID) for at in range(0, MOST, GRID)])
    ended = 0

    def campaigns() -> Iterator[Campaign]:
        for number in range(200):
            alive.append(number - ended)
            yield campaign_of(Stop(MOST), ledger)

    executor = Disorderly(1)
    for each in drive(campaigns(), executor, 4):
        ended += 1
        assert each.outcome().kept == MOST
    executor.shutdown()
    assert ended == 200
    assert max(alive) <= 10
