"""The same steps in two designs: where their verdicts differ, as whole numbers that add.

A run meets both designs with the same movements and the same contacts, so its steps are the same rows
for both, and a difference is counted step by step: a step is lost by one, won by the other, or neither.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from simcore.base.records import Ints
from simcore.judging.sums import CAUSES, MISSED, QUANTITIES, VERDICTS
from simcore.judging.tally import Tally
from simcore.statistics.paired import Pair

if TYPE_CHECKING:
    from simcore.engines.blocks import BlockDetail

Bools = npt.NDArray[np.bool_]

SIZES = ("runs", "x", "xx")
"""Per group: the runs that have a step of it, and the sums over runs of x and x^2, x its steps in a run."""
SUMS = ("p", "pp", "xp", "m", "mm", "xm", "pm")
"""Per group and quantity, with p the steps of a run that have the quantity in the other design only and m
those that have it in the first only: sums over runs of p, p^2, x p, m, m^2, x m, p m."""
TABLE = ("both_right", "b_wrong", "a_wrong", "both_wrong")
"""Per group and quantity: runs by which design (a: the first, b: the other) has such a step in them."""

StepOutcome = tuple[str, str]
"""What became of one step: its verdict and its root cause ("none" unless it is wrong)."""


class NotComparableError(ValueError):
    """Two designs do not have the same steps and the same contacts."""


@dataclass(frozen=True)
class Parting:
    """Steps that ended one way in the first design and another way in the other: how many, and the
    ``run`` and ``step`` (numbered from 1) of the first of them.
    """

    steps: int
    run: int
    step: int


Partings = Mapping[tuple[StepOutcome, StepOutcome], Parting]


@dataclass(frozen=True)
class PairedSums:
    """Two designs on the same ``runs`` runs.  Groups are all steps, then each gesture; quantities are
    those of simcore.judging.sums.QUANTITIES.

    ``sizes`` (groups, 3), ``sums`` (groups, quantities, 7) and ``tables`` (groups, quantities, 4) of whole
    numbers; ``spurious`` (11,) sums and table of the counts of a run that no movement caused, p of them more
    in the other design, or m more in the first; ``partings`` by the outcomes in both.
    """

    runs: int
    sizes: Ints
    sums: Ints
    tables: Ints
    spurious: Ints
    partings: Partings

    def __add__(self, later: PairedSums) -> PairedSums:
        """Both together; ``later`` holds later runs, so that the first of each parting stays the first."""
        partings = dict(self.partings)
        for key, more in later.partings.items():
            here = partings.get(key, Parting(0, more.run, more.step))
            partings[key] = Parting(here.steps + more.steps, here.run, here.step)
        return PairedSums(
            self.runs + later.runs, self.sizes + later.sizes, self.sums + later.sums,
            self.tables + later.tables, self.spurious + later.spurious, partings,
        )  # fmt: skip

    def pair(self, quantity: str, group: int = 0) -> Pair:
        """The sums of a verdict, or of "wrong", in a group (0: all steps)."""
        q = QUANTITIES.index(quantity)
        sizes = dict(zip(SIZES, self.sizes[group].tolist(), strict=True))
        sums = dict(zip(SUMS, self.sums[group, q].tolist(), strict=True))
        table = dict(zip(TABLE, self.tables[group, q].tolist(), strict=True))
        return Pair(**sizes, **sums, **table)

    def spurious_pair(self) -> Pair:
        """The sums of counts that no movement caused, per run."""
        named = dict(zip((*SUMS, *TABLE), self.spurious.tolist(), strict=True))
        return Pair(runs=self.runs, x=self.runs, xx=self.runs, **named)

    def only(self, quantity: str, group: int = 0) -> tuple[int, int]:
        """Steps of a group that have the quantity in the first design only, and in the other only."""
        plus, minus = (SUMS.index(name) for name in ("p", "m"))
        row = self.sums[group, QUANTITIES.index(quantity)]
        return int(row[minus]), int(row[plus])


@dataclass(frozen=True)
class BlockSums:
    """The results of the same runs in several designs: a tally of each, and the sums of each other one
    paired with the first.
    """

    tallies: tuple[Tally, ...]
    pairs: tuple[PairedSums, ...] = ()

    def __add__(self, later: BlockSums) -> BlockSums:
        """Both together; ``later`` holds later runs."""
        return BlockSums(
            tuple(mine + more for mine, more in zip(self.tallies, later.tallies, strict=True)),
            tuple(mine + more for mine, more in zip(self.pairs, later.pairs, strict=True)),
        )


def nothing_paired(gestures: int) -> PairedSums:
    groups, width = 1 + gestures, len(QUANTITIES)
    shapes = (groups, len(SIZES)), (groups, width, len(SUMS)), (groups, width, 4)
    sizes, sums, tables = (np.zeros(shape, np.int64) for shape in shapes)
    return PairedSums(0, sizes, sums, tables, np.zeros(len(SUMS) + len(TABLE), np.int64), {})


def pair_up(first: BlockDetail, other: BlockDetail, gestures: int, first_run: int) -> PairedSums:
    """The sums of one block, which begins with run ``first_run``, in two designs.

    Raises NotComparableError where these differ in steps or contacts.
    """
    require_same_contacts(first, other)
    steps = first.truth.steps
    count = int(steps.offsets[-1])
    runs = steps.offsets.size - 1
    row = np.repeat(np.arange(runs, dtype=np.int64), np.diff(steps.offsets))
    key = row * gestures + steps.gestures[:count]
    mine, theirs = _has(first.verdicts), _has(other.verdicts)

    def per_run(marked: Bools) -> Ints:
        """Steps of each run in each group: (runs, groups)."""
        counted = np.bincount(key[marked], minlength=runs * gestures).reshape(runs, gestures)
        return np.concatenate([counted.sum(axis=1, keepdims=True), counted], axis=1).astype(np.int64)

    x = per_run(np.ones(count, np.bool_))
    plus, minus, in_first, in_other = (
        np.stack([per_run(each) for each in marked])
        for marked in (theirs & ~mine, mine & ~theirs, mine, theirs)
    )
    return PairedSums(
        runs, _sizes(x), _sums(x, plus, minus), _tables(x, in_first, in_other),
        _spurious(first, other), _partings(first, other, first_run),
    )  # fmt: skip


def require_same_contacts(first: BlockDetail, other: BlockDetail) -> None:
    """Raise NotComparableError unless both blocks have the same steps and the same edges at the contacts."""
    if not _same(first.truth.steps, other.truth.steps):
        raise NotComparableError("the designs do not have the same steps: hand or encoder differ")
    for mine, theirs in zip(first.lines, other.lines, strict=True):
        if not _same(mine[0], theirs[0]):
            raise NotComparableError("the contacts do not make the same changes in both designs")


def _same(one: Any, other: Any) -> bool:
    """Whether two ragged records hold the same, spare room aside."""
    if not np.array_equal(one.offsets, other.offsets):
        return False
    used, runs = int(one.offsets[-1]), one.offsets.size - 1
    names = [name for name in one._fields if name != "offsets"]
    return all(
        np.array_equal(getattr(one, name)[:size], getattr(other, name)[:size])
        for name in names
        for size in [runs if name == "first" else used]
    )


def _has(verdicts: Ints) -> Bools:
    """(quantities, steps): whether a step has the quantity."""
    return np.stack([*(verdicts == number for number in range(len(VERDICTS))), verdicts >= MISSED])


def _sizes(x: Ints) -> Ints:
    return np.stack([(x > 0).sum(axis=0), x.sum(axis=0), (x * x).sum(axis=0)], axis=1)


def _sums(x: Ints, plus: Ints, minus: Ints) -> Ints:
    """Sums over runs, from (runs, groups) and twice (quantities, runs, groups)."""
    products = (plus, plus * plus, x * plus, minus, minus * minus, x * minus, plus * minus)
    return np.stack([each.sum(axis=1).T for each in products], axis=2)


def _tables(x: Ints, in_first: Ints, in_other: Ints) -> Ints:
    """Runs by which design has the quantity in them."""
    kind = 2 * (in_first > 0) + (in_other > 0)
    return np.stack([((kind == which) & (x > 0)).sum(axis=1).T for which in range(4)], axis=2)


def _spurious(first: BlockDetail, other: BlockDetail) -> Ints:
    """Sums and table of spurious counts, of which a run has so many more in one design."""
    mine, theirs = first.spurious_counts(), other.spurious_counts()
    more = (theirs - mine).reshape(1, -1, 1)
    ones = np.ones((mine.size, 1), np.int64)
    sums = _sums(ones, np.maximum(more, 0), np.maximum(-more, 0))
    tables = _tables(ones, mine.reshape(1, -1, 1), theirs.reshape(1, -1, 1))
    return np.concatenate([sums.ravel(), tables.ravel()])


def _partings(
    first: BlockDetail, other: BlockDetail, first_run: int
) -> dict[tuple[StepOutcome, StepOutcome], Parting]:
    """Every pair of unlike outcomes that occurs."""
    mine, theirs = _outcomes(first), _outcomes(other)
    apart = np.flatnonzero(mine != theirs)
    width = len(VERDICTS) * len(CAUSES)
    codes, at, counts = np.unique(mine[apart] * width + theirs[apart], return_index=True, return_counts=True)
    offsets, found = first.truth.steps.offsets, {}
    for code, step, steps in zip(codes.tolist(), apart[at].tolist(), counts.tolist(), strict=True):
        run = int(np.searchsorted(offsets, step, side="right")) - 1
        key = _named(code // width), _named(code % width)
        found[key] = Parting(steps, first_run + run, step - int(offsets[run]) + 1)
    return found


def _outcomes(detail: BlockDetail) -> Ints:
    found: Ints = detail.verdicts * len(CAUSES) + detail.causes
    return found


def _named(outcome: int) -> StepOutcome:
    return VERDICTS[outcome // len(CAUSES)], CAUSES[outcome % len(CAUSES)]
