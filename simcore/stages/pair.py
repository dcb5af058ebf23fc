"""The contract of a stage that works on both lines at once.

As for a stage of one line (see base), with these rules: ``pair_build(spec, seed, run, address)``,
``pair_start(params, a, b)``, ``pair_edge(params, state, time, line, level)``,
``pair_wake(params, state, limit)``, ``pair_expire(params, state, time)`` and
``pair_level(params, state, line)``.  A change of either output has the cause of the latest input
edge of that line.  At equal ticks A comes before B, and input edges before wake-ups.
"""

from __future__ import annotations

from typing import Any

from simcore.base.compiling import family, kernel
from simcore.base.records import NO_CAUSE, WATCHED, Edges, Ints, whole
from simcore.base.ticks import NEVER
from simcore.stages.base import put_edge


@family
def pair_build(spec: Any, seed: int, run: int, address: int) -> Any:
    raise NotImplementedError


@family
def pair_start(params: Any, a: int, b: int) -> Any:
    raise NotImplementedError


@family
def pair_edge(params: Any, state: Any, time: int, line: int, level: int) -> Any:
    raise NotImplementedError


@family
def pair_wake(params: Any, state: Any, limit: int) -> int:
    raise NotImplementedError


@family
def pair_expire(params: Any, state: Any, time: int) -> Any:
    raise NotImplementedError


@family
def pair_level(params: Any, state: Any, line: int) -> int:
    raise NotImplementedError


@kernel
def drive_pair(
    spec: Any, seed: int, first_run: int, address: int, a: Edges, b: Edges, ends: Ints,
    out_a: Edges, out_b: Edges,
) -> int:  # fmt: skip
    """Pass all runs of both lines through a stage; returns the runs that found room."""
    n, m = 0, 0
    for r in range(a.first.size):
        params = pair_build(spec, seed, first_run + r, address)
        level_a, level_b = whole(a.first[r]), whole(b.first[r])
        state = pair_start(params, level_a, level_b)
        shown_a, shown_b = pair_level(params, state, 0), pair_level(params, state, 1)
        out_a.first[r] = shown_a
        out_b.first[r] = shown_b
        cause_a, cause_b = NO_CAUSE, NO_CAUSE
        horizon = ends[r] + WATCHED
        i, j = a.offsets[r], b.offsets[r]
        while True:
            time_a = a.times[i] if i < a.offsets[r + 1] else NEVER
            time_b = b.times[j] if j < b.offsets[r + 1] else NEVER
            following = min(time_a, time_b)
            time = pair_wake(params, state, min(following, horizon))
            if time < min(following, horizon):
                state = pair_expire(params, state, time)
            elif following == NEVER:
                break
            elif time_a <= time_b:
                time = time_a
                level_a ^= 1
                cause_a = whole(a.causes[i])
                state = pair_edge(params, state, time, 0, level_a)
                i += 1
            else:
                time = time_b
                level_b ^= 1
                cause_b = whole(b.causes[j])
                state = pair_edge(params, state, time, 1, level_b)
                j += 1
            if pair_level(params, state, 0) != shown_a:
                if n >= out_a.times.size:
                    return r
                shown_a ^= 1
                n = put_edge(out_a, n, time, cause_a)
            if pair_level(params, state, 1) != shown_b:
                if m >= out_b.times.size:
                    return r
                shown_b ^= 1
                m = put_edge(out_b, m, time, cause_b)
        out_a.offsets[r + 1] = n
        out_b.offsets[r + 1] = m
    return a.first.size
