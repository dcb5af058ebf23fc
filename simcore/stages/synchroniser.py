"""A synchroniser: flip-flops in a row under one clock, which pass a sample on from clock edge to clock edge.

The last of n flip-flops shows the line as it was n - 1 samples before.  The first may be
caught by a change shortly before its sample; what it then settles at is random.
How often the last flip-flop is still metastable is not simulated but computed, see
`failure_interval`: it is far too rare for a simulation.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

from simcore.base.check import Check, Surroundings
from simcore.base.compiling import member, rule
from simcore.base.description import TIMING, Conflict, Count, FormulaValue, Key, Quantity, StageDescription
from simcore.base.records import NO_CAUSE
from simcore.base.ticks import NEVER, ticks
from simcore.stages.base import (
    stage_build,
    stage_cause,
    stage_draws,
    stage_edge,
    stage_expire,
    stage_level,
    stage_note,
    stage_start,
    stage_wake,
)
from simcore.stages.clock import CLOCK_KEYS, Clock, Samples, build_clock, clock_of, first_sample, sample_tick
from simcore.stages.facts import Component, Delays, part_delay, parts_list, stage_checks, stage_delay
from simcore.stages.filter_checks import sample_checks


class Synchroniser(NamedTuple):
    """``flops`` (1 to 62) flip-flops at a clock.  A change up to ``window`` (s, below a period)
    before a sample leaves it to chance which level the sample takes.

    A real window lies on both sides of the clock's edge.  Moving it, or cutting it up in another
    way, is the same as moving the clock's phase, which is random.
    """

    clock: Clock
    flops: int
    window: float


FITTED = Quantity("time", 0.0, 1.0e6, above=True)
"""A constant fitted to measured failures; its window may be longer than any clock period."""
FAILURE_KEYS = (
    Key(
        "settling", FITTED,
        "time a flip-flop has for settling before the next one, or the counter, looks", None,
    ),
    Key("settling_constant", FITTED, "tau, the flip-flop's settling time constant", None),
    Key("failure_window", FITTED, "T0, the flip-flop's fitted window of failure", None),
    Key("change_every", FITTED, "mean time from one change of the line to the next", None),
)  # fmt: skip
"""What the computed time between failures takes, which nothing else does."""


def synchroniser_conflict(values: Any) -> Conflict | None:
    """The window must lie within a period, and of the constants all or none must be given."""
    shortest = values.period * (1.0 - values.tolerance.period)
    if values.window >= shortest:
        return Conflict(
            "window",
            "expected a window below the shortest period, {shortest}",
            like={"shortest": ("period", shortest)},
        )
    names = [key.name for key in FAILURE_KEYS]
    given = [name for name in names if getattr(values, name) is not None]
    missing = [name for name in names if name not in given]
    if given and missing:
        return Conflict(
            given[0],
            f"the time between failures needs {', '.join(names)}; give all of them or none",
            f"no {missing[0]}",
        )
    return None


def failure_figure(values: Any) -> tuple[FormulaValue, ...]:
    """The mean time between failures, if all that it takes is given."""
    constants = [getattr(values, key.name) for key in FAILURE_KEYS]
    if None in constants:
        return ()
    settling, tau, window, change_every = constants
    stages = max(values.flip_flops - 1, 1)
    seconds = failure_interval(stages * settling, tau, window, 1.0 / values.period, 1.0 / change_every)
    label = "mean time between failures of one line"
    if seconds == LONGEST:
        label += ", at least"
    source = "exp(t_r / tau) / (T0 f a), Wakerly, Digital Design (from memory)"
    if stages > 1:
        source += "; t_r summed over the stages of settling, for which other forms are in print too"
    return (FormulaValue(label, seconds, "s", source),)


SYNCHRONISER = StageDescription(
    name="synchroniser",
    meaning="A row of flip-flops that brings a line into step with a clock.",
    keys=(
        *CLOCK_KEYS,
        Key("flip_flops", Count(1, 62), "flip-flops in the row", 2),
        Key(
            "window",
            TIMING,
            "a change within this time before a sample leaves the sampled level to chance",
            0.0,
        ),
        *FAILURE_KEYS,
    ),
    build=lambda values: Synchroniser(clock_of(values), values.flip_flops, values.window),
    check=synchroniser_conflict,
    figures=failure_figure,
)


class SynchroniserUnit(NamedTuple):
    """One built unit; ``window`` in ticks; seed, run and address are those of its coins."""

    samples: Samples
    flops: int
    window: int
    seed: int
    run: int
    address: int


class Pipeline(NamedTuple):
    """``bits`` are the ``flops`` samples before number ``following``, the newest in bit 0; the
    oldest is shown.  Sample ``following`` will take ``caught``, all later ones ``level``.

    ``cause`` is that of the latest input edge, ``newest``, ``newer``, ``older`` and ``oldest`` those of
    the four latest changes between samples: what comes out was caused by what went in then.
    """

    following: int
    bits: int
    caught: int
    level: int
    cause: int
    newest: int
    newer: int
    older: int
    oldest: int


FIRST_COIN = 16
"""Draws of the stage below this number are for its parts; that of a coin is this plus its tick."""


@rule
def coin(params: SynchroniserUnit, time: int) -> int:
    """The level that a sample caught by a change at ``time`` (ticks) settles at."""
    u = stage_draws(params.seed, params.run, params.address, FIRST_COIN + time)
    return 1 if u[0] < 0.5 else 0


@rule
def shifted(params: SynchroniserUnit, state: Pipeline, samples: int) -> int:
    """The bits after one or more further samples, the first of which takes ``caught``."""
    fresh = min(samples, params.flops)
    kept = state.bits & ((1 << (params.flops - fresh)) - 1)
    bits = (kept << fresh) | ((1 << fresh) - 1 if state.level else 0)
    if samples <= params.flops:
        first = 1 << (samples - 1)
        bits = bits | first if state.caught else bits & ~first
    return bits


@rule
def handed_on(params: SynchroniserUnit, state: Pipeline, following: int) -> Pipeline:
    """The flip-flops after all samples before number ``following``, which are later than theirs."""
    bits = shifted(params, state, following - state.following)
    newest, newer, older, oldest = state.newest, state.newer, state.older, state.oldest
    if state.caught != state.bits & 1:
        newest, newer, older, oldest = state.cause, newest, newer, older
    if following - state.following > 1 and state.level != state.caught:
        newest, newer, older, oldest = state.cause, newest, newer, older
    return Pipeline(
        following, bits, state.level, state.level, state.cause, newest, newer, older, oldest
    )  # fmt: skip


@member(stage_build, Synchroniser)
def build(spec: Synchroniser, seed: int, run: int, address: int) -> SynchroniserUnit:
    """Only the clock differs from unit to unit.  Coins are a line's own even if its clock is not."""
    samples = build_clock(spec.clock, seed, run, address)
    return SynchroniserUnit(samples, spec.flops, ticks(spec.window), seed, run, address)


