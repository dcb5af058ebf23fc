"""The identity of what is simulated, as text that a person can read and two designs never share."""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING, NamedTuple

from simcore import MODEL_VERSION
from simcore.base.ledger_text import digest
from simcore.base.records import ORIGIN_NAMES
from simcore.campaigns import pairing
from simcore.judging import margins, sums

if TYPE_CHECKING:
    from simcore.design import Design


class Head(NamedTuple):
    """How an identity begins: the model's version, the layout of its tallies, the seed, and whether
    margins are kept; of two designs also the layout of paired sums, None of one.
    """

    model: str
    layout: str
    seed: int
    margins: bool
    pair: str | None = None

    @property
    def in_use(self) -> bool:
        """Whether this program adds such sums to its own."""
        known = self.pair is None or self.pair == pair_layout()
        return known and (self.model, self.layout) == (MODEL_VERSION, layout())


_HEAD = re.compile(r"model (\S+); tally (\w+); seed (\d+); (with|without) margins; (?:pair (\w+): )?")


def identity(design: Design, seed: int, margins: bool) -> str:
    """Everything that decides a tally, but for the numbers of the runs."""
    kept = "with margins" if margins else "without margins"
    return f"model {MODEL_VERSION}; tally {layout()}; seed {seed}; {kept}; {design.text}"


def pair_identity(first: Design, other: Design, seed: int) -> str:
    """The same of ``other`` paired with ``first``.

    It begins as the identity of a design does, so that programs without pairs can list it.
    """
    text = f"{first.text} | {other.text}"
    return (
        f"model {MODEL_VERSION}; tally {layout()}; seed {seed}; without margins; pair {pair_layout()}: {text}"
    )


def head(identity: str) -> Head:
    """The beginning of an identity.  ValueError for any other text."""
    found = _HEAD.match(identity)
    if found is None:
        raise ValueError(f"no identity: {identity[:80]!r}")
    return Head(found[1], found[2], int(found[3]), found[4] == "with", found[5])


@functools.cache
def layout() -> str:
    """A digest of what stands where in a tally: one of other columns does not add to ours."""
    columns = (
        sums.Sums._fields, sums.QUANTITIES, sums.CAUSES, sums.SPACING_MS, sums.EXCURSIONS, ORIGIN_NAMES,
        margins.QUANTITIES, margins.BINS, margins.BINS_PER_OCTAVE, margins.FIRST_OCTAVE,
        margins.BINS_PER_SUPPLY,
    )  # fmt: skip
    return digest(repr(columns).encode())


@functools.cache
def pair_layout() -> str:
    """The same of paired sums."""
    columns = (pairing.SIZES, pairing.SUMS, pairing.TABLE, sums.QUANTITIES, sums.VERDICTS, sums.CAUSES)
    return digest(repr(columns).encode())
