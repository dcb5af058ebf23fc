"""What an engine hands over for a block of runs, and the judging that both engines share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simcore.base.records import Edges, Ints, Pulses
from simcore.counters.base import counter_clocked
from simcore.design import Chain, Design, fits, sense
from simcore.engines.truth import Truth, steps_per_run, transitions_per_run
from simcore.judging.causes import Rules
from simcore.judging.margins import Margins
from simcore.judging.sums import Sums, empty_scratch, empty_sums
from simcore.judging.verdicts import judge

Lines = tuple[tuple[Edges, ...], tuple[Edges, ...]]
"""For A and B: the contact's edges, then those after each stage."""


@dataclass(frozen=True)
class BlockResult:
    """Tallies of a block: sums, the final error (counts) of each run, and margins if they were asked
    for.
    """

    sums: Sums
    errors: Ints
    margins: Margins | None = None


@dataclass(frozen=True)
class BlockDetail:
    """Everything a block went through.

    ``lines[line]`` holds the contact's edges (level 1: closed), then those after each stage;
    ``verdicts`` and ``causes`` (steps,) index the names in simcore.judging.verdicts.
    """

    truth: Truth
    lines: Lines
    pulses: Pulses
    verdicts: Ints
    causes: Ints
    result: BlockResult

    def spurious_counts(self) -> Ints:
        """Counts of each run (runs,) that no movement caused."""
        pulses = self.pulses
        used, runs = int(pulses.offsets[-1]), pulses.offsets.size - 1
        rows = np.flatnonzero((pulses.causes[:used] < 0) & (pulses.asked[:used] != 0))
        found = np.searchsorted(pulses.offsets, rows, side="right") - 1
        return np.bincount(found, minlength=runs).astype(np.int64)


def as_logic(chain: Chain, line: int, contact: Edges) -> Edges:
    """A contact's edges as the first layer of its line sees them: turned over where the contact
    is read as a logic level, high for open.
    """
    if chain.turned[line]:
        return contact._replace(first=(contact.first ^ 1).astype(np.uint8))
    return contact


def seen_by_counter(chain: Chain, lines: Lines) -> tuple[Edges, Edges]:
    """What reaches the counter on A and B."""
    a, b = (
        edges[-1] if len(edges) > 1 else as_logic(chain, line, edges[0]) for line, edges in enumerate(lines)
    )
    return a, b


class Judge:
    """Judges blocks of one design, reusing its scratch arrays."""

    def __init__(self, design: Design, chain: Chain) -> None:
        self.chain = chain
        self.gestures = len(design.hand)
        wanted = sense(design) * design.counts_per_step
        clocked = counter_clocked(design.counter)
        self.rules = Rules(design.range, wanted, int(fits(design)), clocked)
        self.scratch = empty_scratch(steps_per_run(design), transitions_per_run(design), self.gestures)

    def __call__(
        self,
        truth: Truth,
        lines: tuple[tuple[Edges, ...], tuple[Edges, ...]],
        pulses: Pulses,
        cut: int,
        keep: bool,
        margins: Margins | None = None,
    ) -> BlockDetail:
        """Judge a block of whose bursts ``cut`` were cut off; verdicts and causes of single steps are
        written out only if ``keep``.  ``margins`` are passed on.
        """
        sums = empty_sums(self.gestures)
        sums.cut[0] = cut
        errors = np.zeros(truth.transitions.first.size, np.int64)
        self._make_room(truth)
        count = int(truth.steps.offsets[-1]) if keep else 0
        verdicts, causes = np.zeros(count, np.int64), np.zeros(count, np.int64)
        a, b = seen_by_counter(self.chain, lines)
        judge(
            self.rules, self.gestures, truth.transitions, truth.steps, truth.clean,
            a, b, pulses, self.scratch, sums, errors, verdicts, causes,
        )  # fmt: skip
        return BlockDetail(truth, lines, pulses, verdicts, causes, BlockResult(sums, errors, margins))

    def _make_room(self, truth: Truth) -> None:
        transitions = int(np.diff(truth.transitions.offsets).max(initial=0))
        steps = int(np.diff(truth.steps.offsets).max(initial=0))
        if transitions > self.scratch.outs.size or steps > self.scratch.net.size:
            self.scratch = empty_scratch(2 * steps, 2 * transitions, self.gestures)
