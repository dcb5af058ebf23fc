"""A gate's propagation delay: inertial, so a pulse shorter than the delay does not come through.

At most one change is on its way.  An input that turns back before the change has come out, or just as
it would, takes the change back: the gate swallows a pulse no longer than its delay for the pulse's first
edge.  A gate whose delays differ stretches or shrinks the pulses that it passes.
"""

from __future__ import annotations

from typing import NamedTuple

from simcore.base.compiling import member
from simcore.base.description import TIMING, Key, StageDescription, part_of, tolerance
from simcore.base.draws import Part, toleranced
from simcore.base.ticks import NEVER, ticks
from simcore.stages.base import (
    stage_build,
    stage_draws,
    stage_edge,
    stage_expire,
    stage_level,
    stage_start,
    stage_wake,
)
from simcore.stages.facts import Delays, part_delay, stage_delay


class GateDelay(NamedTuple):
    """Time (s) from an input edge to the output edge that follows it, for a rise and for a fall of the
    output; drawn per unit and line.
    """

    rising: Part
    falling: Part


GATE_DELAY = StageDescription(
    name="gate delay",
    meaning="A gate's propagation delay, which swallows pulses that are no longer than it.",
    keys=(
        Key("rising", TIMING, "from an input edge to a rise of the output"),
        Key("falling", TIMING, "from an input edge to a fall of the output"),
        tolerance(rising="of the delay of a rise", falling="of the delay of a fall"),
    ),
    build=lambda values: GateDelay(part_of(values, "rising"), part_of(values, "falling")),
)

PROMPT = GateDelay(Part(0.0, 0.0), Part(0.0, 0.0))
"""No delay at all."""


class BuiltDelay(NamedTuple):
    """The delays of one built gate in ticks."""

    rising: int
    falling: int


class DelayState(NamedTuple):
    """The level shown, and the tick at which the other level comes out (NEVER: none is on its way)."""

    shown: int
    due: int


@member(stage_build, GateDelay)
def build(spec: GateDelay, seed: int, run: int, address: int) -> BuiltDelay:
    u = stage_draws(seed, run, address, 0)
    return BuiltDelay(ticks(toleranced(spec.rising, u[0])), ticks(toleranced(spec.falling, u[1])))


@member(stage_start, BuiltDelay)
def start(params: BuiltDelay, level: int) -> DelayState:
    return DelayState(level, NEVER)


@member(stage_edge, BuiltDelay)
def edge(params: BuiltDelay, state: DelayState, time: int, level: int) -> DelayState:
    """Set out, or take back what is on its way."""
    if level == state.shown:
        return DelayState(level, NEVER)
    return DelayState(state.shown, time + (params.rising if level else params.falling))


@member(stage_wake, BuiltDelay)
def wake(params: BuiltDelay, state: DelayState, limit: int) -> int:
    return state.due


@member(stage_expire, BuiltDelay)
def expire(params: BuiltDelay, state: DelayState, time: int) -> DelayState:
    return DelayState(1 - state.shown, NEVER)


@member(stage_level, BuiltDelay)
def level(params: BuiltDelay, state: DelayState) -> int:
    return state.shown


@stage_delay.register
def gate_delay(item: GateDelay) -> Delays:
    rising, falling = part_delay(item.rising), part_delay(item.falling)
    return Delays(min(rising.least, falling.least), max(rising.most, falling.most))
