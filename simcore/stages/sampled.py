"""Filters that sample their line with a clock and keep a few samples.

They differ in what they keep and in when that moves the output:

* `Agree`: the output follows once so many consecutive samples differ from it (a shift register
  with a gate that compares all its stages);
* `Integrate`: a counter goes up at each high sample and down at each low one, between two stops;
  reaching a stop takes the output there;
* `Majority`: the output goes where enough of the last samples are.

Each is a record with three rules: ``memory_start(rule, level)``, ``memory_after(rule, memory, level,
shown, samples)`` and ``samples_left(rule, memory, level)``; `Sampled` joins it with a clock and has the
rules of a stage.  A sample is no event: while the input is stable, all samples are equal, so the
sample that will move the output is known at the input edge, and there is none when input and output agree.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import singledispatch
from typing import Any, NamedTuple

from simcore.base.check import SECOND, Check, Surroundings
from simcore.base.compiling import family, member, rule
from simcore.base.description import Conflict, Count, Key, StageDescription
from simcore.base.ticks import NEVER
from simcore.stages.base import stage_build, stage_edge, stage_expire, stage_level, stage_start, stage_wake
from simcore.stages.clock import CLOCK_KEYS, Clock, Samples, build_clock, clock_of, first_sample, sample_tick
from simcore.stages.facts import (
    Component,
    Delays,
    Times,
    Variation,
    bridges_openings,
    part_delay,
    parts_list,
    preferred_between,
    stage_checks,
    stage_delay,
    values_to_vary,
)
from simcore.stages.filter_checks import sample_checks


class Agree(NamedTuple):
    """``samples`` (1 and up) consecutive samples that differ from the output turn it over.

    Its memory is how many of the latest samples did.
    """

    samples: int


class Integrate(NamedTuple):
    """A saturating counter from 0 to ``top`` (1 and up); its memory is the count."""

    top: int


class Majority(NamedTuple):
    """``needed`` of the ``last`` samples (at most 62, and fewer than twice ``needed``) alike take
    the output there.  Its memory is these samples, the newest in bit 0.
    """

    last: int
    needed: int


class Sampled(NamedTuple):
    """The specification: a clock, and one of the records above."""

    clock: Clock
    rule: Any


AGREE = StageDescription(
    name="agree",
    meaning="A shift register whose output follows the line once so many consecutive samples agree.",
    keys=(*CLOCK_KEYS, Key("samples", Count(1, 64), "consecutive samples that must agree")),
    build=lambda values: Sampled(clock_of(values), Agree(values.samples)),
)

INTEGRATE = StageDescription(
    name="integrate",
    meaning="A counter that goes up at each high sample and down at each low one, and whose stops set the "
    "output.",
    keys=(*CLOCK_KEYS, Key("samples", Count(1, 1_000_000), "samples from one stop to the other")),
    build=lambda values: Sampled(clock_of(values), Integrate(values.samples)),
)


def more_than_half(values: Any) -> Conflict | None:
    """Two levels cannot have a majority at once."""
    least = values.samples // 2 + 1
    if least <= values.needed <= values.samples:
        return None
    return Conflict("needed", f"expected a majority of {values.samples} samples, {least} to {values.samples}")


MAJORITY = StageDescription(
    name="majority",
    meaning="A vote of the last samples, in which the output follows the level that enough of them have.",
    keys=(
        *CLOCK_KEYS,
        Key("samples", Count(1, 62), "how many of the last samples vote"),
        Key("needed", Count(1, 62), "how many of them must be alike, more than half of all"),
    ),
    build=lambda values: Sampled(clock_of(values), Majority(values.samples, values.needed)),
    check=more_than_half,
)


class SampledUnit(NamedTuple):
    """One built unit."""

    samples: Samples
    rule: Any


class SampledState(NamedTuple):
    """``memory`` is that of all samples before number ``following``, from which on the input has
    been at ``level``; ``shown`` is the output, which turns over at tick ``due``.
    """

    following: int
    level: int
    shown: int
    memory: int
    due: int


@family
def memory_start(rule: Any, level: int) -> int:
    """The memory long after the input came to rest at ``level``."""
    raise NotImplementedError


@family
def memory_after(rule: Any, memory: int, level: int, shown: int, samples: int) -> int:
    """The memory after one or more ``samples`` at ``level``, the output being ``shown``."""
    raise NotImplementedError


@family
def samples_left(rule: Any, memory: int, level: int) -> int:
    """How many samples at ``level`` it takes to turn an output over that is not there."""
    raise NotImplementedError


@member(memory_start, Agree)
def agree_start(rule: Agree, level: int) -> int:
    return 0


@member(memory_after, Agree)
def agree_after(rule: Agree, memory: int, level: int, shown: int, samples: int) -> int:
    """One sample like the output makes it begin anew."""
    return 0 if level == shown else memory + samples


@member(samples_left, Agree)
def agree_left(rule: Agree, memory: int, level: int) -> int:
    return rule.samples - memory


@member(memory_start, Integrate)
def integrate_start(rule: Integrate, level: int) -> int:
    return rule.top if level else 0


@member(memory_after, Integrate)
def integrate_after(rule: Integrate, memory: int, level: int, shown: int, samples: int) -> int:
    return min(memory + samples, rule.top) if level else max(memory - samples, 0)


@member(samples_left, Integrate)
def integrate_left(rule: Integrate, memory: int, level: int) -> int:
    return rule.top - memory if level else memory


@member(memory_start, Majority)
def majority_start(rule: Majority, level: int) -> int:
    return (1 << rule.last) - 1 if level else 0


@member(memory_after, Majority)
def majority_after(rule: Majority, memory: int, level: int, shown: int, samples: int) -> int:
    """The oldest fall out; bits are cut off before they are shifted, so that none gets lost."""
    fresh = min(samples, rule.last)
    kept = memory & ((1 << (rule.last - fresh)) - 1)
    return (kept << fresh) | ((1 << fresh) - 1 if level else 0)


@member(samples_left, Majority)
def majority_left(rule: Majority, memory: int, level: int) -> int:
    """Each new sample adds one at ``level`` and drops the oldest, until enough are there."""
    alike = 0
    for place in range(rule.last):
        alike += 1 if (memory >> place) & 1 == level else 0
    left = 0
    while alike < rule.needed:
        left += 1
        alike += 0 if (memory >> (rule.last - left)) & 1 == level else 1
    return left


@rule
def held_from(params: SampledUnit, following: int, level: int, shown: int, memory: int) -> SampledState:
    """The state from sample ``following`` on, with the tick at which the output will turn over."""
    due = NEVER
    if level != shown:
        last = following + samples_left(params.rule, memory, level) - 1
        due = sample_tick(params.samples, last)
    return SampledState(following, level, shown, memory, due)


@member(stage_build, Sampled)
def build(spec: Sampled, seed: int, run: int, address: int) -> SampledUnit:
    return SampledUnit(build_clock(spec.clock, seed, run, address), spec.rule)


@member(stage_start, SampledUnit)
def start(params: SampledUnit, level: int) -> SampledState:
    following = first_sample(params.samples, 0)
    return held_from(params, following, level, level, memory_start(params.rule, level))


@member(stage_edge, SampledUnit)
def edge(params: SampledUnit, state: SampledState, time: int, level: int) -> SampledState:
    """Samples since the last edge saw the level that ends now; there may have been none."""
    following = first_sample(params.samples, time)
    memory = state.memory
    if following > state.following:
        taken = following - state.following
        memory = memory_after(params.rule, memory, state.level, state.shown, taken)
    return held_from(params, following, level, state.shown, memory)


@member(stage_wake, SampledUnit)
def wake(params: SampledUnit, state: SampledState, limit: int) -> int:
    return state.due


@member(stage_expire, SampledUnit)
def expire(params: SampledUnit, state: SampledState, time: int) -> SampledState:
    """That sample is taken with the output already over, so that it counts as one like it."""
    following = first_sample(params.samples, time) + 1
    taken = following - state.following
    memory = memory_after(params.rule, state.memory, state.level, state.level, taken)
    return held_from(params, following, state.level, state.level, memory)


@member(stage_level, SampledUnit)
def level(params: SampledUnit, state: SampledState) -> int:
    return state.shown


@singledispatch
def samples_needed(rule: Any) -> int | None:
    """Samples of a settled level that turn a sampled filter over; None for a rule that does not say."""
    return None


@samples_needed.register
def agree_needs(rule: Agree) -> int:
    return rule.samples


@samples_needed.register
def integrate_needs(rule: Integrate) -> int:
    return rule.top


@samples_needed.register
def majority_needs(rule: Majority) -> int:
    return rule.needed


@singledispatch
def rule_parts(rule: Any) -> tuple[Component, ...]:
    """What remembers the samples."""
    return ()


@rule_parts.register
def agree_parts(rule: Agree) -> tuple[Component, ...]:
    return Component("shift register stage", rule.samples), Component("output flip-flop", 1)


@rule_parts.register
def integrate_parts(rule: Integrate) -> tuple[Component, ...]:
    return Component("saturating counter bit", rule.top.bit_length()), Component("output flip-flop", 1)


@rule_parts.register
def majority_parts(rule: Majority) -> tuple[Component, ...]:
    return Component("shift register stage", rule.last), Component("output flip-flop", 1)


SAMPLES = (2, 3, 4, 6, 8)
"""Numbers of samples that are tried."""
PERIODS = 5.0
"""Periods are tried from so many times below to so many times above what is stated."""


@singledispatch
def sample_numbers(rule: Any) -> tuple[int, ...]:
    """Numbers of ``samples`` worth trying; none for a rule without that key."""
    return ()


@sample_numbers.register
def agree_numbers(rule: Agree) -> tuple[int, ...]:
    return tuple(sorted({*SAMPLES, rule.samples}))


@sample_numbers.register
def integrate_numbers(rule: Integrate) -> tuple[int, ...]:
    return tuple(sorted({*SAMPLES, rule.top}))


@stage_checks.register
def sampled_checks(item: Sampled, around: Surroundings) -> Iterator[Check]:
    count = samples_needed(item.rule)
    if count is not None:
        yield from sample_checks(item.clock.period, count, around)


@stage_delay.register
def sampled_delay(item: Sampled) -> Delays | None:
    """All samples but one lie between the change and the output, and the one before at most."""
    count = samples_needed(item.rule)
    return None if count is None else part_delay(item.clock.period, count - 1, count)


@bridges_openings.register
def sampled_bridges(item: Sampled) -> bool:
    return True


@parts_list.register
def sampled_components(item: Sampled) -> tuple[Component, ...]:
    return rule_parts(item.rule)


@values_to_vary.register
def sampled_values(item: Sampled, times: Times) -> Iterator[Variation]:
    numbers, stated = sample_numbers(item.rule), item.clock.period.nominal
    if numbers:
        yield Variation(0, "samples", numbers, "")
    yield Variation(1, "period", preferred_between(stated, (stated / PERIODS, stated * PERIODS), 3), SECOND)
