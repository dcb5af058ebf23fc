"""The contract of a stage that works on one line.

A stage is a specification (a NamedTuple: nominal values and tolerances), the parameters of
one built unit (a NamedTuple, drawn per run and line), a state (a NamedTuple of numbers) and
six rules.  The type of the first argument chooses the rule:

* ``stage_build(spec, seed, run, address)`` gives the unit's parameters; ``address`` (that of the
  stage's name, plus the line) makes its draws its own (`stage_draws`);
* ``stage_start(params, level)`` gives the state long after the input came to rest at ``level``;
* ``stage_edge(params, state, time, level)`` an input edge arrives: the new state;
* ``stage_wake(params, state, limit)`` the tick of the next wake-up if that is before
  ``limit``, else any number from ``limit`` up; asked again after every change of state, so an
  input edge cancels a wake-up by changing the state it would be computed from;
* ``stage_expire(params, state, time)`` that wake-up comes: the new state;
* ``stage_level(params, state)`` the output level;
* ``stage_cause(params, state, cause)`` the cause of a change that the stage makes, if it is not
  that of the latest input edge (the default): a stage that makes changes of its own says so;
* ``stage_note(params, state, cause)`` the state after ``stage_edge``, given that edge's cause, for a
  stage that must keep one (the default keeps none);
* ``stage_volts(params, state, time)`` and ``stage_thresholds(params, state)`` the voltage (V) that the
  stage compares and the thresholds (rising, falling; V) it compares it with, for a stage that has one:
  only a trace asks (the defaults are nan);
* ``probe_volts(params, before, after, time, fresh)`` the node's voltage (V) at the tick at which an edge of
  the contact arrives, just before it moves on, for margins; ``before`` and ``after`` are the states on both
  sides of that edge.  ``fresh`` is 1 at the first change of a burst; a stage for which the voltage is
  costly may answer 0.0 at all others;
* ``probe_thresholds(params)`` rising and falling threshold (V) of the built unit, supply undisturbed;
* ``stage_turns(spec)`` 1 for a stage whose output idles at the other level than its input does, so
  that the wiring knows which level means an open contact (the default is 0).

Whenever the output level differs from before, the engine passes an edge on, at the tick of
the input edge or wake-up.  At equal ticks an input
edge comes before a wake-up.  ``limit`` lets a rule skip work: the batch engine knows the next
input edge and asks only for what comes before it.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from simcore.base.compiling import family, family_with_default, kernel, rule
from simcore.base.draws import STAGE, four, purpose
from simcore.base.records import NO_CAUSE, WATCHED, Edges, Floats, Ints, cause_transition, whole


@family
def stage_build(spec: Any, seed: int, run: int, address: int) -> Any:
    """The parameters of one built unit."""
    raise NotImplementedError


@family
def stage_start(params: Any, level: int) -> Any:
    """The state long after the input came to rest at ``level``."""
    raise NotImplementedError


@family
def stage_edge(params: Any, state: Any, time: int, level: int) -> Any:
    """The state after the input changed to ``level`` at ``time``."""
    raise NotImplementedError


@family
def stage_wake(params: Any, state: Any, limit: int) -> int:
    """The next wake-up before ``limit``, else a number from ``limit`` up."""
    raise NotImplementedError


@family
def stage_expire(params: Any, state: Any, time: int) -> Any:
    """The state after the wake-up at ``time``."""
    raise NotImplementedError


@family
def stage_level(params: Any, state: Any) -> int:
    """The output level."""
    raise NotImplementedError


@family_with_default
def stage_cause(params: Any, state: Any, cause: int) -> int:
    """The cause of the change just made, given that of the latest input edge."""
    return cause


@family_with_default
def stage_note(params: Any, state: Any, cause: int) -> Any:
    """The state that remembers the cause of the input edge it has just taken."""
    return state


@family_with_default
def stage_turns(spec: Any) -> int:
    """Whether the output idles at the other level than the input does."""
    return 0


@family_with_default
def stage_volts(params: Any, state: Any, time: int) -> float:
    """The voltage (V) that the stage compares, at ``time`` (ticks), while ``state`` lasts."""
    return math.nan


@family_with_default
def stage_thresholds(params: Any, state: Any) -> tuple[float, float]:
    """The thresholds (V), rising and falling, while ``state`` lasts."""
    return math.nan, math.nan


class Readings(NamedTuple):
    """Volts of one line of a block: ``volts`` of the node at each edge of the contact, and of each run's
    unit the ``rising`` and the ``falling`` threshold.
    """

    volts: Floats
    rising: Floats
    falling: Floats


UNREAD = Readings(np.zeros(0), np.zeros(0), np.zeros(0))
"""No readings requested."""


@family_with_default
def probe_volts(params: Any, before: Any, after: Any, time: int, fresh: int) -> float:
    """The node's voltage (V) as an input edge arrives; 0.0 for a stage without any."""
    return 0.0


