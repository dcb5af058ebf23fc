"""Designs on the same runs: sums by hand, order, blocks, threads, engines, what cannot be compared."""

from __future__ import annotations

import pathlib
from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenarios.ledger import LedgerFile
from simcore.base.draws import Part
from simcore.campaigns.campaign import Campaign, Outcome, Progress, run_campaign, run_designs, runs_per_block
from simcore.campaigns.options import RunOptions
from simcore.campaigns.pairing import NotComparableError, PairedSums, nothing_paired
from simcore.design import Design, HandEntry, StageEntry
from simcore.hand.base import TWIST, Gesture
from simcore.judging.sums import QUANTITIES, WRONG
from simcore.stages.pickup import PickUp
from simcore.stages.quiet_time import QuietTime
from simcore.statistics.paired import WORSE, decide, difference_interval, settled
from simcore.statistics.stopping import (
    ALL_RUNS,
    ENOUGH_ERRORS,
    INTERRUPTED,
    PRECISE,
    SETTLED,
    Stop,
    interim_analyses,
)
from tests.simcore import builders
from tests.simcore.plain_pairs import partings_of, runs_of, same_spurious, same_sums, spurious_of
from tests.theory import designs as make
from tests.theory.test_same_answer import same_tally

SEED = 11
TWISTS = Gesture(TWIST, 1, 3.0, 3.0, 0, 40e-3, 0.2, 0.1, 0.2, 0, 0.3)
HAND = (HandEntry("clicks", builders.CLICKS, 4), HandEntry("twists", TWISTS, 2))


def design(nanofarads: float, *more: StageEntry) -> Design:
    """Bouncy contacts behind a filter."""
    return builders.design((*builders.filtered(nanofarads), *more), hand=HAND)


ONE = design(45.0)
OTHER = design(30.0)
NEAR = design(44.0)
"""So close to the first that several analyses are needed."""
QUIET = design(45.0, StageEntry("quiet", QuietTime(Part(1e-4, 0.1))))


def compared(
    *designs: Design,
    runs: int = 60,
    ledger: LedgerFile | None = None,
    progress: Progress | None = None,
    **more: Any,
) -> Outcome:
    """So many runs of designs, or until a rule among ``more`` ends them."""
    how = {name: more.pop(name) for name in ("first_run", "engine", "threads", "block") if name in more}
    return run_designs(designs, RunOptions(SEED, Stop(runs, **more), **how), ledger=ledger, progress=progress)


def same_pairs(one: PairedSums, other: PairedSums) -> None:
    """All whole numbers are equal."""
    assert one.runs == other.runs
    for name in ("sizes", "sums", "tables", "spurious"):
        assert np.array_equal(getattr(one, name), getattr(other, name)), name
    assert one.partings == other.partings


def same_comparison(one: Outcome, other: Outcome) -> None:
    for mine, theirs in zip(one.tallies, other.tallies, strict=True):
        same_tally(mine, theirs)
    for pairs, others in zip(one.pairs, other.pairs, strict=True):
        same_pairs(pairs, others)


@st.composite
def alike(draw: st.DrawFn) -> tuple[Design, Design]:
    """Any two designs that meet the same hand, encoder and contacts."""
    first, second = draw(make.designs()), draw(make.designs())
    return first, replace(
        second, hand=first.hand, geometry=first.geometry, contact=first.contact, sliding=first.sliding
    )


def test_sums_are_those_of_two_single_campaigns_step_by_step() -> None:
    """On any designs; and the cases must not be empty of differences."""
    seen: Counter[str] = Counter()

    @settings(max_examples=40, deadline=None)
    @given(alike(), make.seeds, st.integers(0, 10**6), st.integers(1, 6))
    def check(both: tuple[Design, Design], seed: int, first_run: int, runs: int) -> None:
        found = run_designs(both, RunOptions(seed, Stop(runs), first_run))
        one, other = (runs_of(each, seed, first_run, runs) for each in both)
        seen["apart"] += same_sums(found.pairs[0], one, other, len(both[0].hand))
        told = {
            key: (parting.steps, parting.run, parting.step)
            for key, parting in found.pairs[0].partings.items()
        }
        assert told == partings_of(one, other, first_run)
        for tally, each in zip(found.tallies, both, strict=True):
            same_tally(tally, run_campaign(each, seed=seed, runs=runs, first_run=first_run).tally)

    check()
    assert seen["apart"] > 100


