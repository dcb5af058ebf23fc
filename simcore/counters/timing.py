"""What a counter asks of the edges it is given: the limits that margins are held against."""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.compiling import family_with_default, member
from simcore.base.ticks import ticks
from simcore.counters.clocked import ClockedQuadrature
from simcore.counters.prescaled import Prescaled
from simcore.counters.step_direction import StepDirection
from simcore.counters.two_clock import TwoClock

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


@family_with_default
def counter_timing(spec: Any) -> Timing:
    """A counter's timing; that of one without clock line and limits if it says nothing."""
    return Timing(NO_CLOCK, 0, 0, 0, 0, 0, 0)


@member(counter_timing, StepDirection)
def step_direction_timing(spec: StepDirection) -> Timing:
    """As specified."""
    return Timing(spec.clock, spec.active, spec.setup, spec.hold, spec.low, spec.high, 0)


@member(counter_timing, TwoClock)
def two_clock_timing(spec: TwoClock) -> Timing:
    """A change of steering up to the end of the former's pulse, that tick included, cuts the pulse."""
    return Timing(spec.clock, spec.active, 0, spec.pulse + 1, 0, 0, 0)


@member(counter_timing, Prescaled)
def prescaled_timing(spec: Prescaled) -> Timing:
    """The inner counter's."""
    return counter_timing(spec.inner)


@member(counter_timing, ClockedQuadrature)
def clocked_timing(spec: ClockedQuadrature) -> Timing:
    """Edges closer than the slowest unit's period may fall into one sample."""
    period = spec.period
    return Timing(NO_CLOCK, 0, 0, 0, 0, 0, ticks(period.nominal * (1.0 + period.tolerance)))
