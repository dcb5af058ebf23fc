"""What happened before any electronics: movements, transitions, steps and their bounce-free counts.

Both engines start from here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from simcore.chain import Chain, Design
from simcore.counters.base import Clean, counter_ideal, read_clean
from simcore.edges import Steps, Transitions, empty_steps, empty_transitions
from simcore.shaft import MOVE_COLUMNS, cross, fill_moves


@dataclass(frozen=True)
class Truth:
    """The truth of a block of runs."""

    transitions: Transitions
    steps: Steps
    clean: Clean


def transitions_per_run(design: Design) -> int:
    """About how many transitions one run has; enough room for nearly every design."""
    pitch = design.geometry.cycles_per_step
    return int(
        sum(e.moves * (4 * pitch * abs(e.gesture.steps) + 2) for e in design.hand)
    ) + 8  # fmt: skip


def steps_per_run(design: Design) -> int:
    """No run has more steps than this."""
    return int(sum(e.moves * (abs(e.gesture.steps) + 2) for e in design.hand)) + 1


class TruthMaker:
    """Makes the truth of blocks of up to ``runs`` runs, reusing its arrays from block to block."""

    def __init__(self, design: Design, chain: Chain, runs: int) -> None:
        self.design = design
        self.flips = chain.flips
        self.ideal: Any = counter_ideal(design.counter)
        self.runs = runs
        total = sum(entry.moves for entry in design.hand)
        self.moves = np.zeros((runs, total, MOVE_COLUMNS), np.float64)
        self.gestures = np.repeat(
            np.arange(len(design.hand), dtype=np.int64), [entry.moves for entry in design.hand]
        )
        self.transitions = empty_transitions(runs * transitions_per_run(design), runs)
        self.steps = empty_steps(runs * steps_per_run(design), runs)
        self._make_clean()

    def _make_clean(self) -> None:
        sizes = [self.steps.gestures.size] * 4 + [self.transitions.times.size]
        self.clean = Clean(*(np.zeros(size, np.int32) for size in sizes))

    def make(self, seed: int, first_run: int, runs: int) -> Truth:
        """The truth of ``runs`` runs from ``first_run`` on; valid until the next call."""
        moves = self.moves[:runs]
        column = 0
        for slot, entry in enumerate(self.design.hand):
            fill_moves(entry.gesture, slot, entry.moves, column, seed, first_run, moves)
            column += entry.moves
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
