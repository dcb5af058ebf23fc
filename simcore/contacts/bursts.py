"""Contact models: what one transition does to one contact.

A burst starts in the old state with the crossing itself and ends in the new one, so it
has an odd number of changes.  A model is a record and one rule, `contact_burst`, which
writes ticks after the crossing and origins into scratch arrays.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from simcore.base.check import FASTEST, Z
from simcore.base.compiling import family, member, rule
from simcore.base.description import (
    SMALL_ANGLE,
    SPREAD,
    TIMING,
    Conflict,
    ContactsDescription,
    Key,
    PlainNumber,
    Share,
    Subtable,
)
from simcore.base.draws import BURST, between, four, lognormal, normal_pair, poisson, purpose
from simcore.base.records import MAIN, PACKET, REBOUND, STRAGGLER, TELEGRAPH, ZONE, Causes, Ints
from simcore.base.ticks import ticks
from simcore.contacts.chatter import (
    NO_CHATTER,
    Side,
    chance_of_gap,
    changes_per_crossing,
    contact_chatter,
    exceeded,
    mean_over_pairs,
    worse,
)

MOST_PAIRS = 200
"""More extra changes than this in one packet are cut off (contacts with 100 and over are reported)."""
MOST_PACKETS = 8
ADDRESSES = 4096
"""Philox blocks reserved per transition."""
FLIGHTS = 48


class Clean(NamedTuple):
    """A contact that changes once.  ``ideal`` is there because numba wants a field; always 1."""

    ideal: int


class WipingSide(NamedTuple):
    """The wiping contact's parameters at makes, or at breaks.

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


CLEAN = ContactsDescription(
    name="clean", meaning="One change at each crossing.", build=lambda values: Clean(1)
)

PAIR_COUNT = PlainNumber(0.0, float(MOST_PAIRS))


def wiping_keys(pairs: float, rebound: float) -> tuple[Key, ...]:
    """The keys of a makes' or breaks' table.  The defaults are those of an ordinary contact, chosen so
    that the edges behave as practice has it (see tests/scenarios); no recording stands behind them.
    """
    return (
        Key("zone", SMALL_ANGLE, "angle of shaft within which contact comes and goes", 0.25),
        Key("pairs", PAIR_COUNT, "mean number of extra changes in it, in pairs", pairs),
        Key("rebound", Share(), "chance that the contact rebounds", rebound),
        Key("flight", TIMING, "length of the first flight", 60.0e-6),
        Key(
            "restitution",
            PlainNumber(0.0, 1.0, below=True),
            "length of each flight over that of the one before",
            0.35,
        ),
        Key("pause", TIMING, "closed pause before the first flight", 20.0e-6),
        Key(
            "packets",
            PlainNumber(0.0, float(MOST_PACKETS)),
            "mean number of further packets of chatter",
            0.05,
        ),
        Key("packet_pairs", PAIR_COUNT, "mean pairs of changes in a packet, at least 1", 2.0),
        Key("packet_length", TIMING, "length of a packet", 100.0e-6),
        Key("gap_low", TIMING, "shortest quiet gap before a packet", 150.0e-6),
        Key("gap_high", TIMING, "longest quiet gap", 640.0e-6),
        Key("straggler", Share(), "chance of one last pair of changes", 0.003),
        Key("straggler_low", TIMING, "its earliest time after the crossing", 2.0e-3),
        Key("straggler_high", TIMING, "its latest time", 4.0e-3),
        Key("straggler_length", TIMING, "longest time between its two changes", 60.0e-6),
    )


def times_in_order(values: Any) -> Conflict | None:
    for name in ("gap", "straggler"):
        if getattr(values, f"{name}_low") > getattr(values, f"{name}_high"):
            low, high = f"{name}_low", f"{name}_high"
            return Conflict(high, f"expected at least {low}, which is {{{low}}}")
    return None


