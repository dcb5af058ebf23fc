"""The interlock: a change of one line is accepted only after the other line has changed since.

It is a pair of transparent latches, one to a line.

* At rest, before anything has moved, both latches are open.
* An open latch passes its input on.  A change that it passes closes it and opens the other.
* A closed latch ignores its input.  When it opens and its input differs from its output, its line
  catches up: the output follows ``delay`` after the change that opened it, with the cause of that
  line's latest input edge; if the input comes back before, nothing happens.

Catching up does not close a latch, for the change that it brings was there before the one that opened
the latch, so the other line has changed since.  (If it did close it, each line's change would from
then on wait for the other line's next, and a counter would never see the new direction.)

Chatter of one line cannot pass as long as the other line is quiet: its first change closes the latch.
The weakness follows from the same rule.  A knob turned half way and let back moves one line twice in
a row, there and back: the second change is not accepted, and the line stays at the wrong level until
the other line changes.  The same happens at every reversal, for the line that moved last moves first
on the way back: its change comes out after the other line's, so the order of the two is lost, and a
counter takes the first step back for one in the old direction.
"""

from __future__ import annotations

from typing import NamedTuple

from simcore.base.compiling import member
from simcore.base.description import TIMING, Key, StageDescription
from simcore.base.records import A, B
from simcore.base.ticks import NEVER, ticks
from simcore.stages.facts import bridges_openings
from simcore.stages.pair import pair_build, pair_edge, pair_expire, pair_level, pair_start, pair_wake

NEITHER = -1


class Interlock(NamedTuple):
    """Two latches; ``delay`` (s) from the opening of one to its output following."""

    delay: float


INTERLOCK = StageDescription(
    name="interlock",
    meaning="Two latches that accept a change of one line only after the other line has changed since.",
    keys=(
        # Tens of nanoseconds for a gate: common practice, no source.
        Key("delay", TIMING, "from the opening of a latch to its output following", 20.0e-9),
    ),
    build=lambda values: Interlock(values.delay),
    both_lines=True,
)


class InterlockUnit(NamedTuple):
    """The same in ticks."""

    delay: int


class InterlockState(NamedTuple):
    """Input and output level of both lines; the line whose latch is ``closed`` (NEITHER at first);
    and the tick ``due`` at which the other line catches up, NEVER if it need not.
    """

    a: int
    b: int
    out_a: int
    out_b: int
    closed: int
    due: int


@member(pair_build, Interlock)
def build(spec: Interlock, seed: int, run: int, address: int) -> InterlockUnit:
    return InterlockUnit(ticks(spec.delay))


@member(pair_start, InterlockUnit)
def start(params: InterlockUnit, a: int, b: int) -> InterlockState:
    return InterlockState(a, b, a, b, NEITHER, NEVER)


@member(pair_edge, InterlockUnit)
def edge(params: InterlockUnit, state: InterlockState, time: int, line: int, level: int) -> InterlockState:
    """Ignored by a closed latch; passed by an open one, unless the line was about to catch up and
    has come back with this edge.
    """
    a = level if line == A else state.a
    b = level if line == B else state.b
    if line == state.closed:
        return InterlockState(a, b, state.out_a, state.out_b, state.closed, state.due)
    if state.due != NEVER:
        return InterlockState(a, b, state.out_a, state.out_b, state.closed, NEVER)
    out_a = level if line == A else state.out_a
    out_b = level if line == B else state.out_b
    behind = a != out_a or b != out_b
    return InterlockState(a, b, out_a, out_b, line, time + params.delay if behind else NEVER)


@member(pair_wake, InterlockUnit)
def wake(params: InterlockUnit, state: InterlockState, limit: int) -> int:
    return state.due


@member(pair_expire, InterlockUnit)
def expire(params: InterlockUnit, state: InterlockState, time: int) -> InterlockState:
    out_a = state.out_a if state.closed == A else state.a
    out_b = state.out_b if state.closed == B else state.b
    return InterlockState(state.a, state.b, out_a, out_b, state.closed, NEVER)


@member(pair_level, InterlockUnit)
def level(params: InterlockUnit, state: InterlockState, line: int) -> int:
    return state.out_a if line == A else state.out_b


@bridges_openings.register
def bridges(item: Interlock) -> bool:
    return True