def test_each_tally_is_what_a_campaign_of_that_design_gives() -> None:
    found = compared(ONE, OTHER, QUIET)
    for tally, each in zip(found.tallies, (ONE, OTHER, QUIET), strict=True):
        same_tally(tally, run_campaign(each, seed=SEED, runs=60).tally)
    wrong = [tally.wrong for tally in found.tallies]
    assert len(set(wrong)) == 3
    for pairs, tally in zip(found.pairs, found.tallies[1:], strict=True):
        only_first, only_other = pairs.only("wrong")
        assert only_other - only_first == tally.wrong - found.tallies[0].wrong


def test_a_design_against_itself_has_no_difference_at_all() -> None:
    pairs = compared(ONE, ONE).pairs[0]
    assert pairs.partings == {}
    assert not pairs.sums.any()
    for group in range(3):
        for quantity in QUANTITIES:
            pair = pairs.pair(quantity, group)
            assert (pair.a_wrong, pair.b_wrong) == (0, 0)
            assert pair.both_right + pair.both_wrong == pair.runs == 60


def test_the_other_order_turns_signs_only() -> None:
    forth, back = (compared(*both).pairs[0] for both in ((ONE, OTHER), (OTHER, ONE)))
    assert forth.sums[0, WRONG].any()
    for group in range(3):
        for quantity in QUANTITIES:
            one, other = forth.pair(quantity, group), back.pair(quantity, group)
            assert (one.p, one.pp, one.xp, one.pm) == (other.m, other.mm, other.xm, other.pm)
            assert (one.a_wrong, one.b_wrong) == (other.b_wrong, other.a_wrong)
    assert forth.partings == {(a, b): parting for (b, a), parting in back.partings.items()}


def test_counts_that_no_movement_caused_are_paired_run_by_run() -> None:
    """Pick-up behind the filter, and the same with a quiet time behind that lets some of it through."""
    leads = StageEntry("leads", PickUp(80.0, 60e-6, 0.5, 0))
    one, other = design(100.0, leads), design(100.0, leads, StageEntry("quiet", QuietTime(Part(6e-5, 0.1))))
    pairs = compared(one, other, QUIET).pairs
    counts = [spurious_of(each, SEED, 0, 60) for each in (one, other, QUIET)]
    assert same_spurious(pairs[0], counts[0], counts[1]) > 100
    assert 0 < sum(counts[1]) < sum(counts[0])
    same_spurious(pairs[1], counts[0], counts[2])
    assert sum(counts[2]) == 0


def test_a_third_design_changes_nothing_between_two() -> None:
    alone, among = compared(ONE, OTHER), compared(ONE, QUIET, OTHER)
    same_pairs(alone.pairs[0], among.pairs[1])


@pytest.mark.parametrize("block", [1, 7, 59, 60, 1000])
@pytest.mark.parametrize("threads", [1, 3])
def test_neither_blocks_nor_threads_matter(block: int, threads: int) -> None:
    same_comparison(compared(ONE, OTHER, QUIET, block=block, threads=threads), compared(ONE, OTHER, QUIET))


def test_both_engines_give_the_same() -> None:
    batch, events = (compared(ONE, OTHER, QUIET, runs=12, engine=engine) for engine in ("batch", "events"))
    same_comparison(batch, events)
    assert batch.pairs[0].partings


def test_runs_of_two_parts_add_up_to_the_whole() -> None:
    whole = compared(ONE, OTHER)
    parts = [compared(ONE, OTHER, runs=30, first_run=at) for at in (0, 30)]
    same_pairs(parts[0].pairs[0] + parts[1].pairs[0], whole.pairs[0])
    same_pairs(nothing_paired(2) + whole.pairs[0], whole.pairs[0])


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"hand": HAND[:1]}, "hand or encoder"),
        ({"geometry": builders.WHOLE_CYCLE._replace(cycles_per_step=0.5)}, "hand or encoder"),
        ({"contact": builders.CLEAN}, "contacts"),
        ({"sliding": builders.NO_SLIDES._replace(rate=60.0)}, "contacts"),
    ],
)
def test_designs_that_do_not_meet_the_same_are_refused(changes: dict[str, object], says: str) -> None:
    with pytest.raises(NotComparableError, match=says):
        compared(ONE, replace(ONE, **changes))  # type: ignore[arg-type]


