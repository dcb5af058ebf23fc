"""The event engine against the batch engine: equal in every integer, on random designs."""

from __future__ import annotations

import math
import secrets
import time
from collections import Counter

import numpy as np
import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.engines.events import EventEngine

from . import comparing
from .designs import addresses, designs

PARTS, PART_SIZE = 2, 200
CAMPAIGN_DESIGNS, CAMPAIGN_RUNS = 5_000, 20


def compare_engines(
    design: Design, address: tuple[int, int], runs: int, seconds: float = math.inf
) -> Counter[str]:
    """Both engines in every run and in the tallies, or in as many runs as the event engine gets done in
    so many seconds; returns what was compared.
    """
    batch = BatchEngine(design, runs)
    block = batch.detail(*address, runs)
    events = EventEngine(design)
    seen: Counter[str] = Counter(designs=1)
    totals = [np.zeros_like(part) for part in block.result.sums]
    ends = time.perf_counter() + seconds
    for run in range(runs):
        single = events.record(address[0], address[1] + run).detail
        seen += comparing.same_run(block, single, run)
        totals = [total + part for total, part in zip(totals, single.result.sums, strict=True)]
        if time.perf_counter() > ends:
            break
    sums = batch.run(*address, seen["runs"]).sums
    for name, total, part in zip(sums._fields, totals, sums, strict=True):
        assert np.array_equal(total, part), f"tally of {name}"
    return seen


def compare_many(start: int, examples: int, runs: st.SearchStrategy[int]) -> Counter[str]:
    """Compare on ``examples`` random designs, a reproducible choice by ``start``."""
    done: Counter[str] = Counter()

    @seed(start)
    @settings(max_examples=examples, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(designs(), addresses(), runs)
    def compare(design: Design, address: tuple[int, int], number: int) -> None:
        done.update(compare_engines(design, address, number))

    compare()
    return done


@pytest.mark.parametrize("part", range(PARTS))
def test_events_equal_batch(part: int) -> None:
    done = compare_many(part, PART_SIZE, st.integers(1, 3))
    assert done["designs"] >= PART_SIZE
    common = {"chatter", "swallowed", "misfit", "sliding", "short pulse"}
    assert not common - set(done), "the designs have become too tame"


@pytest.mark.parametrize("start", range(20))
def test_tallies_without_a_record(start: int) -> None:
    """What `run` gives, which keeps no record, is the same in both engines and for any block."""

    @seed(start)
    @settings(max_examples=3, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(designs(), addresses())
    def compare(design: Design, address: tuple[int, int]) -> None:
        batch = BatchEngine(design, 5)
        whole = batch.run(*address, 5)
        first = batch.run(*address, 2)
        rest = batch.run(address[0], address[1] + 2, 3)
        alone = EventEngine(design).run(*address, 5)
        for one, two, three, four in zip(whole.sums, first.sums, rest.sums, alone.sums, strict=True):
            assert np.array_equal(one, two + three)
            assert np.array_equal(one, four)
        assert np.array_equal(whole.errors, np.concatenate([first.errors, rest.errors]))
        assert np.array_equal(whole.errors, alone.errors)

    compare()


@pytest.mark.campaign
@pytest.mark.timeout(0)
def test_campaign(capsys: pytest.CaptureFixture[str]) -> None:
    """A hundred thousand runs of designs that no one has seen before."""
    began = time.perf_counter()
    start = secrets.randbits(32)
    done = compare_many(start, CAMPAIGN_DESIGNS, st.just(CAMPAIGN_RUNS))
    minutes = (time.perf_counter() - began) / 60
    with capsys.disabled():
        print(
            f"\nengines agree (seed {start}): {done['runs']} runs of {done['designs']} designs, "
            f"{done['transitions']} transitions, {done['edges']} edges, {done['pulses']} pulses, "
            f"{done['steps']} steps, 0 differences, {minutes:.0f} min"
        )
    assert done["runs"] >= CAMPAIGN_DESIGNS * CAMPAIGN_RUNS
