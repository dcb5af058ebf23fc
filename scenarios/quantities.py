"""Quantities as people write them ("4k7", "47 nF", "60 rpm", "5 %") to numbers, and back.

Reading is left to quantiphy and rkm-codes, behind a guard: on their own they read "2 min"
as milli-inch, "33R" as a unit R, "4k7" as 4 of a unit k7, "Z0" as a constant of nature and
"x = 5 s" as an assignment.  Here a text must look like a number with a unit of the dimension
that is expected; everything else is refused.
"""

from __future__ import annotations

import functools
import math
import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from scenarios.loading.messages import hint, sentence, shown


class QuantityError(ValueError):
    """A value that cannot be used: ``read`` and ``message`` as `scenarios.loading.messages.sentence` takes
    them, and the ``key`` at fault within a table that was read as a whole.
    """

    def __init__(self, read: str, message: str, key: str = "") -> None:
        super().__init__(sentence(message, read))
        self.read = read
        self.message = message
        self.key = key


@dataclass(frozen=True)
class Dimension:
    """A kind of quantity.

    ``units`` maps each unit to its size in the first one, which values are in.  ``prefixes``
    are the scale factors taken before a unit and ``written`` those used in writing; ``codes``
    the letters of IEC 60062 that may stand in place of the decimal point ("4k7") or, as far as
    they are scale factors, in place of the unit ("4.7k").
    """

    name: str
    units: tuple[tuple[str, float], ...]
    example: str
    prefixes: str = ""
    written: str = ""
    codes: str = ""

    @property
    def unit(self) -> str:
        return self.units[0][0]

    @property
    def called(self) -> str:
        return f"{'an' if self.name[0] in 'aeiou' else 'a'} {self.name}"

    @property
    def expectation(self) -> str:
        """What to write, with an example, for messages."""
        return f"expected {self.called} with its unit, for example {self.example}"


MICRO = "u\u00b5\u03bc"
OHM_SIGNS = "\u03a9\u2126"
RESISTANCE = Dimension(
    "resistance", tuple((unit, 1.0) for unit in ("ohm", "ohms", "Ohm", "Ohms", "R", *OHM_SIGNS)),
    '"4k7", "4.7 kohm" or "33R"', "GMKkm", "GMkm", "LlRrKkMG" + OHM_SIGNS,
)  # fmt: skip
CAPACITANCE = Dimension(
    "capacitance", (("F", 1.0),), '"47 nF", "2n2" or "1u0"', f"m{MICRO}np", "munp", f"m{MICRO}npF"
)
TIME = Dimension(
    "time", (("s", 1.0), ("min", 60.0), ("h", 3600.0)), '"500 us", "28 ms" or "2 min"', f"m{MICRO}np", "munp"
)
VOLTAGE = Dimension("voltage", (("V", 1.0),), '"3.3 V" or "800 mV"', f"km{MICRO}", "kmu", "V")
CURRENT = Dimension("current", (("A", 1.0),), '"10 mA" or "50 uA"', f"m{MICRO}n", "mun")
ENERGY = Dimension("energy", (("J", 1.0),), '"1 uJ" or "500 nJ"', f"m{MICRO}np", "munp")
ANGLE = Dimension("angle", (("deg", 1.0), ("degrees", 1.0), ("\u00b0", 1.0)), '"0.3 deg"')
SPEED = Dimension(
    "speed of turning",
    (("rev/s", 1.0), ("turns/s", 1.0), ("rpm", 1.0 / 60.0), ("deg/s", 1.0 / 360.0)),
    '"60 rpm", "2 rev/s" or "360 deg/s"',
)
FREQUENCY = Dimension("frequency", (("Hz", 1.0),), '"1 MHz" or "32 kHz"', "GMk", "GMk")
SHARE = Dimension("share", (("%", 0.01),), '"5 %"', prefixes="%")
"""Values of a share are fractions: "5 %" is 0.05."""
DIMENSIONS = {
    each.name: each
    for each in (
        RESISTANCE, CAPACITANCE, TIME, VOLTAGE, CURRENT, ENERGY, ANGLE, SPEED, FREQUENCY, SHARE,
    )
}  # fmt: skip
"""By the names that descriptions use."""

_TEXT = re.compile(
    r"\s*(?P<number>[-+\u2212]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]{1,4})?)"
    r"\s*(?P<unit>[A-Za-z%\u00b0\u00b5\u03bc\u03a9\u2126/]*)\s*"
)
_CODE = re.compile(
    r"\s*(?=.*[0-9])(?P<whole>[0-9]*)(?P<letter>(?![eE])[A-Za-z\u00b5\u03bc\u03a9\u2126])(?P<part>[0-9]*)\s*"
)
_RATE = re.compile(
    r"\s*([0-9]+(?:\.[0-9]+)?)(?:\s+wrong)?\s+in\s+([0-9]+(?:\.[0-9]+)?)(?:\s+(?:steps?|detents?))?\s*"
)
_LONGEST = 80
_POWERS = {"G": 9, "M": 6, "k": 3, "": 0, "m": -3, "u": -6, "n": -9, "p": -12}


