"""A contact that bounces a fixed number of times, evenly."""

from __future__ import annotations

from typing import Annotated, Literal, NamedTuple

from pydantic import Field

from scenarios.fields import Burst
from scenarios.markers import Count
from scenarios.schema_contacts import Contacts
from simcore.base.compiling import member
from simcore.base.records import MAIN, TELEGRAPH, Causes, Ints
from simcore.base.ticks import ticks
from simcore.contacts.bursts import Crossing, contact_burst


class Even(NamedTuple):
    """``pairs`` extra pairs of changes, ``apart`` ticks apart."""

    pairs: int
    apart: int


@member(contact_burst, Even)
def burst(contact: Even, crossing: Crossing, times: Ints, origins: Causes) -> int:
    """One change and the pairs after it."""
    for i in range(2 * contact.pairs + 1):
        times[i] = i * contact.apart
        origins[i] = TELEGRAPH if i else MAIN
    return 2 * contact.pairs + 1


class Chirp(Contacts):
    """Bounces a fixed number of times, evenly, at every make and break."""

    kind: Literal["chirp"]
    pairs: Annotated[int, Count(0, 100)] = Field(2, description="extra pairs of changes")
    apart: Burst = Field(20.0e-6, description="from one change to the next")

    def build(self) -> Even:
        """The contact for the simulator."""
        return Even(self.pairs, max(ticks(self.apart), 1))
