"""A run is what it is, whoever computes it and beside which others.

Alone or in a block, in blocks of any size, on any number of threads: the same integers.  Tallies
add in any order and grouping.
"""

from __future__ import annotations

from functools import reduce
from operator import add
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.records import Edges
from simcore.campaigns.campaign import run_campaign
from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.judging.tally import Tally, nothing, tally_of
from tests.theory import designs as make
from tests.theory.looking import run_of

RUNS = 7


def same_tally(one: Tally, other: Tally) -> None:
    """All whole numbers are equal."""
    assert one.runs == other.runs
    assert one.gestures == other.gestures
    assert dict(one.errors) == dict(other.errors)
    for name in one.sums._fields:
        assert np.array_equal(getattr(one.sums, name), getattr(other.sums, name)), name


def rows(edges: Edges, r: int) -> tuple[int, list[int], list[int]]:
    """One run of an edge batch in full, causes with their origins."""
    lo, hi = edges.offsets[r], edges.offsets[r + 1]
    return int(edges.first[r]), edges.times[lo:hi].tolist(), edges.causes[lo:hi].tolist()


@settings(max_examples=60, deadline=None)
@given(make.designs(), make.seeds, st.integers(0, 10**6))
def test_a_run_alone_equals_the_run_in_a_block(design: Design, seed: int, first_run: int) -> None:
    """Edges after every stage, pulses with their flags, verdicts, causes, final error."""
    block = BatchEngine(design, RUNS).detail(seed, first_run, RUNS)
    lone = BatchEngine(design, 1)
    for r in range(RUNS):
        single = lone.detail(seed, first_run + r, 1)
        assert run_of(single, 0) == run_of(block, r)
        for line in (0, 1):
            for mine, theirs in zip(single.lines[line], block.lines[line], strict=True):
                assert rows(mine, 0) == rows(theirs, r)
        lo, hi = block.pulses.offsets[r : r + 2]
        count = single.pulses.offsets[1]
        for name in ("times", "asked", "moved", "causes", "flags"):
            mine = getattr(single.pulses, name)[:count]
            assert np.array_equal(mine, getattr(block.pulses, name)[lo:hi]), name
        assert single.result.errors[0] == block.result.errors[r]


@settings(max_examples=25, deadline=None)
@given(
    make.designs(), make.seeds, st.integers(0, 999), st.integers(1, 40), st.integers(1, 3), st.integers(1, 50)
)  # fmt: skip
def test_block_size_and_threads_change_nothing(
    design: Design, seed: int, first_run: int, runs: int, threads: int, block: int
) -> None:
    plain = run_campaign(design, seed=seed, runs=runs, first_run=first_run)
    other = run_campaign(design, seed=seed, runs=runs, first_run=first_run, threads=threads, block=block)
    assert plain.tally.runs == runs
    same_tally(plain.tally, other.tally)


@settings(max_examples=25, deadline=None)
@given(make.designs(), make.seeds, st.lists(st.integers(1, 12), min_size=1, max_size=6), st.randoms())
def test_parts_of_a_campaign_add_up_in_any_order(
    design: Design, seed: int, sizes: list[int], order: Random
) -> None:
    """Runs 0 to n in pieces, shuffled, against all at once."""
    starts = np.concatenate([[0], np.cumsum(sizes)]).tolist()
    parts = [
        run_campaign(design, seed=seed, runs=size, first_run=start).tally
        for start, size in zip(starts, sizes, strict=False)
    ]
    order.shuffle(parts)
    whole = run_campaign(design, seed=seed, runs=sum(sizes)).tally
    same_tally(reduce(add, parts), whole)


NAMES = ("clicks", "twists")


@st.composite
def tallies(draw: st.DrawFn) -> Tally:
    """Any whole numbers, as if from a block."""
    empty = nothing(NAMES).sums
    generator = np.random.Generator(np.random.Philox(draw(st.integers(0, 2**32))))
    sums = type(empty)(*(generator.integers(0, 10**6, part.shape) for part in empty))
    errors = np.array(draw(st.lists(st.integers(-5, 5), max_size=20)), np.int64)
    return tally_of(NAMES, sums, errors)


@settings(max_examples=100, deadline=None)
@given(tallies(), tallies(), tallies())
def test_tallies_form_a_commutative_monoid(a: Tally, b: Tally, c: Tally) -> None:
    same_tally((a + b) + c, a + (b + c))
    same_tally(a + b, b + a)
    same_tally(a + nothing(NAMES), a)
    assert (a + b).steps == a.steps + b.steps
    assert (a + b).runs == a.runs + b.runs


def test_tallies_of_different_hands_do_not_add() -> None:
    with pytest.raises(ValueError, match="twists"):
        nothing(NAMES) + nothing(("clicks",))


def test_adding_leaves_the_parts_alone() -> None:
    """A sum shares no array with its terms."""
    part = run_campaign(make.busy_design(), seed=1, runs=5).tally
    before = [array.copy() for array in part.sums]
    total = part + part
    for array in total.sums:
        array += 1
    assert all(np.array_equal(x, y) for x, y in zip(before, part.sums, strict=True))
