"""Time filters, interlock and pick-up: both engines agree, and both with the plain definitions."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, given, seed, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.base.records import WATCHED
from simcore.design import Design, StageEntry
from simcore.stages.interlock import Interlock
from simcore.stages.lockout import Lockout
from simcore.stages.one_shot import OneShot
from simcore.stages.pickup import PickUp
from simcore.stages.quiet_time import QuietTime
from tests.theory.filtering import Trace, exact, through, through_pair, traces

from . import slow_filters as slow
from .comparing import cause_of
from .designs import addresses, designs
from .kinds_filters import KINDS, LINES, filters
from .test_engines import compare_engines

PICOSECOND = 1e-12
spans = st.integers(0, 80)


def line_of(trace: Trace) -> slow.Line:
    """A trace as the slow implementation has it."""
    return [(time, cause_of(cause)) for time, cause in trace.edges]


@settings(max_examples=500, deadline=None)
@given(traces(), spans)
def test_quiet_time_is_what_its_definition_says(source: Trace, ticks: int) -> None:
    assert line_of(through(QuietTime(exact(ticks)), source)) == slow.quiet(
        source.first, line_of(source), ticks
    )


@settings(max_examples=500, deadline=None)
@given(traces(), spans)
def test_lockout_is_what_its_definition_says(source: Trace, ticks: int) -> None:
    assert line_of(through(Lockout(exact(ticks)), source)) == slow.lockout(
        source.first, line_of(source), ticks
    )


@settings(max_examples=500, deadline=None)
@given(traces(), spans, st.integers(0, 1), st.integers(0, 1), st.integers(0, 1))
def test_one_shot_is_what_its_definition_says(
    source: Trace, ticks: int, trigger: int, active: int, again: int
) -> None:
    spec = OneShot(Part(float(ticks), 0.0), exact(1), 1.0, trigger, active, again)
    seen = through(spec, source)
    assert seen.first == 1 - active
    assert line_of(seen) == slow.one_shot(source.first, line_of(source), ticks, trigger, bool(again))


@settings(max_examples=500, deadline=None)
@given(traces(), traces(), spans)
def test_interlock_is_what_its_definition_says(a: Trace, b: Trace, delay: int) -> None:
    seen = through_pair(Interlock(delay * PICOSECOND), a, b)
    expected = slow.interlock((a.first, b.first), (line_of(a), line_of(b)), delay)
    assert (line_of(seen[0]), line_of(seen[1])) == expected


@settings(max_examples=300, deadline=None)
@given(
    traces(20_000, 20), st.sampled_from([0.0, 1e7, 1e8, 1e9]), st.sampled_from([0.0, 2e-9, 3e-8]),
    st.sampled_from([0.0, 0.7]), st.integers(0, 2), st.integers(0, 3), st.integers(0, 1), addresses(),
)  # fmt: skip
def test_pick_up_is_what_its_definition_says(
    source: Trace, rate: float, width: float, spread: float, polarity: int, origin: int, side: int,
    address: tuple[int, int],
) -> None:  # fmt: skip
    """Over a microsecond at rates so high that there are pulses in it."""
    source = Trace(source.first, tuple((time - 10**9, cause) for time, cause in source.edges))
    end = 10**6
    spec = PickUp(rate, width, spread, polarity, origin)
    seen = through(spec, source, *address, address=2 * 7 + side, end=end - WATCHED)
    pulses = slow.pulses_of(rate, width, spread, (*address, 2 * origin + side), end)
    assert line_of(seen) == slow.pick_up(source.first, line_of(source), pulses, polarity, end)


def compare(start: int, examples: int, stages: st.SearchStrategy[tuple[StageEntry, ...]]) -> int:
    """Both engines on random designs with ``stages`` behind their own; returns the edges compared."""
    edges = 0

    @seed(start)
    @settings(max_examples=examples, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(designs(), stages, addresses(), st.integers(1, 3))
    def check(design: Design, more: tuple[StageEntry, ...], address: tuple[int, int], runs: int) -> None:
        nonlocal edges
        # Thousands of pulses a second over a long rest would only take time.
        assume(sum(entry.moves * (entry.gesture.duration + entry.gesture.dwell) for entry in design.hand) < 2)
        edges += compare_engines(replace(design, stages=design.stages + more), address, runs)["edges"]

    check()
    return edges


@pytest.mark.parametrize("kind", KINDS)
def test_engines_agree_on_each_kind(kind: str) -> None:
    entries = st.builds(StageEntry, st.just(kind), KINDS[kind](), LINES)
    assert compare(len(kind), 20, entries.map(lambda entry: (entry,))) > 100


def test_engines_agree_on_several_in_a_row() -> None:
    assert compare(5, 60, filters()) > 100
