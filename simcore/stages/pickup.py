"""Pick-up: pulses that a line catches from outside, at a Poisson rate.

It acts on the logic level, at any place among the stages.  What long leads pick up ahead of
a network is therefore represented by its effect behind the input: give the rate and the width of
the pulses that get through, and put the pick-up behind the input.

Pulses do not overlap: the time from the end of one to the beginning of the next is exponential with
mean 1 / rate, so that beginnings are a Poisson process but for the time that the pulses themselves
take.  They occur from the beginning of the run to its end.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from simcore.base.compiling import member, rule
from simcore.base.description import SPREAD, TIMING, Key, PlainNumber, StageDescription, Word
from simcore.base.draws import PICKUP, four, lognormal, normal_pair, purpose
from simcore.base.records import NO_TRANSITION, PICK_UP, pack_cause
from simcore.base.ticks import NEVER, later
from simcore.stages.base import (
    stage_build,
    stage_cause,
    stage_edge,
    stage_expire,
    stage_level,
    stage_start,
    stage_wake,
)
from simcore.stages.facts import Delays, own_changes, own_origins, stage_delay, with_source

EITHER, HIGH, LOW = range(3)
POLARITIES = ("either", "high", "low")


class PickUp(NamedTuple):
    """``rate`` of pulses (per second) and their ``width`` (s, median) with the ``spread`` of its
    logarithm.  A pulse turns the line over (``polarity`` EITHER), or holds it HIGH or LOW.

    ``source`` tells several on one line apart; draws are addressed by it, by the line and by the
    number of the pulse, so two designs under one seed meet the same pulses.
    """

    rate: float
    width: float
    spread: float
    polarity: int
    source: int = 0


MOST_RATE = 1.0e6
"""Pulses per second; how many a run may have is checked with the rest of its size."""

PICK_UP_STAGE = StageDescription(
    name="pick-up",
    meaning="Pulses that a line catches from outside, given by their effect on the logic level.",
    keys=(
        Key("rate", PlainNumber(0.0, MOST_RATE), "pulses per second on each line"),
        Key("width", TIMING, "length of a pulse, the median"),
        Key("spread", SPREAD, "standard deviation of the logarithm of the length", 0.0),
        Key("polarity", Word(POLARITIES), "a pulse turns the line over, or holds it high or low", "either"),
    ),
    build=lambda values: PickUp(values.rate, values.width, values.spread, POLARITIES.index(values.polarity)),
)


class PickUpUnit(NamedTuple):
    """The same for one line of one run, with what its draws are addressed by."""

    rate: float
    width: float
    spread: float
    polarity: int
    seed: int
    run: int
    item: int


class PickUpState(NamedTuple):
    """The input's ``level``; ``number`` of the pulse that is ``on`` (1) or comes next (0); the tick of
    its end or beginning; 1 in ``made`` if its beginning changed the output, and in ``own`` if
    the latest change is a pulse's and not the input's.
    """

    level: int
    number: int
    on: int
    following: int
    made: int
    own: int


@member(stage_build, PickUp)
def build(spec: PickUp, seed: int, run: int, address: int) -> PickUpUnit:
    """Nothing belongs to the unit; the draws come pulse by pulse."""
    item = 2 * spec.source + address % 2
    return PickUpUnit(spec.rate, spec.width, spec.spread, spec.polarity, seed, run, item)


@rule
def pulse_draws(params: PickUpUnit, number: int) -> tuple[float, float, float, float]:
    """The uniforms of one pulse: the first for the gap before it, the next two for its width."""
    return four(params.seed, params.run, purpose(PICKUP, params.item), number)


@rule
def next_begin(params: PickUpUnit, time: int, number: int) -> int:
    """When pulse ``number`` begins, if the one before it ended at ``time``."""
    if params.rate <= 0.0:
        return NEVER
    return later(time, -math.log(1.0 - pulse_draws(params, number)[0]) / params.rate)


@rule
def next_end(params: PickUpUnit, time: int, number: int) -> int:
    """When pulse ``number`` ends, if it began at ``time``."""
    u = pulse_draws(params, number)
    return later(time, lognormal(params.width, params.spread, normal_pair(u[1], u[2])[0]))


@rule
def output(params: PickUpUnit, level: int, on: int) -> int:
    if not on:
        return level
    if params.polarity == EITHER:
        return level ^ 1
    return 1 if params.polarity == HIGH else 0


@member(stage_start, PickUpUnit)
def start(params: PickUpUnit, level: int) -> PickUpState:
    return PickUpState(level, 0, 0, next_begin(params, 0, 0), 0, 0)


@member(stage_edge, PickUpUnit)
def edge(params: PickUpUnit, state: PickUpState, time: int, level: int) -> PickUpState:
    """It shows unless a pulse holds the line."""
    return PickUpState(level, state.number, state.on, state.following, state.made, 0)


@member(stage_wake, PickUpUnit)
def wake(params: PickUpUnit, state: PickUpState, limit: int) -> int:
    return state.following


@member(stage_expire, PickUpUnit)
def expire(params: PickUpUnit, state: PickUpState, time: int) -> PickUpState:
    """A pulse begins or ends.

    If its beginning changed nothing (the line was at the level that it is held at), a change at
    its end is one of the input that comes to light late.
    """
    if state.on:
        number = state.number + 1
        return PickUpState(state.level, number, 0, next_begin(params, time, number), 0, state.made)
    made = 1 if output(params, state.level, 1) != state.level else 0
    return PickUpState(state.level, state.number, 1, next_end(params, time, state.number), made, made)


@member(stage_level, PickUpUnit)
def level(params: PickUpUnit, state: PickUpState) -> int:
    return output(params, state.level, state.on)


@member(stage_cause, PickUpUnit)
def cause_of(params: PickUpUnit, state: PickUpState, cause: int) -> int:
    """Pick-up for a pulse's own edges, else the latest input edge's."""
    return pack_cause(NO_TRANSITION, PICK_UP) if state.own else cause


@stage_delay.register
def no_delay(item: PickUp) -> Delays:
    return Delays(0.0, 0.0)


@own_changes.register
def pulses_come(item: PickUp) -> float:
    return 2.0 * item.rate


@own_origins.register
def pulses_are(item: PickUp) -> dict[int, str]:
    return {PICK_UP: "because of a pulse that the line picked up"}


@with_source.register
def numbered(item: PickUp, number: int) -> PickUp:
    """Two sources of pick-up must not draw the same pulses."""
    return item._replace(source=number)
