"""A recorded trace through a design's stages and counter, beside its bounce-free reading.

The trace takes the place of hand, shaft and contacts; what follows the contacts is the
same as in any run.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple, TypeVar

import numpy as np

from simcore.blocks import seen_by_counter
from simcore.causes import Evidence, from_edges, or_skipped
from simcore.chain import Chain
from simcore.counters.base import AT_STOP, ILLEGAL, Range, counter_clocked, counter_ideal, drive_counter
from simcore.design import Design, without_tolerances
from simcore.edges import Edges, Ints, Pulses, Transitions, empty_pulses, trimmed
from simcore.passage import Passage
from simcore.readings import Reading, read_bursts
from simcore.stages.inputs import at_midpoint
from simcore.sums import CAUSES, FLICKERED, NO_CAUSE, RIGHT, SKIPPED, UNEXPLAINED, VERDICTS
from simcore.verdicts import verdict_of

Result = TypeVar("Result")

EXTRA = len(VERDICTS)
REPLAY_VERDICTS = (*VERDICTS, "extra")
"""The verdicts on a burst: those on a step, and "extra" where nothing was to be counted."""


class Judged(NamedTuple):
    """A burst that counted, or should have: its number, the bounce-free count (``expected``),
    the count it gave (``received``), the ``pulses`` it took, its verdict (see REPLAY_VERDICTS)
    and the root cause of a wrong one (see simcore.sums.CAUSES).
    """

    burst: int
    expected: int
    received: int
    pulses: int
    verdict: int
    cause: int

    @property
    def verdict_name(self) -> str:
        """The verdict in one word."""
        return REPLAY_VERDICTS[self.verdict]

    @property
    def cause_name(self) -> str:
        """The root cause in words, "none" where nothing went wrong."""
        return CAUSES[self.cause]

    @property
    def wrong(self) -> bool:
        """Whether the count went wrong; a flicker did not."""
        return self.verdict not in (RIGHT, FLICKERED)


class Totals(NamedTuple):
    """Sums over pulses: counts ``up`` and ``down``, their sum ``net``, pulses ``ignored`` or
    undecided, pulses with any doubt, counts ``held`` by an end stop, counting pulses that no
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
    """What became of a trace.

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
    judged: tuple[Judged, ...]


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

    ``settle`` and ``end`` as in simcore.readings.read_bursts.  The parts are those of the unit
    that ``seed`` and ``run`` draw; hand over ``nominal(design)`` for parts without tolerance.
    Raises WiringError for stages that cannot be joined.
    """
    chain = design.chain
    reading = read_bursts(a, b, settle, end)
    ends = np.array([end], np.int64)
    room = 16 + max(line.times.size for line in reading.lines)
    sent = Passage(chain, room, 1).send(reading.lines, ends, seed, run)
    passed = (tuple(map(trimmed, sent[0])), tuple(map(trimmed, sent[1])))
    seen = seen_by_counter(chain, passed)
    pulses = _counted(design.counter, design.range, seed, run, seen, reading.movements)
    ideal = [_flipped(reading.clean[line], chain.flips[line]) for line in (0, 1)]
    clean = _counted(
        counter_ideal(design.counter), design.range, seed, run, (ideal[0], ideal[1]), reading.movements
    )
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


def _flipped(edges: Edges, turn: int) -> Edges:
    """The same line turned over where ``turn`` is 1."""
    return edges._replace(first=edges.first ^ np.uint8(turn))


def _counted(
    counter: object, place: Range, seed: int, run: int, lines: tuple[Edges, Edges], movements: Transitions
) -> Pulses:
    def work(room: int) -> Pulses | None:
        out = empty_pulses(room, 1)
        return out if drive_counter(counter, place, seed, run, *lines, movements, out) == 1 else None

    out = _with_room(2 * (lines[0].times.size + lines[1].times.size) + 16, work)
    used = int(out.offsets[1])
    return Pulses(
        out.times[:used], out.asked[:used], out.moved[:used], out.causes[:used], out.flags[:used], out.offsets
    )


def _with_room(room: int, work: Callable[[int], Result | None]) -> Result:
    """Call ``work`` with more room until it is enough."""
    while (out := work(room)) is None:
        room *= 2
    return out


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
) -> tuple[Judged, ...]:
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
        judged.append(Judged(i, int(expected[i]), int(received[i]), int(moves[i]), verdict, cause))
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


def _evidence(reading: Reading, sent: Ints, firsts: Ints, bursts: list[int]) -> Evidence:
    """What the edges of some bursts show, as in simcore.verdicts; a glitch is there to be swallowed."""
    swallowed, extra, swapped, latest = 0, 0, 0, -1
    for i in bursts:
        due = reading.bursts[i].moved
        extra |= int(sent[i] > due)
        if sent[i] == 0:
            swallowed |= due
            continue
        swapped |= int(firsts[i] < latest)
        latest = max(latest, int(firsts[i]))
    return Evidence(swallowed, extra, 0, swapped, 0)
