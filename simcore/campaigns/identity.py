"""The identity of what is simulated, as text that a person can read and two designs never share."""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING, NamedTuple

from simcore import MODEL_VERSION
from simcore.base.ledger_text import digest
from simcore.base.records import ORIGIN_NAMES
from simcore.judging import margins, sums

if TYPE_CHECKING:
    from simcore.design import Design


class Head(NamedTuple):
    """How an identity begins: the model's version, the layout of its tallies, the seed, and whether
    margins are kept.
    """

    model: str
    layout: str
    seed: int
    margins: bool


_HEAD = re.compile(r"model (\S+); tally (\w+); seed (\d+); (with|without) margins; ")


def identity(design: Design, seed: int, margins: bool) -> str:
    """Everything that decides a tally, but for the numbers of the runs."""
    kept = "with margins" if margins else "without margins"
    return f"model {MODEL_VERSION}; tally {layout()}; seed {seed}; {kept}; {design.text}"


def head(identity: str) -> Head:
    """The beginning of an identity.  ValueError for any other text."""
    found = _HEAD.match(identity)
    if found is None:
        raise ValueError(f"no identity: {identity[:80]!r}")
    return Head(found[1], found[2], int(found[3]), found[4] == "with")


@functools.cache
def layout() -> str:
    """A digest of what stands where in a tally: one of other columns does not add to ours."""
    columns = (
        sums.Sums._fields, sums.QUANTITIES, sums.CAUSES, sums.SPACING_MS, sums.EXCURSIONS, ORIGIN_NAMES,
        margins.QUANTITIES, margins.BINS, margins.BINS_PER_OCTAVE, margins.FIRST_OCTAVE,
        margins.BINS_PER_SUPPLY,
    )  # fmt: skip
    return digest(repr(columns).encode())