@family_with_default
def probe_thresholds(params: Any) -> tuple[float, float]:
    """Rising and falling threshold (V) of the built unit; zeros for a stage without any."""
    return 0.0, 0.0


@rule
def read_thresholds(readings: Readings, r: int, params: Any) -> None:
    """Note the thresholds of run ``r``, if readings are requested."""
    if readings.volts.size > 0:
        readings.rising[r], readings.falling[r] = probe_thresholds(params)


@rule
def read_volts(
    readings: Readings, source: Edges, i: int, cause: int, params: Any, before: Any, after: Any
) -> None:
    """Note the voltage at edge ``i`` of the source, which comes after one of a ``cause``, if
    readings are requested.
    """
    if readings.volts.size > 0:
        fresh = 1 if cause_transition(source.causes[i]) != cause_transition(cause) else 0
        readings.volts[i] = probe_volts(params, before, after, source.times[i], fresh)


def room_for_readings(old: Readings, source: Edges) -> Readings:
    """``old`` if it has room for the edges of ``source``, else a larger one."""
    edges, runs = source.times.size, source.first.size
    if old.volts.size >= edges and old.rising.size >= runs:
        return old
    return Readings(np.zeros(edges), np.zeros(runs), np.zeros(runs))


@rule
def stage_draws(seed: int, run: int, address: int, k: int) -> tuple[float, float, float, float]:
    """Four uniforms, number ``k``, for the parts of the stage at an address."""
    return four(seed, run, purpose(STAGE, address), k)


@rule
def put_edge(out: Edges, n: int, time: int, cause: int) -> int:
    """Write edge ``n``; returns the next free row."""
    out.times[n] = time
    out.causes[n] = cause
    return n + 1


@kernel
def drive_stage(
    spec: Any, seed: int, first_run: int, address: int, source: Edges, ends: Ints, out: Edges,
    readings: Readings = UNREAD,
) -> int:  # fmt: skip
    """Pass all runs of one line through a stage; returns the runs that found room.

    ``source.first`` and the alternation of levels give each input level.  No wake-up comes
    later than WATCHED after the hand is done (``ends``, ticks per run).  ``readings``, with room for all
    edges and runs or empty, takes the voltages.
    """
    n = 0
    room = out.times.size
    for r in range(source.first.size):
        params = stage_build(spec, seed, first_run + r, address)
        level = whole(source.first[r])
        state = stage_start(params, level)
        shown = stage_level(params, state)
        out.first[r] = shown
        cause = NO_CAUSE
        horizon = ends[r] + WATCHED
        read_thresholds(readings, r, params)
        for i in range(source.offsets[r], source.offsets[r + 1] + 1):
            last = i == source.offsets[r + 1]
            limit = horizon if last else min(source.times[i], horizon)
            wake = stage_wake(params, state, limit)
            while wake < limit:
                state = stage_expire(params, state, wake)
                if stage_level(params, state) != shown:
                    if n >= room:
                        return r
                    shown = stage_level(params, state)
                    n = put_edge(out, n, wake, stage_cause(params, state, cause))
                wake = stage_wake(params, state, limit)
            if last:
                break
            level ^= 1
            before, earlier = state, cause
            cause = whole(source.causes[i])
            state = stage_note(params, stage_edge(params, before, source.times[i], level), cause)
            read_volts(readings, source, i, earlier, params, before, state)
            if stage_level(params, state) != shown:
                if n >= room:
                    return r
                shown = stage_level(params, state)
                n = put_edge(out, n, source.times[i], stage_cause(params, state, cause))
        out.offsets[r + 1] = n
    return source.first.size
