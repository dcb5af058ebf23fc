"""What a counter asks of the edges it is given: the limits that margins are held against."""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.ticks import ticks
from simcore.counters.facts import clock_period, clocking

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
