"""A recorded trace through a design's stages and counter, beside its bounce-free reading.

The trace takes the place of hand, shaft and contacts; what follows the contacts is the
same as in any run.

In the reading a line counts as settled once it has stood still for a given time.  Changes that follow each
other faster are one burst.  A burst that leaves the line in another state than before is
one transition, at the burst's first change; a burst that comes back is a glitch.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from simcore.base.records import (
    LINE_NAMES,
    MAIN,
    TELEGRAPH,
    Edges,
    Ints,
    Pulses,
    Transitions,
    empty_pulses,
    empty_transitions,
    pack_cause,
    trimmed,
)
from simcore.base.ticks import NEVER
from simcore.counters.base import AT_STOP, ILLEGAL, Range, counter_clocked, counter_ideal, drive_counter
from simcore.design import Chain, Design, without_tolerances
from simcore.engines.batch import ChainRunner
from simcore.engines.blocks import seen_by_counter
from simcore.judging.causes import CauseEvidence, from_edges, or_skipped
from simcore.judging.sums import CAUSES, FLICKERED, NO_CAUSE, RIGHT, SKIPPED, UNEXPLAINED, VERDICTS
from simcore.judging.verdicts import verdict_of
from simcore.networks.inputs import at_midpoint


class Burst(NamedTuple):
    """Changes of one ``line`` (0 A, 1 B) that belong together.

    ``first`` is the line's number of the first one and ``changes`` how many there are;
    ``start`` and ``end`` are the ticks of the first and the last; ``closed`` is the contact's
    state afterwards, ``moved`` 1 when that differs from before (a transition) and 0 for a glitch;
    ``settled`` is 0 when the trace ends before the line has stood still long enough.
    """

    line: int
    first: int
    changes: int
    start: int
    end: int
    closed: int
    moved: int
    settled: int

    @property
    def length(self) -> int:
        return self.end - self.start

    @property
    def words(self) -> str:
        """What the contact did, such as "A closes"."""
        action = ("opens", "closes")[self.closed] if self.moved else "glitches"
        return f"{LINE_NAMES[self.line]} {action}"


@dataclass(frozen=True)
class Reading:
    """A trace with its bursts.

    ``bursts`` in order of their start, A before B at the same tick; ``lines`` the recorded
    edges (level 1: closed), each with the number of its burst as cause; ``clean`` the same
    two lines with one edge per transition; ``movements`` one row per burst, glitches
    included with direction 0, so that causes point at rows.  ``longest_gap`` is the longest
    stillness (ticks) inside any burst and ``shortest_pause`` the shortest between two bursts
    of one line (NEVER without two): the range of settling times that give the same bursts.
    """

    bursts: tuple[Burst, ...]
    lines: tuple[Edges, Edges]
    clean: tuple[Edges, Edges]
    movements: Transitions
    longest_gap: int
    shortest_pause: int


def read_bursts(a: Edges, b: Edges, settle: int, end: int) -> Reading:
    """The bounce-free reading of one run of two lines (level 1: contact closed).

    ``settle`` is in ticks, at least 1; ``end`` is the tick at which the recording ends.
    Raises ValueError for other than one run or a settling time below 1.
    """
    if a.first.size != 1 or b.first.size != 1:
        raise ValueError(f"one run is read at a time; got {a.first.size} of A and {b.first.size} of B")
    if settle < 1:
        raise ValueError(f"the settling time is {settle} ticks; it must be 1 or more")
    found = sorted(
        [*_line_bursts(a, 0, settle, end), *_line_bursts(b, 1, settle, end)],
        key=lambda burst: (burst.start, burst.line),
    )
    lines = (_with_causes(a, 0, found), _with_causes(b, 1, found))
    clean = (_clean_line(a, 0, found), _clean_line(b, 1, found))
    start = int(a.first[0]) | int(b.first[0]) << 1
    gaps = np.concatenate((np.diff(_times(a)), np.diff(_times(b))))
    return Reading(
        tuple(found),
        lines,
        clean,
        _movements(found, start, end),
        int(gaps[gaps < settle].max(initial=0)),
        int(gaps[gaps >= settle].min(initial=NEVER)),
    )


def _times(line: Edges) -> Ints:
    return line.times[: int(line.offsets[-1])]


def _line_bursts(line: Edges, number: int, settle: int, end: int) -> list[Burst]:
    times = _times(line)
    if times.size == 0:
        return []
    starts = np.concatenate(([0], np.flatnonzero(np.diff(times) >= settle) + 1))
    stops = np.append(starts[1:], times.size)
    level = int(line.first[0])
    bursts = []
    for lo, hi in zip(starts.tolist(), stops.tolist(), strict=True):
        moved = (hi - lo) & 1
        level ^= moved
        last = int(times[hi - 1])
        settled = 1 if hi < times.size or end - last >= settle else 0
        bursts.append(Burst(number, lo, hi - lo, int(times[lo]), last, level, moved, settled))
    return bursts


def _with_causes(line: Edges, number: int, bursts: list[Burst]) -> Edges:
    """The line with each change pointing at its burst; later changes bear another origin."""
    causes = np.zeros(_times(line).size, np.int32)
    for index, burst in enumerate(bursts):
        if burst.line == number:
            causes[burst.first : burst.first + burst.changes] = pack_cause(index, TELEGRAPH)
            causes[burst.first] = pack_cause(index, MAIN)
    return line._replace(times=_times(line), causes=causes)


def _clean_line(line: Edges, number: int, bursts: list[Burst]) -> Edges:
    chosen = [(i, burst) for i, burst in enumerate(bursts) if burst.line == number and burst.moved]
    return Edges(
        np.array([burst.start for _, burst in chosen], np.int64),
        np.array([pack_cause(i, MAIN) for i, _ in chosen], np.int32),
        np.array([0, len(chosen)], np.int64),
        line.first,
    )


def _movements(bursts: list[Burst], start: int, end: int) -> Transitions:
    """One row per burst; a movement is upward when A leads B."""
    rows = empty_transitions(len(bursts), 1)
    rows.offsets[1] = len(bursts)
    rows.first[0] = start
    rows.ends[0] = end
    rows.speeds[:] = 0.0
    rows.travel[:] = 0.0
    rows.steps[:] = 0
    closed = [start & 1, start >> 1]
    for i, burst in enumerate(bursts):
        direction = 0
        if burst.moved:
            leads = burst.closed != closed[1] if burst.line == 0 else burst.closed == closed[0]
            direction = 1 if leads else -1
            closed[burst.line] = burst.closed
        rows.times[i] = burst.start
        rows.channels[i] = burst.line
        rows.closed[i] = burst.closed
        rows.directions[i] = direction
        rows.until[i] = burst.end
    return rows


EXTRA = len(VERDICTS)
REPLAY_VERDICTS = (*VERDICTS, "extra")
"""The verdicts on a burst: those on a step, and "extra" where nothing was to be counted."""


class BurstVerdict(NamedTuple):
    """A burst that counted, or should have: its number, the bounce-free count (``expected``),
    the count it gave (``received``), the ``pulses`` it took, its verdict (see REPLAY_VERDICTS)
    and the root cause of a wrong one (see simcore.judging.sums.CAUSES).
    """

    burst: int
    expected: int
    received: int
    pulses: int
    verdict: int
    cause: int

    @property
    def verdict_name(self) -> str:
        return REPLAY_VERDICTS[self.verdict]

    @property
    def cause_name(self) -> str:
        return CAUSES[self.cause]

    @property
    def wrong(self) -> bool:
        """Whether the count went wrong; a flicker did not."""
        return self.verdict not in (RIGHT, FLICKERED)


class Totals(NamedTuple):
    """Sums over pulses: counts ``up`` and ``down``, their sum ``net``, pulses ``ignored`` or
    undecided, pulses with any other flag, counts ``held`` by an end stop, counting pulses that no
    burst caused (``spurious``), and the last position.
    """

    up: int
    down: int
    net: int
    ignored: int
    doubtful: int
    held: int
    spurious: int
    position: int


@dataclass(frozen=True)
class Replay:
    """The result of replaying a trace.

    ``stages[line]`` names the stages and ``edges[line]`` holds the line before the first of
    them (level 1: contact closed) and after each; ``pulses`` are the counter's, ``positions``
    its position after each; ``clean`` and ``clean_positions`` the same of the bounce-free
    reading; ``judged`` the bursts that counted or should have, in order.
    """

    reading: Reading
    stages: tuple[tuple[str, ...], tuple[str, ...]]
    edges: tuple[tuple[Edges, ...], tuple[Edges, ...]]
    pulses: Pulses
    positions: Ints
    totals: Totals
    clean: Pulses
    clean_positions: Ints
    clean_totals: Totals
    judged: tuple[BurstVerdict, ...]


def nominal(design: Design) -> Design:
    """The design with every part at its nominal value; a plain input turns over midway
    between its sure low and its sure high.
    """
    exact = without_tolerances(design)
    volts = exact.supply.nominal
    stages = tuple(replace(entry, item=at_midpoint(entry.item, volts)) for entry in exact.stages)
    return replace(exact, stages=stages)


def replay(design: Design, a: Edges, b: Edges, settle: int, end: int, seed: int = 1, run: int = 0) -> Replay:
    """Send one run of two recorded lines (level 1: contact closed) through ``design``.

    ``settle`` and ``end`` as in simcore.tracing.replay.read_bursts.  The parts are those of the unit
    that ``seed`` and ``run`` draw; hand over ``nominal(design)`` for parts without tolerance.
    Raises WiringError for stages that cannot be joined.
    """
    chain = design.chain
    reading = read_bursts(a, b, settle, end)
    ends = np.array([end], np.int64)
    room = 16 + max(line.times.size for line in reading.lines)
    sent = ChainRunner(chain, room, 1).send(reading.lines, ends, seed, run)
    passed = (tuple(map(trimmed, sent[0])), tuple(map(trimmed, sent[1])))
    seen = seen_by_counter(chain, passed)
    pulses = _counted(design.counter, design.range, seed, run, seen, reading.movements)
    a, b = (
        line._replace(first=line.first ^ np.uint8(flip))
        for line, flip in zip(reading.clean, chain.flips, strict=True)
    )
    clean = _counted(counter_ideal(design.counter), design.range, seed, run, (a, b), reading.movements)
    positions, totals = _sums(pulses, design.range)
    clean_positions, clean_totals = _sums(clean, design.range)
    judged = _judge(reading, seen, pulses, clean, counter_clocked(design.counter))
    return Replay(
        reading, _names(chain), passed, pulses, positions, totals,
        clean, clean_positions, clean_totals, judged,
    )  # fmt: skip


def _names(chain: Chain) -> tuple[tuple[str, ...], tuple[str, ...]]:
    a, b = (tuple(layer.name for layer in chain.layers if layer.serves(line)) for line in (0, 1))
    return a, b


def _counted(
    counter: object, place: Range, seed: int, run: int, lines: tuple[Edges, Edges], movements: Transitions
) -> Pulses:
    room = 2 * (lines[0].times.size + lines[1].times.size) + 16
    out = empty_pulses(room, 1)
    while drive_counter(counter, place, seed, run, *lines, movements, out) < 1:
        room *= 2
        out = empty_pulses(room, 1)
    used = int(out.offsets[1])
    return Pulses(
        out.times[:used], out.asked[:used], out.moved[:used], out.causes[:used], out.flags[:used], out.offsets
    )


def _sums(pulses: Pulses, place: Range) -> tuple[Ints, Totals]:
    """Positions after each pulse, and totals."""
    positions = place.start + np.cumsum(pulses.moved, dtype=np.int64)
    if place.positions > 0:
        positions %= place.positions
    asked = pulses.asked.astype(np.int64)
    up, down = int(np.sum(asked[asked > 0])), -int(np.sum(asked[asked < 0]))
    return positions, Totals(
        up,
        down,
        up - down,
        int(np.sum(pulses.asked == 0)),
        int(np.sum((pulses.flags & ~np.uint8(AT_STOP)) != 0)),
        int(np.sum((pulses.flags & AT_STOP) != 0)),
        int(np.sum((pulses.causes < 0) & (pulses.asked != 0))),
        int(positions[-1]) if positions.size else place.start,
    )


def _judge(
    reading: Reading, seen: tuple[Edges, Edges], pulses: Pulses, clean: Pulses, clocked: int
) -> tuple[BurstVerdict, ...]:
    """A verdict on every burst that gave a pulse or should have; end stops do not matter here."""
    count = len(reading.bursts)
    expected, clean_moves = _per_burst(clean, count)
    received, moves = _per_burst(pulses, count)
    flags = np.zeros(count, np.int64)
    known = pulses.causes >= 0
    np.bitwise_or.at(flags, pulses.causes[known] >> 4, pulses.flags[known].astype(np.int64))
    sent, firsts = _sent(seen, count)
    judged = []
    for i in np.flatnonzero((clean_moves > 0) | (moves > 0) | (flags != 0)).tolist():
        verdict = verdict_of(int(expected[i]), int(received[i]), int(moves[i]), int(clean_moves[i]))
        if clean_moves[i] == 0 and received[i] != 0:
            verdict = EXTRA
        cause = NO_CAUSE
        if verdict not in (RIGHT, FLICKERED):
            too_many = bool(moves[i] > clean_moves[i])
            cause = or_skipped(
                _root_cause(reading, sent, firsts, i, too_many, int(flags[i])), too_many, clocked
            )
            cause = UNEXPLAINED if cause == NO_CAUSE else cause
        judged.append(BurstVerdict(i, int(expected[i]), int(received[i]), int(moves[i]), verdict, cause))
    return tuple(judged)


def _per_burst(pulses: Pulses, count: int) -> tuple[Ints, Ints]:
    """Net count and number of counting pulses of each burst."""
    net, moves = np.zeros(count, np.int64), np.zeros(count, np.int64)
    known = pulses.causes >= 0
    owners, asked = pulses.causes[known] >> 4, pulses.asked[known].astype(np.int64)
    np.add.at(net, owners, asked)
    np.add.at(moves, owners, np.abs(asked))
    return net, moves


def _sent(seen: tuple[Edges, Edges], count: int) -> tuple[Ints, Ints]:
    """How many edges of each burst reached the counter, and twice the tick of the first of them, plus 1
    on line B.
    """
    sent, firsts = np.zeros(count, np.int64), np.zeros(count, np.int64)
    for number, line in enumerate(seen):
        known = line.causes >= 0
        owners = line.causes[known] >> 4
        np.add.at(sent, owners, 1)
        # At the same tick the counter takes line A first.
        firsts[owners[::-1]] = 2 * line.times[known][::-1] + number
    return sent, firsts


def _root_cause(reading: Reading, sent: Ints, firsts: Ints, burst: int, too_many: bool, flags: int) -> int:
    """Why a burst was counted wrongly: from its own edges, else from its neighbours', or NO_CAUSE."""
    if flags & ILLEGAL:
        return SKIPPED
    found = from_edges(_evidence(reading, sent, firsts, [burst]), too_many, flags)
    if found == NO_CAUSE:
        around = [i for i in (burst - 1, burst, burst + 1) if 0 <= i < len(reading.bursts)]
        found = from_edges(_evidence(reading, sent, firsts, around), too_many, 0)
    return found


def _evidence(reading: Reading, sent: Ints, firsts: Ints, bursts: list[int]) -> CauseEvidence:
    """What the edges of some bursts show, as in judging.causes; a glitch is there to be swallowed."""
    swallowed, extra, swapped, latest = 0, 0, 0, -1
    for i in bursts:
        due = reading.bursts[i].moved
        extra |= int(sent[i] > due)
        if sent[i] == 0:
            swallowed |= due
            continue
        swapped |= int(firsts[i] < latest)
        latest = max(latest, int(firsts[i]))
    return CauseEvidence(swallowed, extra, 0, swapped, 0)
