"""The whole-cycle decoder: only a turn all the way round counts."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.counters.base import counter_clocked, counter_ideal, counter_rate, counter_rests
from simcore.counters.whole_cycle import WholeCycle
from tests.simcore.counting import counted, net, turned

HIGH, LOW = WholeCycle(1, 1), WholeCycle(0, 1)
walks = st.lists(st.sampled_from([1, -1]), max_size=80)
LEVELS = [(1, 1), (0, 1), (0, 0), (1, 0)]


@settings(max_examples=300, deadline=None)
@given(walks, st.integers(0, 3), st.sampled_from([HIGH, LOW]), st.sampled_from([1, -1]))
def test_the_count_is_the_cycles_between_the_first_and_the_last_visit_of_the_rest_state(
    walk: list[int], start: int, spec: WholeCycle, sign: int
) -> None:
    """Whatever chatter does: the lines are followed exactly, and only rest states are counted from."""
    resting = 0 if spec.rest else 2
    places = list(itertools.accumulate(walk, initial=start))
    visits = [place for place in places if place % 4 == resting]
    pulses = counted(spec._replace(sign=sign), turned(walk, 10, start), LEVELS[start])
    expected = (visits[-1] - visits[0]) // 4 if visits else 0
    assert net(pulses) == sign * expected
    assert all(abs(pulse.asked) == 1 and pulse.flags == 0 for pulse in pulses)


@settings(max_examples=300, deadline=None)
@given(walks)
def test_no_excursion_that_does_not_complete_counts(walk: list[int]) -> None:
    """Held back to three quarters either way of rest, wherever it goes in between."""
    place, kept = 0, []
    for turn in walk:
        if abs(place + turn) <= 3:
            place += turn
            kept.append(turn)
    assert counted(HIGH, turned(kept, 10)) == []


@pytest.mark.parametrize("direction", [1, -1])
def test_a_completed_cycle_counts_once_on_its_last_edge(direction: int) -> None:
    chatter = [direction, -direction, direction] + [direction] * 3 + [-direction, direction] * 5
    pulses = counted(HIGH, turned(chatter, 10))
    assert [(pulse.asked, pulse.edge) for pulse in pulses] == [(direction, 5)]


def test_before_the_rest_state_has_been_seen_nothing_counts() -> None:
    """Both low at first, counting from both high: half a cycle is lost, once."""
    assert net(counted(HIGH, turned([1] * 8, 10, 2), (0, 0))) == 1
    assert net(counted(LOW, turned([1] * 8, 10, 2), (0, 0))) == 2


def test_what_it_says_of_itself() -> None:
    assert counter_ideal(HIGH) == HIGH
    assert counter_rate(HIGH) == 1
    assert counter_clocked(HIGH) == 0
    assert [counter_rests(HIGH, *levels) for levels in LEVELS] == [1, 0, 0, 0]
    assert [counter_rests(LOW, *levels) for levels in LEVELS] == [0, 0, 1, 0]
