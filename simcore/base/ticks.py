"""Time as whole picoseconds, so that order is exact and two engines can agree bit for bit."""

import math

from simcore.base.compiling import rule

TICKS_PER_SECOND = 1_000_000_000_000
NEVER = 9_223_372_036_854_775_807
"""A wake-up that does not come; the largest int64."""
LONG_AGO = -4_000_000_000_000_000_000
"""A tick before everything: nothing has changed yet."""

FAR_SECONDS = 4.0e6
"""Delays beyond this (46 days) count as never, which keeps sums inside int64."""


@rule
def ticks(seconds: float) -> int:
    """Round ``seconds`` (s, at most 4e6) to the nearest picosecond."""
    return int(math.floor(seconds * 1.0e12 + 0.5))


@rule
def later(time: int, seconds: float) -> int:
    """``time`` (ticks) plus a delay in seconds, or NEVER when the delay is too far off."""
    if seconds >= FAR_SECONDS:
        return NEVER
    return time + ticks(seconds)


def seconds(time: int) -> float:
    """The instant ``time`` (ticks) in seconds, for showing to people."""
    return time / TICKS_PER_SECOND