def test_an_unknown_engine_is_refused() -> None:
    with pytest.raises(ValueError, match="no engine 'slow'"):
        compared(ONE, OTHER, engine="slow")


@pytest.mark.parametrize("threads", [1, 2])
def test_what_was_finished_when_interrupted_is_kept_for_all_designs(threads: int) -> None:
    told = 0

    def stop(done: int, asked: int) -> None:
        nonlocal told
        assert asked == 60
        told = done
        if done >= 20:
            raise KeyboardInterrupt

    found = compared(ONE, OTHER, block=10, threads=threads, progress=stop)
    assert found.ended_by == INTERRUPTED
    assert 20 <= told < 60
    assert {found.runs, found.pairs[0].runs, *(tally.runs for tally in found.tallies)} == {told}
    same_pairs(found.pairs[0], compared(ONE, OTHER, runs=told).pairs[0])


@pytest.mark.parametrize(("last", "why"), [(20, INTERRUPTED), (60, ALL_RUNS)])
def test_ctrl_c_after_the_last_run_interrupts_nothing(last: int, why: str) -> None:
    def note(done: int, asked: int) -> None:
        if done >= last:
            raise KeyboardInterrupt

    found = compared(ONE, OTHER, block=20, progress=note)
    assert (found.ended_by, found.runs) == (why, last)


GRID = runs_per_block(ONE)
SETTLE: dict[str, Any] = {"settled": 0.95}


def test_a_comparison_ends_once_every_difference_is_settled() -> None:
    """At one of the planned analyses, and at the first where it is so."""
    planned = interim_analyses(GRID, 9 * GRID)
    found = compared(ONE, OTHER, NEAR, runs=9 * GRID, **SETTLE)
    assert found.ended_by == SETTLED
    assert found.analyses == len(planned) == 5
    assert found.runs in planned[1:-1]
    for runs in planned[: planned.index(found.runs) + 1]:
        pairs = [pair.pair("wrong") for pair in compared(ONE, OTHER, NEAR, runs=runs).pairs]
        assert settled(pairs, 0.95, len(planned)) == (runs == found.runs)
        assert decide(pairs, 0.95, 5)[0].verdict == WORSE, "the clear difference waits for the other"


def test_designs_that_are_the_same_are_never_settled() -> None:
    assert compared(ONE, ONE, runs=2 * GRID, **SETTLE).ended_by == ALL_RUNS
    assert compared(ONE, ONE, OTHER, runs=2 * GRID, **SETTLE).ended_by == ALL_RUNS
    with pytest.raises(ValueError, match="one design only"):
        compared(ONE, **SETTLE)


def test_the_other_rules_must_hold_of_every_design() -> None:
    by_errors = compared(ONE, OTHER, QUIET, runs=9 * GRID, errors=150)
    assert by_errors.ended_by == ENOUGH_ERRORS
    fewest = [
        min(compared(ONE, OTHER, QUIET, runs=runs).tallies, key=lambda tally: tally.wrong).wrong
        for runs in (by_errors.runs - GRID, by_errors.runs)
        if runs
    ]
    assert fewest[-1] >= 150
    assert all(each < 150 for each in fewest[:-1])
    precise = compared(ONE, OTHER, runs=20 * GRID, precision=0.5)
    assert precise.ended_by == PRECISE
    interval = difference_interval(precise.pairs[0].pair("wrong"))
    assert max(interval.high - interval.estimate, interval.estimate - interval.low) <= 0.5 * abs(
        interval.estimate
    )
    assert compared(ONE, OTHER, runs=3 * GRID, seconds=1e-9).runs == GRID


def test_one_set_of_weights_serves_all_designs() -> None:
    """Rates without the bias of an ending by errors: of a design against itself those of the design alone,
    and the difference of two from the same blocks.
    """
    alone = run_campaign(ONE, seed=SEED, runs=0, stop=Stop(9 * GRID, errors=400), margins=False)
    twice = compared(ONE, ONE, runs=9 * GRID, errors=400)
    assert alone.ended_by == twice.ended_by == ENOUGH_ERRORS
    assert alone.runs == twice.runs > GRID
    assert alone.rates is not None
    assert twice.all_rates is not None
    for rates in twice.all_rates:
        assert np.array_equal(rates, alone.rates, equal_nan=True)


