"""Expected against received: a verdict for every step and a root cause for every wrong one.

A count belongs to the step whose transition caused it, however late it comes.
"""

from __future__ import annotations

from typing import NamedTuple

from simcore.base.compiling import kernel, rule
from simcore.base.records import (
    NOTHING_MEANT,
    A,
    B,
    Edges,
    Ints,
    Pulses,
    Steps,
    Transitions,
    cause_origin,
    cause_transition,
    fill,
    whole,
)
from simcore.counters.base import BounceFreeCounts, Range, moved_by
from simcore.judging.causes import Rules, note_edges, root_cause
from simcore.judging.sums import (
    DOUBLED,
    EXCURSIONS,
    FLICKERED,
    MISFIT,
    MISSED,
    NO_CAUSE,
    REVERSED,
    RIGHT,
    Scratch,
    Sums,
    close_run,
    count_step,
    spacing_class,
)


@rule
def held(place: Range, position: int, net: int, low: int, high: int) -> int:
    """How far a walk of ``net`` counts that strays to ``low`` and ``high`` really gets between
    end stops, if it meets one of them at most (reflection at a barrier).
    """
    if place.positions == 0 or place.wrap:
        return net
    under = max(0, -(position + low))
    over = max(0, position + high - (place.positions - 1))
    return net + under - over


@rule
def may_meet_both(place: Range, low: int, high: int) -> bool:
    """Whether a walk from ``low`` to ``high`` is wider than the range between the end stops, so
    that it may be held at one of them and then at the other.
    """
    return place.positions > 0 and not place.wrap and high - low >= place.positions


@rule
def verdict_of(expected: int, received: int, moves: int, clean_moves: int) -> int:
    if received == expected:
        return FLICKERED if moves > clean_moves else RIGHT
    if expected == 0:
        return DOUBLED
    if received * expected < 0:
        return REVERSED
    return DOUBLED if abs(received) > abs(expected) else MISSED


@rule
def gather(
    pulses: Pulses,
    lo: int,
    hi: int,
    transitions: Transitions,
    t0: int,
    rules: Rules,
    scratch: Scratch,
    strays: Ints,
) -> tuple[int, int]:
    """Sort one run's pulses to their steps; returns the final position and the spurious pulses."""
    position = rules.place.start
    spurious = 0
    for p in range(lo, hi):
        index = cause_transition(pulses.causes[p])
        moved = int(pulses.moved[p])
        if index < 0:
            stray = 1 if pulses.asked[p] != 0 else 0
            spurious += stray
            strays[cause_origin(pulses.causes[p])] += stray
        else:
            s = transitions.steps[t0 + index]
            if scratch.start[s] < 0:
                scratch.start[s] = position
            scratch.net[s] += moved
            scratch.asked[s] += pulses.asked[p]
            scratch.moves[s] += 1 if pulses.asked[p] != 0 else 0
            scratch.flags[s] |= pulses.flags[p]
            scratch.low[s] = min(scratch.low[s], scratch.net[s])
            scratch.high[s] = max(scratch.high[s], scratch.net[s])
        position += moved
    return position, spurious


@rule
def end_of_step(transitions: Transitions, t: int, end: int, s: int) -> int:
    """The first row from ``t`` on, before ``end``, that belongs to a step after ``s``."""
    while t < end and transitions.steps[t] <= s:
        t += 1
    return t


class ExpectedStep(NamedTuple):
    """The expected counts of a step: ``net``, the ``low``est and ``high``est on the way, pulses."""

    net: int
    low: int
    high: int
    moves: int


@rule
def expected_step(rules: Rules, steps: Steps, clean: BounceFreeCounts, m: int) -> ExpectedStep:
    """The bounce-free count where the decoder fits; else what the user wants of a whole step.  Of a
    rest, nothing, even where a shaft that shakes on a boundary gives bounce-free counts.
    """
    if steps.whole[m] == NOTHING_MEANT:
        return ExpectedStep(0, 0, 0, 0)
    if rules.fit:
        return ExpectedStep(
            whole(clean.net[m]), whole(clean.low[m]), whole(clean.high[m]), whole(clean.moves[m])
        )
    net = rules.wanted * whole(steps.directions[m]) * whole(steps.whole[m])
    return ExpectedStep(net, min(net, 0), max(net, 0), abs(net))


@rule
def expected_of(
    rules: Rules, transitions: Transitions, clean: BounceFreeCounts, wanted: ExpectedStep,
    position: int, r: int, s: int,
) -> int:  # fmt: skip
    """How far step ``s`` of run ``r`` should move a counter that stands at ``position``.

    Only a walk that may meet both end stops is gone through count by count.  What the user wants
    where the decoder does not fit goes one way, and so meets one at most.
    """
    if not (rules.fit and may_meet_both(rules.place, wanted.low, wanted.high)):
        return held(rules.place, position, wanted.net, wanted.low, wanted.high)
    lo, hi = transitions.offsets[r], transitions.offsets[r + 1]
    now = position
    for t in range(end_of_step(transitions, lo, hi, s - 1), end_of_step(transitions, lo, hi, s)):
        now += moved_by(rules.place, now, whole(clean.counts[t]))
    return now - position


