"""What the contacts' own bursts come to: the longest return to the old state, and the longest burst.

Both at the quantile that one burst in a thousand exceeds (FASTEST), in closed form.  2 n changes, uniform
over a length L, leave n gaps in which the contact is back in its old state; that one of these is longer
than g has, by inclusion and exclusion over the spacings of uniform points, the probability

    sum over k of (-1)^(k+1) C(n, k) (1 - k g / L)^(2 n)        (terms with k g < L)

(W. Feller, An Introduction to Probability Theory and Its Applications, vol. II, I.9; from memory).
The mechanisms of a contact are independent.  The longest burst is a bound: its parts are each taken at
that quantile and added.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import NormalDist
from typing import Any, NamedTuple

import numpy as np

from simcore.base.draws import poisson
from simcore.base.records import whole
from simcore.contacts.bursts import (
    MOST_PACKETS,
    MOST_PAIRS,
    SHORTEST_FLIGHT,
    BadPad,
    Clean,
    Telegraph,
    TelegraphSide,
    Wiping,
    WipingSide,
)
from simcore.contacts.recorded import Bursts, Recorded
from simcore.design import Design
from simcore.hand.geometry import angles_of, boundary_place, first_boundary
from simcore.hand.kinds import CONSTANT
from simcore.limits.hand import Law, sequences, time_at
from simcore.limits.sections import FASTEST, Z

NODES, WEIGHTS = (array.tolist() for array in np.polynomial.hermite_e.hermegauss(24))
"""Gauss and Hermite's quadrature for a normal variable."""
NUDGE = 1.0e-3
"""Steps by which a place is moved to find the speed there."""


class Chatter(NamedTuple):
    """Seconds: the longest ``back`` in the old state after a make (an open gap) and after a break; bounds on
    the ``dense`` part of a burst, and on the whole ``burst`` with its straggler; ``slow`` is the longest
    time that a degree of shaft takes at a boundary, at the median pace of the slowest gesture.
    """

    back_make: float
    back_break: float
    dense: float
    burst: float
    slow: float

    @property
    def back(self) -> float:
        """The longer of the two returns."""
        return max(self.back_make, self.back_break)


class Side(NamedTuple):
    """The longest return, the dense part and the whole burst (s) of makes, or of breaks."""

    back: float
    dense: float
    burst: float


STILL = Side(0.0, 0.0, 0.0)


def chatter_of(design: Design) -> Chatter | None:
    """The chatter of a design's contacts; None for a kind of contact that is not known."""
    slow, gliding = slowest_crossing(design)
    sides = _sides(design.contact, slow, gliding)
    if sides is None:
        return None
    make, break_ = sides
    return Chatter(
        max(make.back, _slide(design, slow)), break_.back,
        max(make.dense, break_.dense), max(make.burst, break_.burst), slow,
    )  # fmt: skip


def _sides(contact: Any, slow: float, gliding: float) -> tuple[Side, Side] | None:
    """Makes and breaks; of a bad pad and the others the worse."""
    if isinstance(contact, Clean):
        return STILL, STILL
    if isinstance(contact, BadPad):
        sound, bad = _sides(contact.sound, slow, gliding), _sides(contact.bad, slow, gliding)
        if sound is None or bad is None:
            return None
        return _worse(sound[0], bad[0]), _worse(sound[1], bad[1])
    if isinstance(contact, Wiping):
        return _wiping(contact.make, slow, gliding), _wiping(contact.break_, slow, gliding)
    if isinstance(contact, Telegraph):
        return _telegraph(contact.make), _telegraph(contact.break_)
    if isinstance(contact, Recorded):
        stretch = contact.most if contact.reference > 0.0 else 1.0
        return _library(contact.make, stretch), _library(contact.break_, stretch)
    return None


def _worse(a: Side, b: Side) -> Side:
    return Side(max(a.back, b.back), max(a.dense, b.dense), max(a.burst, b.burst))


def _wiping(side: WipingSide, slow: float, gliding: float) -> Side:
    zone = min(side.zone * slow, gliding)
    dense = wiping_dense(side, zone)
    return Side(_exceeded(wiping_back(side, zone), 1.0), dense, max(dense, straggler_end(side)))


def _telegraph(side: TelegraphSide) -> Side:
    burst = telegraph_burst(side)
    return Side(_exceeded(telegraph_back(side), side.most), burst, burst)


def longer_gap(n: int, share: float) -> float:
    """Chance that one of ``n`` gaps among 2 n uniform points is longer than ``share`` of their length."""
    total = 0.0
    for k in range(1, n + 1):
        if k * share >= 1.0:
            break
        term = math.comb(n, k) * (1.0 - k * share) ** (2 * n)
        total += term if k % 2 else -term
        if term < 1.0e-12:
            break
    return min(max(total, 0.0), 1.0)


