"""Numbers for people: as many digits as the interval supports, and a bound where there is no estimate."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol

PER = 1000
"""Rates are shown per thousand steps."""

MOST_PLACES = 9


class Ends(Protocol):
    """An estimate between ``low`` and ``high``, a share of one; None where there is no data."""

    @property
    def estimate(self) -> float | None: ...

    @property
    def low(self) -> float | None: ...

    @property
    def high(self) -> float | None: ...


def decimals(half_width: float, most: int = MOST_PLACES) -> int:
    """Decimal places that show two digits of ``half_width``, at most ``most``."""
    if not half_width > 0.0:
        return 0
    return min(max(0, 1 - math.floor(math.log10(half_width) + 1.0e-9)), most)


def whole(count: int) -> str:
    """A count with thousands set apart."""
    return f"{count:,}"


def signed(count: int) -> str:
    """A count with its sign and commas between thousands; 0 without a sign."""
    return f"{count:+,d}" if count else "0"


def counted(count: int, noun: str) -> str:
    """A count with its noun, which takes an s unless there is one."""
    return f"{whole(count)} {noun}{'' if count == 1 else 's'}"


def _places(low: float, high: float, scale: float) -> int:
    return decimals(0.5 * (high - low) * scale)


def estimate_text(rate: Ends, scale: float = PER, most: float = PER) -> str:
    """The estimate times ``scale``; "under" or "over" a bound where nothing, or all, was hit.

    ``most`` is the scaled rate that "all" means.
    """
    estimate, low, high = rate.estimate, rate.low, rate.high
    if estimate is None or low is None or high is None:
        return "no data"
    places = _places(low, high, scale)
    if estimate == 0.0:
        return f"under {_up(high * scale, places)}"
    if estimate * scale == most and low < estimate:
        return f"over {_down(low * scale, places)}"
    while places < MOST_PLACES and round(estimate * scale, places) == 0.0:
        places += 1
    return f"{estimate * scale:,.{places}f}"


def interval_text(rate: Ends, scale: float = PER) -> str:
    """Low and high with "to" between, times ``scale``."""
    low, high = rate.low, rate.high
    if low is None or high is None:
        return ""
    places = _places(low, high, scale)
    return f"{_down(low * scale, places) if low else '0'} to {_up(high * scale, places)}"


def _up(value: float, places: int) -> str:
    """Rounded up, so that a printed upper bound is one."""
    return f"{math.ceil(value * 10**places - 1.0e-9) / 10**places:,.{places}f}"


def _down(value: float, places: int) -> str:
    """Rounded down, so that a printed lower bound is one."""
    return f"{math.floor(value * 10**places + 1.0e-9) / 10**places:,.{places}f}"


def on_the_point(texts: Sequence[str]) -> list[str]:
    """The same texts with blanks appended so that, set flush right, their decimal points align."""
    tails = [len(text) - text.rfind(".") if "." in text else 0 for text in texts]
    longest = max(tails, default=0)
    return [text + " " * (longest - tail) for text, tail in zip(texts, tails, strict=True)]


def share_text(part: int, of: int) -> str:
    """A plain share of a known whole, in per cent, never rounded to 0 or to 100."""
    if of == 0:
        return ""
    share = 100.0 * part / of
    if 0 < share < 0.1:
        return "< 0.1 %"
    if 99.9 < share < 100.0:
        return "> 99.9 %"
    return f"{share:.1f} %" if 0 < share < 100 else f"{share:.0f} %"


def size_text(size: int) -> str:
    """A number of bytes: "812 B", "41 kB", "1.2 MB"."""
    for unit, scale in (("GB", 1e9), ("MB", 1e6), ("kB", 1e3)):
        if size >= scale:
            return f"{size / scale:.{0 if size >= 10 * scale else 1}f} {unit}"
    return f"{size} B"


def duration_text(seconds: float) -> str:
    """A time taken: "0.42 s", "12 s", "3 min 5 s"."""
    if seconds < 10.0:
        return f"{seconds:.2f} s"
    if seconds < 120.0:
        return f"{seconds:.0f} s"
    minutes = int(seconds // 60)
    if minutes < 120:
        return f"{minutes} min {seconds - 60 * minutes:.0f} s"
    return f"{minutes // 60} h {minutes % 60} min"
