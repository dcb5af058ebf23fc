"""A value of a design as text that a person can read and two designs never share.

Ledgers keep this text for years: how it is made never changes, but with a new MODEL_VERSION.
"""

from __future__ import annotations

import dataclasses
import hashlib
from typing import Any

import numpy as np

from simcore.base.compiling import sources_of

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


def described(value: Any) -> str:
    """A value of a design in text: names and values of its fields, floats to their last digit.

    A record of another package is identified by the source of that package's rules as well, since they
    may change when our model does not.
    """
    if isinstance(value, np.ndarray):
        return f"{value.dtype}{list(value.shape)}#{digest(np.ascontiguousarray(value).tobytes())}"
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
    return f"{kind.__module__}.{kind.__qualname__}#{digest(sources)}"


def digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:SHORT]
