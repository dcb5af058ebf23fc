"""What functions and the command line take, read and checked once.

Each reader takes a value as a caller or a command line gives it (a number or its text) and the name of its
option, and raises BadInput "--option: expected X, got Y".
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Any, NoReturn

from reports.errors import BadInput

LARGEST = 2**63 - 1
MOST_RUNS = 100_000_000
MOST_ERRORS = 1_000_000_000
MOST_THREADS = 1024
NONE = "none"


def refuse(option: str, value: object, expected: str) -> NoReturn:
    from scenarios.loading.messages import shown

    raise BadInput(f"{option}: expected {expected}, got {shown(value)}")


def whole(option: str, value: object, low: int = 0, high: int = LARGEST, *, none: bool = False) -> int | None:
    """A whole number from ``low`` to ``high``, in digits only; None for None.  With ``none``, the word "none"
    is 0.
    """
    if value is None:
        return None
    if none and str(value).strip().casefold() == NONE:
        return 0
    value = value if isinstance(value, bool) else str(value)  # a number reads as its text does
    expected = f"a whole number from {low:,} to {high:,}" + (f", or {NONE}" if none else "")
    text = str(value).strip()
    digits = text.removeprefix("-")
    if isinstance(value, bool) or not (digits.isascii() and digits.isdigit()):
        refuse(option, value, expected)
    if len(text) > 20 or not low <= int(text) <= high:
        refuse(option, value if len(text) <= 20 else text, expected)
    return int(text)


def runs(value: object, option: str = "--runs") -> int | None:
    """A number of runs; None for None."""
    return whole(option, value, 1, MOST_RUNS)


def threads(value: object) -> int:
    """A number of threads; one for each core for None."""
    return whole("--threads", value, 1, MOST_THREADS) or cores()


def cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def measured(option: str, value: object, reader: Any) -> float | None:
    """A quantity, read by one of the scenario's own readers; "none" is 0.0, None is None."""
    from scenarios.quantities import QuantityError

    if value is None:
        return None
    if isinstance(value, str) and value.strip().casefold() == NONE:
        return 0.0
    try:
        found: float = reader.read(value)
    except QuantityError as error:
        wider = QuantityError(error.read, f"{error.message}, or {NONE}")
        raise BadInput(f"{option}: {wider}") from None
    return found


def word(option: str, value: object, allowed: Sequence[str]) -> str:
    """One of a few words, with the nearest one named for any other."""
    from scenarios.loading.messages import hint, listed, shown

    if isinstance(value, str) and value in allowed:
        return value
    near = hint(value, allowed) if isinstance(value, str) else ""
    raise BadInput(f"{option}: expected {listed(allowed)}, got {shown(value)}{near}")


def switch(option: str, value: object) -> bool:
    """True or False, and nothing that Python would take for one."""
    if not isinstance(value, bool):
        refuse(option, value, "True or False")
    return value


def file(option: str, value: object) -> str | None:
    """The name of a file, of a text or a path; None for None."""
    if value is None:
        return None
    if not isinstance(value, str | os.PathLike):
        refuse(option, value, "a text or a path")
    return os.fsdecode(value)
