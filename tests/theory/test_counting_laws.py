"""What chatter does to each kind of counter, as laws that hold burst by burst.

Common setting: no network, no timing limits, bursts of A and B that do not overlap in time.

x4 law.  While one line is still, the other moves the pair of levels to and fro along one side of
the square of states; each change counts +1 or -1 by turns, so a burst, which has an odd number of
changes, counts what its transition alone would: +1 turning up, -1 turning down.

Step-direction law, A clocking on its falling edge, both contacts open at rest, a whole cycle per
detent.  Turning up, A closes while B is still high: each falling edge of the closing burst counts
+1.  A opens while B is low: each falling edge of the opening burst counts -1.  So the net is
1 + k_c - k_o with k_c the extra falling edges of the closing burst and k_o those of the opening
one.  Turning down, B closes before A and opens before A: the same with all signs turned over.
Chatter of B, the direction, counts nothing.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simcore.contacts.bursts import Telegraph, Wiping
from simcore.counters.quadrature import Quadrature
from simcore.design import Design, HandEntry
from simcore.hand.base import CLICK, SPIN, TWIST
from simcore.judging.sums import DOUBLED, FLICKERED, MISSED, REVERSED, RIGHT
from tests.theory import designs as make
from tests.theory.looking import Burst, Run, look

RUNS = 8
A, B = 0, 1


@st.composite
def hands(draw: st.DrawFn) -> tuple[HandEntry, ...]:
    """Whole detents in any direction, at a pace that leaves some bursts apart and lets some overlap."""
    kind = draw(st.sampled_from([CLICK, TWIST, SPIN]))
    steps = 1.0 if kind == CLICK else float(draw(st.integers(2, 5)))
    pace = draw(st.floats(8e-3, 60e-3))
    heading, spread = draw(make.headings), draw(st.floats(0.0, 0.2))
    turn = make.gesture(kind, steps=steps, heading=heading, duration=steps * pace, spread=spread)
    return (HandEntry("turn", turn, draw(st.integers(1, 5))),)


bouncy = st.one_of(
    st.builds(Wiping, make.wiping_sides(), make.wiping_sides()),
    st.builds(Telegraph, make.telegraph_sides, make.telegraph_sides),
)


@st.composite
def direct(draw: st.DrawFn, counter: object, counts: int) -> Design:
    """Straight from the contacts into a counter."""
    return make.design(
        *draw(hands()), contact=draw(bouncy), counter=counter, geometry=draw(make.geometries()),
        counts_per_step=counts,
    )  # fmt: skip


def apart(burst: Burst, others: list[Burst]) -> bool:
    """Whether a burst overlaps none of the other line's."""
    return all(burst.end < other.move.time or other.end < burst.move.time for other in others)


def lone(run: Run, line: int) -> list[Burst]:
    """The bursts of a line during which the other line is still."""
    others = run.bursts(1 - line)
    return [burst for burst in run.bursts(line) if apart(burst, others)]


def row_of(burst: Burst) -> int:
    """The transition a burst belongs to."""
    return burst.changes[0].transition


@settings(max_examples=80, deadline=None)
@given(direct(Quadrature(4, 1), 4), make.seeds)
def test_x4_is_blind_to_chatter_on_one_line(design: Design, seed: int) -> None:
    for run in look(design, seed, RUNS):
        for line in (A, B):
            for burst in lone(run, line):
                assert run.counts[row_of(burst)] == burst.move.direction


@settings(max_examples=40, deadline=None)
@given(direct(Quadrature(4, 1), 4), make.seeds)
def test_x4_steps_are_right_where_no_bursts_overlap(design: Design, seed: int) -> None:
    """Right, or flickered where there was chatter, never wrong."""
    for run in look(design, seed, RUNS):
        bursts = [burst for line in (A, B) for burst in run.bursts(line)]
        alone = [burst for line in (A, B) for burst in lone(run, line)]
        for step, direction in enumerate(run.directions):
            own = [burst for burst in bursts if burst.move.step == step]
            if all(burst in alone for burst in own):
                chatters = any(len(burst.changes) > 1 for burst in own)
                assert run.nets[step] == 4 * direction
                assert run.verdicts[step] == (FLICKERED if chatters else RIGHT)


def falls(burst: Burst) -> int:
    """Falling edges of the logic line: the contact closes."""
    return sum(change.level == 1 for change in burst.changes)


def law(closing: Burst, opening: Burst) -> int:
    """Net of one step by the step-direction law."""
    return closing.move.direction * (1 + (falls(closing) - 1) - falls(opening))


def pairs_of(run: Run) -> list[tuple[Burst, Burst]]:
    """A's closing and opening burst of each step in which both are lone."""
    by_step: dict[int, dict[int, Burst]] = {}
    for burst in lone(run, A):
        by_step.setdefault(burst.move.step, {})[burst.move.closed] = burst
    return [(found[1], found[0]) for found in by_step.values() if len(found) == 2]


@settings(max_examples=120, deadline=None)
@given(direct(make.step_direction(), 1), make.seeds)
def test_step_direction_law(design: Design, seed: int) -> None:
    for run in look(design, seed, RUNS):
        for closing, opening in pairs_of(run):
            net = law(closing, opening)
            step = closing.move.step
            assert run.nets[step] == net
            assert run.counts[row_of(closing)] == closing.move.direction * falls(closing)
            assert run.counts[row_of(opening)] == -closing.move.direction * falls(opening)


def verdict_by_law(net: int, pulses: int) -> int:
    """What a step that ought to count +1 deserves."""
    if net == 1:
        return RIGHT if pulses == 1 else FLICKERED
    if net == 0:
        return MISSED
    return DOUBLED if net > 1 else REVERSED


@settings(max_examples=60, deadline=None)
@given(direct(make.step_direction(), 1), make.seeds)
def test_verdicts_follow_from_the_law(design: Design, seed: int) -> None:
    for run in look(design, seed, RUNS):
        for closing, opening in pairs_of(run):
            net = law(closing, opening) * closing.move.direction
            expected = verdict_by_law(net, falls(closing) + falls(opening))
            assert run.verdicts[closing.move.step] == expected


@pytest.mark.parametrize("counter", [Quadrature(4, 1), make.step_direction()])
def test_the_laws_are_not_empty(counter: object) -> None:
    """At an ordinary pace with ordinary bounce most bursts are lone and many of them chatter."""
    side = make.side(pairs=1.5, rebound=0.7)
    turn = make.gesture(CLICK, duration=40e-3)
    design = make.design(
        HandEntry("turn", turn, 5), contact=Wiping(side, side), counter=counter,
        counts_per_step=4 if isinstance(counter, Quadrature) else 1,
    )  # fmt: skip
    runs = look(design, 5, 40)
    bursts = [burst for run in runs for line in (A, B) for burst in lone(run, line)]
    assert len(bursts) > 0.9 * sum(len(run.moves) for run in runs)
    assert sum(len(burst.changes) > 1 for burst in bursts) > 200
    nets = {net for run in runs for net in run.nets}
    assert (nets == {4}) == isinstance(counter, Quadrature)
    if not isinstance(counter, Quadrature):
        assert {-1, 0, 1, 2} <= nets
