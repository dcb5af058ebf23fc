"""The rules of stages and counters as single compiled calls, for the processes of the event engine."""

from __future__ import annotations

from typing import Any

from simcore.compiling import kernel
from simcore.counters.base import Coin, counter_edge, counter_expire, counter_start, counter_wake
from simcore.stages.base import (
    stage_build,
    stage_cause,
    stage_edge,
    stage_expire,
    stage_level,
    stage_note,
    stage_start,
    stage_wake,
)
from simcore.stages.pair import pair_build, pair_edge, pair_expire, pair_level, pair_start, pair_wake
from simcore.stages.probe import probe_thresholds, probe_volts
from simcore.ticks import NEVER


@kernel
def stage_begins(spec: Any, seed: int, run: int, address: int, level: int) -> tuple[Any, Any, int, int]:
    """Parameters, state, output level and next wake-up of a stage at rest."""
    params = stage_build(spec, seed, run, address)
    state = stage_start(params, level)
    return params, state, stage_level(params, state), stage_wake(params, state, NEVER)


@kernel
def stage_takes_edge(params: Any, state: Any, time: int, level: int, cause: int) -> tuple[Any, int, int, int]:
    """State, output level, next wake-up and cause of a change after an input edge."""
    state = stage_note(params, stage_edge(params, state, time, level), cause)
    wake = stage_wake(params, state, NEVER)
    return state, stage_level(params, state), wake, stage_cause(params, state, cause)


@kernel
def stage_wakes(params: Any, state: Any, time: int, cause: int) -> tuple[Any, int, int, int]:
    """State, output level, next wake-up and cause of a change after a wake-up."""
    state = stage_expire(params, state, time)
    wake = stage_wake(params, state, NEVER)
    return state, stage_level(params, state), wake, stage_cause(params, state, cause)


@kernel
def stage_marks(params: Any) -> tuple[float, float]:
    """The thresholds of a stage with a voltage."""
    return probe_thresholds(params)


@kernel
def stage_reads(params: Any, before: Any, after: Any, time: int, fresh: int) -> float:
    """The voltage of a stage's node as an input edge arrives."""
    return probe_volts(params, before, after, time, fresh)


@kernel
def pair_begins(
    spec: Any, seed: int, run: int, address: int, a: int, b: int
) -> tuple[Any, Any, int, int, int]:
    """Parameters, state, output levels and next wake-up of a two-line stage at rest."""
    params = pair_build(spec, seed, run, address)
    state = pair_start(params, a, b)
    levels = pair_level(params, state, 0), pair_level(params, state, 1)
    return params, state, levels[0], levels[1], pair_wake(params, state, NEVER)


@kernel
def pair_takes_edge(params: Any, state: Any, time: int, line: int, level: int) -> tuple[Any, int, int, int]:
    """State, output levels and next wake-up after an input edge."""
    state = pair_edge(params, state, time, line, level)
    levels = pair_level(params, state, 0), pair_level(params, state, 1)
    return state, levels[0], levels[1], pair_wake(params, state, NEVER)


@kernel
def pair_wakes(params: Any, state: Any, time: int) -> tuple[Any, int, int, int]:
    """State, output levels and next wake-up after a wake-up."""
    state = pair_expire(params, state, time)
    levels = pair_level(params, state, 0), pair_level(params, state, 1)
    return state, levels[0], levels[1], pair_wake(params, state, NEVER)


@kernel
def counter_begins(spec: Any, a: int, b: int) -> tuple[Any, int]:
    """State and next wake-up of a counter at rest."""
    state = counter_start(spec, a, b)
    return state, counter_wake(spec, state, NEVER)


@kernel
def counter_takes_edge(
    spec: Any, state: Any, time: int, line: int, level: int, cause: int, truth: int, coin: Coin
) -> tuple[Any, int]:
    """State and next wake-up after an edge."""
    state = counter_edge(spec, state, time, line, level, cause, truth, coin)
    return state, counter_wake(spec, state, NEVER)


@kernel
def counter_wakes(spec: Any, state: Any, time: int, coin: Coin) -> tuple[Any, int]:
    """State and next wake-up after a wake-up."""
    state = counter_expire(spec, state, time, coin)
    return state, counter_wake(spec, state, NEVER)
