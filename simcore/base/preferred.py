"""Preferred values of resistors and capacitors: the E series of IEC 60063.

E3, E6, E12 and E24 are a table, for history rounded eight of its entries otherwise than a formula would.
E48, E96 and E192 are 10 ** (i / n) rounded to three digits, but for one entry of E192: 9.20.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

E24 = (
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
    3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
)  # fmt: skip
"""One decade of E24; every second, fourth and eighth of it is E12, E6 and E3."""
SERIES = (3, 6, 12, 24, 48, 96, 192)
"""Values in a decade, which is what a series is called after (E12 has twelve)."""
STEPS = ((0.2, 6), (0.1, 12), (0.05, 24), (0.02, 48), (0.01, 96), (0.0, 192))
"""The series that goes with a tolerance of at least so much."""
EXCEPTION = (185, 9.2)
"""The entry of E192 that the formula would make 9.19."""
ALIKE = 1.0e-9
"""Two numbers nearer than this share of themselves are the same value."""


def decade(series: int) -> tuple[float, ...]:
    """The values from 1 to below 10 of a series (3, 6, 12, 24, 48, 96 or 192), rising.

    ValueError for any other number.  Source: IEC 60063.
    """
    if series not in SERIES:
        raise ValueError(f"E{series}: there are E{', E'.join(map(str, SERIES))}")
    if series <= 24:
        return E24[:: 24 // series]
    step = 192 // series
    return tuple(_formula(step * i) for i in range(series))


def _formula(i: int) -> float:
    if i == EXCEPTION[0]:
        return EXCEPTION[1]
    return math.floor(100.0 * math.pow(10.0, i / 192.0) + 0.5) / 100.0


def series_for(tolerance: float) -> int:
    """The series that goes with a tolerance (a fraction): E24 with 5 %, E12 with 10 %.

    Without a tolerance (0) nothing is known of the part, and E24 is answered.
    """
    if tolerance <= 0.0:
        return 24
    return next(series for least, series in STEPS if tolerance >= least - ALIKE)


def is_preferred(value: float, series: int) -> bool:
    """Whether a positive value is one of a series, in whatever decade."""
    return abs(nearest(value, series) - value) <= ALIKE * value


def series_of(value: float) -> int | None:
    """The coarsest series that has a positive value, None if none has."""
    return next((series for series in SERIES if is_preferred(value, series)), None)


def nearest(value: float, series: int) -> float:
    """The value of a series nearest to a positive value, by ratio."""
    low = below(value * (1.0 + 3.0 * ALIKE), series)
    high = above(value * (1.0 - 3.0 * ALIKE), series)
    return low if value * value <= low * high else high


def above(value: float, series: int) -> float:
    return next(upward(value, series))


def below(value: float, series: int) -> float:
    return next(downward(value, series))


def upward(value: float, series: int) -> Iterator[float]:
    """The values of a series above a positive value, rising without end."""
    rows, exponent = decade(series), _exponent(value)
    while True:
        for row in rows:
            found = _scaled(row, exponent)
            if found > value * (1.0 + ALIKE):
                yield found
        exponent += 1


def downward(value: float, series: int) -> Iterator[float]:
    """The values of a series below a positive value, falling."""
    rows, exponent = decade(series), _exponent(value)
    while True:
        for row in reversed(rows):
            found = _scaled(row, exponent)
            if found < value * (1.0 - ALIKE):
                yield found
        exponent -= 1


def between(low: float, high: float, series: int) -> tuple[float, ...]:
    """The values of a series from ``low`` (above 0) to ``high``, both included, rising."""
    found: list[float] = []
    for value in upward(low * (1.0 - 2.0 * ALIKE), series):
        if value > high * (1.0 + ALIKE):
            return tuple(found)
        found.append(value)
    return tuple(found)


def _exponent(value: float) -> int:
    """The power of ten of a positive value's first digit; one less just below a power."""
    if not (value > 0.0 and math.isfinite(value)):
        raise ValueError(f"{value}: preferred values are above 0")
    return math.floor(math.log10(value) + ALIKE)


def _scaled(row: float, exponent: int) -> float:
    """An entry in its decade, as the same number that its text would be read as."""
    return float(f"{row}e{exponent}")
