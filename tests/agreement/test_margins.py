"""Margins: both engines, every block and a plain account of one's own give the same integers."""

from __future__ import annotations

import itertools
from collections import Counter

import numpy as np
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from simcore.base.records import Edges
from simcore.campaigns.campaign import run_campaign
from simcore.counters.base import SETUP as SETUP_DOUBT
from simcore.counters.facts import NO_CLOCK, counter_timing
from simcore.counters.step_direction import StepDirection
from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.engines.blocks import BlockDetail, seen_by_counter
from simcore.engines.events import EventEngine
from simcore.judging.margins import (
    APART,
    CLOCK_HIGH,
    CLOCK_LOW,
    HOLD,
    SETUP,
    SETUP_VOLTS,
    Margins,
    bin_of_time,
    joined,
    no_margins,
)

from .comparing import span
from .designs import addresses, designs
from .everything import everything

RUNS = 4
Values = dict[int, list[int]]


def same(one: Margins | None, other: Margins | None) -> None:
    assert one is not None
    assert other is not None
    for name, mine, theirs in zip(one._fields, one, other, strict=True):
        assert np.array_equal(mine, theirs), name


def levels(edges: Edges, run: int) -> list[tuple[int, int]]:
    """(tick, level from then on) of each edge of one run."""
    first = int(edges.first[run])
    return [(int(edges.times[i]), first ^ (n & 1)) for n, i in enumerate(span(edges.offsets, run), 1)]


def times_of(design: Design, detail: BlockDetail, run: int) -> Values:
    """All times of one run by their definition: looking through all edges for each."""
    found: Values = {quantity: [] for quantity in (SETUP, HOLD, CLOCK_LOW, CLOCK_HIGH, APART)}
    timing = counter_timing(design.counter)
    lines = [levels(edges, run) for edges in seen_by_counter(design.chain, detail.lines)]
    # Ticks alone do not order two edges at one tick: A comes before B.
    merged = sorted((time, line, level) for line in (0, 1) for time, level in lines[line])
    ordered = {(line, n): place for line in (0, 1) for n, place in enumerate(places(merged, line))}
    for earlier, after in itertools.pairwise(merged):
        if earlier[1] != after[1]:
            found[APART].append(after[0] - earlier[0])
    if timing.clock == NO_CLOCK:
        return found
    clock, other = lines[timing.clock], lines[1 - timing.clock]
    for (began, level), (ended, _) in itertools.pairwise(clock):
        found[CLOCK_HIGH if level else CLOCK_LOW].append(ended - began)
    for n, (time, level) in enumerate(clock):
        if level != timing.active:
            continue
        place = ordered[timing.clock, n]
        turns = [(ordered[1 - timing.clock, m], when) for m, (when, _) in enumerate(other)]
        found[SETUP] += [time - when for at, when in turns if at < place][-1:]
        found[HOLD] += [when - time for at, when in turns if at > place][:1]
    return found


def places(merged: list[tuple[int, int, int]], line: int) -> list[int]:
    """Where the edges of a line stand among those of both."""
    return [place for place, (_, whose, _) in enumerate(merged) if whose == line]


def entered(found: Values, design: Design) -> Margins:
    """The margins that these times make."""
    timing, margins = counter_timing(design.counter), no_margins()
    limits = {
        SETUP: timing.setup, HOLD: timing.hold, CLOCK_LOW: timing.low, CLOCK_HIGH: timing.high,
        APART: timing.apart,
    }  # fmt: skip
    for quantity, times in found.items():
        for place, count in Counter(bin_of_time(time) for time in times).items():
            margins.counts[quantity, place] = count
        if times:
            margins.least[quantity], margins.most[quantity] = min(times), max(times)
        margins.missed[quantity] = sum(time < limits[quantity] for time in times)
    return margins


def compare(design: Design, address: tuple[int, int]) -> Margins:
    """One design by both engines, in blocks, and by the definitions; returns its margins."""
    batch = BatchEngine(design, RUNS, margins=True)
    detail = batch.detail(*address, RUNS)
    whole = detail.result.margins
    assert whole is not None
    own = no_margins()
    for run in range(RUNS):
        own = joined(own, entered(times_of(design, detail, run), design))
    for mine, theirs in zip(own, whole, strict=True):
        assert np.array_equal(mine[:SETUP_VOLTS], theirs[:SETUP_VOLTS])
    if isinstance(design.counter, StepDirection):
        doubts = detail.pulses.flags[: int(detail.pulses.offsets[-1])] & SETUP_DOUBT
        assert int(whole.missed[SETUP]) == int(np.count_nonzero(doubts))
    same(EventEngine(design, margins=True).run(*address, RUNS).margins, whole)
    halves = [batch.run(address[0], address[1] + at, RUNS // 2).margins for at in (0, RUNS // 2)]
    assert halves[0] is not None
    assert halves[1] is not None
    same(joined(halves[0], halves[1]), whole)
    return whole


def compare_many(chosen: st.SearchStrategy[Design], start: int, examples: int) -> Margins:
    """The margins of all designs together."""
    total = [no_margins()]

    @seed(start)
    @settings(max_examples=examples, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(chosen, addresses())
    def one(design: Design, address: tuple[int, int]) -> None:
        total[0] = joined(total[0], compare(design, address))

    one()
    return total[0]


def test_engines_blocks_and_definitions_agree() -> None:
    total = compare_many(designs(), 1, 150)
    assert (total.counts.sum(axis=1) > 0).all(), "every quantity ought to occur"
    assert (total.missed[[SETUP, HOLD, CLOCK_LOW, CLOCK_HIGH, SETUP_VOLTS]] > 0).all()


def test_they_agree_on_designs_of_every_kind() -> None:
    compare_many(everything(), 5, 12)


@settings(max_examples=10, deadline=None)
@given(designs(), addresses(), st.integers(1, 7), st.integers(1, 3))
def test_blocks_and_threads_do_not_matter(
    design: Design, address: tuple[int, int], block: int, threads: int
) -> None:
    run, first = address
    plain = run_campaign(design, seed=run, runs=12, first_run=first)
    other = run_campaign(design, seed=run, runs=12, first_run=first, block=block, threads=threads)
    same(plain.tally.margins, other.tally.margins)
    assert run_campaign(design, seed=run, runs=12, first_run=first, margins=False).tally.margins is None
