"""Recorded contacts: bursts drawn from a library of bursts."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from simcore.base.compiling import member
from simcore.base.records import MAIN, RECORDED, Causes, Ints, whole
from simcore.base.ticks import ticks
from simcore.contacts.bursts import MOST_PAIRS, Crossing, block, contact_burst

MOST_CHANGES = 2 * MOST_PAIRS + 1
"""Changes of one recorded burst at most."""


class Bursts(NamedTuple):
    """A library of bursts: ``times`` (ticks after the crossing, rising, 0 for the crossing itself)
    of all bursts one after another; burst ``i`` owns rows ``offsets[i] : offsets[i + 1]``, an odd
    number of them.
    """

    times: Ints
    offsets: Ints

    def __eq__(self, other: object) -> bool:
        """Equal in every number."""
        return isinstance(other, Bursts) and all(map(np.array_equal, self, other))

    def __ne__(self, other: object) -> bool:
        """Unequal in some number."""
        return not self == other

    def __hash__(self) -> int:
        """By the numbers."""
        return hash((*self.times.tolist(), *self.offsets.tolist()))


class Recorded(NamedTuple):
    """A contact that repeats recorded bursts, each as likely as any other.

    ``reference`` is the speed (degrees of shaft per second) at which they were recorded: at another
    speed their times are stretched in inverse proportion, by ``least`` to ``most`` times; 0 leaves
    them as they are.
    """

    make: Bursts
    break_: Bursts
    reference: float
    least: float
    most: float


def bursts_of(changes: Sequence[Sequence[float]], factor: float = 1.0) -> Bursts:
    """A library from lists of seconds after the crossing, all times multiplied by ``factor``.

    ValueError, with the number of the burst, for an empty library, an even number of changes, more
    than MOST_CHANGES, a first change that is not at 0, or times that do not rise.
    """
    if not changes:
        raise ValueError("a library without bursts")
    for number, burst in enumerate(changes):
        if len(burst) % 2 == 0 or len(burst) > MOST_CHANGES:
            raise ValueError(
                f"burst {number}: {len(burst)} changes; allowed is an odd number to {MOST_CHANGES}"
            )
        if burst[0] != 0.0 or any(after <= before for before, after in itertools.pairwise(burst)):
            raise ValueError(f"burst {number}: times must begin with 0 and rise")
    return Bursts(
        np.array([ticks(factor * time) for burst in changes for time in burst], np.int64),
        np.cumsum([0, *(len(burst) for burst in changes)], dtype=np.int64),
    )


@member(contact_burst, Recorded)
def recorded_burst(contact: Recorded, crossing: Crossing, times: Ints, origins: Causes) -> int:
    """One burst of the library, stretched for the speed."""
    side = contact.make if crossing.closing else contact.break_
    drawn = int(block(crossing, 0)[0] * (side.offsets.size - 1))
    first = side.offsets[drawn]
    count = whole(side.offsets[drawn + 1] - first)
    scale = 1.0
    if contact.reference > 0.0:
        scale = contact.most
        if contact.reference < crossing.speed * contact.most:
            scale = max(contact.reference / crossing.speed, contact.least)
    for k in range(count):
        times[k] = int(scale * side.times[first + k])
        origins[k] = MAIN if k == 0 else RECORDED
    return count
