"""Tallies and campaigns."""

from __future__ import annotations

import dataclasses

import pytest

from simcore.campaigns.campaign import run_campaign
from simcore.campaigns.course import blocks
from simcore.engines.batch import BatchEngine
from simcore.judging.tally import Tally, nothing
from simcore.statistics.stopping import ALL_RUNS, INTERRUPTED
from tests.simcore.builders import design, filtered


def test_a_tally_checks_its_final_errors() -> None:
    with pytest.raises(ValueError, match="final errors of 3 runs in a tally of 4"):
        Tally(("clicks",), 4, nothing(("clicks",)).sums, {0: 3})


def test_tallies_of_different_hands_refuse_to_add() -> None:
    with pytest.raises(ValueError, match="tallies of different hands do not add"):
        nothing(("clicks",)) + nothing(("twists",))


def test_blocks_cover_all_runs_once() -> None:
    assert list(blocks(5, 10, 4)) == [(5, 4), (9, 4), (13, 2)]


def test_sums_agree_with_each_other() -> None:
    tally = run_campaign(design(filtered(22.0)), seed=3, runs=300).tally
    assert tally.steps == 1200
    assert sum(tally.verdicts.values()) == tally.steps
    assert tally.wrong == sum(tally.causes.values())
    whole = tally.cluster("wrong")
    assert (whole.runs, whole.x, whole.y) == (300, 1200, tally.wrong)
    by_spacing = [tally.cluster("wrong", tally.spacing_group(s)) for s in range(9)]
    assert sum(cluster.y for cluster in by_spacing) == tally.wrong
    assert sum(cluster.x for cluster in by_spacing) == tally.steps
    by_gesture = tally.cluster("wrong", tally.gesture_group(0))
    assert by_gesture == whole
    assert sum(tally.excursions) == tally.steps
    assert sum(tally.errors.values()) == 300


def test_an_interrupt_keeps_what_is_finished() -> None:
    def stop(done: int, asked: int) -> None:
        if done >= 40:
            raise KeyboardInterrupt

    outcome = run_campaign(design(), seed=1, runs=200, block=20, progress=stop)
    assert outcome.ended_by == INTERRUPTED
    assert outcome.tally.runs == 40
    alone = run_campaign(design(), seed=1, runs=40)
    assert alone.ended_by == ALL_RUNS
    assert alone.tally.verdicts == outcome.tally.verdicts
    assert alone.tally.errors == outcome.tally.errors


def test_an_unknown_engine_is_refused() -> None:
    with pytest.raises(ValueError, match="no engine 'steam'; there are batch and events"):
        run_campaign(design(), seed=1, runs=1, engine="steam")


def test_an_engine_refuses_more_runs_than_it_has_room_for() -> None:
    with pytest.raises(ValueError, match="a block of 11 runs in an engine for 1 to 10"):
        BatchEngine(design(), 10).run(1, 0, 11)


def test_arrays_grow_until_a_block_fits() -> None:
    chatty = dataclasses.replace(
        design(),
        contact=design().contact._replace(make=design().contact.make._replace(pairs=150.0)),
    )
    engine = BatchEngine(chatty, 20)
    room = engine.contacts[0].kept.times.size
    detail = engine.detail(1, 0, 20)
    assert detail.lines[0][0].offsets[-1] > room
    assert detail.pulses.offsets[-1] > 0
