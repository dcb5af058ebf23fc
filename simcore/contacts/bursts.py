"""Contact models: what one transition does to one contact.

A burst starts in the old state with the crossing itself and ends in the new one, so it
has an odd number of changes.  A model is a record and one rule, `contact_burst`, which
writes ticks after the crossing and origins into scratch arrays.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.compiling import family, member, rule
from simcore.base.draws import BURST, between, four, lognormal, normal_pair, poisson, purpose
from simcore.base.records import MAIN, PACKET, REBOUND, STRAGGLER, TELEGRAPH, ZONE, Causes, Ints
from simcore.base.ticks import ticks

MOST_PAIRS = 200
"""More extra changes than this in one packet are cut off (reports speak of 100 and over)."""
MOST_PACKETS = 8
ADDRESSES = 4096
"""Philox blocks reserved per transition."""
FLIGHTS = 48


class Clean(NamedTuple):
    """A contact that changes once.  ``ideal`` is there because numba wants a field; always 1."""

    ideal: int


class WipingSide(NamedTuple):
    """The wiping contact's habits at makes, or at breaks.

    ``zone``: degrees of shaft over which contact comes and goes; ``pairs``: mean number of
    extra pairs of changes in it; ``rebound``: chance that the contact rebounds;
    ``flight``: first flight (s); ``restitution``: each flight over the one before;
    ``pause``: closed pause before the first flight (s); ``packets``: mean number of further
    packets, each ``packet_pairs`` pairs on average (one at least) over ``packet_length`` s
    after a quiet gap of ``gap_low`` to ``gap_high`` s; ``straggler``: chance of one last pair,
    ``straggler_low`` to ``straggler_high`` s after the crossing, lasting up to ``straggler_length`` s.
    """

    zone: float
    pairs: float
    rebound: float
    flight: float
    restitution: float
    pause: float
    packets: float
    packet_pairs: float
    packet_length: float
    gap_low: float
    gap_high: float
    straggler: float
    straggler_low: float
    straggler_high: float
    straggler_length: float


class Wiping(NamedTuple):
    """A wiper on a pad: chatter in the edge zone, rebound, packets, stragglers."""

    make: WipingSide
    break_: WipingSide


class TelegraphSide(NamedTuple):
    """``pairs``: mean extra pairs; ``length``: median burst (s) with ``length_spread``; ``most`` (s)."""

    pairs: float
    length: float
    length_spread: float
    most: float


class Telegraph(NamedTuple):
    """Changes placed uniformly in a burst of lognormal length: for work from a datasheet's limit."""

    make: TelegraphSide
    break_: TelegraphSide


class BadPad(NamedTuple):
    """A contact that is ``bad`` on one pad of each revolution and ``sound`` on all others; ``pad``
    counts the ``pads`` (cycles of a revolution) upward from the cycle that lies above the start.
    """

    sound: Any
    bad: Any
    pad: int
    pads: int


SHORTEST_FLIGHT = 2.0e-6
"""A rebound shorter than this (s) is taken as the end of the bouncing."""


class Crossing(NamedTuple):
    """What a burst depends on: its address, the new state, the speed, the ticks left until the
    movement ends and until the same contact's next boundary, and the number of the boundary.
    """

    seed: int
    run: int
    channel: int
    transition: int
    closing: int
    speed: float
    glide: int
    room: int
    boundary: int


@family
def contact_burst(contact: Any, crossing: Crossing, times: Ints, origins: Causes) -> int:
    """Write the burst's changes (ticks after the crossing, rising; origins); returns how many (odd)."""
    raise NotImplementedError


@rule
def block(crossing: Crossing, k: int) -> tuple[float, float, float, float]:
    """The k-th four numbers of this transition's burst."""
    return four(
        crossing.seed, crossing.run, purpose(BURST, crossing.channel), crossing.transition * ADDRESSES + k
    )