@pytest.mark.parametrize("rules", [{}, SETTLE, {"errors": 300}, {"precision": 0.4}])
@pytest.mark.parametrize(("threads", "block"), [(1, 17), (3, None)])
def test_endings_depend_neither_on_blocks_nor_on_threads(
    rules: dict[str, Any], threads: int, block: int | None
) -> None:
    plain = compared(ONE, OTHER, NEAR, runs=5 * GRID, **rules)
    found = compared(ONE, OTHER, NEAR, runs=5 * GRID, threads=threads, block=block, **rules)
    assert found.ended_by == plain.ended_by
    same_comparison(found, plain)


def test_a_comparison_from_a_ledger_is_the_one_that_was_computed(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = compared(ONE, OTHER, QUIET, runs=3 * GRID)
    with LedgerFile(tmp_path / "ledger.sqlite") as ledger:
        first = compared(ONE, OTHER, QUIET, runs=3 * GRID, ledger=ledger)
        monkeypatch.setattr("simcore.campaigns.campaign.compute", lambda job: pytest.fail("simulated"))
        again = compared(ONE, OTHER, QUIET, runs=3 * GRID, ledger=ledger)
        fewer = compared(ONE, QUIET, runs=2 * GRID, ledger=ledger)
    assert (first.kept, again.kept, fewer.kept) == (0, 3 * GRID, 2 * GRID)
    same_comparison(first, plain)
    same_comparison(again, plain)
    same_pairs(fewer.pairs[0], compared_anew(monkeypatch, ONE, QUIET, runs=2 * GRID).pairs[0])


def compared_anew(monkeypatch: pytest.MonkeyPatch, *designs: Design, runs: int) -> Outcome:
    """With blocks computed again."""
    monkeypatch.undo()
    return compared(*designs, runs=runs)


def test_verbs_serve_each_other(tmp_path: pathlib.Path) -> None:
    """Tallies of a comparison are those of its designs; and a comparison simulates only what is missing."""
    with LedgerFile(tmp_path / "ledger.sqlite") as ledger:
        compared(ONE, OTHER, runs=2 * GRID, ledger=ledger)
        served = run_campaign(OTHER, seed=SEED, runs=2 * GRID, margins=False, ledger=ledger)
        assert served.kept == 2 * GRID
        same_tally(served.tally, run_campaign(OTHER, seed=SEED, runs=2 * GRID).tally)
        assert run_campaign(OTHER, seed=SEED, runs=2 * GRID, ledger=ledger).kept == 0
        run_campaign(QUIET, seed=SEED, runs=2 * GRID, ledger=ledger)
        going = Campaign([ONE, OTHER, QUIET], RunOptions(SEED, Stop(2 * GRID)), ledger)
        job = going.next()
        assert job is not None
        assert (job.tallies, job.pairs) == ((), (2,)), "pairs with the first are missing of the third only"
        more = compared(ONE, OTHER, QUIET, runs=3 * GRID, ledger=ledger)
        same_comparison(more, compared(ONE, OTHER, QUIET, runs=3 * GRID))
        turned = compared(OTHER, ONE, runs=2 * GRID, ledger=ledger)
        assert turned.kept == 0, "a pair has a first design"
        same_comparison(turned, compared(OTHER, ONE, runs=2 * GRID))


@pytest.mark.parametrize("threads", [1, 3])
@pytest.mark.parametrize("rules", [{}, SETTLE])
def test_interrupted_and_gone_on_with_is_as_straight_through(
    tmp_path: pathlib.Path, threads: int, rules: dict[str, Any]
) -> None:
    plain = compared(ONE, NEAR, runs=5 * GRID, **rules)
    assert plain.runs > 2 * GRID

    def stop(done: int, asked: int) -> None:
        raise KeyboardInterrupt

    with LedgerFile(tmp_path / "ledger.sqlite") as ledger:
        cut = compared(ONE, NEAR, runs=5 * GRID, threads=threads, ledger=ledger, progress=stop, **rules)
        assert (cut.ended_by, cut.runs) == (INTERRUPTED, GRID)
        found = compared(ONE, NEAR, runs=5 * GRID, threads=threads, ledger=ledger, **rules)
    assert found.kept >= GRID
    assert found.ended_by == plain.ended_by
    same_comparison(found, plain)
