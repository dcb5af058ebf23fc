"""The identity of what is simulated, as text that a person can read and two designs never share."""

from __future__ import annotations

import dataclasses
import hashlib
import inspect
from typing import Any

import numpy as np

from simcore import MODEL_VERSION
from simcore.chain import Design

SHORT = 16
"""Characters of a digest: enough for all that one ledger will ever hold."""


def identity(design: Design, seed: int, margins: bool) -> str:
    """Everything that decides a tally, but for the numbers of the runs."""
    kept = "with margins" if margins else "without margins"
    return f"model {MODEL_VERSION}; seed {seed}; {kept}; {described(design)}"


def described(value: Any) -> str:
    """A value of a design in text: names and values of its fields, floats to their last digit.

    A record of another package is told by its source as well, since its rules may change when
    our model does not.
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
    if kind.__module__.partition(".")[0] == __name__.partition(".")[0]:
        return kind.__name__
    module = inspect.getmodule(kind)
    try:
        source = inspect.getsource(module) if module is not None else ""
    except OSError:
        source = ""
    return f"{kind.__module__}.{kind.__qualname__}#{_digest(source.encode())}"


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:SHORT]
