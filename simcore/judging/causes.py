"""Root causes, from the edges that reached the counter."""

from __future__ import annotations

from typing import NamedTuple

from simcore.base.compiling import rule
from simcore.base.records import NOISE, SLIDING, Edges, Transitions, cause_origin, cause_transition
from simcore.base.records import PICK_UP as BY_PICK_UP
from simcore.base.records import POWER_UP as BY_POWER_UP
from simcore.base.records import SUPPLY_DIP as BY_SUPPLY_DIP
from simcore.counters.base import AT_STOP, HOLD, ILLEGAL, SETUP, SHORT, Range
from simcore.judging.sums import (
    CHATTER,
    EARLY_DIRECTION,
    END_STOP,
    LATE_DIRECTION,
    MISFIT,
    NO_CAUSE,
    ORDER,
    PICK_UP,
    POWER_UP,
    SHORT_PULSE,
    SKIPPED,
    SLIDING_NOISE,
    SLOW_EDGE,
    SUPPLY_DIP,
    SWALLOWED,
    UNEXPLAINED,
    Scratch,
)


class Rules(NamedTuple):
    """``place`` the counter's range; ``wanted`` counts per step upward, below 0 for a counter
    that counts down there; ``fit`` 1 when the decoder gives just that; ``clocked`` 1 when the
    counter looks at its lines only now and then.
    """

    place: Range
    wanted: int
    fit: int
    clocked: int


@rule
def note_edges(line: Edges, number: int, r: int, transitions: Transitions, scratch: Scratch) -> None:
    """Note, for each transition, the edges it sent to the counter on line ``number``, and the stray
    ones that came after it.  Of edges at the same tick that of line A is the earlier one.
    """
    t0 = transitions.offsets[r]
    count = transitions.offsets[r + 1] - t0
    here = 0
    for e in range(line.offsets[r], line.offsets[r + 1]):
        index = cause_transition(line.causes[e])
        if index < 0:
            while here + 1 < count and transitions.times[t0 + here + 1] <= line.times[e]:
                here += 1
            if count > 0:
                scratch.strays[here] |= 1 << cause_origin(line.causes[e])
            continue
        if scratch.outs[index] == 0:
            scratch.firsts[index] = 2 * line.times[e] + number
        scratch.outs[index] += 1
        scratch.origins[index] |= 1 << cause_origin(line.causes[e])


class CauseEvidence(NamedTuple):
    """What the edges of some transitions show: some sent none, some too many (``origins`` holds a
    bit for each origin among the edges of those), some came in another order than the contacts
    moved, and ``strays`` holds a bit for each origin of edges that no movement caused.
    """

    swallowed: int
    extra: int
    origins: int
    swapped: int
    strays: int


@rule
def evidence(scratch: Scratch, lo: int, hi: int) -> CauseEvidence:
    """Look at the edges that transitions ``lo`` to ``hi`` (of one run) sent to the counter."""
    swallowed, extra, origins, swapped, strays = 0, 0, 0, 0, 0
    latest = -1
    for t in range(lo, hi):
        strays |= scratch.strays[t]
        if scratch.outs[t] == 0:
            swallowed = 1
            continue
        if scratch.outs[t] > 1:
            extra = 1
            origins |= scratch.origins[t]
        if scratch.firsts[t] < latest:
            swapped = 1
        latest = max(latest, scratch.firsts[t])
    return CauseEvidence(swallowed, extra, origins, swapped, strays)


@rule
def extra_cause(origins: int) -> int:
    """The cause of extra edges, by their origins."""
    if (origins >> SLIDING) & 1:
        return SLIDING_NOISE
    return SLOW_EDGE if (origins >> NOISE) & 1 else CHATTER


@rule
def stray_cause(strays: int) -> int:
    """The cause that stands behind edges without a movement."""
    if (strays >> BY_PICK_UP) & 1:
        return PICK_UP
    if (strays >> BY_SUPPLY_DIP) & 1:
        return SUPPLY_DIP
    if (strays >> NOISE) & 1:
        return SLOW_EDGE
    return POWER_UP if (strays >> BY_POWER_UP) & 1 else NO_CAUSE


@rule
def from_edges(seen: CauseEvidence, too_many: bool, flags: int) -> int:
    """The cause that the edges themselves show, or NO_CAUSE."""
    if too_many and seen.extra:
        return extra_cause(seen.origins)
    if stray_cause(seen.strays) != NO_CAUSE:
        return stray_cause(seen.strays)
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
        return extra_cause(seen.origins)
    return NO_CAUSE


@rule
def or_skipped(found: int, too_many: bool, clocked: int) -> int:
    """The cause that the edges show, or SKIPPED where a clocked decoder leaves no other.

    Extra edges without extra counts lost none either: the levels from which a sampled
    decoder counts come back, unless it skipped a state.
    """
    if clocked and found == NO_CAUSE:
        return SKIPPED
    if clocked and not too_many and found in (CHATTER, SLIDING_NOISE, SLOW_EDGE):
        return SKIPPED
    return found


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
    if found == NO_CAUSE and not rules.fit:
        return MISFIT
    found = or_skipped(found, too_many, rules.clocked)
    return UNEXPLAINED if found == NO_CAUSE else found
