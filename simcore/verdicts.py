"""Expected against received: a verdict for every step and a root cause for every wrong one.

A count belongs to the step whose transition caused it, however late it comes.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from simcore.compiling import kernel, rule
from simcore.counters.base import AT_STOP, HOLD, ILLEGAL, SETUP, SHORT, Clean, Range
from simcore.edges import (
    SLIDING,
    Edges,
    Ints,
    Pulses,
    Steps,
    Transitions,
    cause_origin,
    cause_transition,
    fill,
)

RIGHT, FLICKERED, MISSED, DOUBLED, REVERSED = range(5)
VERDICTS = ("right", "flickered", "missed", "doubled", "reversed")
WRONG = 5
"""Column of the sum of missed, doubled and reversed in the sums over runs."""
QUANTITIES = (*VERDICTS, "wrong")

(
    NO_CAUSE,
    CHATTER,
    SWALLOWED,
    LATE_DIRECTION,
    EARLY_DIRECTION,
    ORDER,
    MISFIT,
    SHORT_PULSE,
    SLIDING_NOISE,
    END_STOP,
    SKIPPED,
    UNEXPLAINED,
) = range(12)
CAUSES = (
    "none",
    "chatter",
    "swallowed",
    "late direction",
    "early direction",
    "swapped order",
    "misfit",
    "short pulse",
    "sliding",
    "end stop",
    "skipped state",
    "unexplained",
)

MILLISECOND = 1_000_000_000
SPACING_MS = (0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
"""Borders (ms) between the classes of edge spacing; the last class has no upper border."""
SPACING_TICKS = tuple(int(border * MILLISECOND) for border in SPACING_MS)
SPACINGS = len(SPACING_MS) + 1
EXCURSIONS = 9
"""Classes of excursion: 0 to 7 counts astray, and 8 or more."""


class Sums(NamedTuple):
    """Tallies of whole numbers.  Shapes, with G gestures, S spacings, Q quantities:

    ``steps`` (G, 2 directions, S, 5 verdicts, causes); over runs and groups (all, each
    gesture, each spacing): ``size`` and ``size_squared`` (groups,) of steps per run, ``total``,
    ``squared``, ``product`` (groups, Q) of y, y^2, x y per run, ``runs_with`` (groups, Q);
    ``excursions`` (EXCURSIONS,); ``spurious`` (2,) sum and sum of squares per run.
    """

    steps: Ints
    size: Ints
    size_squared: Ints
    present: Ints
    total: Ints
    squared: Ints
    product: Ints
    runs_with: Ints
    excursions: Ints
    spurious: Ints


class Scratch(NamedTuple):
    """Room for one run: per step and per transition."""

    net: Ints
    asked: Ints
    moves: Ints
    flags: Ints
    low: Ints
    high: Ints
    start: Ints
    outs: Ints
    firsts: Ints
    origins: Ints
    here: Ints


class Rules(NamedTuple):
    """``place`` the counter's range; ``wanted`` counts per step; ``fit`` 1 when the decoder
    gives just that.
    """

    place: Range
    wanted: int
    fit: int


def empty_sums(gestures: int) -> Sums:
    """Tallies of nothing."""
    groups, width = 1 + gestures + SPACINGS, len(QUANTITIES)

    def zeros(*shape: int) -> npt.NDArray[np.int64]:
        return np.zeros(shape, np.int64)

    return Sums(
        zeros(gestures, 2, SPACINGS, len(VERDICTS), len(CAUSES)),
        zeros(groups),
        zeros(groups),
        zeros(groups),
        zeros(groups, width),
        zeros(groups, width),
        zeros(groups, width),
        zeros(groups, width),
        zeros(EXCURSIONS),
        zeros(2),
    )


def empty_scratch(steps: int, transitions: int, gestures: int) -> Scratch:
    """Room for a run of at most so many steps and transitions."""
    per_step = [np.zeros(steps, np.int64) for _ in range(7)]
    per_transition = [np.zeros(transitions, np.int64) for _ in range(3)]
    here = np.zeros((1 + gestures + SPACINGS) * (len(QUANTITIES) + 1), np.int64)
    net, asked, moves, flags, low, high, start = per_step
    outs, firsts, origins = per_transition
    return Scratch(net, asked, moves, flags, low, high, start, outs, firsts, origins, here)


@rule
def spacing_class(spacing: int) -> int:
    """Class of an edge spacing in ticks."""
    found = 0
    for border in SPACING_TICKS:
        if spacing >= border:
            found += 1
    return found


@rule
def held(place: Range, position: int, net: int, low: int, high: int) -> int:
    """How far a walk of ``net`` counts that strays to ``low`` and ``high`` really gets between
    end stops.  Exact as long as it meets one of the two stops only (reflection at a barrier).
    """
    if place.positions == 0 or place.wrap:
        return net
    under = max(0, -(position + low))
    over = max(0, position + high - (place.positions - 1))
    return net + under - over


@rule
def verdict_of(expected: int, received: int, moves: int, clean_moves: int) -> int:
    """The verdict on one step."""
    if received == expected:
        return FLICKERED if moves > clean_moves else RIGHT
    if expected == 0:
        return DOUBLED
    if received * expected < 0:
        return REVERSED
    return DOUBLED if abs(received) > abs(expected) else MISSED


@rule
def gather(
    pulses: Pulses, lo: int, hi: int, transitions: Transitions, t0: int, rules: Rules, scratch: Scratch
) -> tuple[int, int]:
    """Sort one run's pulses to their steps; returns the final position and the spurious pulses."""
    position = rules.place.start
    spurious = 0
    for p in range(lo, hi):
        index = cause_transition(pulses.causes[p])
        moved = int(pulses.moved[p])
        if index < 0:
            spurious += 1 if pulses.asked[p] != 0 else 0
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
def note_edges(line: Edges, r: int, scratch: Scratch) -> None:
    """Note, for each transition, the edges it sent to the counter on its line."""
    for e in range(line.offsets[r], line.offsets[r + 1]):
        index = cause_transition(line.causes[e])
        if index < 0:
            continue
        if scratch.outs[index] == 0:
            scratch.firsts[index] = line.times[e]
        scratch.outs[index] += 1
        scratch.origins[index] |= 1 << cause_origin(line.causes[e])