@functools.cache
def _reader(dimension: Dimension) -> Any:
    """A quantiphy class for one dimension, so that settings made elsewhere have no effect."""
    import rkm_codes
    from quantiphy import Quantity

    rkm_codes.set_prefs(rkm_maps={**rkm_codes.IEC60062_MAPS, "\u2126": ("", "\u03a9"), "V": ("", "V")})
    reader: Any = type("Reader", (Quantity,), {})
    reader.set_prefs(
        input_sf=dimension.prefixes or "k",
        ignore_sf=not dimension.prefixes,
        known_units=[unit for unit, _ in dimension.units if unit != "%"],
        comma="",
    )
    return reader


def read_quantity(value: Any, dimension: Dimension) -> float:
    """The number that ``value`` (text) means, in ``dimension.unit`` (a share: as a fraction).

    QuantityError for a bare number, an unknown or missing unit, a unit of another dimension, a
    thing that is no number, or a number too large for a float.
    """
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        raise QuantityError(shown(value), f"a bare number has no unit; {dimension.expectation}")
    if not isinstance(value, str):
        raise QuantityError(shown(value), dimension.expectation)
    short = value if len(value) <= _LONGEST else ""
    code = _CODE.fullmatch(short) if dimension.codes else None
    text = _TEXT.fullmatch(short)
    if code is not None:
        number = _of_code(value, code, dimension)
    elif text is not None:
        number = _of_text(value, text, dimension)
    else:
        raise QuantityError(shown(value), dimension.expectation)
    if not math.isfinite(number):
        raise QuantityError(shown(value), f"too large a number; {dimension.expectation}")
    return number + 0.0


def _of_code(value: str, code: re.Match[str], dimension: Dimension) -> float:
    """A code of IEC 60062 such as R47, 4K7, 470R or 2n2, if its letter belongs to the dimension."""
    import rkm_codes

    letter = code["letter"]
    if letter not in dimension.codes:
        raise _wrong_unit(value, letter, dimension)
    _reader(dimension)
    # A letter at the front would be taken for a sign by rkm-codes ("n47"), hence the zero.
    return float(rkm_codes.from_rkm(f"{code['whole'] or '0'}{letter}{code['part']}"))


def _of_text(value: str, text: re.Match[str], dimension: Dimension) -> float:
    unit = text["unit"]
    if not unit:
        raise QuantityError(shown(value), f"the unit is missing; {dimension.expectation}")
    found = _reader(dimension)(f"{text['number']} {unit}")
    units = dict(dimension.units)
    if found.units in units:
        return float(found) * units[found.units]
    if not found.units and (unit == "%" or unit in dimension.codes):
        return float(found)
    raise _wrong_unit(value, unit, dimension)


def _wrong_unit(value: str, unit: str, dimension: Dimension) -> QuantityError:
    spelled = [prefix + dimension.unit for prefix in ("", *dimension.written)]
    spelled += [each for each, _ in dimension.units]
    return QuantityError(
        shown(value),
        f'"{unit}" is not a unit of {dimension.name}; {dimension.expectation}{hint(unit, spelled)}',
    )


def read_rate(value: Any) -> float:
    """A share of steps, "1 in 1000", "1 wrong in 1000 steps" or "0.1 %", above 0 and below 1.

    QuantityError when it is none of these.
    """
    expectation = 'expected a rate such as "1 in 1000 steps" or "0.1 %"'
    if not isinstance(value, str):
        raise QuantityError(shown(value), expectation)
    found = _RATE.fullmatch(value) if len(value) <= _LONGEST else None
    if found is not None:
        few, many = float(found[1]), float(found[2])
        rate = few / many if many > 0.0 else 0.0
    elif value.strip().endswith("%"):
        rate = read_quantity(value, SHARE)
    else:
        raise QuantityError(shown(value), expectation)
    if not 0.0 < rate < 1.0:
        raise QuantityError(shown(value), f"{expectation}, above 0 and below 1")
    return rate


def write_quantity(value: float, dimension: Dimension, digits: int | None = None) -> str:
    """``value`` (in ``dimension.unit``) as text with a unit, such as "47 nF".

    Without ``digits`` the text reads back as exactly the same number; with it, the number is
    rounded to so many significant digits.
    """
    number = _rounded(Decimal(repr(float(value))), digits)
    if dimension is SHARE:
        return f"{_plain(number.scaleb(2))} %"
    if dimension is SPEED:
        turns = _rounded(Decimal(repr(round(float(value) * 60.0, 9))), digits)
        if digits is not None or read_quantity(f"{turns} rpm", SPEED) == value:
            return f"{_plain(turns)} rpm"
    prefix = _prefix(number, dimension)
    return f"{_plain(number.scaleb(-_POWERS[prefix]))} {prefix}{dimension.unit}"


def _prefix(number: Decimal, dimension: Dimension) -> str:
    """The scale factor that leaves one to three digits before the point, as far as there is one."""
    if number == 0:
        return ""
    power = 3 * (number.adjusted() // 3)
    prefixes: list[str] = ["", *dimension.written]
    return min(prefixes, key=lambda prefix: abs(_POWERS[prefix] - power))


def _rounded(number: Decimal, digits: int | None) -> Decimal:
    if digits is None or number == 0:
        return number
    return round(number, digits - 1 - number.adjusted())


def _plain(number: Decimal) -> str:
    """Digits without exponent and trailing zeros."""
    return f"{number.normalize() + 0:f}"
