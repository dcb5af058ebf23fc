"""How long a built section takes to pass a change on: bounds by the exponential law.

With end voltages v_open > v_closed and thresholds v_closed < falling <= rising < v_open:

* a fall starts at ``rising`` or above and at most at v_open, so its delay lies between
  tau_closed ln((rising - v_closed) / (falling - v_closed)) and
  tau_closed ln((v_open - v_closed) / (falling - v_closed));
* a rise starts at ``falling`` or below and at least at v_closed, so its delay lies between
  tau_open ln((v_open - falling) / (v_open - rising)) and
  tau_open ln((v_open - v_closed) / (v_open - rising)).

All four grow in proportion to the capacitor.  They hold as long as each level lasts longer than
the longest delay into it, because then every change starts from beyond the threshold that the
one before had to reach.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from simcore.base.draws import Part
from simcore.base.ticks import TICKS_PER_SECOND
from simcore.networks.analogue import Pole


class Delays(NamedTuple):
    """Bounds in seconds."""

    fall_low: float
    fall_high: float
    rise_low: float
    rise_high: float


def delays(pole: Pole) -> Delays:
    """The four bounds."""
    span = pole.v_open - pole.v_closed
    assert pole.v_closed < pole.falling <= pole.rising < pole.v_open
    fall = pole.falling - pole.v_closed
    rise = pole.v_open - pole.rising
    return Delays(
        pole.tau_closed * math.log((pole.rising - pole.v_closed) / fall),
        pole.tau_closed * math.log(span / fall),
        pole.tau_open * math.log((pole.v_open - pole.falling) / rise),
        pole.tau_open * math.log(span / rise),
    )


def spread(*lines: Delays) -> float:
    """The most by which two delays of any of the lines can differ."""
    lowest = min(min(line.fall_low, line.rise_low) for line in lines)
    highest = max(max(line.fall_high, line.rise_high) for line in lines)
    return highest - lowest


def fall_time(pole: Pole, start: float) -> float:
    """Seconds from ``start`` volts to the falling threshold with the contact closed."""
    return pole.tau_closed * math.log((start - pole.v_closed) / (pole.falling - pole.v_closed))


def rise_time(pole: Pole, start: float) -> float:
    """Seconds from ``start`` volts to the rising threshold with the contact open."""
    return pole.tau_open * math.log((pole.v_open - start) / (pole.v_open - pole.rising))


def discharged(pole: Pole, start: float, seconds: float) -> float:
    """Volts after ``seconds`` closed."""
    return pole.v_closed + (start - pole.v_closed) * math.exp(-seconds / pole.tau_closed)


def charged(pole: Pole, start: float, seconds: float) -> float:
    """Volts after ``seconds`` open."""
    return pole.v_open + (start - pole.v_open) * math.exp(-seconds / pole.tau_open)


def with_capacitor(network: Any, farads: float) -> Any:
    """The same network around another capacitor of the same tolerance."""
    return network._replace(capacitor=Part(farads, network.capacitor.tolerance))


def in_ticks(seconds: float) -> float:
    """Seconds as a number of ticks, not rounded."""
    return seconds * TICKS_PER_SECOND