class Evidence(NamedTuple):
    """What the edges of some transitions show: some sent none, some too many, some of those
    while sliding, some came in another order than the contacts moved.
    """

    swallowed: int
    extra: int
    sliding: int
    swapped: int


@rule
def evidence(scratch: Scratch, lo: int, hi: int) -> Evidence:
    """Look at the edges that transitions ``lo`` to ``hi`` (of one run) sent to the counter."""
    swallowed, extra, sliding, swapped = 0, 0, 0, 0
    latest = -1
    for t in range(lo, hi):
        if scratch.outs[t] == 0:
            swallowed = 1
            continue
        if scratch.outs[t] > 1:
            extra = 1
            sliding |= (scratch.origins[t] >> SLIDING) & 1
        if scratch.firsts[t] < latest:
            swapped = 1
        latest = max(latest, scratch.firsts[t])
    return Evidence(swallowed, extra, sliding, swapped)


@rule
def from_edges(seen: Evidence, too_many: bool, flags: int) -> int:
    """The cause that the edges themselves show, or NO_CAUSE."""
    if too_many and seen.extra:
        return SLIDING_NOISE if seen.sliding else CHATTER
    if flags & SHORT:
        return SHORT_PULSE
    if seen.swallowed:
        return SWALLOWED
    if flags & SETUP:
        return LATE_DIRECTION
    if flags & HOLD:
        return EARLY_DIRECTION
    if seen.swapped:
        return ORDER
    if seen.extra:
        return SLIDING_NOISE if seen.sliding else CHATTER
    return NO_CAUSE


@rule
def root_cause(
    rules: Rules, scratch: Scratch, s: int, wanted: int, clean_net: int, clean_moves: int,
    around: tuple[int, int, int, int],
) -> int:  # fmt: skip
    """Why a step went wrong.  ``around`` are rows of transitions: from the step before, the
    step's own first and end, and the end of the step after.
    """
    if not rules.fit and scratch.asked[s] == clean_net:
        return MISFIT
    if scratch.flags[s] & AT_STOP and scratch.asked[s] == wanted:
        return END_STOP
    if scratch.flags[s] & ILLEGAL:
        return SKIPPED
    before, lo, hi, after = around
    too_many = scratch.moves[s] > clean_moves
    found = from_edges(evidence(scratch, lo, hi), too_many, scratch.flags[s])
    if found == NO_CAUSE:
        found = from_edges(evidence(scratch, before, after), too_many, 0)
    if found == NO_CAUSE:
        found = UNEXPLAINED if rules.fit else MISFIT
    return found


