"""Theorems about gestures of several joined rows.

* A straight path at constant speed is a spin of that speed, integer by integer; so is one cut into
  pieces, but for the rounding of the cuts to ticks.
* Each way between two turning points of a path begins steps of its own, one for each whole step of
  the way and one for a rest of it.
* A mix of one gesture is that gesture, integer by integer; a mix shares its turns by weight.
* A hand that never turns back does what the plain gesture does.  One that does, crosses each boundary
  of its way one time more forward than backward; its steps follow one another in time; and each of
  them, from the first reach of its beginning to the first reach of its end, holds a step's worth.
* A shaft that shakes about a boundary crosses it once at each swing and ends where it began.
"""

from __future__ import annotations

import itertools
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.base.records import NOTHING_MEANT, PART, WHOLE
from simcore.design import HandEntry
from simcore.hand.base import CLICK, CREEP, DISTANCE, DOWN, SPIN, TWIST, UP, Gesture
from simcore.hand.gestures import FARTHEST, ROWS_OF_REVERSAL, Member, Reversing, Vibration
from simcore.hand.paths import Path, path_of
from tests.agreement.kinds_hand import plain_gestures, reversals, vibrations
from tests.theory.turning import WHOLE_CYCLE, Turned, rows_of, turned

SEEDS = st.integers(0, 2**62)


def path(times: list[float], places: list[float], smooth: bool = False, heading: int = UP) -> Path:
    """A path without any spread."""
    return path_of(times, places, smooth, heading, 0.0, 0.0, 0.0)


def alone(gesture: Path | Gesture | Reversing | Vibration, moves: int) -> tuple[HandEntry, ...]:
    """A hand of one gesture."""
    return (HandEntry("gesture", gesture, moves, "gesture"),)


def spin(steps: float, seconds: float, heading: int) -> tuple[HandEntry, ...]:
    """Turning at constant speed."""
    return alone(Gesture(SPIN, 1, steps, steps, heading, seconds, 0.0, 0.0, 0.0, 1, 0.0), 1)


@settings(max_examples=50, deadline=None)
@given(SEEDS, st.integers(1, 40), st.sampled_from([1.0, 0.25, 0.013]), st.sampled_from([UP, DOWN]))
def test_a_straight_path_is_a_spin(seed: int, steps: int, seconds: float, heading: int) -> None:
    mine = turned(alone(path([0.0, seconds], [0.0, steps], False, heading), 1), seed, 0)
    assert mine == turned(spin(float(steps), seconds, heading), seed, 0)


@settings(max_examples=50, deadline=None)
@given(SEEDS, st.integers(1, 12), st.lists(st.integers(1, 999), min_size=1, max_size=8, unique=True))
def test_cuts_of_a_straight_path_change_nothing(seed: int, steps: int, cuts: list[int]) -> None:
    """Not even how long a contact still slides, or what a step is."""
    shares = [0.0, *(cut / 1000 for cut in sorted(cuts)), 1.0]
    pieces = path([0.4 * share for share in shares], [steps * share for share in shares])
    mine, whole = (
        turned(alone(pieces, len(shares) - 1), seed, 0),
        turned(spin(float(steps), 0.4, UP), seed, 0),
    )
    assert mine.steps == whole.steps
    assert len(mine.crossed) == len(whole.crossed)
    for one, other in zip(mine.crossed, whole.crossed, strict=True):
        assert (one.boundary, one.direction, one.step) == (other.boundary, other.direction, other.step)
        assert abs(one.time - other.time) <= 3
        assert abs(one.until - other.until) <= 3
        assert one.speed == pytest.approx(other.speed, rel=1e-6)
        assert one.travel == pytest.approx(other.travel, abs=1e-9)


def test_the_steps_of_a_path_with_turns_back() -> None:
    """Up by 2.5 steps with a hold under way, down by 1, up by 0.75, each on its own account."""
    table = path([0.0, 0.1, 0.2, 0.3, 0.4, 0.5], [0.0, 1.5, 1.5, 2.5, 1.5, 2.25], smooth=True)
    found = turned(alone(table, 5), 1, 0)
    up, down = (0, 1, WHOLE), (0, -1, WHOLE)
    assert found.steps == (up, up, (0, 1, PART), down, (0, 1, PART))
    # Boundaries lie at 1/8, 3/8, 5/8 and 7/8 of each step; at 1.5 and 2.5 the shaft turns or stands.
    counts = Counter(crossed.step for crossed in found.crossed)
    assert counts == {0: 4, 1: 4, 2: 2, 3: 4, 4: 3}
    assert [crossed.direction for crossed in found.crossed if crossed.step == 3] == [-1] * 4


def test_a_smooth_path_stands_still_where_it_turns() -> None:
    """Speeds near the turning points are those of a shaft that comes to rest there."""
    table = path([0.0, 0.1, 0.2], [0.0, 3.126, 0.0], smooth=True)
    found = turned(alone(table, 2), 1, 0)
    turning = [crossed for crossed in found.crossed if crossed.boundary == 12]
    assert [crossed.direction for crossed in turning] == [1, -1]
    assert all(crossed.speed < 40.0 for crossed in turning)
    assert max(crossed.speed for crossed in found.crossed) > 800.0
    assert turning[0].time < turning[0].until < turning[1].time


@settings(max_examples=40, deadline=None)
@given(st.one_of(reversals(), vibrations()), SEEDS, st.integers(0, 1000))
def test_a_mix_of_one_is_that_gesture(entry: HandEntry, seed: int, run: int) -> None:
    member = Member(entry.gesture, entry.moves, 0, 0.0, 2.0)
    mixed = (HandEntry("mix: it", member, entry.moves, entry.word, "mix"),)
    assert turned(mixed, seed, run) == turned((entry,), seed, run)


