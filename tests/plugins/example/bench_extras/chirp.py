"""A contact that bounces a fixed number of times, evenly."""

from __future__ import annotations

from typing import NamedTuple

from simcore.base.compiling import member
from simcore.base.description import TIMING, ContactsDescription, Count, Key
from simcore.base.records import MAIN, TELEGRAPH, Causes, Ints
from simcore.base.ticks import TICKS_PER_SECOND, ticks
from simcore.contacts.bursts import Crossing, contact_burst
from simcore.contacts.chatter import Side, changes_per_crossing, contact_chatter


class Even(NamedTuple):
    """``pairs`` extra pairs of changes, ``apart`` ticks apart."""

    pairs: int
    apart: int


CHIRP = ContactsDescription(
    name="chirp",
    meaning="Bounces a fixed number of times, evenly, at every make and break.",
    keys=(
        Key("pairs", Count(0, 100), "extra pairs of changes", 2),
        Key("apart", TIMING, "from one change to the next", 20.0e-6),
    ),
    build=lambda values: Even(values.pairs, max(ticks(values.apart), 1)),
)


@member(contact_burst, Even)
def burst(contact: Even, crossing: Crossing, times: Ints, origins: Causes) -> int:
    """One change and the pairs after it."""
    for i in range(2 * contact.pairs + 1):
        times[i] = i * contact.apart
        origins[i] = TELEGRAPH if i else MAIN
    return 2 * contact.pairs + 1


@contact_chatter.register
def chirp_chatter(contact: Even, slow: float, gliding: float) -> tuple[Side, Side]:
    """The same at every make and break."""
    apart = contact.apart / TICKS_PER_SECOND if contact.pairs else 0.0
    side = Side(apart, 2 * contact.pairs * apart, 2 * contact.pairs * apart)
    return side, side


@changes_per_crossing.register
def chirp_changes(contact: Even) -> float:
    """As many as always."""
    return 2.0 * contact.pairs + 1.0