@member(stage_start, SynchroniserUnit)
def start(params: SynchroniserUnit, level: int) -> Pipeline:
    bits = (1 << params.flops) - 1 if level else 0
    following = first_sample(params.samples, 0)
    return Pipeline(
        following, bits, level, level, NO_CAUSE, NO_CAUSE, NO_CAUSE, NO_CAUSE, NO_CAUSE
    )  # fmt: skip


@member(stage_edge, SynchroniserUnit)
def edge(params: SynchroniserUnit, state: Pipeline, time: int, level: int) -> Pipeline:
    """Of all changes between two samples the last one is the closest to the second."""
    following = first_sample(params.samples, time)
    if following > state.following:
        state = handed_on(params, state, following)
    caught = level
    at = sample_tick(params.samples, following)
    if at - time < params.window:
        caught = coin(params, at)
    return Pipeline(
        following, state.bits, caught, level,
        state.cause, state.newest, state.newer, state.older, state.oldest,
    )  # fmt: skip


@member(stage_note, SynchroniserUnit)
def note(params: SynchroniserUnit, state: Pipeline, cause: int) -> Pipeline:
    """Keep the cause for the sample that sees the change."""
    return Pipeline(
        state.following, state.bits, state.caught, state.level,
        cause, state.newest, state.newer, state.older, state.oldest,
    )  # fmt: skip


