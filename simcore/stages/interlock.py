"""The interlock: a change of one line is accepted only after the other line has changed since.

It is a pair of transparent latches, one to a line, each closed by a change of its own output and
opened by a change of the other latch's output:

* at rest, before anything has moved, both latches are open;
* an open latch passes its input on; when its output has changed, it closes, and the other opens;
* a closed latch ignores its input.  At the moment it opens it looks: if the input differs from the
  output, the output follows at once, at the same tick, with the cause of that line's latest input
  edge, which closes this latch again and opens the other.

So after the first change one latch is open and one is closed at any time, and the output's changes
alternate between A and B.  Chatter of one line cannot pass as long as the other line is quiet:
its first change closes the latch.

Its weakness follows from the same rule.  A knob turned half way and let back moves one line twice in
a row, there and back: the second change is not accepted, and the line stays at the wrong level until
the other line changes.  The same holds at every reversal, since the line that moved last
moves first on the way back: its change waits for the other line's, comes out together with that, and
so the order of the two is lost.
"""

from __future__ import annotations

from typing import NamedTuple

from simcore.compiling import member, rule
from simcore.edges import A, B
from simcore.stages.pair import pair_build, pair_edge, pair_expire, pair_level, pair_start, pair_wake
from simcore.ticks import NEVER


class Interlock(NamedTuple):
    """Two latches.  ``lines`` is there because numba wants a field; always 2."""

    lines: int


class InterlockUnit(NamedTuple):
    """One built unit; they are all alike."""

    lines: int


class InterlockState(NamedTuple):
    """Input and output level of both lines, and 1 for a latch that is open."""

    a: int
    b: int
    out_a: int
    out_b: int
    open_a: int
    open_b: int


@member(pair_build, Interlock)
def build(spec: Interlock, seed: int, run: int, address: int) -> InterlockUnit:
    """Nothing to draw."""
    return InterlockUnit(spec.lines)


@member(pair_start, InterlockUnit)
def start(params: InterlockUnit, a: int, b: int) -> InterlockState:
    """Both latches open."""
    return InterlockState(a, b, a, b, 1, 1)


@rule
def passed_a(state: InterlockState) -> InterlockState:
    """A's latch lets its input through, if it is open and there is something to pass."""
    if not state.open_a or state.a == state.out_a:
        return state
    return InterlockState(state.a, state.b, state.a, state.out_b, 0, 1)


@rule
def passed_b(state: InterlockState) -> InterlockState:
    """The same for B."""
    if not state.open_b or state.b == state.out_b:
        return state
    return InterlockState(state.a, state.b, state.out_a, state.b, 1, 0)


@member(pair_edge, InterlockUnit)
def edge(params: InterlockUnit, state: InterlockState, time: int, line: int, level: int) -> InterlockState:
    """The line's own latch first, then the other, which the change may have opened."""
    a = level if line == A else state.a
    b = level if line == B else state.b
    state = InterlockState(a, b, state.out_a, state.out_b, state.open_a, state.open_b)
    if line == A:
        return passed_b(passed_a(state))
    return passed_a(passed_b(state))


@member(pair_wake, InterlockUnit)
def wake(params: InterlockUnit, state: InterlockState, limit: int) -> int:
    """It never waits."""
    return NEVER


@member(pair_expire, InterlockUnit)
def expire(params: InterlockUnit, state: InterlockState, time: int) -> InterlockState:
    """It never waits, so nothing changes."""
    return state


@member(pair_level, InterlockUnit)
def level(params: InterlockUnit, state: InterlockState, line: int) -> int:
    """The latch's output."""
    return state.out_a if line == A else state.out_b
