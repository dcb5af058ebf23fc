"""The contract of a counter that reads two lines.

A counter is a specification (a NamedTuple of numbers), a state (a NamedTuple that holds at
least the fields of `Pulse` under the names below) and a few rules, chosen by the type of the
specification:

* ``counter_start(spec, a, b)`` the state with both lines at rest;
* ``counter_edge(spec, state, time, line, level, cause, truth, coin)`` an edge arrives;
* ``counter_wake(spec, state, limit)`` the next wake-up before ``limit``, else a number from
  ``limit`` up;
* ``counter_expire(spec, state, time, coin)`` that wake-up comes;
* ``counter_ideal(spec)`` the same counter with all timing limits at zero, which reads the
  bounce-free transitions;
* ``counter_rate(spec)`` counts per quadrature cycle;
* ``counter_clocked(spec)`` 1 for a counter that looks at its lines only at the ticks of a clock, so
  that it may skip a state; 0 if it says nothing;
* ``counter_rests(spec, a, b)`` 0 for a counter that counts from a rest state of its own and finds
  the lines at rest in another; 1 if it says nothing.

Further properties of a counter, its clock and timing among them, are in facts.

An edge or a wake-up gives at most one pulse: a state whose ``emit`` is 1 hands over
``pulse`` (counts, mostly +1, -1 or 0), ``pulse_time``, ``pulse_cause`` and ``pulse_flags``.
``truth`` is the direction of the movement behind the edge (+1, -1, 0 for none), used by the
policy ``worst`` only.  ``coin`` is (seed, run): a random outcome is addressed by the tick of the
clock edge it decides.  A specification belongs to the design; what belongs to the unit is drawn from
``coin`` at the first edge and kept in the state.

Positions belong to the Range, so that end stops and wrapping are the same for all counters.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.compiling import family, family_with_default, kernel, rule
from simcore.base.description import Key, Word
from simcore.base.draws import COIN, four, purpose
from simcore.base.records import (
    A,
    B,
    Causes,
    Edges,
    Pulses,
    Steps,
    Transitions,
    cause_transition,
    fill,
    pack_cause,
    whole,
)
from simcore.base.ticks import NEVER

# Timing violations and limits of a pulse, or'ed together in Pulses.flags.
SETUP, HOLD, SHORT, AT_STOP, ILLEGAL = 1, 2, 4, 8, 16
FLAG_NAMES = {
    SETUP: "direction changed within the set-up time",
    HOLD: "direction changed within the hold time",
    SHORT: "clock pulse shorter than the counter takes",
    AT_STOP: "held by an end stop",
    ILLEGAL: "both lines changed at once",
}

RANDOM, OLD, NEW, WORST = range(4)
VIOLATION_POLICIES = ("coin", "old", "new", "worst")
IGNORED, SHORT_COIN = range(2)
SHORT_POLICIES = ("ignored", "coin")

CLOCK_EDGES = {"A falling": (0, 0), "A rising": (0, 1), "B falling": (1, 0), "B rising": (1, 1)}
"""The line of a clock and the level after its active edge, by the words that name them."""
HIGH_LOW = Word(("high", "low"))
LEADS = {"A leads": 1, "B leads": -1}
UP_WHEN = Key("up_when", Word(tuple(LEADS)), "which line comes first when counting up", "A leads")
DECODINGS = {"x1": 1, "x2": 2, "x4": 4}
DECODING = Key("decoding", Word(tuple(DECODINGS)), "counts per cycle", "x4")


class Range(NamedTuple):
    """``positions`` (0: unbounded), the ``start`` position, and ``wrap`` (1) or end stops (0)."""

    positions: int
    start: int
    wrap: int


class Coin(NamedTuple):
    """The address of a random outcome, apart from its tick."""

    seed: int
    run: int


class BounceFreeCounts(NamedTuple):
    """What the counter makes of bounce-free transitions: per step the ``net`` count, the number
    of pulses (``moves``), and the ``low``est and ``high``est count on the way; per transition
    the ``counts`` that it gave.
    """

    net: Causes
    moves: Causes
    low: Causes
    high: Causes
    counts: Causes


@family
def counter_start(spec: Any, a: int, b: int) -> Any:
    """The state with line A at level ``a`` and line B at ``b``."""
    raise NotImplementedError


@family
def counter_edge(
    spec: Any, state: Any, time: int, line: int, level: int, cause: int, truth: int, coin: Coin
) -> Any:
    """The state after ``line`` changed to ``level`` at ``time``."""
    raise NotImplementedError


@family
def counter_wake(spec: Any, state: Any, limit: int) -> int:
    """The next wake-up before ``limit``, else a number from ``limit`` up."""
    raise NotImplementedError


@family
def counter_expire(spec: Any, state: Any, time: int, coin: Coin) -> Any:
    """The state after the wake-up at ``time``."""
    raise NotImplementedError


@family
def counter_ideal(spec: Any) -> Any:
    """The same counter without timing limits."""
    raise NotImplementedError


@family
def counter_rate(spec: Any) -> float:
    """Counts that it gives for one quadrature cycle; a prescaled counter gives a part of one."""
    raise NotImplementedError


@family_with_default
def counter_clocked(spec: Any) -> int:
    """Whether it looks at its lines only at the ticks of a clock."""
    return 0


@family_with_default
def counter_rests(spec: Any, a: int, b: int) -> int:
    """Whether lines at rest at these levels are where it counts from."""
    return 1


@rule
def heads(coin: Coin, time: int, which: int) -> int:
    """A random bit, number ``which`` (0 to 3), for the clock edge at ``time``."""
    return 1 if four(coin.seed, coin.run, purpose(COIN, 0), time)[which] < 0.5 else 0


@rule
def moved_by(place: Range, position: int, asked: int) -> int:
    """How far the position really moves: no further than to an end stop."""
    if place.positions > 0 and not place.wrap:
        return min(max(position + asked, 0), place.positions - 1) - position
    return asked


@rule
def put_pulse(pulses: Pulses, n: int, state: Any, place: Range, position: int) -> int:
    """Write the pulse that ``state`` hands over into row ``n``; returns the new position."""
    moved = moved_by(place, position, state.pulse)
    pulses.times[n] = state.pulse_time
    pulses.asked[n] = state.pulse
    pulses.moved[n] = moved
    pulses.causes[n] = state.pulse_cause
    pulses.flags[n] = state.pulse_flags | (AT_STOP if moved != state.pulse else 0)
    return position + moved


@rule
def truth_of(transitions: Transitions, lo: int, cause: int) -> int:
    """Direction of the movement behind a cause, 0 for none; the run begins at row ``lo``."""
    index = cause_transition(cause)
    if index < 0:
        return 0
    return whole(transitions.directions[lo + index])


@kernel
def drive_counter(
    spec: Any, place: Range, seed: int, first_run: int,
    a: Edges, b: Edges, transitions: Transitions, pulses: Pulses,
) -> int:  # fmt: skip
    """Count all runs; returns the runs that found room.  At equal ticks A comes before B."""
    n = 0
    room = pulses.times.size
    for r in range(a.first.size):
        coin = Coin(seed, first_run + r)
        lo = transitions.offsets[r]
        i, j = a.offsets[r], b.offsets[r]
        end_i, end_j = a.offsets[r + 1], b.offsets[r + 1]
        level_a, level_b = whole(a.first[r]), whole(b.first[r])
        state = counter_start(spec, level_a, level_b)
        position = place.start
        if n + 2 * (end_i - i + end_j - j) + 2 > room:
            return r
        while True:
            time_a = a.times[i] if i < end_i else NEVER
            time_b = b.times[j] if j < end_j else NEVER
            limit = min(time_a, time_b)
            wake = counter_wake(spec, state, limit)
            while wake < limit:
                state = counter_expire(spec, state, wake, coin)
                if state.emit:
                    position = put_pulse(pulses, n, state, place, position)
                    n += 1
                wake = counter_wake(spec, state, limit)
            if limit == NEVER:
                break
            if time_a <= time_b:
                level_a ^= 1
                cause = whole(a.causes[i])
                truth = truth_of(transitions, lo, cause)
                state = counter_edge(spec, state, limit, A, level_a, cause, truth, coin)
                i += 1
            else:
                level_b ^= 1
                cause = whole(b.causes[j])
                truth = truth_of(transitions, lo, cause)
                state = counter_edge(spec, state, limit, B, level_b, cause, truth, coin)
                j += 1
            if state.emit:
                position = put_pulse(pulses, n, state, place, position)
                n += 1
        pulses.offsets[r + 1] = n
    return a.first.size


@rule
def note_clean(clean: BounceFreeCounts, step: int, row: int, pulse: int) -> None:
    """Add one bounce-free pulse to its step and to its transition (``row``)."""
    clean.counts[row] += pulse
    clean.net[step] += pulse
    clean.moves[step] += 1
    clean.low[step] = min(clean.low[step], clean.net[step])
    clean.high[step] = max(clean.high[step], clean.net[step])


@kernel
def read_clean(
    ideal: Any, flips: tuple[int, int], transitions: Transitions, steps: Steps, clean: BounceFreeCounts
) -> None:
    """Count the bounce-free transitions themselves, per step.

    ``flips`` holds 1 for a line that is high with its contact open.
    """
    coin = Coin(0, 0)
    for r in range(transitions.first.size):
        lo, hi = transitions.offsets[r], transitions.offsets[r + 1]
        base = steps.offsets[r]
        fill(clean.net, base, steps.offsets[r + 1], 0)
        fill(clean.moves, base, steps.offsets[r + 1], 0)
        fill(clean.low, base, steps.offsets[r + 1], 0)
        fill(clean.high, base, steps.offsets[r + 1], 0)
        fill(clean.counts, lo, hi, 0)
        closed = whole(transitions.first[r])
        state = counter_start(ideal, (closed & 1) ^ flips[0], (closed >> 1) ^ flips[1])
        for i in range(lo, hi + 1):
            limit = transitions.times[i] if i < hi else NEVER
            wake = counter_wake(ideal, state, limit)
            while wake < limit:
                state = counter_expire(ideal, state, wake, coin)
                if state.emit and state.pulse != 0:
                    at = lo + cause_transition(state.pulse_cause)
                    note_clean(clean, base + transitions.steps[at], at, state.pulse)
                wake = counter_wake(ideal, state, limit)
            if i == hi:
                break
            line = whole(transitions.channels[i])
            level = whole(transitions.closed[i]) ^ (flips[1] if line else flips[0])
            truth = whole(transitions.directions[i])
            state = counter_edge(ideal, state, limit, line, level, pack_cause(i - lo, 0), truth, coin)
            if state.emit and state.pulse != 0:
                at = lo + cause_transition(state.pulse_cause)
                note_clean(clean, base + transitions.steps[at], at, state.pulse)