@rule
def scatter(
    crossing: Crossing, k: int, count: int, start: int, length: float, n: int,
    times: Ints, origins: Causes, origin: int,
) -> int:  # fmt: skip
    """Append ``count`` changes, uniform over ``length`` ticks from ``start``, in order."""
    u = block(crossing, k)
    for i in range(count):
        if i > 0 and i % 4 == 0:
            u = block(crossing, k + i // 4)
        t = start + int(length * u[0])
        u = (u[1], u[2], u[3], 0.0)
        at = n + i
        while at > n and times[at - 1] > t:
            times[at] = times[at - 1]
            at -= 1
        times[at] = t
        origins[n + i] = origin
    return n + count


@member(contact_burst, Clean)
def clean_burst(contact: Clean, crossing: Crossing, times: Ints, origins: Causes) -> int:
    """One change."""
    times[0] = 0
    origins[0] = MAIN
    return 1


@rule
def rebound(side: WipingSide, scale: float, wait: float, n: int, times: Ints, origins: Causes) -> int:
    """Append shrinking flights: flight k lasts flight * restitution**k (a bouncing ball)."""
    flight = side.flight * scale
    pause = side.pause * wait
    at = times[n - 1]
    for _ in range(FLIGHTS):
        if flight < SHORTEST_FLIGHT:
            break
        times[n] = at + ticks(pause)
        at = times[n] + ticks(flight)
        times[n + 1] = at
        origins[n] = REBOUND
        origins[n + 1] = REBOUND
        n += 2
        flight *= side.restitution
        pause *= side.restitution
    return n


@rule
def packets(side: WipingSide, crossing: Crossing, count: int, n: int, times: Ints, origins: Causes) -> int:
    """Append ``count`` further packets, each after a quiet gap."""
    for number in range(count):
        k = 1024 + 256 * number
        u = block(crossing, k)
        pairs = max(1, poisson(side.packet_pairs, MOST_PAIRS, u[0]))
        start = times[n - 1] + ticks(between(side.gap_low, side.gap_high, u[1]))
        length = side.packet_length * 1.0e12
        n = scatter(crossing, k + 1, 2 * pairs, start, length, n, times, origins, PACKET)
    return n


@rule
def straggler(side: WipingSide, crossing: Crossing, n: int, times: Ints, origins: Causes) -> int:
    """Append one last pair, long after the burst."""
    u = block(crossing, 4000)
    start = ticks(between(side.straggler_low, side.straggler_high, u[0]))
    if start <= times[n - 1]:
        return n
    times[n] = start
    times[n + 1] = start + max(ticks(side.straggler_length * u[1]), 1)
    origins[n] = STRAGGLER
    origins[n + 1] = STRAGGLER
    return n + 2


@member(contact_burst, Wiping)
def wiping_burst(contact: Wiping, crossing: Crossing, times: Ints, origins: Causes) -> int:
    """Chatter in the edge zone lasts zone / speed; what follows it does not depend on speed."""
    side = contact.make if crossing.closing else contact.break_
    times[0] = 0
    origins[0] = MAIN
    n = 1
    u = block(crossing, 0)
    pairs = poisson(side.pairs, MOST_PAIRS, u[0])
    if pairs > 0:
        length = float(crossing.glide)
        if side.zone * 1.0e12 < crossing.speed * length:
            length = side.zone * 1.0e12 / crossing.speed
        n = scatter(crossing, 2, 2 * pairs, 0, length, n, times, origins, ZONE)
    if u[1] < side.rebound:
        n = rebound(side, 0.5 + u[2], 0.5 + u[3], n, times, origins)
    if side.packets > 0.0 or side.straggler > 0.0:
        v = block(crossing, 1)
        n = packets(side, crossing, poisson(side.packets, MOST_PACKETS, v[0]), n, times, origins)
        if v[1] < side.straggler:
            n = straggler(side, crossing, n, times, origins)
    return n


@member(contact_burst, Telegraph)
def telegraph_burst(contact: Telegraph, crossing: Crossing, times: Ints, origins: Causes) -> int:
    """Poisson pairs, uniform over a lognormal burst that is never longer than the stated limit."""
    side = contact.make if crossing.closing else contact.break_
    times[0] = 0
    origins[0] = MAIN
    u = block(crossing, 0)
    pairs = poisson(side.pairs, MOST_PAIRS, u[0])
    stretch, _ = normal_pair(u[1], u[2])
    length = min(lognormal(side.length, side.length_spread, stretch), side.most) * 1.0e12
    return scatter(crossing, 2, 2 * pairs, 0, length, 1, times, origins, TELEGRAPH)


@member(contact_burst, BadPad)
def bad_pad_burst(contact: BadPad, crossing: Crossing, times: Ints, origins: Causes) -> int:
    """The burst of the bad contact where the boundary is one of the bad pad's."""
    if (crossing.boundary // 4) % contact.pads == contact.pad:
        return contact_burst(contact.bad, crossing, times, origins)
    return contact_burst(contact.sound, crossing, times, origins)