def test_a_mix_shares_its_turns_by_weight() -> None:
    """4,000 turns at shares of 60, 30 and 10 %, four standard errors: fails once in 5,000 seeds."""
    turns, shares = 4000, (0.6, 0.3, 0.1)
    bounds = (0.0, 0.6, 0.9, 2.0)
    click = Gesture(CLICK, 1, 1.0, 1.0, UP, 0.01, 0.0, 0.0, 0.0, 0, 0.0)
    hand = tuple(
        HandEntry(f"mix: {number}", Member(click, 1, 0, low, high), turns, "click", "mix")
        for number, (low, high) in enumerate(itertools.pairwise(bounds))
    )
    rows = rows_of(hand, 1, 0)[:, DISTANCE].reshape(turns, 3)
    assert (rows.sum(axis=1) == 1.0).all()
    for number, share in enumerate(shares):
        error = (turns * share * (1.0 - share)) ** 0.5
        assert abs(rows[:, number].sum() - turns * share) < 4.0 * error
    other = rows_of(hand, 1, 1)[:, DISTANCE].reshape(turns, 3)
    assert not (rows == other).all()


def test_what_is_drawn_belongs_to_its_gesture_in_the_tally() -> None:
    click = Gesture(CLICK, 1, 1.0, 1.0, UP, 0.01, 0.0, 0.0, 0.0, 0, 0.0)
    twist = Gesture(TWIST, 1, 3.0, 3.0, DOWN, 0.05, 0.0, 0.0, 0.0, 0, 0.3)
    members = (Member(click, 1, 0, 0.0, 0.5), Member(twist, 1, 0, 0.5, 2.0))
    hand = tuple(HandEntry(f"mix: {n}", each, 8, "click", "mix") for n, each in enumerate(members))
    found = turned(hand, 3, 0)
    assert set(found.steps) == {(0, 1, WHOLE), (1, -1, WHOLE)}
    assert [entry for entry, _, _ in found.steps].count(1) % 3 == 0


@settings(max_examples=40, deadline=None)
@given(plain_gestures(), SEEDS, st.integers(0, 1000))
def test_a_hand_that_never_turns_back(gesture: Gesture, seed: int, run: int) -> None:
    never = alone(Reversing(gesture, 0.0, 0.1, 0.5), ROWS_OF_REVERSAL * gesture.moves)
    assert turned(never, seed, run) == turned(alone(gesture, gesture.moves), seed, run)


def crossings_of(found: Turned) -> list[list[tuple[int, int]]]:
    """Per step the boundaries crossed, each with its direction, in order of time."""
    steps: list[list[tuple[int, int]]] = [[] for _ in found.steps]
    for crossed in found.crossed:
        steps[crossed.step].append((crossed.boundary, crossed.direction))
    return steps


@settings(max_examples=80, deadline=None)
@given(
    st.sampled_from([(CLICK, 1.0), (TWIST, 5.0), (CREEP, 1.0)]), st.sampled_from([UP, DOWN]),
    st.sampled_from([(0.1, 0.5), (0.9, 0.999), (1.0, 3.0)]), SEEDS,
)  # fmt: skip
def test_a_hand_that_turns_back(
    kind: tuple[int, float], heading: int, back: tuple[float, float], seed: int
) -> None:
    moves = 3
    gesture = Gesture(kind[0], moves, kind[1], kind[1], heading, 0.05, 0.2, 0.05, 0.2, 0, 0.0)
    found = turned(alone(Reversing(gesture, 1.0, *back), ROWS_OF_REVERSAL * moves), seed, 0)
    plain = turned(alone(gesture, moves), seed, 0)
    assert found.steps == plain.steps
    numbers = [crossed.step for crossed in found.crossed]
    assert numbers == sorted(numbers), "steps follow one another in time"
    for mine, theirs in zip(crossings_of(found), crossings_of(plain), strict=True):
        net: Counter[int] = Counter()
        for boundary, direction in mine:
            net[boundary] += direction
        assert {boundary: count for boundary, count in net.items() if count} == dict(theirs)
        assert sum(direction for _, direction in mine) == 4 * heading
    assert len(found.crossed) >= len(plain.crossed)


@settings(max_examples=60, deadline=None)
@given(vibrations(), SEEDS, st.booleans())
def test_a_shaking_shaft(entry: HandEntry, seed: int, on_boundary: bool) -> None:
    """At rest on a boundary, or amid four of them that lie 1/8 step away at least."""
    geometry = WHOLE_CYCLE._replace(rest=-0.125) if on_boundary else WHOLE_CYCLE
    rows = rows_of((entry,), seed, 0)
    places = list(itertools.accumulate(rows[:, DISTANCE]))
    turns = entry.moves // entry.gesture.swings
    assert all(abs(place) <= FARTHEST + 1e-12 for place in places)
    assert all(abs(place) < 1e-12 for place in places[entry.gesture.swings - 1 :: entry.gesture.swings])
    found = turned((entry,), seed, 0, geometry)
    assert found.steps == ((0, 1, NOTHING_MEANT),) * turns
    assert sum(crossed.direction for crossed in found.crossed) == 0
    far = max(abs(place) for place in places)
    here = [crossed for crossed in found.crossed if crossed.boundary == -1]
    if on_boundary:
        # It is met on arriving from below and on leaving downward: at each swing through it.
        through = sum(1 for place in places if place < -1e-12)
        assert len(here) == 2 * through
    elif far < 0.125:
        assert not found.crossed
