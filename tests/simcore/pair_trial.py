"""A two-line stage that waits, in both engines; run by test_pair in a process of its own, uncompiled.

Of the stages that ship, none changes both lines at one wake-up, which is the hard case of the contract.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any, NamedTuple

from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from simcore.base.compiling import Kernel, member
from simcore.base.draws import Part, toleranced
from simcore.base.ticks import NEVER, ticks
from simcore.design import Design, StageEntry
from simcore.stages.base import stage_draws
from simcore.stages.lockout import Lockout
from simcore.stages.pair import pair_build, pair_edge, pair_expire, pair_level, pair_start, pair_wake
from tests.agreement.designs import addresses, designs
from tests.agreement.test_engines import compare_engines
from tests.theory.filtering import Trace, through_pair, traces


class Calm(NamedTuple):
    """Both outputs follow both inputs, together, once neither has moved for ``time``."""

    time: Part


class CalmUnit(NamedTuple):
    """One built unit."""

    ticks: int


class CalmState(NamedTuple):
    """The latest edge of either line, the inputs, the outputs."""

    time: int
    a: int
    b: int
    out_a: int
    out_b: int


@member(pair_build, Calm)
def build(spec: Calm, seed: int, run: int, address: int) -> CalmUnit:
    """One draw."""
    return CalmUnit(ticks(toleranced(spec.time, stage_draws(seed, run, address, 0)[0])))


@member(pair_start, CalmUnit)
def start(params: CalmUnit, a: int, b: int) -> CalmState:
    """At rest; B's output is turned over, so that the first levels matter."""
    return CalmState(0, a, b, a, b)


@member(pair_edge, CalmUnit)
def edge(params: CalmUnit, state: CalmState, time: int, line: int, level: int) -> CalmState:
    """The time begins anew."""
    a, b = (level, state.b) if line == 0 else (state.a, level)
    return CalmState(time, a, b, state.out_a, state.out_b)


@member(pair_wake, CalmUnit)
def wake(params: CalmUnit, state: CalmState, limit: int) -> int:
    """When both have been calm for long enough."""
    same = (state.a, state.b) == (state.out_a, state.out_b)
    return NEVER if same else state.time + params.ticks


@member(pair_expire, CalmUnit)
def expire(params: CalmUnit, state: CalmState, time: int) -> CalmState:
    """Both follow."""
    return CalmState(state.time, state.a, state.b, state.a, state.b)


@member(pair_level, CalmUnit)
def level(params: CalmUnit, state: CalmState, line: int) -> int:
    """B's output is turned over."""
    return state.out_a if line == 0 else 1 - state.out_b


def calm(a: Trace, b: Trace, wait: int) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """(Tick, cause) of both outputs' edges, from the definition."""
    ticks_of_both = sorted({*a.times, *b.times})
    outs: tuple[list[tuple[int, int]], ...] = ([], [])
    for number, time in enumerate(ticks_of_both):
        if number + 1 < len(ticks_of_both) and ticks_of_both[number + 1] <= time + wait:
            continue
        for source, out in zip((a, b), outs, strict=True):
            if (source.first + len(out)) % 2 != source.level_at(time):
                out.append((time + wait, [cause for at, cause in source.edges if at <= time][-1]))
    return outs[0], outs[1]


@seed(1)
@settings(max_examples=300, deadline=None, database=None)
@given(traces(), traces(), st.integers(0, 60))
def one_run(a: Trace, b: Trace, wait: int) -> None:
    """The batch loop against the definition."""
    seen = through_pair(Calm(Part(wait * 1e-12, 0.0)), a, b)
    assert (seen[0].first, seen[1].first) == (a.first, 1 - b.first)
    assert (list(seen[0].edges), list(seen[1].edges)) == calm(a, b, wait)


waits = st.builds(Part, st.sampled_from([0.0, 1e-12, 1e-4, 2e-3, 0.05]), st.sampled_from([0.0, 0.2]))
pairs = st.builds(StageEntry, st.just("calm"), st.builds(Calm, waits))
locks = st.builds(
    StageEntry, st.just("lock"), st.builds(Lockout, waits), st.sampled_from([(0,), (1,), (0, 1)])
)
chains = st.tuples(st.lists(locks, max_size=2), pairs, st.lists(st.one_of(pairs, locks), max_size=2))


def trial() -> Counter[str]:
    """Both engines on random designs with such a stage; returns what was compared."""
    seen: Counter[str] = Counter()

    @seed(2)
    @settings(max_examples=150, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(designs(), chains, addresses(), st.integers(1, 3))
    def compare(design: Design, chain: Any, address: tuple[int, int], runs: int) -> None:
        before, pair, after = chain
        stages = (*design.stages, *before, pair, *after)
        seen.update(compare_engines(replace(design, stages=stages), address, runs))

    compare()
    return seen


def plainly(kernel: Kernel, *arguments: Any) -> Any:
    """Run a kernel's plain loop."""
    return kernel.plain(*arguments)


if __name__ == "__main__":
    Kernel.__call__ = plainly  # type: ignore[method-assign, assignment]
    one_run()
    done = trial()
    print(done["designs"], done["edges"], done["pulses"])
