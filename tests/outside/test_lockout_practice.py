"""Two cases from practice, of which public trouble reports tell: common practice, no source.

*Lockout too long.*  An encoder of 20 detents, a whole cycle each, whose clock line starts a one-shot of
200, 50 or 5 ms, misses clicks above about 15, 60 and 600 rpm.  Exactly: at N rpm a cycle lasts
60 / 20 N seconds, and the next trigger must come after the pulse has ended, so the limit is
3 s / T = 15, 60 and 600 rpm.  A lockout in the narrower sense, which follows both edges and is deaf
after each, has its limit at half that: the line's edges are half a cycle apart.

*No window.*  With bursts of up to 3 ms and a shortest dwell of 2.5 ms there is no setting at which a
quiet time or a lockout makes no error.  A lockout must last as long as the longest burst, but no longer
than the edges of a line are apart.  A quiet time must be shorter than the dwell; on one line alone
more than half the longest burst would be enough, since it passes a burst's chatter only if the line
stays put that long twice; but at the speed at which 2.5 ms of rest are left after the longest burst, the
edges of A and B are 2.75 ms apart, so bursts outlast the way to the other line's edge, and the
order of the two is lost whatever the time.
"""

from __future__ import annotations

import pytest

from simcore.base.draws import Part
from simcore.base.records import A
from simcore.contacts.bursts import Telegraph, TelegraphSide
from simcore.design import HandEntry, StageEntry
from simcore.hand.base import SPIN, UP
from simcore.judging.sums import CAUSES, MISSED, RIGHT
from simcore.stages.lockout import Lockout
from simcore.stages.one_shot import OneShot
from simcore.stages.quiet_time import QuietTime
from tests.outside.lines import one_run, through
from tests.theory import designs as make
from tests.theory.looking import Run, look

DETENTS = 20
MILLISECONDS = [(200.0, 15.0), (50.0, 60.0), (5.0, 600.0)]
"""Time of the lockout, and the limit of speed (rpm) that practice states."""


def turned(rpm: float, steps: int, stages: tuple[StageEntry, ...], contact: object = make.CLEAN) -> Run:
    """One steady turn of clean contacts at ``rpm``, and what came of it."""
    duration = steps * 60.0 / (DETENTS * rpm)
    spin = make.gesture(SPIN, steps=float(steps), heading=UP, duration=duration, dwell=0.5)
    (run,) = look(make.design(HandEntry("spin", spin, 1), contact=contact, stages=stages), 1, 1)
    return run


def one_shot(milliseconds: float) -> tuple[StageEntry, ...]:
    """A one-shot without retrigger on the clock line; its pulse is low, as the closed contact is."""
    item = OneShot(Part(milliseconds * 1e3, 0.0), Part(1e-6, 0.0), 1.0, 0, 0, 0)
    return (StageEntry("one-shot", item, (A,)),)


def lockout(milliseconds: float) -> tuple[StageEntry, ...]:
    """A lockout on both lines."""
    return (StageEntry("lockout", Lockout(Part(milliseconds * 1e-3, 0.0))),)


@pytest.mark.parametrize(("milliseconds", "limit"), MILLISECONDS)
def test_a_one_shot_misses_above_its_limit_and_not_below(milliseconds: float, limit: float) -> None:
    assert limit == pytest.approx(60e3 / (DETENTS * milliseconds))
    below = turned(0.999 * limit, 40, one_shot(milliseconds))
    assert set(below.verdicts) == {RIGHT}
    above = turned(1.001 * limit, 40, one_shot(milliseconds))
    # It hears every second trigger.
    assert list(above.verdicts) == [RIGHT, MISSED] * 20
    assert {CAUSES[cause] for cause in above.causes} == {"none", "swallowed"}


@pytest.mark.parametrize(("milliseconds", "limit"), MILLISECONDS)
def test_a_lockout_on_both_edges_has_half_the_limit(milliseconds: float, limit: float) -> None:
    below = turned(0.999 * limit / 2.0, 40, lockout(milliseconds))
    assert set(below.verdicts) == {RIGHT}
    # Above, each edge comes out later than the last by what the lockout is too long, until one is lost.
    above = turned(1.05 * limit / 2.0, 40, lockout(milliseconds))
    assert set(above.verdicts) != {RIGHT}
    early = [move for move in above.moves if move.line == A][:4]
    lags = [change.time - move.time for change, move in zip(above.seen[A], early, strict=False)]
    assert lags == sorted(lags)
    assert lags[0] == 0 < lags[1] < lags[3]


SHORTEST_DWELL = 2.5e-3
LONGEST_BURST = 3e-3
BURST = TelegraphSide(1.5, LONGEST_BURST, 0.0, LONGEST_BURST)
CHATTER = Telegraph(BURST, BURST)
SETTINGS = [1e-5, 1e-4, 3e-4, 1e-3, 1.4e-3, 2e-3, 2.4e-3, 2.6e-3, 3.1e-3, 4e-3, 5e-3, 6e-3, 1e-2, 2e-2]
RUNS = 20


def right_settings(kind: type, half_cycle: float, contact: object) -> set[float]:
    """Settings that make no error in turns whose line edges are ``half_cycle`` apart."""
    spin = make.gesture(SPIN, steps=20.0, duration=20.0 * 2.0 * half_cycle, dwell=0.2)
    entry = HandEntry("spin", spin, 1)
    found = set()
    for seconds in SETTINGS:
        stages = (StageEntry("filter", kind(Part(seconds, 0.0))),)
        runs = look(make.design(entry, contact=contact, stages=stages), 1, RUNS)
        if all(verdict == RIGHT for run in runs for verdict in run.verdicts):
            found.add(seconds)
    return found


def test_slow_and_fast_turns_leave_no_lockout_that_is_right_for_both() -> None:
    slow = right_settings(Lockout, 30e-3, CHATTER)
    fast = right_settings(Lockout, SHORTEST_DWELL, make.CLEAN)
    assert slow == {seconds for seconds in SETTINGS if seconds > LONGEST_BURST}
    assert fast == {seconds for seconds in SETTINGS if seconds < SHORTEST_DWELL}
    assert not slow & fast


def test_no_quiet_time_is_right_where_the_dwell_is_shorter_than_the_burst() -> None:
    slow = right_settings(QuietTime, 30e-3, CHATTER)
    assert {seconds for seconds in SETTINGS if LONGEST_BURST / 2.0 < seconds <= 1e-2} <= slow
    assert not slow & {seconds for seconds in SETTINGS if seconds < 1e-3}
    assert right_settings(QuietTime, LONGEST_BURST + SHORTEST_DWELL, CHATTER) == set()


@pytest.mark.parametrize(("short", "edges"), [(0, 1), (1, 3)])
def test_half_the_longest_burst_is_the_least_quiet_time_on_one_line(short: int, edges: int) -> None:
    """Closed for 1.5 ms, open for 1.5 ms, then closed for good; one tick less and it passes."""
    half = 1_500_000_000
    source = one_run(1, [10**10, 10**10 + half, 10**10 + 2 * half])
    assert through(QuietTime(Part((half - short) * 1e-12, 0.0)), source).times.size == edges