def _mean_over_pairs(mean: float, most: int, chance: Callable[[int], float], least: int = 0) -> float:
    """The mean of ``chance`` over a Poisson number of pairs, ``least`` at least and ``most`` at most."""
    if mean <= 0.0:
        return chance(least)
    total, left, n = 0.0, 1.0, 0
    while left > 1.0e-9 and n < most:
        weight = math.exp(n * math.log(mean) - mean - math.lgamma(n + 1.0))
        total += weight * chance(max(n, least))
        left -= weight
        n += 1
    return total + max(left, 0.0) * chance(max(n, least)) if left > 1.0e-9 else total


def _many(n: int, gap: float, length: float) -> float:
    """`longer_gap` of a length (s); many pairs, for which it would cancel, by the sum that bounds it."""
    if length <= 0.0 or gap >= length or n == 0:
        return 0.0
    share = gap / length
    if n > 12:
        return min(1.0, n * (1.0 - share) ** (2 * n))
    return longer_gap(n, share)


def wiping_back(side: WipingSide, zone: float) -> Callable[[float], float]:
    """The chance that a burst holds a return longer than ``gap`` (s); ``zone`` (s) is the edge zone's."""

    def chance(gap: float) -> float:
        none = 1.0 - _mean_over_pairs(side.pairs, MOST_PAIRS, lambda n: _many(n, gap, zone))
        none *= 1.0 - side.rebound * min(max(1.5 - gap / max(side.flight, 1e-12), 0.0), 1.0)
        packet = _mean_over_pairs(
            side.packet_pairs, MOST_PAIRS, lambda n: _many(n, gap, side.packet_length), least=1
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


def telegraph_back(side: TelegraphSide) -> Callable[[float], float]:
    """The chance that a burst holds a return longer than ``gap`` (s)."""
    lengths = [min(side.length * math.exp(node * side.length_spread), side.most) for node in NODES]

    def chance(gap: float) -> float:
        def over_lengths(n: int) -> float:
            found = (w * _many(n, gap, length) for w, length in zip(WEIGHTS, lengths, strict=True))
            return sum(found) / math.sqrt(2.0 * math.pi)

        return _mean_over_pairs(side.pairs, MOST_PAIRS, over_lengths)

    return chance


def telegraph_burst(side: TelegraphSide) -> float:
    """The length (s) that one burst in a thousand exceeds, 0 where there is hardly any chatter."""
    if 1.0 - math.exp(-side.pairs) <= FASTEST:
        return 0.0
    return min(side.length * math.exp(Z * side.length_spread), side.most)


def _exceeded(chance: Callable[[float], float], most: float) -> float:
    """The gap (s) that is exceeded with the chance FASTEST, by halving; 0 where even 0 is not."""
    low, high = 0.0, most
    if chance(low) <= FASTEST:
        return 0.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        if chance(middle) > FASTEST:
            low = middle
        else:
            high = middle
    return high


def _library(side: Bursts, stretch: float) -> Side:
    """The longest of a library, stretched as much as it may be."""
    back = burst = 0.0
    for i in range(side.offsets.size - 1):
        times = [whole(t) * stretch * 1e-12 for t in side.times[side.offsets[i] : side.offsets[i + 1]]]
        burst = max(burst, times[-1])
        back = max([back, *(b - a for a, b in zip(times[1::2], times[2::2], strict=True))])
    return Side(back, burst, burst)


def _slide(design: Design, slow: float) -> float:
    """The longest open while sliding (s) that counts: one that a crossing in a thousand meets or exceeds."""
    sliding = design.sliding
    pads = design.geometry.steps_per_turn * design.geometry.cycles_per_step
    share = sliding.rate * design.geometry.closed / pads
    if share <= FASTEST:
        return 0.0
    z = NormalDist().inv_cdf(1.0 - FASTEST / share)
    length = sliding.length * math.exp(z * sliding.length_spread) + sliding.angle * slow
    return min(length, sliding.most)


def slowest_crossing(design: Design) -> tuple[float, float]:
    """The longest time per degree of shaft (s) at a boundary, and the longest time (s) from a boundary
    until its movement ends, at nominal angles and the median pace of every gesture.
    """
    geometry = design.geometry
    angles = angles_of(geometry.closed, geometry.closed, geometry.phase, geometry.rest)
    degrees = 360.0 / geometry.steps_per_turn
    slow = gliding = 0.0
    for entry in design.hand:
        for laws in sequences(entry.gesture, 0.0) or ():
            law = laws[0]
            j = first_boundary(angles, geometry.cycles_per_step)
            for number in range(j, j + 12):
                at = boundary_place(angles, geometry.cycles_per_step, number)
                if at < abs(law.steps):
                    seconds = 1.0 / (pace(law, at) * degrees)
                    slow, gliding = max(slow, seconds), max(gliding, law.seconds - time_at(law, at))
    return slow, gliding


def pace(law: Law, turned: float) -> float:
    """Steps per second once the shaft has turned ``turned`` steps."""
    if law.steady == CONSTANT and law.ripple == 0.0:
        return abs(law.steps) / law.seconds
    near = min(NUDGE, turned, abs(law.steps) - turned)
    return 2.0 * near / (time_at(law, turned + near) - time_at(law, turned - near))
