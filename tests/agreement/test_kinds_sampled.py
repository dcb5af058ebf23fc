"""Both engines agree on designs with sampled stages, one kind at a time."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any, cast

import numpy as np
import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from simcore.base.records import edges_of_runs, empty_edges, trimmed
from simcore.design import Design, StageEntry
from simcore.stages.base import drive_stage

from .designs import addresses, designs
from .kinds_sampled import agrees, integrates, majorities, synchronisers
from .test_engines import compare_engines

EXAMPLES = 20
LINES: Any = st.sampled_from([(0, 1), (0, 1), (0, 1), (0,), (1,)])
"""Mostly both lines."""


@pytest.mark.parametrize("kind", [agrees, integrates, majorities, synchronisers])
def test_events_equal_batch(kind: Any) -> None:
    """Behind whatever stands there, an input or the bare contacts; sometimes two in a row."""
    seen = 0

    @seed(5)
    @settings(max_examples=EXAMPLES, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(designs(), st.lists(st.tuples(kind(), LINES), min_size=1, max_size=2), addresses())
    def compare(design: Design, sampled: list[tuple[Any, tuple[int, ...]]], address: tuple[int, int]) -> None:
        nonlocal seen
        entries = [StageEntry(f"sampled {n}", item, lines) for n, (item, lines) in enumerate(sampled)]
        seen += compare_engines(replace(design, stages=(*design.stages, *entries)), address, 2)["edges"]

    compare()
    assert seen > 1000


@pytest.mark.parametrize("kind", [agrees, integrates, majorities, synchronisers])
def test_compiled_equals_plain(kind: Any) -> None:
    """The theorems on sampled stages are tested on the rules as plain Python; compiled they are the same."""

    @seed(6)
    @settings(max_examples=200, deadline=None, database=None)
    @given(kind(), st.integers(0, 1), st.lists(st.integers(0, 3 * 10**9), max_size=60), addresses())
    def compare(spec: Any, first: int, gaps: list[int], address: tuple[int, int]) -> None:
        times = list(itertools.accumulate(gaps))
        source = edges_of_runs([(first, times, [16 * number for number in range(len(times))])])
        ends = np.array([sum(gaps)], np.int64)
        found = []
        for drive in (drive_stage, cast(Any, drive_stage).plain):
            out = empty_edges(4 * len(times) + 8, 1)
            assert drive(spec, *address, 3, source, ends, out) == 1
            edges = trimmed(out)
            found.append((edges.times.tolist(), edges.causes.tolist(), int(edges.first[0])))
        assert found[0] == found[1]

    compare()
