"""What an ending by errors does to estimates, and estimates that it does not bend.

Stopping on the number of errors bends plain rates: the block that ended the campaign is likelier to
hold many.  With blocks alike and independent of each other, the mean over one block given all that was
seen (the set of blocks, and that the campaign ended where it did) has no bias, whatever the law of a
block is.  That is the mean of all blocks but the last, averaged over the blocks that might have come
last: `Blocks.without_last`.  For blocks of a single trial it is Haldane's (m - 1) / (N - 1) (Biometrika
33 (1945) 222); the argument is that of Girshick, Mosteller and Savage (Ann. Math. Stat. 17 (1946) 13).
It holds for whatever is counted in a block, so one set of weights serves the rates of all groups, and of
all designs that met the same runs.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from simcore.edges import Floats, Ints

if TYPE_CHECKING:
    from simcore.pairing import BlockSums


class Part(NamedTuple):
    """One block: its ``runs``, the ``wrong`` steps of each design, and for each group of each design its
    ``steps`` (designs, groups) and the ``hits`` (designs, groups, quantities) among them.
    """

    runs: int
    wrong: tuple[int, ...]
    steps: Ints
    hits: Ints

    @classmethod
    def between(cls, before: BlockSums, after: BlockSums) -> Part:
        """What tallies have more than earlier ones, in the groups and quantities of simcore.sums."""
        both = list(zip(before.tallies, after.tallies, strict=True))
        return cls(
            after.tallies[0].runs - before.tallies[0].runs,
            tuple(later.wrong - earlier.wrong for earlier, later in both),
            np.stack([later.sums.size - earlier.sums.size for earlier, later in both]),
            np.stack([later.sums.total - earlier.sums.total for earlier, later in both]),
        )


class Alike(NamedTuple):
    """Full blocks with the same numbers of wrong steps, added up."""

    blocks: int
    steps: Ints
    hits: Ints


class Blocks:
    """The blocks of a campaign, ``size`` runs each but perhaps the last, in run order.

    They are kept added up by the numbers of their wrong steps, so for one design the room they take does not
    grow with the campaign.
    """

    def __init__(self, size: int) -> None:
        self.size = size
        self.count = 0
        self.wrong: tuple[int, ...] = ()
        self._alike: dict[tuple[int, ...], Alike] = {}
        self._last: Part | None = None

    def add(self, part: Part) -> None:
        """One more; after one that is not full there is none."""
        self.count += 1
        self.wrong = tuple(map(sum, zip(self.wrong, part.wrong, strict=True))) if self.wrong else part.wrong
        self._last = part
        if part.runs == self.size:
            this, known = Alike(1, part.steps, part.hits), self._alike.get(part.wrong)
            self._alike[part.wrong] = this if known is None else _added((known, this))

    def _ended(self, errors: int, without: tuple[int, ...]) -> bool:
        """Whether every design has so many errors in the other blocks already."""
        return all(have - less >= errors for have, less in zip(self.wrong, without, strict=True))

    def without_last(self, errors: int) -> Floats | None:
        """Rates (designs, groups, quantities) of all blocks but the last, averaged over those that might have
        come last; NaN for a group that no other block has.  None where plain rates have no bias: a
        single block, or too few ``errors`` of a design to end a campaign.
        """
        if self.count < 2 or min(self.wrong) < errors or self._last is None:
            return None
        all_full = _added(self._alike.values())
        steps, hits = all_full.steps, all_full.hits
        if self._last.runs == self.size:
            last = _added(alike for wrong, alike in self._alike.items() if not self._ended(errors, wrong))
            steps = last.blocks * steps - last.steps
            hits = last.blocks * hits - last.hits
        with np.errstate(invalid="ignore", divide="ignore"):
            return hits.astype(np.float64) / steps[..., np.newaxis]


def _added(groups: Iterable[Alike]) -> Alike:
    """All of at least one, added up."""
    blocks, steps, hits = zip(*groups, strict=True)
    return Alike(sum(blocks), np.sum(steps, axis=0, dtype=np.int64), np.sum(hits, axis=0, dtype=np.int64))
