"""What an interlock passes, and what it does to a knob that turns back.

Clean changes.  Call a change of a line *repeated* if the latest change that was accepted is of the
same line.  Repeated changes are not accepted; all others are passed at once.  If an odd number of
repeated changes stands open when the other line's next change is accepted, the line catches up then.
So while a knob turns one way, and the lines change by turns, everything passes unaltered; at a
reversal the line that moved last moves first, and its change comes out behind the other line's.

Chatter.  While one line is still, the other's output changes at most once: its first change closes its
latch, which only a change of the still line could open.  Hence bursts that do not overlap, of the
lines by turns, give one edge each, at their first change.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.records import A, B, cause_transition
from simcore.contacts.bursts import Telegraph, TelegraphSide
from simcore.counters.quadrature import Quadrature
from simcore.design import Design, HandEntry, StageEntry
from simcore.hand.base import ALTERNATE, CLICK, DOWN, ROCK, TWIST, UP, Gesture
from simcore.judging.sums import DOUBLED, REVERSED, RIGHT
from simcore.stages.interlock import Interlock
from tests.theory import designs as make
from tests.theory.filtering import START, Trace, through_pair, times_of, traces
from tests.theory.looking import look

DELAY = 20
spec = Interlock(DELAY * 1e-12)
Event = tuple[int, int]
"""(Tick, cause)."""


def split(sides: list[int], times: list[int], first: tuple[int, int]) -> tuple[Trace, Trace]:
    """The two lines of changes of ``sides`` at ``times``, number i caused by transition i."""
    pairs = list(zip(sides, times, strict=True))
    a, b = (
        Trace(first[line], tuple((time, 16 * i) for i, (side, time) in enumerate(pairs) if side == line))
        for line in (A, B)
    )
    return a, b


levels = st.tuples(st.integers(0, 1), st.integers(0, 1))
clean = st.lists(st.tuples(st.integers(0, 1), st.integers(DELAY + 1, 500)), min_size=1, max_size=30)


@settings(max_examples=300, deadline=None)
@given(st.integers(1, 40), st.integers(0, 1), levels, st.data())
def test_a_clean_turn_one_way_passes_unaltered(
    count: int, side: int, first: tuple[int, int], data: st.DataObject
) -> None:
    gaps = data.draw(st.lists(st.integers(1, 100), min_size=count - 1, max_size=count - 1))
    lines = split([(side + i) % 2 for i in range(count)], times_of(gaps), first)
    assert through_pair(spec, *lines) == lines


@settings(max_examples=300, deadline=None)
@given(clean, levels)
def test_repeated_changes_wait_for_the_other_line(
    moves: list[tuple[int, int]], first: tuple[int, int]
) -> None:
    sides, times = [side for side, _ in moves], times_of([gap for _, gap in moves])[: len(moves)]
    lines = split(sides, times, first)
    expected: tuple[list[Event], list[Event]] = ([], [])
    start = 0
    for side, group in itertools.groupby(sides):
        size = len(list(group))
        expected[side].append((times[start], 16 * start))
        last, start = start + size - 1, start + size
        if size % 2 == 0 and start < len(sides):
            expected[side].append((times[start] + DELAY, 16 * last))
    seen = through_pair(spec, *lines)
    assert (list(seen[A].edges), list(seen[B].edges)) == expected


@settings(max_examples=300, deadline=None)
@given(traces(), traces(), st.integers(0, 1), st.lists(st.integers(0, 60), max_size=20))
def test_chatter_of_one_line_passes_once_at_most(a: Trace, b: Trace, side: int, gaps: list[int]) -> None:
    """After any past, and any lag of the still line."""
    begin = max(*a.times, *b.times) + DELAY + 1
    chatter = tuple((time, 16 * 99) for time in times_of(gaps, begin))
    past = (a, b)
    lines = [a, b]
    lines[side] = Trace(past[side].first, past[side].edges + chatter)
    seen = through_pair(spec, lines[A], lines[B])
    assert sum(time >= begin for time in seen[side].times) <= 1
    late = [time for time in seen[1 - side].times if time >= begin]
    assert len(late) <= 1
    if late:
        assert late[0] == next(time for time in seen[side].times if time >= begin) + DELAY
    for trace in seen:
        assert trace.times == sorted(trace.times)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.lists(st.integers(0, 60), max_size=8), min_size=1, max_size=12), st.integers(0, 1), levels)
def test_bursts_by_turns_give_one_edge_each(
    bursts: list[list[int]], side: int, first: tuple[int, int]
) -> None:
    sides: list[int] = []
    times: list[int] = []
    begins: tuple[list[int], list[int]] = ([], [])
    for number, gaps in enumerate(bursts):
        # An odd number of changes, the last before the next burst begins.
        own = times_of(gaps[: 2 * (len(gaps) // 2)], times[-1] + 1 if times else START)
        line = (side + number) % 2
        begins[line].append(own[0])
        sides += [line] * len(own)
        times += own
    seen = through_pair(spec, *split(sides, times, first))
    assert (seen[A].times, seen[B].times) == begins


def interlocked(*hand: HandEntry, contact: object = make.CLEAN, counter: object = None) -> Design:
    """A design with an interlock and nothing else."""
    stages = (StageEntry("interlock", Interlock(20e-9)),)
    return make.design(*hand, contact=contact, counter=counter, stages=stages)


def sweep(heading: int, detents: int, moves: int) -> HandEntry:
    """Movements of so many detents each."""
    kind = CLICK if detents == 1 else TWIST
    turn = make.gesture(kind, steps=float(detents), heading=heading, duration=30e-3 * detents)
    return HandEntry("turns", turn, moves)


@pytest.mark.parametrize("heading", [UP, DOWN])
def test_whole_designs_that_turn_one_way_are_right_in_spite_of_chatter(heading: int) -> None:
    side = TelegraphSide(4.0, 3e-4, 0.3, 1e-3)
    design = interlocked(sweep(heading, 1, 6), contact=Telegraph(side, side))
    runs = look(design, 1, 20)
    assert all(verdict == RIGHT for run in runs for verdict in run.verdicts)
    assert sum(len(run.contact[A]) - len(run.seen[A]) for run in runs) > 100, "there is chatter to be stopped"


@pytest.mark.parametrize("detents", [1, 3])
def test_each_reversal_turns_one_click_over(detents: int) -> None:
    """With clean contacts: the first click back is counted in the old direction, all others are right."""
    moves = 5
    for run in look(interlocked(sweep(ALTERNATE, detents, moves)), 1, 2):
        firsts = [number > 0 and number % detents == 0 for number in range(moves * detents)]
        assert list(run.verdicts) == [REVERSED if first else RIGHT for first in firsts]


def test_half_way_and_back_leaves_the_line_at_the_wrong_level() -> None:
    """Turned up to behind A's boundary and let back, which x4 decoding ought to count as nothing: A
    stays locked at the wrong level, so the count stays one off until B moves.
    """
    there_and_back = Gesture(ROCK, 2, 0.25, 0.25, UP, 30e-3, 0.0, 50e-3, 0.0, 0, 0.0)
    design = interlocked(HandEntry("half a turn", there_and_back, 2), counter=Quadrature(4, 1))
    (run,) = look(design, 1, 1)
    assert [(move.line, move.closed) for move in run.moves] == [(A, 1), (A, 0)]
    assert [change.level for change in run.seen[A]] == [0]
    assert run.seen[B] == ()
    assert np.sum(run.nets) == 1
    assert DOUBLED in run.verdicts


def test_a_line_catches_up_with_its_own_cause() -> None:
    """A there and back is transitions 0 and 1; B, transition 2, lets A's second change out."""
    a, b = through_pair(spec, *split([A, A, B], [START, START + 50, START + 90], (1, 1)))
    assert [(time - START, cause_transition(cause)) for time, cause in a.edges] == [(0, 0), (90 + DELAY, 1)]
    assert [(time - START, cause_transition(cause)) for time, cause in b.edges] == [(90, 2)]