@rule
def samples_to_change(params: SynchroniserUnit, state: Pipeline) -> int:
    """How many samples from now on the output changes; 0 if it does not."""
    last = params.flops - 1
    shown = state.bits >> last
    for handed in range(1, params.flops):
        if (state.bits >> (last - handed)) & 1 != shown:
            return handed
    if state.caught != shown:
        return params.flops
    return params.flops + 1 if state.level != shown else 0


@member(stage_wake, SynchroniserUnit)
def wake(params: SynchroniserUnit, state: Pipeline, limit: int) -> int:
    """The next sample at which another level has got to the last flip-flop."""
    handed = samples_to_change(params, state)
    return sample_tick(params.samples, state.following + handed - 1) if handed else NEVER


@member(stage_expire, SynchroniserUnit)
def expire(params: SynchroniserUnit, state: Pipeline, time: int) -> Pipeline:
    return handed_on(params, state, first_sample(params.samples, time) + 1)


@member(stage_cause, SynchroniserUnit)
def cause_of(params: SynchroniserUnit, state: Pipeline, cause: int) -> int:
    """What comes out is the oldest change that is not among the samples any more."""
    inside = 0
    for place in range(params.flops - 1):
        inside += ((state.bits >> place) ^ (state.bits >> (place + 1))) & 1
    if inside == 0:
        return state.newest
    if inside == 1:
        return state.newer
    return state.older if inside == 2 else state.oldest


@member(stage_level, SynchroniserUnit)
def level(params: SynchroniserUnit, state: Pipeline) -> int:
    return state.bits >> (params.flops - 1)


LONGEST = 1.0e300
"""Seconds beyond which `failure_interval` does not tell numbers apart."""


def metastable_rate(window: float, clock_rate: float, data_rate: float) -> float:
    """Samples per second that fall into the window of a change: T0 f a.

    ``window`` T0 in s, ``clock_rate`` f in Hz, ``data_rate`` a in changes per second that do not
    keep to the clock.  Source: Ginosar, ASYNC 2003.
    """
    return window * clock_rate * data_rate


def failure_interval(
    settling: float, tau: float, window: float, clock_rate: float, data_rate: float
) -> float:
    """Mean time (s) between failures of a synchroniser: exp(t_r / tau) / (T0 f a), LONGEST at most.

    ``settling`` t_r (s) is the time that a flip-flop has for settling until its level is used; over
    several stages these times add up.  ``tau`` (s) and ``window`` T0 (s) are constants fitted to a
    flip-flop's measured failures, so T0 may be longer than any clock period.  Source: Wakerly,
    Digital Design (from memory); for more than one stage of settling other forms are in print too.
    """
    power = settling / tau - math.log(metastable_rate(window, clock_rate, data_rate))
    return math.exp(power) if power < math.log(LONGEST) else LONGEST


@stage_checks.register
def synchroniser_checks(item: Synchroniser, around: Surroundings) -> Iterator[Check]:
    return sample_checks(item.clock.period, 1, around, holds_back=False)


@stage_delay.register
def synchroniser_delay(item: Synchroniser) -> Delays:
    """A change waits for its sample, and then for all flip-flops but the first."""
    return part_delay(item.clock.period, item.flops - 1, item.flops)


@parts_list.register
def synchroniser_parts(item: Synchroniser) -> tuple[Component, ...]:
    return (Component("flip-flop", item.flops),)
