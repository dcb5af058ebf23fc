"""Physical quantities for people: values with their units, and a result beside its limit."""

from __future__ import annotations

YEAR = 3.156e7
"""Seconds."""


def quantity(value: float, unit: str, digits: int | None = None) -> str:
    """A number with its unit, to so many significant digits if they are given."""
    from scenarios import quantities as q

    dimensions = {
        "ohm": q.RESISTANCE, "F": q.CAPACITANCE, "s": q.TIME, "V": q.VOLTAGE, "A": q.CURRENT,
        "J": q.ENERGY, "deg": q.ANGLE,
    }  # fmt: skip
    if unit == "s" and abs(value) > 0.1 * YEAR:
        return f"{value / YEAR:.3g} years"
    if unit in dimensions:
        return q.write_quantity(value, dimensions[unit], digits)
    return f"{value:.{digits or 6}g} {unit}".rstrip()


def compared(result: float | None, limit: float | None, unit: str) -> tuple[str, str]:
    """Result and limit with as few digits as tell them apart; "never" for what is not finite."""
    if result is None or limit is None:
        return ("never" if result is None else quantity(result, unit, 3)), (
            "" if limit is None else quantity(limit, unit, 3)
        )
    for digits in (3, 4, 5, 6, 9, 12):
        texts = quantity(result, unit, digits), quantity(limit, unit, digits)
        if texts[0] != texts[1] or result == limit:
            break
    return texts
