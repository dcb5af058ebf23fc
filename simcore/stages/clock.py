"""The clock of a stage that looks at its line only now and then.

Sample ``k`` (any whole number) is taken at tick ``phase + k * period``.  A sample at the very tick
of an input edge sees the level after the edge: the engines' order of an input edge and a wake-up.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.compiling import rule
from simcore.base.description import CLOCK_PERIOD, Key, Switch, part_of, tolerance
from simcore.base.draws import Part, toleranced
from simcore.base.ticks import ticks
from simcore.stages.base import stage_draws


class Clock(NamedTuple):
    """``period`` (s) with its tolerance; ``shared`` 1: both lines of the stage are sampled at the
    same instants, as one clock does it; 0: each line has a clock of its own.
    """

    period: Part
    shared: int


CLOCK_KEYS = (
    Key("period", CLOCK_PERIOD, "time from one sample to the next"),
    Key(
        "shared_clock",
        Switch(),
        "true: one clock samples both lines; false: each line has a clock of its own",
        True,
    ),
    tolerance(period="of the clock's period"),
)


def clock_of(values: Any) -> Clock:
    return Clock(part_of(values, "period"), int(values.shared_clock))


class Samples(NamedTuple):
    """The built clock: whole ticks from sample to sample, and the tick of sample 0."""

    period: int
    phase: int


CLOCK_DRAW = 0
"""Number of the draw that settles a clock's period and phase; see stage_draws."""


@rule
def build_clock(clock: Clock, seed: int, run: int, address: int) -> Samples:
    """The clock of one run: its period within its tolerance, its phase uniform over a period.

    A shared clock takes the draws of line A's address for either line.
    """
    place = address - address % 2 if clock.shared else address
    u = stage_draws(seed, run, place, CLOCK_DRAW)
    period = max(ticks(toleranced(clock.period, u[0])), 1)
    return Samples(period, int(u[1] * period))


@rule
def first_sample(samples: Samples, time: int) -> int:
    """The number of the first sample at ``time`` (ticks) or later."""
    return -((samples.phase - time) // samples.period)


@rule
def sample_tick(samples: Samples, number: int) -> int:
    return samples.phase + number * samples.period
