"""Root causes, decided from the edges that reached the counter and not guessed."""

from __future__ import annotations

from typing import NamedTuple

from simcore.compiling import rule
from simcore.counters.base import AT_STOP, HOLD, ILLEGAL, SETUP, SHORT, Range
from simcore.edges import SLIDING, Edges, cause_origin, cause_transition
from simcore.sums import (
    CHATTER,
    EARLY_DIRECTION,
    END_STOP,
    LATE_DIRECTION,
    MISFIT,
    NO_CAUSE,
    ORDER,
    SHORT_PULSE,
    SKIPPED,
    SLIDING_NOISE,
    SWALLOWED,
    UNEXPLAINED,
    Scratch,
)


class Rules(NamedTuple):
    """``place`` the counter's range; ``wanted`` counts per step upward, below 0 for a counter
    that counts down there; ``fit`` 1 when the decoder gives just that.
    """

    place: Range
    wanted: int
    fit: int


@rule
def note_edges(line: Edges, r: int, scratch: Scratch) -> None:
    """Note, for each transition, the edges it sent to the counter on its line."""
    for e in range(line.offsets[r], line.offsets[r + 1]):
        index = cause_transition(line.causes[e])
        if index < 0:
            continue
        if scratch.outs[index] == 0:
            scratch.firsts[index] = line.times[e]
        scratch.outs[index] += 1
        scratch.origins[index] |= 1 << cause_origin(line.causes[e])


class Evidence(NamedTuple):
    """What the edges of some transitions show: some sent none, some too many, some of those
    while sliding, some came in another order than the contacts moved.
    """

    swallowed: int
    extra: int
    sliding: int
    swapped: int


@rule
def evidence(scratch: Scratch, lo: int, hi: int) -> Evidence:
    """Look at the edges that transitions ``lo`` to ``hi`` (of one run) sent to the counter."""
    swallowed, extra, sliding, swapped = 0, 0, 0, 0
    latest = -1
    for t in range(lo, hi):
        if scratch.outs[t] == 0:
            swallowed = 1
            continue
        if scratch.outs[t] > 1:
            extra = 1
            sliding |= (scratch.origins[t] >> SLIDING) & 1
        if scratch.firsts[t] < latest:
            swapped = 1
        latest = max(latest, scratch.firsts[t])
    return Evidence(swallowed, extra, sliding, swapped)


@rule
def from_edges(seen: Evidence, too_many: bool, flags: int) -> int:
    """The cause that the edges themselves show, or NO_CAUSE."""
    if too_many and seen.extra:
        return SLIDING_NOISE if seen.sliding else CHATTER
    if flags & SHORT:
        return SHORT_PULSE
    if seen.swallowed:
        return SWALLOWED
    if flags & SETUP:
        return LATE_DIRECTION
    if flags & HOLD:
        return EARLY_DIRECTION
    if seen.swapped:
        return ORDER
    if seen.extra:
        return SLIDING_NOISE if seen.sliding else CHATTER
    return NO_CAUSE


@rule
def root_cause(
    rules: Rules, scratch: Scratch, s: int, wanted: int, clean_net: int, clean_moves: int,
    around: tuple[int, int, int, int],
) -> int:  # fmt: skip
    """Why a step went wrong.  ``around`` are rows of transitions: from the step before, the
    step's own first and end, and the end of the step after.
    """
    if not rules.fit and scratch.asked[s] == clean_net:
        return MISFIT
    if scratch.flags[s] & AT_STOP and scratch.asked[s] == wanted:
        return END_STOP
    if scratch.flags[s] & ILLEGAL:
        return SKIPPED
    before, lo, hi, after = around
    too_many = scratch.moves[s] > clean_moves
    found = from_edges(evidence(scratch, lo, hi), too_many, scratch.flags[s])
    if found == NO_CAUSE:
        found = from_edges(evidence(scratch, before, after), too_many, 0)
    if found == NO_CAUSE:
        found = UNEXPLAINED if rules.fit else MISFIT
    return found
