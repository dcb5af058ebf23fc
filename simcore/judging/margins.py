"""Margins: how close the edges and voltages came to the limits of the counter and the inputs.

Every quantity is kept as whole numbers, which add in any order: a histogram, the exact least and
most, how many values missed their limit.  Times are ticks; voltages whole microvolts.

Bins of times are BINS_PER_OCTAVE even parts of each octave from 2^10 to 2^47 ticks (1 ns to 140 s);
bins of voltages BINS_PER_SUPPLY even parts of the nominal supply, from once the supply below 0 up to
1.3 times it.  What lies outside is in the first or last bin.  A quantile is the middle of
the bin that holds it, so it is off by at most half a bin: 1.6 % of a time, 1/1024 of the supply.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from simcore.base.compiling import rule, special
from simcore.base.records import Ints
from simcore.base.ticks import NEVER

(
    SETUP, HOLD, CLOCK_LOW, CLOCK_HIGH, APART,
    SETUP_VOLTS, LOW_A, HIGH_A, LOW_B, HIGH_B,
) = range(10)  # fmt: skip
QUANTITIES = (
    "set-up time", "hold time", "clock low", "clock high", "closest edges",
    "set-up voltage", "low level of A", "high level of A", "low level of B", "high level of B",
)  # fmt: skip
VOLTAGES = (SETUP_VOLTS, LOW_A, HIGH_A, LOW_B, HIGH_B)
MOST_IS_WORST = (LOW_A, LOW_B)
"""Of these the largest value is the worst, of all others the smallest."""

BINS_PER_OCTAVE = 32
FIRST_OCTAVE, LAST_OCTAVE = 10, 47
BINS = BINS_PER_OCTAVE * (LAST_OCTAVE - FIRST_OCTAVE) + 2
BINS_PER_SUPPLY = 512
TIME_RESOLUTION = 0.5 / BINS_PER_OCTAVE
"""Most that the quantile of a time may be off, as a share of it."""
VOLTS_RESOLUTION = 0.5 / BINS_PER_SUPPLY
"""Most that the quantile of a voltage may be off, as a share of the nominal supply."""

MANTISSA_BITS = 52
SHIFT = MANTISSA_BITS - 5
EXPONENT_BIAS = 1023
BELOW_FIRST = (EXPONENT_BIAS + FIRST_OCTAVE) * BINS_PER_OCTAVE - 1
MICROVOLTS = 1.0e6


class Margins(NamedTuple):
    """Over all values of each quantity: ``counts`` (quantities, BINS), ``least`` and ``most``
    (quantities,; NEVER and -NEVER where there is none), ``missed`` (quantities,) values that missed
    their limit.
    """

    counts: Ints
    least: Ints
    most: Ints
    missed: Ints


def no_margins() -> Margins:
    width = len(QUANTITIES)
    return Margins(
        np.zeros((width, BINS), np.int64),
        np.full(width, NEVER, np.int64),
        np.full(width, -NEVER, np.int64),
        np.zeros(width, np.int64),
    )


def joined(one: Margins, other: Margins) -> Margins:
    return Margins(
        one.counts + other.counts,
        np.minimum(one.least, other.least),
        np.maximum(one.most, other.most),
        one.missed + other.missed,
    )


def float_bits(value: float) -> int:
    """The 64 bits of a float as a whole number; of a positive one they rise with it."""
    return int(np.float64(value).view(np.int64))


@special
def _teach_bits() -> None:
    """In compiled code a view needs a float that numba has typed."""
    from numba.extending import overload

    @overload(float_bits, jit_options={"forceinline": True})
    def choose(value):  # type: ignore[no-untyped-def]
        return lambda value: np.float64(value).view(np.int64)


@rule
def bin_of_time(time: int) -> int:
    """The bin of a time in ticks, not negative: its exponent and the upper five bits of its mantissa."""
    return min(max((float_bits(float(time)) >> SHIFT) - BELOW_FIRST, 0), BINS - 1)


@rule
def microvolts(volts: float) -> int:
    return int(math.floor(volts * MICROVOLTS + 0.5))


@rule
def bin_of_volts(value: int, supply: int) -> int:
    """The bin of a voltage; both in microvolts."""
    return min(max((value * BINS_PER_SUPPLY) // supply + BINS_PER_SUPPLY, 0), BINS - 1)


@rule
def enter(margins: Margins, quantity: int, place: int, value: int, missed: bool) -> None:
    """Count a value whose bin is ``place``."""
    margins.counts[quantity, place] += 1
    margins.least[quantity] = min(margins.least[quantity], value)
    margins.most[quantity] = max(margins.most[quantity], value)
    if missed:
        margins.missed[quantity] += 1


@rule
def enter_time(margins: Margins, quantity: int, time: int, limit: int) -> None:
    """Count a time (ticks) that should not be below a limit."""
    enter(margins, quantity, bin_of_time(time), time, time < limit)


@rule
def enter_volts(margins: Margins, quantity: int, value: int, supply: int, missed: bool) -> None:
    """Count a voltage; both in microvolts."""
    enter(margins, quantity, bin_of_volts(value, supply), value, missed)


def middle_of_time(place: int) -> float:
    octave, part = divmod(place - 1, BINS_PER_OCTAVE)
    return math.ldexp(1.0 + (part + 0.5) / BINS_PER_OCTAVE, FIRST_OCTAVE + octave)


def middle_of_volts(place: int, supply: float) -> float:
    """The middle of a bin of voltages, in the unit of ``supply``."""
    return (place - BINS_PER_SUPPLY + 0.5) / BINS_PER_SUPPLY * supply


def values(margins: Margins, quantity: int) -> int:
    return int(margins.counts[quantity].sum())


def place_of(counts: Ints, share: float, *, from_above: bool) -> int:
    """The bin with the value that ``share`` of all values do not exceed (``from_above``: do not fall
    below): numpy's "inverted_cdf".  ValueError without values, or for a share not in (0, 1].
    """
    total = int(counts.sum())
    if total == 0 or not 0.0 < share <= 1.0:
        raise ValueError(f"no quantile {share} of {total} values")
    # A share such as 0.001 is a little more than itself as a float: the rounding must not add a value.
    rank = max(1, math.ceil(share * total * (1.0 - 1.0e-12)))
    running = np.cumsum(counts[::-1] if from_above else counts)
    place = int(np.searchsorted(running, rank))
    return BINS - 1 - place if from_above else place


def quantile(margins: Margins, quantity: int, share: float, supply: int) -> float:
    """The value that ``share`` of all are as bad as, or worse: ticks, or microvolts under a nominal
    ``supply`` (microvolts).  Off by at most the resolution, as long as it is not in an outer bin.
    """
    place = place_of(margins.counts[quantity], share, from_above=quantity in MOST_IS_WORST)
    least, most = float(margins.least[quantity]), float(margins.most[quantity])
    if place == 0:
        return least
    if place == BINS - 1:
        return most
    middle: Any = middle_of_volts(place, supply) if quantity in VOLTAGES else middle_of_time(place)
    return min(max(float(middle), least), most)
