"""Bursts of the contacts, slowly: plain lists of (ticks after the crossing, origin)."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from simcore.contacts.bursts import BadPad, Telegraph, Wiping, WipingSide
from simcore.contacts.crossing import Sliding
from simcore.contacts.recorded import Recorded

from .slow_draws import BURST, SLIDE, Four, lognormal, normals, picoseconds, poisson, uniforms

MAIN, ZONE, REBOUND, PACKET, STRAGGLER, SLIDING, TELEGRAPH, RECORDED = range(8)
BLOCKS_PER_TRANSITION = 4096
MOST_PAIRS, MOST_PACKETS, MOST_SLIDES, MOST_FLIGHTS = 200, 8, 64, 48

Change = tuple[int, int]


@dataclass
class Occasion:
    """One crossing: where its draws are, what it is, and how long (ticks) it may last.

    ``glide`` runs to the end of the movement, ``room`` to the same contact's next boundary (None:
    there is none); ``boundary`` is its number, four to a cycle.
    """

    seed: int
    run: int
    channel: int
    index: int
    closing: bool
    speed: float
    travel: float
    glide: int
    room: int | None
    boundary: int

    def draws(self, k: int) -> Four:
        """Block ``k`` of this crossing's burst."""
        return uniforms(self.seed, self.run, BURST, self.channel, self.index * BLOCKS_PER_TRANSITION + k)

    def slide_draws(self, k: int) -> Four:
        """Block ``k`` of this crossing's slide."""
        return uniforms(self.seed, self.run, SLIDE, self.channel, self.index * BLOCKS_PER_TRANSITION + k)


