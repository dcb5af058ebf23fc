"""Recorded contacts: bursts drawn from a library of bursts."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from simcore.base.compiling import member
from simcore.base.description import (
    TIMING,
    TURNING,
    BurstList,
    Conflict,
    ContactsDescription,
    Key,
    PlainNumber,
    Quantities,
    Text,
)
from simcore.base.records import MAIN, RECORDED, Causes, Ints, whole
from simcore.base.ticks import ticks
from simcore.contacts.bursts import MOST_PAIRS, Crossing, block, contact_burst
from simcore.contacts.chatter import Side, changes_per_crossing, contact_chatter

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
        return isinstance(other, Bursts) and all(map(np.array_equal, self, other))

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __hash__(self) -> int:
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
                f"burst {number}: {len(burst)} changes; expected an odd number up to {MOST_CHANGES}"
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


BURSTS = BurstList(Quantities(TIMING, 1, MOST_CHANGES, rising=True), 10_000)
STRETCH = PlainNumber(0.001, 1000.0)


def stretch_in_order(values: Any) -> Conflict | None:
    if values.stretch_least <= values.stretch_most:
        return None
    return Conflict(
        "stretch_most",
        f"expected at least stretch_least, which is {values.stretch_least:g}",
        f"{values.stretch_most:g}",
    )


def recorded(values: Any) -> Recorded:
    """Wear multiplies the lengths; without any the contact is clean."""
    speed = 0.0 if values.recorded_at is None else 360.0 * values.recorded_at
    make, break_ = (
        bursts_of(bursts if values.wear > 0.0 else [[0.0]], values.wear)
        for bursts in (values.make, values.break_)
    )
    return Recorded(make, break_, speed, values.stretch_least, values.stretch_most)


RECORDED_CONTACTS = ContactsDescription(
    name="recorded",
    meaning="Repeats the bursts of a library, drawn at random.",
    keys=(
        Key("library", Text(400), "a ready library, or a file of one; where its bursts come from", ""),
        Key("make", BURSTS, "bursts at makes, each a list of times of changes after the crossing"),
        Key("break", BURSTS, "bursts at breaks"),
        Key(
            "recorded_at",
            TURNING,
            "speed of the recording; given, bursts stretch as the shaft turns slower",
            None,
        ),
        Key("stretch_least", STRETCH, "smallest factor that speed may bring", 0.2),
        Key("stretch_most", STRETCH, "largest factor that speed may bring", 5.0),
    ),
    build=recorded,
    check=stretch_in_order,
)


@contact_chatter.register
def recorded_chatter(contact: Recorded, slow: float, gliding: float) -> tuple[Side, Side]:
    """The longest of the library, stretched as much as it may be."""
    stretch = contact.most if contact.reference > 0.0 else 1.0
    return _longest(contact.make, stretch), _longest(contact.break_, stretch)


def _longest(side: Bursts, stretch: float) -> Side:
    back = burst = 0.0
    for i in range(side.offsets.size - 1):
        times = [whole(t) * stretch * 1e-12 for t in side.times[side.offsets[i] : side.offsets[i + 1]]]
        burst = max(burst, times[-1])
        back = max([back, *(b - a for a, b in zip(times[1::2], times[2::2], strict=True))])
    return Side(back, burst, burst)


@changes_per_crossing.register
def recorded_changes(contact: Recorded) -> float:
    return max(side.times.size / (side.offsets.size - 1) for side in (contact.make, contact.break_))
