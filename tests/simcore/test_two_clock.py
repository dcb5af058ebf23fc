"""The two-clock counter: pulses steered, cut, prolonged and too short."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.counters.base import HOLD, SHORT, counter_clocked, counter_ideal, counter_rate
from simcore.counters.step_direction import StepDirection
from simcore.counters.two_clock import TwoClock
from tests.simcore.counting import Change, Counted, counted, gaps_to_changes, net, turned

A, B = 0, 1
PLAIN = TwoClock(A, 0, 1, 100, 10)
"""A falling makes 100 ticks, B high steers them up, 10 ticks are enough."""


def test_a_pulse_counts_at_its_end_by_the_level_of_the_other_line() -> None:
    assert counted(PLAIN, [(1000, A)]) == [Counted(1100, 1, 1, 0, 0)]
    assert counted(PLAIN, [(1000, A)], (1, 0)) == [Counted(1100, -1, -1, 0, 0)]
    assert counted(PLAIN._replace(up=0), [(1000, A)]) == [Counted(1100, -1, -1, 0, 0)]


def test_the_other_edge_makes_no_pulse() -> None:
    assert counted(PLAIN, [(1000, A)], (0, 1)) == []
    assert len(counted(PLAIN._replace(active=1), [(1000, A)], (0, 1))) == 1


def test_line_b_may_be_the_clock() -> None:
    by_b = PLAIN._replace(clock=B)
    assert counted(by_b, [(1000, B)], (0, 1)) == [Counted(1100, -1, -1, 0, 0)]
    assert counted(by_b, [(1000, A)]) == []


def test_steering_within_the_pulse_puts_the_remainder_on_the_other_clock() -> None:
    pulses = counted(PLAIN, [(1000, A), (1060, B)])
    assert pulses == [Counted(1060, 1, 1, 0, HOLD), Counted(1100, -1, -1, 0, HOLD)]


def test_a_piece_shorter_than_the_minimum_is_not_taken() -> None:
    first_short = counted(PLAIN, [(1000, A), (1009, B)])
    assert first_short == [Counted(1009, 0, 0, 0, HOLD | SHORT), Counted(1100, -1, -1, 0, HOLD)]
    rest_short = counted(PLAIN, [(1000, A), (1091, B)])
    assert rest_short == [Counted(1091, 1, 1, 0, HOLD), Counted(1100, 0, 0, 0, HOLD | SHORT)]
    just_long_enough = counted(PLAIN, [(1000, A), (1010, B)])
    assert [pulse.asked for pulse in just_long_enough] == [1, -1]


def test_a_pulse_of_no_length_is_none() -> None:
    """Line A comes before line B at the same tick: the pulse begins, and is steered at once."""
    assert counted(PLAIN, [(1000, A), (1000, B)]) == [Counted(1100, -1, -1, 0, HOLD)]
    assert counted(PLAIN, [(1000, A), (1100, B)]) == [Counted(1100, 1, 1, 0, HOLD)]


def test_a_further_edge_within_the_pulse_prolongs_it() -> None:
    chatter = [(1000, A), (1030, A), (1060, A)]
    assert counted(PLAIN, chatter) == [Counted(1160, 1, 1, 2, 0)]
    at_its_end = [(1000, A), (1030, A), (1100, A)]
    assert counted(PLAIN, at_its_end) == [Counted(1200, 1, 1, 2, 0)]
    after_its_end = [(1000, A), (1030, A), (1101, A)]
    assert [pulse.time for pulse in counted(PLAIN, after_its_end)] == [1100, 1201]


def by_the_book(spec: TwoClock, changes: list[Change], first: tuple[int, int]) -> list[Counted]:
    """The docstring's rules over whole intervals: merge the former's pulses, then cut them."""
    levels = list(first)
    active: list[tuple[int, int, int]] = []  # tick, place in the list
    steering: list[tuple[int, int, int]] = []
    for place, (time, line) in enumerate(changes):
        levels[line] ^= 1
        if line != spec.clock:
            steering.append((time, place, levels[line]))
        elif levels[line] == spec.active:
            active.append((time, place, 0))
    found: list[Counted] = []
    while active:
        group = [active.pop(0)]
        while active and active[0][0] <= group[-1][0] + spec.pulse:
            group.append(active.pop(0))
        end = group[-1][0] + spec.pulse
        before = [level for _, place, level in steering if place < group[0][1]]
        level = before[-1] if before else first[1 - spec.clock]
        cuts = [cut for cut in steering if cut[1] > group[0][1] and cut[0] <= end]
        began, flags = group[0][0], 0
        for time, place, after in [*cuts, (end, len(changes), 0)]:
            flags |= HOLD if place < len(changes) else 0
            cause = [row[1] for row in group if row[1] < place][-1]
            if time > began:
                taken = time - began >= spec.minimum
                count = (1 if level == spec.up else -1) if taken else 0
                found.append(Counted(time, count, count, cause, flags | (0 if taken else SHORT)))
            began, level = time, after
    return found


specs = st.builds(
    TwoClock, st.integers(0, 1), st.integers(0, 1), st.integers(0, 1), st.integers(1, 12), st.integers(0, 8)
)
changes = st.lists(st.tuples(st.integers(0, 8), st.integers(0, 1)), max_size=25).map(gaps_to_changes)
levels = st.tuples(st.integers(0, 1), st.integers(0, 1))


@settings(max_examples=500, deadline=None)
@given(specs, changes, levels)
def test_any_edges_count_as_the_rules_over_whole_intervals_say(
    spec: TwoClock, edges: list[Change], first: tuple[int, int]
) -> None:
    assert counted(spec, edges, first) == by_the_book(spec, edges, first)


walks = st.lists(st.sampled_from([1, -1]), max_size=40)


@settings(max_examples=200, deadline=None)
@given(
    walks, st.integers(1, 1000), st.integers(0, 3), st.integers(0, 1), st.integers(0, 1), st.integers(0, 1)
)
def test_two_clocks_and_step_and_direction_agree_on_clean_edges(
    walk: list[int], pulse: int, start: int, clock: int, active: int, up: int
) -> None:
    """Edges further apart than the pulse is long: neither ever sees the other line change in time."""
    first = [(1, 1), (0, 1), (0, 0), (1, 0)][start]
    edges = turned(walk, pulse + 1, start)
    two = counted(TwoClock(clock, active, up, pulse, pulse), edges, first)
    one = counted(StepDirection(clock, active, up, 0, 0, 0, 0, 0, 0), edges, first)
    assert [(p.asked, p.edge, p.flags) for p in two] == [(p.asked, p.edge, p.flags) for p in one]
    assert [p.time - pulse for p in two] == [p.time for p in one]


def test_what_it_says_of_itself() -> None:
    assert counter_ideal(PLAIN) == StepDirection(A, 0, 1, 0, 0, 0, 0, 0, 0)
    assert counter_rate(PLAIN) == 1
    assert counter_clocked(PLAIN) == 0
    assert net(counted(counter_ideal(PLAIN), turned([1] * 40, 10))) == 10