def wiping_side(values: Any, wear: float) -> WipingSide:
    """Wear multiplies numbers and lengths, not gaps and pauses."""
    return WipingSide(
        zone=values.zone * wear,
        pairs=values.pairs * wear,
        rebound=values.rebound,
        flight=values.flight * wear,
        restitution=values.restitution,
        pause=values.pause,
        packets=values.packets * wear,
        packet_pairs=values.packet_pairs * wear,
        packet_length=values.packet_length * wear,
        gap_low=values.gap_low,
        gap_high=values.gap_high,
        straggler=min(values.straggler * wear, 1.0),
        straggler_low=values.straggler_low,
        straggler_high=values.straggler_high,
        straggler_length=values.straggler_length * wear,
    )


WIPING = ContactsDescription(
    name="wiping",
    meaning="A wiper on a pad.",
    keys=(
        Key("make", Subtable(wiping_keys(0.8, 0.5), times_in_order), "habits at makes"),
        # A break: chatter in the edge zone, no rebound.
        Key("break", Subtable(wiping_keys(1.2, 0.0), times_in_order), "habits at breaks"),
    ),
    build=lambda values: Wiping(
        wiping_side(values.make, values.wear), wiping_side(values.break_, values.wear)
    ),
)

TELEGRAPH_SIDE = Subtable(
    (
        Key("pairs", PAIR_COUNT, "mean extra changes, in pairs", 3.0),
        Key("length", TIMING, "median length of a burst", 1.0e-3),
        Key("length_spread", SPREAD, "spread of its logarithm", 0.5),
        Key("most", TIMING, "longest burst", 2.0e-3),
    )
)


def telegraph_side(values: Any, wear: float) -> TelegraphSide:
    """Wear multiplies number and lengths."""
    return TelegraphSide(values.pairs * wear, values.length * wear, values.length_spread, values.most * wear)


TELEGRAPH_CONTACTS = ContactsDescription(
    name="telegraph",
    meaning="For work from the limit that a data sheet states.",
    keys=(Key("make", TELEGRAPH_SIDE, "bursts at makes"), Key("break", TELEGRAPH_SIDE, "bursts at breaks")),
    build=lambda values: Telegraph(
        telegraph_side(values.make, values.wear), telegraph_side(values.break_, values.wear)
    ),
)


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


@contact_chatter.register
def clean_chatter(contact: Clean, slow: float, gliding: float) -> tuple[Side, Side]:
    return NO_CHATTER, NO_CHATTER


@contact_chatter.register
def bad_pad_chatter(contact: BadPad, slow: float, gliding: float) -> tuple[Side, Side] | None:
    sound = contact_chatter(contact.sound, slow, gliding)
    bad = contact_chatter(contact.bad, slow, gliding)
    if sound is None or bad is None:
        return None
    return worse(sound[0], bad[0]), worse(sound[1], bad[1])


@changes_per_crossing.register
def bad_pad_changes(contact: BadPad) -> float:
    return max(changes_per_crossing(contact.sound), changes_per_crossing(contact.bad))


@contact_chatter.register
def wiping_chatter(contact: Wiping, slow: float, gliding: float) -> tuple[Side, Side]:
    """The edge zone lasts as long as the shaft is slow, but no longer than the movement."""
    return _wiping_side(contact.make, slow, gliding), _wiping_side(contact.break_, slow, gliding)


def _wiping_side(side: WipingSide, slow: float, gliding: float) -> Side:
    zone = min(side.zone * slow, gliding)
    dense = wiping_dense(side, zone)
    return Side(exceeded(wiping_back(side, zone), 1.0), dense, max(dense, straggler_end(side)))


