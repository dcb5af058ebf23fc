"""Contacts: one transition of the shaft becomes a burst of changes of one contact.

What every contact model (see bursts) shares is done here: a burst still running when the
same contact reaches its next boundary is cut off there, and a closed contact may open for
short times while it slides.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.compiling import kernel, rule
from simcore.base.draws import SLIDE, four, lognormal, normal_pair, poisson, purpose
from simcore.base.records import SLIDING, Causes, Edges, Ints, Transitions, pack_cause, whole
from simcore.base.ticks import NEVER, ticks
from simcore.contacts.bursts import ADDRESSES, MOST_PACKETS, MOST_PAIRS, Crossing, contact_burst

MOST_SLIDES = 64
SCRATCH = 2 * MOST_PAIRS * (MOST_PACKETS + 2) + 2 * MOST_SLIDES + 256
"""Room for the longest possible burst."""


class Sliding(NamedTuple):
    """Opens of a closed contact under way: ``rate`` per revolution, median ``length`` (s) with
    the spread of its logarithm; ``angle`` (degrees of shaft) adds the time in which the shaft turns
    so far, at the mean speed of the slide; at ``most`` s in all.
    """

    rate: float
    length: float
    length_spread: float
    most: float
    angle: float = 0.0


@rule
def slides(sliding: Sliding, crossing: Crossing, travel: float, n: int, times: Ints, origins: Causes) -> int:
    """Append short opens between the end of the burst and the end of the slide."""
    end = min(crossing.glide, crossing.room)
    begin = times[n - 1]
    address = purpose(SLIDE, crossing.channel)
    base = crossing.transition * ADDRESSES
    count = poisson(
        sliding.rate * travel / 360.0, MOST_SLIDES, four(crossing.seed, crossing.run, address, base)[0]
    )
    if count == 0 or end <= begin:
        return n
    start = n
    slow = 1.0e-12 * sliding.angle * end / travel
    for i in range(count):
        u = four(crossing.seed, crossing.run, address, base + 1 + i)
        stretch, _ = normal_pair(u[1], u[2])
        at = begin + int((end - begin) * u[0])
        seconds = lognormal(sliding.length, sliding.length_spread, stretch) + slow
        length = ticks(min(seconds, sliding.most))
        j = n
        while j > start and times[j - 2] > at:
            times[j], times[j + 1] = times[j - 2], times[j - 1]
            j -= 2
        times[j], times[j + 1] = at, at + max(length, 1)
        n += 2
    return joined(start, n, end, times, origins)


@rule
def joined(start: int, n: int, end: int, times: Ints, origins: Causes) -> int:
    """Drop opens that begin inside the one before or end after the slide; returns the new length."""
    kept = start
    for i in range(start, n, 2):
        after = kept == start or times[i] > times[kept - 1]
        if after and times[i + 1] < end:
            times[kept], times[kept + 1] = times[i], times[i + 1]
            origins[kept], origins[kept + 1] = SLIDING, SLIDING
            kept += 2
    return kept


@rule
def contact_changes(
    contact: Any, sliding: Sliding, crossing: Crossing, travel: float, times: Ints, origins: Causes
) -> tuple[int, int]:
    """A transition's whole burst plus slides: how many changes, and whether the burst was cut off
    because the same contact reached its next boundary first (1) or not (0).
    """
    full = contact_burst(contact, crossing, times, origins)
    n = full
    while n > 1 and times[n - 1] >= crossing.room:
        n -= 2
    cut = 1 if n < full else 0
    if crossing.closing and sliding.rate > 0.0:
        n = slides(sliding, crossing, travel, n, times, origins)
    return n, cut


@rule
def crossing_at(transitions: Transitions, seed: int, run: int, lo: int, i: int, following: int) -> Crossing:
    """The Crossing of row ``i`` of a run that begins at row ``lo``; ``following`` is the row of
    the channel's next one, or -1.
    """
    time = transitions.times[i]
    room = NEVER
    if following >= 0:
        room = transitions.times[following] - time
    return Crossing(
        seed, run, whole(transitions.channels[i]), i - lo, whole(transitions.closed[i]),
        transitions.speeds[i], transitions.until[i] - time, room, transitions.boundaries[i],
    )  # fmt: skip


@rule
def next_of_channel(transitions: Transitions, i: int, end: int) -> int:
    """The row after ``i``, before ``end``, in which the same contact moves again, or -1."""
    for k in range(i + 1, end):
        if transitions.channels[k] == transitions.channels[i]:
            return k
    return -1


@kernel
def drive_contact(
    contact: Any, sliding: Sliding, seed: int, first_run: int, channel: int,
    transitions: Transitions, times: Ints, origins: Causes, out: Edges, cuts: Ints,
) -> int:  # fmt: skip
    """Write one contact's edges (level 1: closed) for all runs; returns the runs that found room.

    ``times`` and ``origins`` are scratch of SCRATCH entries; ``cuts`` (runs,) receives the bursts
    that were cut off.
    """
    n = 0
    for r in range(out.first.size):
        lo, hi = transitions.offsets[r], transitions.offsets[r + 1]
        out.first[r] = (transitions.first[r] >> channel) & 1
        cuts[r] = 0
        for i in range(lo, hi):
            if transitions.channels[i] != channel:
                continue
            following = next_of_channel(transitions, i, hi)
            at = crossing_at(transitions, seed, first_run + r, lo, i, following)
            count, cut = contact_changes(contact, sliding, at, transitions.travel[i], times, origins)
            if n + count > out.times.size:
                return r
            cuts[r] += cut
            for k in range(count):
                out.times[n] = transitions.times[i] + times[k]
                out.causes[n] = pack_cause(i - lo, origins[k])
                n += 1
        out.offsets[r + 1] = n
    return out.first.size
