"""Designs on the same runs: sums by hand, order, blocks, threads, engines, what cannot be compared."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.campaigns.campaign import run_campaign
from simcore.campaigns.comparing import Comparison, compare_designs
from simcore.campaigns.pairing import NotAlikeError, PairedSums, nothing_paired
from simcore.design import Design, HandEntry, StageEntry
from simcore.hand.kinds import TWIST, Gesture
from simcore.judging.sums import QUANTITIES, WRONG
from simcore.stages.pickup import PickUp
from simcore.stages.quiet import QuietTime
from simcore.statistics.stopping import ALL_RUNS, INTERRUPTED
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
QUIET = design(45.0, StageEntry("quiet", QuietTime(Part(1e-4, 0.1))))


def compared(*designs: Design, runs: int = 60, **more: object) -> Comparison:
    return compare_designs(designs, seed=SEED, runs=runs, **more)  # type: ignore[arg-type]


def same_pairs(one: PairedSums, other: PairedSums) -> None:
    """All whole numbers are equal."""
    assert one.runs == other.runs
    for name in ("sizes", "sums", "tables", "spurious"):
        assert np.array_equal(getattr(one, name), getattr(other, name)), name
    assert one.partings == other.partings


def same_comparison(one: Comparison, other: Comparison) -> None:
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
        found = compare_designs(both, seed=seed, runs=runs, first_run=first_run)
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
    parts = [compare_designs((ONE, OTHER), seed=SEED, runs=30, first_run=at) for at in (0, 30)]
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
    with pytest.raises(NotAlikeError, match=says):
        compared(ONE, replace(ONE, **changes))  # type: ignore[arg-type]


def test_an_unknown_engine_is_refused() -> None:
    with pytest.raises(ValueError, match="no engine 'slow'"):
        compared(ONE, OTHER, engine="slow")


@pytest.mark.parametrize("threads", [1, 2])
def test_what_was_finished_when_interrupted_is_kept_for_all_designs(threads: int) -> None:
    def stop(done: int, asked: int) -> None:
        assert asked == 60
        if done >= 20:
            raise KeyboardInterrupt

    found = compared(ONE, OTHER, block=10, threads=threads, progress=stop)
    assert found.ended_by == "interrupted"
    assert {found.runs, found.pairs[0].runs, *(tally.runs for tally in found.tallies)} == {20}
    same_pairs(found.pairs[0], compared(ONE, OTHER, runs=20).pairs[0])


@pytest.mark.parametrize(("last", "why"), [(20, INTERRUPTED), (60, ALL_RUNS)])
def test_ctrl_c_after_the_last_run_interrupts_nothing(last: int, why: str) -> None:
    def note(done: int, asked: int) -> None:
        if done >= last:
            raise KeyboardInterrupt

    found = compared(ONE, OTHER, block=20, progress=note)
    assert (found.ended_by, found.runs) == (why, last)
