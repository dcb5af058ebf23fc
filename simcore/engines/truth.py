"""What happened before any electronics: movements, transitions, steps and their bounce-free counts.

Both engines start from here.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np

from simcore.base.records import Ints, Steps, Transitions, empty_steps, empty_transitions
from simcore.counters.base import BounceFreeCounts, counter_ideal, read_clean
from simcore.design import Chain, Design, HandEntry
from simcore.hand.base import MOVE_COLUMNS, fill_moves
from simcore.hand.shaft import cross


@dataclass(frozen=True)
class Truth:
    """The truth of a block of runs."""

    transitions: Transitions
    steps: Steps
    clean: BounceFreeCounts


def transitions_per_run(design: Design) -> int:
    """About how many transitions one run has; enough room for nearly every design."""
    pitch = design.geometry.cycles_per_step
    extents = [entry.extent for entry in design.hand]
    return int(sum(4 * pitch * extent.travel + 2 * extent.rows for extent in extents)) + 8


def steps_per_run(design: Design) -> int:
    """About how many steps one run has; enough room for nearly every design."""
    return int(sum(entry.extent.steps + 2 * entry.extent.rows for entry in design.hand)) + 1


def columns_of(hand: tuple[HandEntry, ...]) -> list[Ints]:
    """For each entry the places of its rows among the rows of a run: one entry after the other, but
    turn by turn for those that share a mix.
    """
    columns: list[Ints] = []
    first = 0
    for mix, group in itertools.groupby(hand, lambda entry: entry.mix):
        entries = list(group)
        wide = [entry.gesture.rows if mix else entry.moves for entry in entries]
        if not mix:
            for entry in entries:
                columns.append(np.arange(first, first + entry.moves, dtype=np.int64))
                first += entry.moves
            continue
        turns = entries[0].moves // wide[0]
        starts = np.arange(turns, dtype=np.int64)[:, None] * sum(wide)
        for rows in wide:
            columns.append((first + starts + np.arange(rows, dtype=np.int64)).ravel())
            first += rows
        first += (turns - 1) * sum(wide)
    return columns


class TruthMaker:
    """Makes the truth of blocks of up to ``runs`` runs, reusing its arrays from block to block."""

    def __init__(self, design: Design, chain: Chain, runs: int) -> None:
        self.design = design
        self.flips = chain.flips
        self.ideal: Any = counter_ideal(design.counter)
        self.runs = runs
        total = sum(entry.moves for entry in design.hand)
        self.moves = np.zeros((runs, total, MOVE_COLUMNS), np.float64)
        self.columns = columns_of(design.hand)
        self.gestures = np.zeros(total, np.int64)
        for slot, columns in enumerate(self.columns):
            self.gestures[columns] = slot
        self.transitions = empty_transitions(runs * transitions_per_run(design), runs)
        self.steps = empty_steps(runs * steps_per_run(design), runs)
        self._make_clean()

    def _make_clean(self) -> None:
        sizes = [self.steps.gestures.size] * 4 + [self.transitions.times.size]
        self.clean = BounceFreeCounts(*(np.zeros(size, np.int32) for size in sizes))

    def make(self, seed: int, first_run: int, runs: int) -> Truth:
        """The truth of ``runs`` runs from ``first_run`` on; valid until the next call."""
        moves = self.moves[:runs]
        for slot, (entry, columns) in enumerate(zip(self.design.hand, self.columns, strict=True)):
            fill_moves(entry.gesture, slot, columns, seed, first_run, moves)
        while True:
            transitions = _of_runs(self.transitions, runs)
            steps = _of_runs(self.steps, runs)
            done = cross(self.design.geometry, self.gestures, moves, seed, first_run, transitions, steps)
            if done == runs:
                break
            self.transitions = empty_transitions(2 * self.transitions.times.size, self.runs)
            self.steps = empty_steps(2 * self.steps.gestures.size, self.runs)
            self._make_clean()
        read_clean(self.ideal, self.flips, transitions, steps, self.clean)
        return Truth(transitions, steps, self.clean)


def _of_runs(arrays: Any, runs: int) -> Any:
    """The same arrays with the per-run ones shortened to ``runs``."""
    short = {"offsets": arrays.offsets[: runs + 1]}
    for name in ("first", "ends"):
        if name in arrays._fields:
            short[name] = getattr(arrays, name)[:runs]
    return arrays._replace(**short)
