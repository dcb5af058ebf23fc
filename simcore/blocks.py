"""What an engine hands over for a block of runs, and the judging that both engines share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simcore.causes import Rules
from simcore.chain import Chain, Design, fits, sense
from simcore.edges import Edges, Ints, Pulses
from simcore.sums import Sums, empty_scratch, empty_sums
from simcore.truth import Truth, steps_per_run, transitions_per_run
from simcore.verdicts import judge

Lines = tuple[tuple[Edges, ...], tuple[Edges, ...]]
"""For A and B: the contact's edges, then those after each stage."""


@dataclass(frozen=True)
class BlockResult:
    """Tallies of a block: sums, and the final error (counts) of each run."""

    sums: Sums
    errors: Ints


@dataclass(frozen=True)
class BlockDetail:
    """Everything a block went through.

    ``lines[line]`` holds the contact's edges (level 1: closed), then those after each stage;
    ``verdicts`` and ``causes`` (steps,) index the names in simcore.verdicts.
    """

    truth: Truth
    lines: Lines
    pulses: Pulses
    verdicts: Ints
    causes: Ints
    result: BlockResult


def seen_by_counter(chain: Chain, line: int, edges: Edges) -> Edges:
    """A line's last edges as the counter sees them: straight off the contact, high means open."""
    if chain.follows[line]:
        return edges._replace(first=(edges.first ^ 1).astype(np.uint8))
    return edges


class Judge:
    """Judges blocks of one design, reusing its scratch arrays."""

    def __init__(self, design: Design, chain: Chain) -> None:
        self.chain = chain
        self.gestures = len(design.hand)
        self.rules = Rules(design.range, sense(design, chain) * design.counts_per_step, int(fits(design)))
        self.scratch = empty_scratch(steps_per_run(design), transitions_per_run(design), self.gestures)

    def __call__(
        self,
        truth: Truth,
        lines: tuple[tuple[Edges, ...], tuple[Edges, ...]],
        pulses: Pulses,
        cut: int,
        keep: bool,
    ) -> BlockDetail:
        """Judge a block of whose bursts ``cut`` were cut off; verdicts and causes of single steps are
        written out only if ``keep``.
        """
        sums = empty_sums(self.gestures)
        sums.cut[0] = cut
        errors = np.zeros(truth.transitions.first.size, np.int64)
        self._make_room(truth)
        count = int(truth.steps.offsets[-1]) if keep else 0
        verdicts, causes = np.zeros(count, np.int64), np.zeros(count, np.int64)
        a, b = (seen_by_counter(self.chain, line, lines[line][-1]) for line in (0, 1))
        judge(
            self.rules, self.gestures, truth.transitions, truth.steps, truth.clean,
            a, b, pulses, self.scratch, sums, errors, verdicts, causes,
        )  # fmt: skip
        return BlockDetail(truth, lines, pulses, verdicts, causes, BlockResult(sums, errors))

    def _make_room(self, truth: Truth) -> None:
        transitions = int(np.diff(truth.transitions.offsets).max(initial=0))
        steps = int(np.diff(truth.steps.offsets).max(initial=0))
        if transitions > self.scratch.outs.size or steps > self.scratch.net.size:
            self.scratch = empty_scratch(2 * steps, 2 * transitions, self.gestures)
