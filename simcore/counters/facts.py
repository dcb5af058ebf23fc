"""Properties of a kind of counter besides its rules, all optional; and the timing limits that follow.

As for stages (see simcore.stages.facts): chosen by the record of the specification, with the defaults that
the functions themselves give.  None of this is compiled.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import singledispatch
from typing import Any, NamedTuple

from simcore.base.check import Check, Surroundings
from simcore.base.draws import Part
from simcore.base.ticks import ticks


class Clocking(NamedTuple):
    """A counter with a clock and a direction line: the line (0 A, 1 B) that is its ``clock``, the level
    after its active edge; in ticks the set-up and hold time of the direction, and the shortest ``low`` and
    ``high`` level of the clock.  With ``gated`` the clock edge starts a pulse as long as the hold time,
    which the direction steers while it lasts; without, the direction at the edge itself decides, and by the
    policy ``doubt`` (see simcore.counters.base) where it is not steady.
    """

    clock: int
    active: int
    setup: int
    hold: int
    low: int
    high: int
    gated: bool = False
    doubt: int = 0


@singledispatch
def clocking(counter: Any) -> Clocking | None:
    """How it is clocked; None for a counter that has no clock and direction lines."""
    return None


@singledispatch
def needs_order(counter: Any) -> bool:
    """Whether it tells the direction from the order in which edges of A and B come."""
    return False


@singledispatch
def clock_period(counter: Any) -> Part | None:
    """The period (s) of the clock at whose ticks it looks at its lines; None if it looks all the time."""
    return None


@singledispatch
def clock_ticks(counter: Any, coin: Any) -> tuple[int, int] | None:
    """Period and phase (ticks) of that clock in the unit of a `Coin`; None if it looks all the time."""
    return None


@singledispatch
def counter_checks(counter: Any, around: Surroundings) -> Iterable[Check]:
    """Electrical checks of the counter by itself."""
    return ()


@singledispatch
def undivided(counter: Any) -> tuple[Any, int]:
    """The counter in front of its prescalers, and by how much they divide."""
    return counter, 1


NO_CLOCK = -1


class Timing(NamedTuple):
    """``clock``: line (0 A, 1 B; NO_CLOCK: none) whose change to level ``active`` counts, the other one
    giving the direction.  In ticks, 0 where the counter states no limit: ``setup`` and ``hold`` of
    the direction line, shortest ``low`` and ``high`` of the clock, and how far ``apart`` edges of
    different lines must lie.
    """

    clock: int
    active: int
    setup: int
    hold: int
    low: int
    high: int
    apart: int


def counter_timing(counter: Any) -> Timing:
    """A counter's timing; that of one without clock line and limits if its kind says nothing."""
    clock, period = clocking(counter), clock_period(counter)
    # Edges closer than the slowest unit's period may fall into one sample.
    apart = 0 if period is None else ticks(period.nominal * (1.0 + period.tolerance))
    if clock is None:
        return Timing(NO_CLOCK, 0, 0, 0, 0, 0, apart)
    if clock.gated:
        # A change of steering up to the end of the pulse, that tick included, cuts the pulse.
        return Timing(clock.clock, clock.active, clock.setup, clock.hold + 1, 0, 0, apart)
    return Timing(clock.clock, clock.active, clock.setup, clock.hold, clock.low, clock.high, apart)
