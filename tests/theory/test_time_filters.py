"""When a time filter makes no error, and what it does to random edges.

A *burst* is what a contact makes of one transition: an odd number of changes, from the old level
to the new one.  Its *gaps* are the times between its changes, its *length* is the sum of them, its
*rest* the time from its last change to the first of the line's next burst.  T is the filter's time.

Quiet time.  If every gap is at most T and every rest longer than T, the output changes once to a burst,
T after the burst's last change.  Within a burst each change but the last is followed by another
within T, so nothing comes through; at T after the last one the level is the new one, and the output,
by induction, at the old one.  On whole designs the order of A and B must survive as well, so the
bursts of the two lines must not overlap; then the counter sees the clean edges, each late by T and
its burst's length, and every step is right.

Lockout.  If every burst's length is at most T and the first changes of a line's bursts lie more than
T apart, the output changes once to a burst, at its first change: all others fall into the lockout,
and at its end the level is the new one already.

Both limits are sharp to the tick.  An edge at the very end of a time falls into it.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from simcore.contacts.bursts import Telegraph, TelegraphSide
from simcore.design import Design, HandEntry, StageEntry
from simcore.hand.base import EITHER
from simcore.judging.sums import RIGHT
from simcore.stages.lockout import Lockout
from simcore.stages.quiet_time import QuietTime
from tests.theory import designs as make
from tests.theory.filtering import START, Trace, exact, through, times_of, trace
from tests.theory.looking import Run, look

RUNS = 5


def bursts_of(gaps: list[list[int]], rests: list[int], first: int) -> tuple[Trace, list[int], list[int]]:
    """Edges of bursts with ``gaps`` inside, each followed by a rest; ticks of first and last changes."""
    times: list[int] = []
    causes, begins, ends = [], [], []
    now = START
    for number, (inside, rest) in enumerate(zip(gaps, rests, strict=True)):
        own = times_of(inside, now)
        begins.append(own[0])
        ends.append(own[-1])
        times += own
        causes += [16 * number] * len(own)
        now = own[-1] + rest
    return Trace(first, tuple(zip(times, causes, strict=True))), begins, ends


@st.composite
def inside_a_burst(draw: st.DrawFn, longest: int) -> list[int]:
    """An even number of gaps of at most ``longest``, often just that."""
    gap = st.one_of(st.just(longest), st.integers(0, longest))
    return [draw(gap) for _ in range(2 * draw(st.integers(0, 6)))]


@settings(max_examples=300, deadline=None)
@given(st.data(), st.integers(1, 10**6), st.integers(0, 1))
def test_a_quiet_time_within_its_window_passes_one_edge_a_burst(
    data: st.DataObject, ticks: int, first: int
) -> None:
    count = data.draw(st.integers(1, 8))
    gaps = [data.draw(inside_a_burst(ticks)) for _ in range(count)]
    rests = [ticks + 1 + data.draw(st.integers(0, 2 * ticks)) for _ in range(count)]
    source, _, ends = bursts_of(gaps, rests, first)
    assert through(QuietTime(exact(ticks)), source) == trace(first, [end + ticks for end in ends])


@settings(max_examples=100, deadline=None)
@given(st.integers(2, 10**6), st.integers(0, 1))
def test_the_window_of_a_quiet_time_is_sharp(ticks: int, first: int) -> None:
    """A gap of T + 1 on either side of a change passes; a rest of T swallows a level."""
    doubled, _, _ = bursts_of([[ticks + 1, ticks + 1]], [0], first)
    assert len(through(QuietTime(exact(ticks)), doubled).edges) == 3
    swallowed, _, _ = bursts_of([[], []], [ticks, 0], first)
    assert through(QuietTime(exact(ticks)), swallowed).edges == ()


@st.composite
def short_burst(draw: st.DrawFn, length: int) -> list[int]:
    """An even number of gaps that are together at most ``length``, often just that."""
    pairs, to_the_end = draw(st.integers(0, 5)), draw(st.booleans())
    places = sorted(draw(st.lists(st.integers(0, length), min_size=2 * pairs, max_size=2 * pairs)))
    if places and to_the_end:
        places[-1] = length
    return [after - before for before, after in itertools.pairwise([0, *places])]


@settings(max_examples=300, deadline=None)
@given(st.data(), st.integers(1, 10**6), st.integers(0, 1))
def test_a_lockout_within_its_window_passes_one_edge_a_burst(
    data: st.DataObject, ticks: int, first: int
) -> None:
    count = data.draw(st.integers(1, 8))
    gaps = [data.draw(short_burst(ticks)) for _ in range(count)]
    apart = [ticks + 1 + data.draw(st.integers(0, 2 * ticks)) for _ in range(count)]
    source, begins, _ = bursts_of(
        gaps, [whole - sum(own) for whole, own in zip(apart, gaps, strict=True)], first
    )
    assert through(Lockout(exact(ticks)), source) == trace(first, begins)


@settings(max_examples=100, deadline=None)
@given(st.integers(1, 10**6), st.integers(1, 1000), st.integers(0, 1))
def test_the_window_of_a_lockout_is_sharp(ticks: int, gap: int, first: int) -> None:
    """A pair of changes a tick after T doubles; bursts T apart come late, the second at the end of T."""
    doubled, _, _ = bursts_of([[ticks + 1, gap]], [0], first)
    assert len(through(Lockout(exact(ticks)), doubled).edges) == 3
    held, begins, _ = bursts_of([[], []], [ticks, 0], first)
    assert through(Lockout(exact(ticks)), held).times == [begins[0], begins[0] + ticks]
    lost, begins, _ = bursts_of([[], [], []], [ticks, 0, 0], first)
    assert through(Lockout(exact(ticks)), lost).times == [begins[0]]


def spacing(runs: list[Run]) -> tuple[int, int, int, int]:
    """Over both lines of ``runs``: longest gap within a burst, shortest rest after one, longest burst,
    closest first changes of a line.
    """
    gaps, rests, lengths, apart = [0], [], [0], []
    for run, line in itertools.product(runs, (0, 1)):
        bursts = run.bursts(line)
        for burst in bursts:
            times = [change.time for change in burst.changes]
            gaps += [after - before for before, after in itertools.pairwise(times)]
            lengths.append(times[-1] - times[0])
            if burst.rest is not None:
                rests.append(burst.rest)
        begins = [burst.changes[0].time for burst in bursts]
        apart += [after - before for before, after in itertools.pairwise(begins)]
    return max(gaps), min(rests), max(lengths), min(apart)


def bursts_overlap(runs: list[Run]) -> bool:
    """Whether A and B ever chatter at the same time."""
    for run in runs:
        both = [burst for line in (0, 1) for burst in run.bursts(line)]
        spans = sorted((burst.changes[0].time, burst.end) for burst in both)
        if any(after[0] <= before[1] for before, after in itertools.pairwise(spans)):
            return True
    return False


@st.composite
def bouncing(draw: st.DrawFn) -> Design:
    """Clicks on a contact whose chatter is mostly short against the time between edges."""

    def side() -> TelegraphSide:
        return TelegraphSide(draw(make.unit(0.5, 6.0)), draw(make.unit(1e-4, 8e-4)), 0.4, 2e-3)

    clicks = make.gesture(heading=EITHER, duration=draw(make.unit(25e-3, 60e-3)), spread=0.2)
    counter, counts = draw(make.counters())
    return make.design(
        HandEntry("clicks", clicks, 4), contact=Telegraph(side(), side()), counter=counter,
        counts_per_step=counts, geometry=draw(make.geometries()),
    )  # fmt: skip


def behind(design: Design, item: object) -> Design:
    """The design with one filter on both lines."""
    return replace(design, stages=(StageEntry("filter", item),))


@settings(max_examples=60, deadline=None)
@given(bouncing(), make.seeds, make.unit(0.0, 1.0), st.sampled_from([QuietTime, Lockout]))
def test_within_its_window_a_filter_makes_no_error_in_whole_designs(
    design: Design, seed: int, place: float, kind: type
) -> None:
    runs = look(design, seed, RUNS)
    gap, rest, length, apart = spacing(runs)
    low, high = (gap, rest) if kind is QuietTime else (length, apart)
    assume(low + 2 < high and not bursts_overlap(runs))
    chosen = low + 1 + int(place * (high - low - 2))
    for run in look(behind(design, kind(exact(chosen))), seed, RUNS):
        assert set(run.verdicts) == {RIGHT}
        for line in (0, 1):
            moved = [i for i, move in enumerate(run.moves) if move.line == line]
            assert [change.transition for change in run.seen[line]] == moved


@pytest.mark.parametrize("kind", [QuietTime, Lockout])
def test_outside_its_window_there_are_errors(kind: type) -> None:
    """The theorem is not empty: a filter too short passes chatter, one too long swallows clicks."""
    side = TelegraphSide(3.0, 5e-4, 0.4, 2e-3)
    clicks = HandEntry("clicks", make.gesture(heading=EITHER), 4)
    bare = make.design(clicks, contact=Telegraph(side, side))
    for ticks in (10**6, 100 * 10**9):
        runs = look(behind(bare, kind(exact(ticks))), 1, RUNS)
        assert any(verdict != RIGHT for run in runs for verdict in run.verdicts)
