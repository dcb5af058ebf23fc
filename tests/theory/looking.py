"""Plain copies of what a block went through, run by run, for tests to reason about."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from simcore.base.records import Edges, cause_transition
from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.engines.blocks import BlockDetail
from simcore.networks.analogue import Pole
from simcore.stages.base import stage_build


@dataclass(frozen=True)
class Change:
    """One level change: tick, level after it, and the transition it came from (-1: none)."""

    time: int
    level: int
    transition: int


@dataclass(frozen=True)
class Move:
    """One transition of the truth: tick, line, 1 for closing, step, direction."""

    time: int
    line: int
    closed: int
    step: int
    direction: int


@dataclass(frozen=True)
class Burst:
    """What the contact made of a transition: its changes, and the tick at which its line moves
    again (None: never).
    """

    move: Move
    changes: tuple[Change, ...]
    following: int | None

    @property
    def end(self) -> int:
        """Tick of the last change."""
        return self.changes[-1].time

    def time_in(self, level: int) -> int:
        """Ticks spent in ``level`` between the first change and the last."""
        pairs = itertools.pairwise(self.changes)
        return sum(after.time - before.time for before, after in pairs if before.level == level)

    @property
    def rest(self) -> int | None:
        """Ticks of quiet from the last change until the line moves again."""
        return None if self.following is None else self.following - self.end


@dataclass(frozen=True)
class Run:
    """One run: ``contact`` and ``seen`` hold line A's and line B's changes at the contact and as the
    counter gets them; ``nets`` and ``verdicts`` go by step, ``counts`` by transition.
    """

    moves: tuple[Move, ...]
    contact: tuple[tuple[Change, ...], tuple[Change, ...]]
    seen: tuple[tuple[Change, ...], tuple[Change, ...]]
    directions: tuple[int, ...]
    nets: tuple[int, ...]
    counts: tuple[int, ...]
    verdicts: tuple[int, ...]
    causes: tuple[int, ...]

    def bursts(self, line: int) -> list[Burst]:
        """The bursts of one line."""
        rows = [i for i, move in enumerate(self.moves) if move.line == line]
        found = []
        for place, row in enumerate(rows):
            changes = tuple(c for c in self.contact[line] if c.transition == row)
            after = self.moves[rows[place + 1]].time if place + 1 < len(rows) else None
            found.append(Burst(self.moves[row], changes, after))
        return found


def changes_of(edges: Edges, r: int) -> tuple[Change, ...]:
    """The changes of run ``r``."""
    level = int(edges.first[r])
    found = []
    for i in range(int(edges.offsets[r]), int(edges.offsets[r + 1])):
        level ^= 1
        found.append(Change(int(edges.times[i]), level, cause_transition(int(edges.causes[i]))))
    return tuple(found)


def moves_of(detail: BlockDetail, r: int) -> tuple[Move, ...]:
    """The transitions of run ``r``."""
    rows = detail.truth.transitions
    return tuple(
        Move(
            int(rows.times[i]), int(rows.channels[i]), int(rows.closed[i]),
            int(rows.steps[i]), int(rows.directions[i]),
        )
        for i in range(int(rows.offsets[r]), int(rows.offsets[r + 1]))
    )  # fmt: skip


def counts_of(detail: BlockDetail, r: int, moves: int) -> list[int]:
    """Counts by the transition that caused them."""
    pulses = detail.pulses
    counts = [0] * moves
    for p in range(int(pulses.offsets[r]), int(pulses.offsets[r + 1])):
        counts[cause_transition(int(pulses.causes[p]))] += int(pulses.asked[p])
    return counts


def run_of(detail: BlockDetail, r: int) -> Run:
    """A copy of run ``r`` of a block."""
    moves = moves_of(detail, r)
    counts = counts_of(detail, r, len(moves))
    lo, hi = (int(offset) for offset in detail.truth.steps.offsets[r : r + 2])
    nets = [0] * (hi - lo)
    for move, count in zip(moves, counts, strict=True):
        nets[move.step] += count
    a, b = detail.lines
    return Run(
        moves,
        (changes_of(a[0], r), changes_of(b[0], r)),
        (changes_of(a[-1], r), changes_of(b[-1], r)),
        tuple(int(d) for d in detail.truth.steps.directions[lo:hi]),
        tuple(nets),
        tuple(counts),
        tuple(int(v) for v in detail.verdicts[lo:hi]),
        tuple(int(c) for c in detail.causes[lo:hi]),
    )


def look(design: Design, seed: int, runs: int, first_run: int = 0) -> list[Run]:
    """Simulate and copy ``runs`` runs."""
    detail = BatchEngine(design, runs).detail(seed, first_run, runs)
    return [run_of(detail, r) for r in range(runs)]


def poles(design: Design, seed: int, runs: int) -> list[tuple[Pole, Pole]]:
    """The built sections of both lines of each run, of a design with one input to a line."""
    engine = BatchEngine(design, 1)
    layer = engine.chain.layers[0]
    a, b = layer.line
    return [
        (stage_build(a, seed, r, layer.address), stage_build(b, seed, r, layer.address + 1))
        for r in range(runs)
    ]