def strewn(where: Occasion, k: int, count: int, start: int, length: float, origin: int) -> list[Change]:
    """``count`` changes at random within ``length`` ticks from ``start``, in order of time."""
    blocks = [where.draws(k + i) for i in range((count + 3) // 4)]
    numbers = [u for block in blocks for u in block][:count]
    return [(time, origin) for time in sorted(start + int(length * u) for u in numbers)]


def wiping(contact: Wiping, where: Occasion) -> list[Change]:
    """Zone chatter, rebound, packets and straggler, one after another."""
    side = contact.make if where.closing else contact.break_
    burst = [(0, MAIN)]
    first = where.draws(0)
    pairs = poisson(side.pairs, MOST_PAIRS, first[0])
    if pairs:
        # Ticks to cross the zone, or what is left of the movement if the zone is not left by then.
        moving = side.zone * 1e12 < where.speed * where.glide
        length = side.zone * 1e12 / where.speed if moving else float(where.glide)
        burst += strewn(where, 2, 2 * pairs, 0, length, ZONE)
    if first[1] < side.rebound:
        burst += flights(side, burst[-1][0], 0.5 + first[2], 0.5 + first[3])
    if side.packets > 0 or side.straggler > 0:
        second = where.draws(1)
        for number in range(poisson(side.packets, MOST_PACKETS, second[0])):
            burst += packet(side, where, number, burst[-1][0])
        if second[1] < side.straggler:
            burst += straggler(side, where, burst[-1][0])
    return burst


def flights(side: WipingSide, begin: int, stretch: float, wait: float) -> list[Change]:
    """A bouncing ball: closed pause, flight, closed pause, flight, each shorter than the last."""
    changes: list[Change] = []
    flight, pause, now = side.flight * stretch, side.pause * wait, begin
    while flight >= 2e-6 and len(changes) < 2 * MOST_FLIGHTS:
        leaves = now + picoseconds(pause)
        now = leaves + picoseconds(flight)
        changes += [(leaves, REBOUND), (now, REBOUND)]
        flight *= side.restitution
        pause *= side.restitution
    return changes


def packet(side: WipingSide, where: Occasion, number: int, after: int) -> list[Change]:
    """A further packet of chatter, beginning a quiet gap after tick ``after``."""
    k = 1024 + 256 * number
    u = where.draws(k)
    pairs = max(1, poisson(side.packet_pairs, MOST_PAIRS, u[0]))
    gap = side.gap_low + (side.gap_high - side.gap_low) * u[1]
    return strewn(where, k + 1, 2 * pairs, after + picoseconds(gap), side.packet_length * 1e12, PACKET)


def straggler(side: WipingSide, where: Occasion, after: int) -> list[Change]:
    """One last pair, unless the burst has not ended by then."""
    u = where.draws(4000)
    begin = picoseconds(side.straggler_low + (side.straggler_high - side.straggler_low) * u[0])
    if begin <= after:
        return []
    end = begin + max(1, picoseconds(side.straggler_length * u[1]))
    return [(begin, STRAGGLER), (end, STRAGGLER)]


def telegraph(contact: Telegraph, where: Occasion) -> list[Change]:
    """Pairs of changes anywhere in a burst of lognormal length with an upper limit."""
    side = contact.make if where.closing else contact.break_
    u = where.draws(0)
    pairs = poisson(side.pairs, MOST_PAIRS, u[0])
    length = min(lognormal(side.length, side.length_spread, normals(u[1], u[2])[0]), side.most)
    return [(0, MAIN), *strewn(where, 2, 2 * pairs, 0, length * 1e12, TELEGRAPH)]


def recorded(contact: Recorded, where: Occasion) -> list[Change]:
    """One burst of the library, its times in inverse proportion to the speed within bounds."""
    side = contact.make if where.closing else contact.break_
    bounds = [int(offset) for offset in side.offsets]
    library = [side.times[a:b].tolist() for a, b in itertools.pairwise(bounds)]
    burst = library[int(where.draws(0)[0] * len(library))]
    scale = 1.0
    if contact.reference > 0.0:
        wanted = contact.reference / where.speed if where.speed else contact.most
        scale = min(max(wanted, contact.least), contact.most)
    return [(int(scale * time), MAIN if number == 0 else RECORDED) for number, time in enumerate(burst)]


def plain_burst(contact: object, where: Occasion) -> list[Change]:
    """A burst before anything cuts it off."""
    if isinstance(contact, BadPad):
        cycle = where.boundary // 4
        return plain_burst(contact.bad if cycle % contact.pads == contact.pad else contact.sound, where)
    if isinstance(contact, Recorded):
        return recorded(contact, where)
    if isinstance(contact, Wiping):
        return wiping(contact, where)
    return telegraph(contact, where) if isinstance(contact, Telegraph) else [(0, MAIN)]


def slide(sliding: Sliding, where: Occasion, begin: int) -> list[Change]:
    """Short opens of a closed contact between ``begin`` and the end of its slide."""
    end = where.glide if where.room is None else min(where.glide, where.room)
    mean = sliding.rate * where.travel / 360.0
    count = poisson(mean, MOST_SLIDES, where.slide_draws(0)[0])
    if end <= begin:
        return []
    opens = []
    for i in range(count):
        u = where.slide_draws(1 + i)
        stretch = normals(u[1], u[2])[0]
        lifted = 1e-12 * sliding.angle * end / where.travel
        length = min(lognormal(sliding.length, sliding.length_spread, stretch) + lifted, sliding.most)
        opens.append((begin + int((end - begin) * u[0]), max(1, picoseconds(length))))
    opens.sort(key=lambda item: item[0])
    changes: list[Change] = []
    for at, length_ticks in opens:
        overlaps = bool(changes) and at <= changes[-1][0]
        if not overlaps and at + length_ticks < end:
            changes += [(at, SLIDING), (at + length_ticks, SLIDING)]
    return changes


def burst_of(contact: object, sliding: Sliding, where: Occasion) -> tuple[list[Change], bool]:
    """All changes that one crossing causes, an odd number, never falling in time; and whether the
    burst was cut off.
    """
    changes = plain_burst(contact, where)
    cut = False
    if where.room is not None:
        # Cut off at the next boundary, and end in the new state all the same.
        kept = [change for change in changes[1:] if change[0] < where.room]
        cut = len(kept) < len(changes) - 1
        changes = changes[:1] + (kept if len(kept) % 2 == 0 else kept[:-1])
    if where.closing and sliding.rate > 0:
        changes += slide(sliding, where, changes[-1][0])
    assert len(changes) % 2 == 1, "a burst must end in the new state"
    assert all(a[0] <= b[0] for a, b in itertools.pairwise(changes)), "time falls in a burst"
    return changes, cut