@rule
def clear(scratch: Scratch, steps: int, transitions: int) -> None:
    """Make room for the next run."""
    fill(scratch.net, 0, steps, 0)
    fill(scratch.asked, 0, steps, 0)
    fill(scratch.moves, 0, steps, 0)
    fill(scratch.flags, 0, steps, 0)
    fill(scratch.low, 0, steps, 0)
    fill(scratch.high, 0, steps, 0)
    fill(scratch.start, 0, steps, -1)
    fill(scratch.outs, 0, transitions, 0)
    fill(scratch.origins, 0, transitions, 0)
    fill(scratch.strays, 0, transitions, 0)


@rule
def give_verdicts(
    rules: Rules, transitions: Transitions, steps: Steps, clean: BounceFreeCounts, scratch: Scratch,
    excursions: Ints, r: int, count: int,
) -> tuple[int, int]:  # fmt: skip
    """Judge the steps of run ``r``; returns its expected final position and whether any is wrong."""
    here, ideal, wrong = rules.place.start, rules.place.start, 0
    base = steps.offsets[r]
    for s in range(count):
        wanted = expected_step(rules, steps, clean, base + s)
        if scratch.start[s] >= 0:
            here = scratch.start[s]
        expected = expected_of(rules, transitions, clean, wanted, here, r, s)
        ideal += expected_of(rules, transitions, clean, wanted, ideal, r, s)
        verdict = verdict_of(expected, scratch.net[s], scratch.moves[s], wanted.moves)
        astray = max(scratch.high[s] - max(expected, 0), min(expected, 0) - scratch.low[s])
        excursions[min(max(astray, 0), EXCURSIONS - 1)] += 1
        scratch.verdict[s] = verdict
        scratch.cause[s] = NO_CAUSE
        here += scratch.net[s]
        wrong |= 1 if verdict >= MISSED else 0
    return ideal, wrong


@rule
def give_causes(
    rules: Rules, transitions: Transitions, steps: Steps, clean: BounceFreeCounts, scratch: Scratch,
    r: int, count: int,
) -> None:  # fmt: skip
    """Find the root cause of each wrong step of run ``r``, whose edges have been noted."""
    t0, t1 = transitions.offsets[r], transitions.offsets[r + 1]
    base = steps.offsets[r]
    before, row = t0, t0
    for s in range(count):
        end = end_of_step(transitions, row, t1, s)
        if scratch.verdict[s] >= MISSED:
            wanted = expected_step(rules, steps, clean, base + s)
            after = end_of_step(transitions, end, t1, s + 1)
            around = (before - t0, row - t0, end - t0, after - t0)
            clean_net = whole(clean.net[base + s])
            if steps.whole[base + s] == NOTHING_MEANT and scratch.asked[s] == clean_net:
                scratch.cause[s] = MISFIT
            else:
                scratch.cause[s] = root_cause(rules, scratch, s, wanted.net, clean_net, wanted.moves, around)
        before, row = row, end


@rule
def enter_steps(steps: Steps, scratch: Scratch, sums: Sums, gestures: int, base: int, count: int) -> None:
    """Count the judged steps of one run."""
    for s in range(count):
        gesture, direction = whole(steps.gestures[base + s]), whole(steps.directions[base + s])
        spacing = spacing_class(steps.spacings[base + s])
        count_step(sums, scratch, gestures, gesture, direction, spacing, s)
    close_run(sums, scratch)


@kernel
def judge(
    rules: Rules, gestures: int, transitions: Transitions, steps: Steps, clean: BounceFreeCounts,
    a: Edges, b: Edges, pulses: Pulses, scratch: Scratch, sums: Sums, errors: Ints,
    verdicts: Ints, causes: Ints,
) -> None:  # fmt: skip
    """Judge every step of every run and add to ``sums``.

    ``errors`` (runs,) receives final position minus expected position; ``verdicts`` and
    ``causes`` (steps of the block, or empty) receive each step's verdict and cause.
    """
    for r in range(transitions.first.size):
        t0, t1 = transitions.offsets[r], transitions.offsets[r + 1]
        base = steps.offsets[r]
        count = steps.offsets[r + 1] - base
        clear(scratch, count, t1 - t0)
        position, spurious = gather(
            pulses, pulses.offsets[r], pulses.offsets[r + 1], transitions, t0, rules, scratch, sums.strays
        )
        sums.spurious[0] += spurious
        sums.spurious[1] += spurious * spurious
        ideal, wrong = give_verdicts(rules, transitions, steps, clean, scratch, sums.excursions, r, count)
        errors[r] = position - ideal
        if wrong:
            note_edges(a, A, r, transitions, scratch)
            note_edges(b, B, r, transitions, scratch)
            give_causes(rules, transitions, steps, clean, scratch, r, count)
        enter_steps(steps, scratch, sums, gestures, base, count)
        if verdicts.size:
            for s in range(count):
                verdicts[base + s] = scratch.verdict[s]
                causes[base + s] = scratch.cause[s]
