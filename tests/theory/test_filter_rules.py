"""What holds for every filter of one line, whatever its input.

Levels alternate and times never fall; nothing looks ahead; a wake-up does not depend on how far the
engine asks; pulses of a one-shot have their length; a quiet time gives a change to its crossing.
"""

from __future__ import annotations

import itertools

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.base.records import cause_transition
from simcore.base.ticks import NEVER
from simcore.stages.base import (
    stage_build,
    stage_edge,
    stage_expire,
    stage_level,
    stage_note,
    stage_start,
    stage_wake,
)
from simcore.stages.lockout import Lockout
from simcore.stages.one_shot import OneShot
from simcore.stages.pickup import PickUp
from simcore.stages.quiet_time import QuietTime
from tests.theory.filtering import START, Trace, exact, through, traces


def one_shot(ticks: int, retriggerable: int = 0) -> OneShot:
    """A pulse of so many ticks, high, at each falling edge."""
    return OneShot(Part(float(ticks), 0.0), exact(1), 1.0, 0, 1, retriggerable)


@settings(max_examples=200, deadline=None)
@given(traces(), st.integers(1, 100), st.integers(0, 1))
def test_pulses_are_of_full_length_and_begin_at_triggers(source: Trace, ticks: int, again: int) -> None:
    triggers = [time for time, level in source.changes if level == 0]
    seen = through(one_shot(ticks, again), source).times
    pulses = list(zip(seen[::2], seen[1::2], strict=True))
    assert {begin for begin, _ in pulses} <= set(triggers)
    for begin, end in pulses:
        inside = [time for time in triggers if begin <= time <= end]
        assert end - begin == ticks if not again else end == inside[-1] + ticks
    assert all(any(begin <= time <= end for begin, end in pulses) for time in triggers)


def walk(spec: object, source: Trace, limits: list[int]) -> list[tuple[int, int]]:
    """(Tick, level) of every change of the output, by asking the rules directly; each wake-up is
    asked for with several limits and must not depend on them.
    """
    params = stage_build(spec, 1, 0, 0)
    state = stage_start(params, source.first)
    shown, found = stage_level(params, state), []
    for number, time in enumerate([*source.times, source.times[-1] + 10**6]):
        while True:
            wake = stage_wake(params, state, NEVER)
            for limit in limits:
                asked = stage_wake(params, state, time + limit)
                assert asked == wake if wake < time + limit else asked >= time + limit
            if wake >= time:
                break
            state = stage_expire(params, state, wake)
            if stage_level(params, state) != shown:
                shown = stage_level(params, state)
                found.append((wake, shown))
        if number < len(source.edges):
            level = (source.first + number + 1) & 1
            state = stage_note(params, stage_edge(params, state, time, level), source.edges[number][1])
            if stage_level(params, state) != shown:
                shown = stage_level(params, state)
                found.append((time, shown))
    return found


FILTERS = st.one_of(
    st.builds(QuietTime, st.integers(0, 80).map(exact)),
    st.builds(Lockout, st.integers(0, 80).map(exact)),
    st.builds(one_shot, st.integers(0, 80), st.integers(0, 1)),
    st.builds(PickUp, st.just(1e8), st.just(1e-9), st.just(0.5), st.integers(0, 2)),
)


@settings(max_examples=400, deadline=None)
@given(FILTERS, traces(), st.lists(st.integers(-50, 50), max_size=3))
def test_levels_alternate_and_times_never_fall(spec: object, source: Trace, limits: list[int]) -> None:
    if isinstance(spec, PickUp):
        source = Trace(source.first, tuple((time - START, cause) for time, cause in source.edges))
    found = walk(spec, source, limits)
    assert [time for time, _ in found] == sorted(time for time, _ in found)
    assert all(before[1] != after[1] for before, after in itertools.pairwise(found))
    if not isinstance(spec, PickUp):
        assert found == through(spec, source).changes


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
@given(FILTERS, traces(), st.integers(0, 80))
def test_what_comes_later_changes_nothing_before(spec: object, source: Trace, kept: int) -> None:
    """No filter looks ahead: cutting the input short leaves the output up to there as it was."""
    assume(kept < len(source.edges) and not isinstance(spec, PickUp))
    until = source.times[kept]
    short = Trace(source.first, tuple(edge for edge in source.edges if edge[0] < until))
    whole, part = through(spec, source), through(spec, short)
    assert [edge for edge in whole.edges if edge[0] < until] == [
        edge for edge in part.edges if edge[0] < until
    ]


def test_pick_up_within_chatter_does_not_take_the_change_away() -> None:
    """A quiet time bears the cause of the crossing, not that of a stray pulse beside it, but a stray
    pulse that is long enough alone bears its own.
    """
    crossing, stray = 5 << 4, (-1 << 4) | 8
    edges = [(START, crossing), (START + 10, stray), (START + 12, stray)]
    seen = through(QuietTime(exact(100)), Trace(1, tuple(edges)))
    assert seen.edges == ((START + 112, crossing),)
    long = [(START, crossing), (START + 10**4, stray), (START + 2 * 10**4, stray)]
    seen = through(QuietTime(exact(100)), Trace(1, tuple(long)))
    assert [cause_transition(cause) for _, cause in seen.edges] == [5, -1, -1]