def wiping_back(side: WipingSide, zone: float) -> Callable[[float], float]:
    """The chance that a burst holds a return longer than ``gap`` (s); ``zone`` (s) is the edge zone's."""

    def chance(gap: float) -> float:
        none = 1.0 - mean_over_pairs(side.pairs, MOST_PAIRS, lambda n: chance_of_gap(n, gap, zone))
        none *= 1.0 - side.rebound * min(max(1.5 - gap / max(side.flight, 1e-12), 0.0), 1.0)
        packet = mean_over_pairs(
            side.packet_pairs, MOST_PAIRS, lambda n: chance_of_gap(n, gap, side.packet_length), least=1
        )
        none *= math.exp(-side.packets * packet)
        if side.straggler_length > 0.0:
            none *= 1.0 - side.straggler * min(max(1.0 - gap / side.straggler_length, 0.0), 1.0)
        return 1.0 - none

    return chance


def wiping_dense(side: WipingSide, zone: float) -> float:
    """A bound (s) on all but one in a thousand bursts: edge zone, rebound and packets, added."""
    length = zone if 1.0 - math.exp(-side.pairs) > FASTEST else 0.0
    if side.rebound > FASTEST and side.flight > SHORTEST_FLIGHT:
        length += 1.5 * (side.flight + side.pause) / (1.0 - side.restitution)
    packets = poisson(side.packets, MOST_PACKETS, 1.0 - FASTEST)
    return length + packets * (side.gap_high + side.packet_length)


def straggler_end(side: WipingSide) -> float:
    """When (s) the straggler is over in all but one burst in a thousand; 0 where it is rarer than that."""
    if side.straggler <= FASTEST:
        return 0.0
    late = side.straggler_high - (side.straggler_high - side.straggler_low) * FASTEST / side.straggler
    return late + side.straggler_length


@changes_per_crossing.register
def wiping_changes(contact: Wiping) -> float:
    return max(_wiping_changes(side) for side in (contact.make, contact.break_))


def _wiping_changes(side: WipingSide) -> float:
    flights = 1.0
    if side.flight > SHORTEST_FLIGHT and side.restitution > 0.0:
        ratio = math.log(SHORTEST_FLIGHT / side.flight) / math.log(side.restitution)
        flights = min(ratio + 1.0, FLIGHTS)
    packets = min(side.packets, MOST_PACKETS) * max(1.0, min(side.packet_pairs, MOST_PAIRS))
    pairs = min(side.pairs, MOST_PAIRS) + side.rebound * flights + packets + side.straggler
    return 1.0 + 2.0 * pairs


@contact_chatter.register
def telegraph_chatter(contact: Telegraph, slow: float, gliding: float) -> tuple[Side, Side]:
    return _telegraph_side(contact.make), _telegraph_side(contact.break_)


def _telegraph_side(side: TelegraphSide) -> Side:
    burst = telegraph_longest(side)
    return Side(exceeded(telegraph_back(side), side.most), burst, burst)


@functools.cache
def normal_nodes() -> tuple[list[float], list[float]]:
    """Nodes and weights of Gauss and Hermite's quadrature for a normal variable."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(24)
    return nodes.tolist(), weights.tolist()


def telegraph_back(side: TelegraphSide) -> Callable[[float], float]:
    """The chance that a burst holds a return longer than ``gap`` (s)."""
    nodes, weights = normal_nodes()
    lengths = [min(side.length * math.exp(node * side.length_spread), side.most) for node in nodes]

    def chance(gap: float) -> float:
        def over_lengths(n: int) -> float:
            found = (w * chance_of_gap(n, gap, length) for w, length in zip(weights, lengths, strict=True))
            return sum(found) / math.sqrt(2.0 * math.pi)

        return mean_over_pairs(side.pairs, MOST_PAIRS, over_lengths)

    return chance


def telegraph_longest(side: TelegraphSide) -> float:
    """The length (s) that one burst in a thousand exceeds, 0 where there is hardly any chatter."""
    if 1.0 - math.exp(-side.pairs) <= FASTEST:
        return 0.0
    return min(side.length * math.exp(Z * side.length_spread), side.most)


@changes_per_crossing.register
def telegraph_changes(contact: Telegraph) -> float:
    return 1.0 + 2.0 * min(max(contact.make.pairs, contact.break_.pairs), MOST_PAIRS)
