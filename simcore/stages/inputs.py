"""Logic inputs: where a voltage becomes a level."""

from __future__ import annotations

from typing import Any, NamedTuple

from simcore.compiling import family, member, rule
from simcore.draws import Part, between, toleranced


class Level(NamedTuple):
    """A voltage as ``part.nominal`` volts, or times the supply when ``of_supply`` is 1."""

    part: Part
    of_supply: int


class SchmittInput(NamedTuple):
    """Two thresholds: ``rising`` above ``falling``; ``inverting`` 1 turns the level over."""

    rising: Level
    falling: Level
    inverting: int


class PlainInput(NamedTuple):
    """One threshold, somewhere between ``low`` (surely low below it) and ``high`` (surely high
    above it), drawn per unit; ``inverting`` 1 turns the level over.
    """

    low: Level
    high: Level
    inverting: int


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
