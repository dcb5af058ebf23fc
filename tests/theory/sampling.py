"""A plain account of sampled stages, tick by tick, and short ways to run the stages themselves.

The account takes every sample, keeps every sample it needs in a list, and shares no line with the
stages but the clock that it is told.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.base.records import edges_of_runs, empty_edges
from simcore.stages.base import drive_stage, stage_build
from simcore.stages.clock import Clock, Samples
from simcore.stages.sampled import Agree, Integrate, Majority, Sampled
from simcore.stages.synchroniser import Synchroniser

PICO = 1e-12
Look = Callable[[int, int], int]
"""The output after a sample, given the sampled level and the output before."""

levels = st.integers(0, 1)
seeds = st.integers(0, 2**63 - 1)
gaps = st.one_of(st.integers(0, 4), st.integers(0, 40), st.integers(0, 600))
edge_times = st.lists(gaps, min_size=1, max_size=40).map(lambda found: list(itertools.accumulate(found)))
"""Edges that come singly, in bursts within a few ticks, and several at one tick."""


def clock(period: int, *, shared: int = 1, tolerance: float = 0.0) -> Clock:
    """A clock of ``period`` ticks."""
    return Clock(Part(period * PICO, tolerance), shared)


def samples_of(spec: Any, seed: int = 0, run: int = 0, address: int = 0) -> Samples:
    """The instants at which the built stage looks."""
    return cast(Samples, stage_build(spec, seed, run, address).samples)


def passed(
    spec: Any, first: int, times: Sequence[int], *, seed: int = 0, run: int = 0, address: int = 0
) -> list[int]:
    """Ticks of the output's edges, from the rules run as plain Python; the line starts at ``first``."""
    source = edges_of_runs([(first, list(times), [0] * len(times))])
    out = empty_edges(4 * len(times) + 64, 1)
    ends = np.array([times[-1] if times else 0], np.int64)
    done = cast(Any, drive_stage).plain(spec, seed, run, address, source, ends, out)
    assert done == 1
    assert out.first[0] == first
    return [int(time) for time in out.times[: out.offsets[1]]]


@dataclass
class AgreeByHand:
    """A shift register and a gate: all of its stages are alike, and unlike the output."""

    register: list[int]

    def __call__(self, sample: int, shown: int) -> int:
        """The output after a sample."""
        self.register = [*self.register[1:], sample]
        return sample if len(set(self.register)) == 1 else shown


@dataclass
class IntegrateByHand:
    """A counter between two stops."""

    count: int
    top: int

    def __call__(self, sample: int, shown: int) -> int:
        """The output after a sample."""
        self.count = min(max(self.count + (1 if sample else -1), 0), self.top)
        return {0: 0, self.top: 1}.get(self.count, shown)


@dataclass
class MajorityByHand:
    """The last samples, and how many of them it takes."""

    register: list[int]
    needed: int

    def __call__(self, sample: int, shown: int) -> int:
        """The output after a sample."""
        self.register = [*self.register[1:], sample]
        if sum(self.register) >= self.needed:
            return 1
        return 0 if len(self.register) - sum(self.register) >= self.needed else shown


@dataclass
class FlopsByHand:
    """Flip-flops in a row, the first one at the front."""

    row: list[int]

    def __call__(self, sample: int, shown: int) -> int:
        """The output after a sample."""
        self.row = [sample, *self.row[:-1]]
        return self.row[-1]


def by_hand(spec: Any, first: int) -> Look:
    """The plain account of a stage whose line has long been at ``first``."""
    if isinstance(spec, Synchroniser):
        return FlopsByHand([first] * spec.flops)
    assert isinstance(spec, Sampled)
    if isinstance(spec.rule, Agree):
        return AgreeByHand([first] * spec.rule.samples)
    if isinstance(spec.rule, Integrate):
        return IntegrateByHand(first * spec.rule.top, spec.rule.top)
    assert isinstance(spec.rule, Majority)
    return MajorityByHand([first] * spec.rule.last, spec.rule.needed)


def tick_by_tick(
    look: Look, samples: Samples, first: int, times: Sequence[int], end: int,
    window: int = 0, toss: Callable[[int], int] | None = None,
) -> list[int]:  # fmt: skip
    """Ticks of the output's edges up to ``end``: at each tick the input's edges come, then a sample.

    What a sample takes less than ``window`` ticks after an edge is what ``toss`` says for its tick.
    """
    level, shown, found = first, first, []
    waiting, latest = list(times), -window
    for tick in range(end + 1):
        while waiting and waiting[0] == tick:
            level ^= 1
            latest = waiting.pop(0)
        if tick % samples.period == samples.phase % samples.period:
            caught = toss is not None and tick - latest < window
            after = look(toss(tick) if toss is not None and caught else level, shown)
            if after != shown:
                found.append(tick)
            shown = after
    return found
