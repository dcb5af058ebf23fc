"""Logic inputs: where a voltage becomes a level.

Besides its thresholds, the record of an input has ``inverting`` (1 turns the level over), ``leakage``,
``noise`` and ``delay``.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.base.compiling import family, member, rule
from simcore.base.draws import Part, between, toleranced
from simcore.stages.delay import PROMPT, GateDelay
from simcore.stages.noise import QUIET, Noise


class Level(NamedTuple):
    """A voltage as ``part.nominal`` volts, or times the supply when ``of_supply`` is 1."""

    part: Part
    of_supply: int


class Leakage(NamedTuple):
    """Input current (A): each unit's lies evenly within +- ``most``."""

    most: float


TIGHT = Leakage(0.0)
"""No leakage."""


class SchmittInput(NamedTuple):
    """Two thresholds: ``rising`` above ``falling``."""

    rising: Level
    falling: Level
    inverting: int
    leakage: Leakage = TIGHT
    noise: Noise = QUIET
    delay: GateDelay = PROMPT


class PlainInput(NamedTuple):
    """One threshold, somewhere between ``low`` (surely low below it) and ``high`` (surely high
    above it), drawn per unit.
    """

    low: Level
    high: Level
    inverting: int
    leakage: Leakage = TIGHT
    noise: Noise = QUIET
    delay: GateDelay = PROMPT


class Comparator(NamedTuple):
    """Thresholds half the ``hysteresis`` (V) above and below ``threshold``."""

    threshold: Level
    hysteresis: Part
    inverting: int
    leakage: Leakage = TIGHT
    noise: Noise = QUIET
    delay: GateDelay = PROMPT


class Thresholds(NamedTuple):
    """The built input: volts, and whether it turns the level over."""

    rising: float
    falling: float
    inverting: int


@family
def input_thresholds(logic: Any, volts: float, u: tuple[float, float, float, float]) -> Thresholds:
    """The thresholds of one built unit under a supply of ``volts``, from draws ``u``."""
    raise NotImplementedError


@rule
def level_volts(level: Level, volts: float, u: float) -> float:
    """A level in volts, within its tolerance."""
    value = toleranced(level.part, u)
    return value * volts if level.of_supply else value


@member(input_thresholds, SchmittInput)
def schmitt_thresholds(logic: SchmittInput, volts: float, u: tuple[float, float, float, float]) -> Thresholds:
    """Both thresholds vary on their own but never cross."""
    rising = level_volts(logic.rising, volts, u[0])
    falling = level_volts(logic.falling, volts, u[1])
    return Thresholds(rising, min(falling, rising), logic.inverting)


@member(input_thresholds, PlainInput)
def plain_thresholds(logic: PlainInput, volts: float, u: tuple[float, float, float, float]) -> Thresholds:
    """Rising and falling are one and the same."""
    low = level_volts(logic.low, volts, 0.5)
    high = level_volts(logic.high, volts, 0.5)
    threshold = between(low, high, u[0])
    return Thresholds(threshold, threshold, logic.inverting)


@member(input_thresholds, Comparator)
def comparator_thresholds(
    logic: Comparator, volts: float, u: tuple[float, float, float, float]
) -> Thresholds:
    """Threshold and hysteresis vary on their own."""
    middle = level_volts(logic.threshold, volts, u[0])
    half = 0.5 * toleranced(logic.hysteresis, u[1])
    return Thresholds(middle + half, middle - half, logic.inverting)


@rule
def leakage_current(leakage: Leakage, u: float) -> float:
    """The current (A) that one built input draws out of its line."""
    return leakage.most * (2.0 * u - 1.0)
