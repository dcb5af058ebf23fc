"""The identity of what is simulated, as text that a person can read and two designs never share."""

from __future__ import annotations

import dataclasses
import functools
import hashlib
import re
from typing import Any, NamedTuple

import numpy as np

from simcore import MODEL_VERSION
from simcore.base.compiling import sources_of
from simcore.base.records import ORIGIN_NAMES
from simcore.design import Design
from simcore.judging import margins, sums

SHORT = 16
"""Characters of a digest: enough for all that one ledger will ever hold."""


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
    return f"model {MODEL_VERSION}; tally {layout()}; seed {seed}; {kept}; {described(design)}"


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
    return _digest(repr(columns).encode())


def described(value: Any) -> str:
    """A value of a design in text: names and values of its fields, floats to their last digit.

    A record of another package is told by the source of that package's rules as well, since they may
    change when our model does not.
    """
    if isinstance(value, np.ndarray):
        return f"{value.dtype}{list(value.shape)}#{_digest(np.ascontiguousarray(value).tobytes())}"
    names = _fields(value)
    if names is not None:
        fields = ", ".join(f"{name}={described(getattr(value, name))}" for name in names)
        return f"{_kind(type(value))}({fields})"
    if isinstance(value, (tuple, list)):
        return f"({', '.join(map(described, value))})"
    return repr(value)


def _fields(value: Any) -> list[str] | None:
    if dataclasses.is_dataclass(value):
        return [field.name for field in dataclasses.fields(value)]
    return list(value._fields) if hasattr(value, "_fields") else None


def _kind(kind: type) -> str:
    package, _, module = kind.__module__.partition(".")
    if package == __name__.partition(".")[0]:
        return f"{module}.{kind.__qualname__}"
    sources = b"".join(path.read_bytes() for path in sources_of(package))
    return f"{kind.__module__}.{kind.__qualname__}#{_digest(sources)}"


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:SHORT]
