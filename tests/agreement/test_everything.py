"""Event engine against batch engine on designs of every kind, and no wrong step without a cause."""

from __future__ import annotations

import secrets
import time
from collections import Counter

import pytest
from hypothesis import HealthCheck, given, seed, settings

from simcore.design import Design

from .designs import addresses
from .everything import everything
from .test_engines import compare_engines

PARTS, PART_SIZE = 2, 25
CAMPAIGN_DESIGNS, CAMPAIGN_RUNS, CAMPAIGN_TOTAL = 1_000, 500, 250_000
"""For each of the two halves of the campaign, which may run side by side: designs at most, runs of each at
most, and runs in all after which it ends.
"""
CAMPAIGN_SECONDS = 10.0
"""For one design in the event engine; a noisy one, with a draw every few ns, is compared in fewer runs."""


def compare_everything(start: int, examples: int, runs: int) -> Counter[str]:
    """Compare on ``examples`` random designs, a reproducible choice by ``start``, that take little time in
    the event engine.
    """
    done: Counter[str] = Counter()

    @seed(start)
    @settings(max_examples=examples, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(everything(brief=True), addresses())
    def compare(design: Design, address: tuple[int, int]) -> None:
        done.update(compare_engines(design, address, runs))

    compare()
    return done


def campaign(start: int) -> Counter[str]:
    """One half of the campaign, on designs that take little time in the event engine."""
    done: Counter[str] = Counter()

    @seed(start)
    @settings(
        max_examples=CAMPAIGN_DESIGNS, deadline=None, database=None, suppress_health_check=list(HealthCheck)
    )
    @given(everything(brief=True), addresses())
    def compare(design: Design, address: tuple[int, int]) -> None:
        if done["runs"] < CAMPAIGN_TOTAL:
            done.update(compare_engines(design, address, CAMPAIGN_RUNS, CAMPAIGN_SECONDS))
            print(f"{start}: {done['designs']} designs, {done['runs']} runs", flush=True)

    compare()
    return done


@pytest.mark.parametrize("part", range(PARTS))
def test_events_equal_batch_on_everything(part: int) -> None:
    done = compare_everything(part, PART_SIZE, 2)
    assert done["designs"] >= PART_SIZE
    assert done["unexplained"] == 0


@pytest.mark.campaign
@pytest.mark.timeout(0)
@pytest.mark.parametrize("half", [0, 1])
def test_campaign_on_everything(half: int, capsys: pytest.CaptureFixture[str]) -> None:
    """Half a million runs in all, of designs that no one has seen before."""
    began = time.perf_counter()
    start = secrets.randbits(32)
    done = campaign(start)
    minutes = (time.perf_counter() - began) / 60
    with capsys.disabled():
        print(f"\nhalf {half} (seed {start}), 0 differences, {minutes:.0f} min: {dict(done)}")
    assert done["runs"] >= CAMPAIGN_TOTAL
    assert done["unexplained"] == 0