@rule
def end_of_step(transitions: Transitions, t: int, end: int, s: int) -> int:
    """The first row from ``t`` on, before ``end``, that belongs to a step after ``s``."""
    while t < end and transitions.steps[t] <= s:
        t += 1
    return t


@rule
def count_step(
    sums: Sums,
    scratch: Scratch,
    gestures: int,
    gesture: int,
    direction: int,
    spacing: int,
    verdict: int,
    cause: int,
) -> None:
    """Enter one step in the tally and in the run's own counts."""
    sums.steps[gesture, 0 if direction > 0 else 1, spacing, verdict, cause] += 1
    width = WRONG + 2
    for group in (0, 1 + gesture, 1 + gestures + spacing):
        scratch.here[group * width + verdict] += 1
        if verdict >= MISSED:
            scratch.here[group * width + WRONG] += 1
        scratch.here[group * width + WRONG + 1] += 1


@rule
def close_run(sums: Sums, scratch: Scratch) -> None:
    """Add the run's own counts to the sums over runs, and clear them."""
    width = WRONG + 2
    for group in range(sums.size.size):
        x = scratch.here[group * width + WRONG + 1]
        if x == 0:
            continue
        sums.size[group] += x
        sums.size_squared[group] += x * x
        sums.present[group] += 1
        for q in range(WRONG + 1):
            y = scratch.here[group * width + q]
            if y:
                sums.total[group, q] += y
                sums.squared[group, q] += y * y
                sums.product[group, q] += x * y
                sums.runs_with[group, q] += 1
        fill(scratch.here, group * width, (group + 1) * width, 0)


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


@kernel
def judge(
    rules: Rules, gestures: int, transitions: Transitions, steps: Steps, clean: Clean,
    a: Edges, b: Edges, pulses: Pulses, scratch: Scratch, sums: Sums, errors: Ints,
    verdicts: Ints, causes: Ints,
) -> None:  # fmt: skip
    """Judge every step of every run and add to ``sums``.

    ``errors`` (runs,) receives final position minus expected position; ``verdicts`` and
    ``causes`` (steps of the block, or empty) receive each step's verdict and cause.
    """
    for r in range(transitions.first.size):
        t0, t1 = transitions.offsets[r], transitions.offsets[r + 1]
        m0, m1 = steps.offsets[r], steps.offsets[r + 1]
        clear(scratch, m1 - m0, t1 - t0)
        position, spurious = gather(
            pulses, pulses.offsets[r], pulses.offsets[r + 1], transitions, t0, rules, scratch
        )
        sums.spurious[0] += spurious
        sums.spurious[1] += spurious * spurious
        noted = False
        ideal = rules.place.start
        here = rules.place.start
        before, t = t0, t0
        for s in range(m1 - m0):
            m = m0 + s
            wanted, low, high, moves = clean.net[m], clean.low[m], clean.high[m], clean.moves[m]
            if not rules.fit:
                wanted = rules.wanted * steps.directions[m] * steps.whole[m]
                low, high, moves = min(wanted, 0), max(wanted, 0), abs(wanted)
            if scratch.start[s] >= 0:
                here = scratch.start[s]
            expected = held(rules.place, here, wanted, low, high)
            ideal += held(rules.place, ideal, wanted, low, high)
            verdict = verdict_of(expected, scratch.net[s], scratch.moves[s], moves)
            astray = max(scratch.high[s] - max(expected, 0), min(expected, 0) - scratch.low[s])
            sums.excursions[min(max(astray, 0), EXCURSIONS - 1)] += 1
            end = end_of_step(transitions, t, t1, s)
            cause = NO_CAUSE
            if verdict >= MISSED:
                if not noted:
                    note_edges(a, r, scratch)
                    note_edges(b, r, scratch)
                    noted = True
                after = end_of_step(transitions, end, t1, s + 1)
                around = (before - t0, t - t0, end - t0, after - t0)
                cause = root_cause(rules, scratch, s, wanted, clean.net[m], moves, around)
            count_step(
                sums, scratch, gestures, steps.gestures[m], steps.directions[m],
                spacing_class(steps.spacings[m]), verdict, cause,
            )  # fmt: skip
            if verdicts.size:
                verdicts[m] = verdict
                causes[m] = cause
            here += scratch.net[s]
            before, t = t, end
        errors[r] = position - ideal
        close_run(sums, scratch)
