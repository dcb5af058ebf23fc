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

KEPT_AS = {
    "bursts": ("BadPad", "Clean", "Telegraph", "TelegraphSide", "Wiping", "WipingSide"),
    "contacts": ("Sliding",),
    "counters.base": ("Range",),
    "counters.clocked": ("ClockedQuadrature",),
    "counters.prescaled": ("Prescaled",),
    "counters.quadrature": ("Quadrature",),
    "counters.step_direction": ("StepDirection",),
    "counters.two_clock": ("TwoClock",),
    "counters.whole_cycle": ("WholeCycle",),
    "design": ("ContactRatings", "Design", "HandEntry", "StageEntry"),
    "draws": ("Part",),
    "driven": ("Driven",),
    "geometry": ("Geometry",),
    "gestures": ("Member", "Reversing", "Vibration"),
    "hand": ("Gesture",),
    "recorded": ("Bursts", "Recorded"),
    "stages.analogue": ("Resistance",),
    "stages.clock": ("Clock",),
    "stages.delay": ("GateDelay",),
    "stages.diode": ("DiodeCapacitor",),
    "stages.inputs": ("Comparator", "Leakage", "Level", "PlainInput", "SchmittInput"),
    "stages.interlock": ("Interlock",),
    "stages.ladder": ("TwoSection",),
    "stages.network": (
        "AcrossCapacitor", "AtCapacitor", "Direct", "PullDownAcross", "PullDownDirect", "PullDownSeries",
        "SeriesCapacitor",
    ),
    "stages.noise": ("Noise",),
    "stages.pickup": ("PickUp",),
    "stages.quiet": ("Lockout", "OneShot", "QuietTime"),
    "stages.sampled": ("Agree", "Integrate", "Majority", "Sampled"),
    "stages.supply": ("Dips",),
    "stages.synchroniser": ("Synchroniser",),
    "tabled": ("Path",),
}  # fmt: skip
"""The module under which ledgers know the records of a design.  Ledgers written years ago must still
answer, so the text of an identity stays as it was wherever a record's class lives today.
"""
_KEPT_AS = {name: f"{module}.{name}" for module, names in KEPT_AS.items() for name in names}


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
        return _KEPT_AS.get(kind.__qualname__) or f"{module}.{kind.__qualname__}"
    sources = b"".join(path.read_bytes() for path in sources_of(package))
    return f"{kind.__module__}.{kind.__qualname__}#{_digest(sources)}"


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:SHORT]
