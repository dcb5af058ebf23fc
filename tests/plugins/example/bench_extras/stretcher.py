"""A stage: a low pulse is stretched to a least length."""

from __future__ import annotations

from typing import Literal, NamedTuple

from pydantic import Field

from scenarios.fields import Timing, Tolerance
from scenarios.schema_stage import Stage
from simcore.base.compiling import member
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


class Stretch(NamedTuple):
    """The specification: a least length (s)."""

    least: Part


class StretchUnit(NamedTuple):
    """One built unit: the least length in ticks."""

    least: int


class StretchState(NamedTuple):
    """The input's level, the output's, and the tick until which the output must stay low."""

    level: int
    shown: int
    until: int


@member(stage_build, Stretch)
def build(spec: Stretch, seed: int, run: int, address: int) -> StretchUnit:
    """Draw the unit."""
    return StretchUnit(ticks(toleranced(spec.least, stage_draws(seed, run, address, 0)[0])))


@member(stage_start, StretchUnit)
def start(params: StretchUnit, level: int) -> StretchState:
    """At rest."""
    return StretchState(level, level, 0)


@member(stage_edge, StretchUnit)
def edge(params: StretchUnit, state: StretchState, time: int, level: int) -> StretchState:
    """A fall passes at once; a rise waits for the least length."""
    if level == 0 and state.shown == 1:
        return StretchState(0, 0, time + params.least)
    if level == 1 and time >= state.until:
        return StretchState(1, 1, state.until)
    return StretchState(level, state.shown, state.until)


@member(stage_wake, StretchUnit)
def wake(params: StretchUnit, state: StretchState, limit: int) -> int:
    """The end of the least length, if the input is high by then."""
    return state.until if state.level != state.shown else NEVER


@member(stage_expire, StretchUnit)
def expire(params: StretchUnit, state: StretchState, time: int) -> StretchState:
    """The output follows."""
    return StretchState(state.level, state.level, state.until)


@member(stage_level, StretchUnit)
def level(params: StretchUnit, state: StretchState) -> int:
    """The output."""
    return state.shown


class Stretcher(Stage):
    """Stretches every low pulse to a least length."""

    kind: Literal["pulse stretcher"]
    least: Timing = Field(description="shortest low level of the output")
    tolerance: Tolerance = Field(0.0, description="of the least length, part to part")

    def item(self) -> Stretch:
        """The stage for the simulator."""
        return Stretch(Part(self.least, self.tolerance))
