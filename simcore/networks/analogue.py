"""A contact through a network into an input: the stage that has a voltage.

Between two edges of the contact the capacitor follows

    v(t) = v_end + (v - v_end) exp(-(t - t0) / tau)

so the crossing of a threshold is a logarithm and no time is stepped.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from simcore.base.compiling import member, rule
from simcore.base.draws import RESISTANCE, SUPPLY, Part, four, lognormal, normal_pair, purpose, toleranced
from simcore.base.ticks import NEVER, later
from simcore.networks.inputs import input_thresholds, leakage_current
from simcore.networks.response import network_parts, pole_sources
from simcore.stages.base import (
    probe_thresholds,
    probe_volts,
    stage_build,
    stage_draws,
    stage_edge,
    stage_expire,
    stage_level,
    stage_start,
    stage_thresholds,
    stage_volts,
    stage_wake,
)
from simcore.stages.facts import Delays, stage_delay


class Resistance(NamedTuple):
    """Closed contact: median (ohm) and the spread of its logarithm, drawn per unit and line, or
    with ``per_closure`` 1 anew at each closure.
    """

    median: float
    spread: float
    per_closure: int = 0


class Analogue(NamedTuple):
    """Supply, contact, network and input of one line; the network's draws are at an address of its own.

    Only for a `single_pole`; the rest, and whatever changes under way, is a Waveform.
    """

    supply: Part
    resistance: Resistance
    network: Any
    logic: Any
    network_address: int = 0


class Pole(NamedTuple):
    """One built line: sources (V, s) and thresholds (V)."""

    v_open: float
    tau_open: float
    v_closed: float
    tau_closed: float
    rising: float
    falling: float
    inverting: int


class PoleState(NamedTuple):
    """``volts`` at tick ``time``, the contact's state since, and the level before inversion."""

    time: int
    volts: float
    closed: int
    high: int


MARGIN = 1.0e-9
"""Below this share of the remaining swing a crossing before the limit is ruled out without a
logarithm.  It only saves work: nearer cases are decided by the logarithm itself."""


@member(stage_build, Analogue)
def build(spec: Analogue, seed: int, run: int, address: int) -> Pole:
    """Draw one unit: the supply is common to both lines, all else is each line's own."""
    volts = toleranced(spec.supply, four(seed, run, purpose(SUPPLY, 0), 0)[0])
    w = four(seed, run, purpose(RESISTANCE, address % 2), 0)
    ohms = lognormal(spec.resistance.median, spec.resistance.spread, normal_pair(w[0], w[1])[0])
    u = stage_draws(seed, run, spec.network_address + address % 2, 0)
    v = stage_draws(seed, run, address, 1)
    leak = leakage_current(spec.logic.leakage, v[3])
    sources = pole_sources(network_parts(spec.network, u, u), volts, ohms, leak)
    logic = input_thresholds(spec.logic, volts, v)
    return Pole(
        sources.v_open, sources.tau_open, sources.v_closed, sources.tau_closed,
        logic.rising, logic.falling, logic.inverting,
    )  # fmt: skip


@member(stage_start, Pole)
def start(params: Pole, level: int) -> PoleState:
    """Settled; between the thresholds a Schmitt input is taken as low."""
    volts = params.v_closed if level else params.v_open
    return PoleState(0, volts, level, 1 if volts >= params.rising else 0)


@member(stage_volts, Pole)
def volts_at(params: Pole, state: PoleState, time: int) -> float:
    """The capacitor's voltage at ``time``, not before ``state.time``."""
    target = params.v_closed if state.closed else params.v_open
    tau = params.tau_closed if state.closed else params.tau_open
    if tau <= 0.0:
        return target
    return target + (state.volts - target) * math.exp((state.time - time) * 1.0e-12 / tau)


@member(stage_thresholds, Pole)
def thresholds(params: Pole, state: PoleState) -> tuple[float, float]:
    return params.rising, params.falling


@member(stage_edge, Pole)
def edge(params: Pole, state: PoleState, time: int, level: int) -> PoleState:
    return PoleState(time, volts_at(params, state, time), level, state.high)


@rule
def heads_for(params: Pole, state: PoleState) -> int:
    """The level that the voltage would reach if the contact stayed put."""
    target = params.v_closed if state.closed else params.v_open
    if target > params.rising:
        return 1
    if target < params.falling:
        return 0
    return state.high


@member(stage_wake, Pole)
def wake(params: Pole, state: PoleState, limit: int) -> int:
    """The crossing of the threshold ahead, if there is one before ``limit``."""
    if heads_for(params, state) == state.high:
        return NEVER
    target = params.v_closed if state.closed else params.v_open
    tau = params.tau_closed if state.closed else params.tau_open
    threshold = params.falling if state.high else params.rising
    swing = state.volts - target
    left = threshold - target
    if abs(swing) <= abs(left) or tau <= 0.0:
        return state.time
    if limit != NEVER:
        reached = swing * math.exp((state.time - limit) * 1.0e-12 / tau)
        if abs(reached) > abs(left) * (1.0 + MARGIN):
            return NEVER
    return later(state.time, tau * math.log(swing / left))


@member(stage_expire, Pole)
def expire(params: Pole, state: PoleState, time: int) -> PoleState:
    """The input turns over; the voltage goes on along the same curve."""
    return PoleState(state.time, state.volts, state.closed, 1 - state.high)


@member(stage_level, Pole)
def level(params: Pole, state: PoleState) -> int:
    return state.high ^ params.inverting


@member(probe_volts, Pole)
def read_volts(params: Pole, before: PoleState, after: PoleState, time: int, fresh: int) -> float:
    """An edge has them at hand, from just before it."""
    return after.volts


@member(probe_thresholds, Pole)
def read_thresholds(params: Pole) -> tuple[float, float]:
    return params.rising, params.falling


@stage_delay.register
def no_logic_delay(item: Analogue) -> Delays:
    """The network's own delay is that of its voltage; the input's follows as a stage of its own."""
    return Delays(0.0, 0.0)
