"""Logic inputs: where a voltage becomes a level.

Besides its thresholds, the record of an input has ``inverting`` (1 turns the level over), ``leakage``,
``noise`` and ``delay``.
"""

from __future__ import annotations

from functools import singledispatch
from typing import Any, NamedTuple

from simcore.base.compiling import family, member, rule
from simcore.base.description import (
    AMPERES,
    FREQUENCY,
    NOISE_VOLTS,
    TIMING,
    Conflict,
    InputDescription,
    Key,
    LevelValue,
    SupplyLevel,
    Switch,
    part_of,
    tolerance,
)
from simcore.base.draws import Part, between, toleranced
from simcore.networks.noise import QUIET, Noise
from simcore.stages.delay import PROMPT, GateDelay
from simcore.stages.facts import Component, parts_list


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


INVERTING = Key("inverting", Switch(), "true for an output that is low while the input is high", False)
LEAKAGE = Key(
    "leakage", AMPERES, "largest current that the input draws or gives, either way, each unit its own", 0.0
)
NOISE = Key("noise", NOISE_VOLTS, "rms value of Gaussian noise on the input", 0.0)
NOISE_BANDWIDTH = Key("noise_bandwidth", FREQUENCY, "bandwidth of that noise", 0.0)
RISE_DELAY = Key(
    "rise_delay", TIMING, "from the crossing to a rise of the output; a shorter pulse is swallowed", 0.0
)
FALL_DELAY = Key(
    "fall_delay", TIMING, "from the crossing to a fall of the output; a shorter pulse is swallowed", 0.0
)
OF_DELAYS = {"rise_delay": "of the delay of a rise", "fall_delay": "of the delay of a fall"}


def noise_has_a_bandwidth(values: Any) -> Conflict | None:
    """Noise without a bandwidth would be none."""
    if values.noise > 0.0 and values.noise_bandwidth == 0.0:
        return Conflict(
            "noise_bandwidth", "noise: expected a bandwidth above 0 Hz; write one, or leave the noise out"
        )
    return None


def ordered(low: str, high: str) -> Any:
    """Finds a level ``low`` above the level ``high``."""

    def conflict(values: Any, supply: float) -> Conflict | None:
        least, most = (getattr(values, key).volts(supply) for key in (low, high))
        if least <= most:
            return None
        return Conflict(low, f"expected at most {high}, which is {most:g} V", f"{least:g} V")

    return conflict


def wide_hysteresis(values: Any, supply: float) -> Conflict | None:
    """The lower threshold must not lie below 0 V."""
    threshold = values.threshold.volts(supply)
    if values.hysteresis <= 2.0 * threshold:
        return None
    return Conflict(
        "hysteresis",
        f"expected at most twice the threshold of {threshold:g} V",
        f"{values.hysteresis:g} V",
    )


def level_of(value: LevelValue, tolerance: float = 0.0) -> Level:
    return Level(Part(value.value, tolerance), value.of_supply)


def common(values: Any, delay: GateDelay) -> tuple[int, Leakage, Noise, GateDelay]:
    """What all inputs have behind their thresholds."""
    noise = Noise(values.noise, values.noise_bandwidth)
    return int(values.inverting), Leakage(values.leakage), noise, delay


SCHMITT_INPUT = InputDescription(
    name="schmitt input",
    meaning="An input with hysteresis: it turns high above one threshold and low below another.",
    keys=(
        Key("rising", SupplyLevel(), "threshold above which a low input turns high"),
        Key("falling", SupplyLevel(), "threshold below which a high input turns low"),
        INVERTING, LEAKAGE, NOISE, NOISE_BANDWIDTH, RISE_DELAY, FALL_DELAY,
        tolerance(**OF_DELAYS, rising="of the rising threshold", falling="of the falling threshold"),
    ),
    build=lambda values: SchmittInput(
        level_of(values.rising, values.tolerance.rising), level_of(values.falling, values.tolerance.falling),
        *common(values, GateDelay(part_of(values, "rise_delay"), part_of(values, "fall_delay"))),
    ),
    check=noise_has_a_bandwidth,
    levels=ordered("falling", "rising"),
)  # fmt: skip

PLAIN_INPUT = InputDescription(
    name="plain input",
    meaning="An input without hysteresis, whose one threshold lies somewhere between low and high.",
    keys=(
        Key("low", SupplyLevel(), "surely low below this"),
        Key("high", SupplyLevel(), "surely high above this"),
        INVERTING, LEAKAGE, NOISE, NOISE_BANDWIDTH, RISE_DELAY, FALL_DELAY,
        tolerance(**OF_DELAYS),
    ),
    build=lambda values: PlainInput(
        level_of(values.low), level_of(values.high),
        *common(values, GateDelay(part_of(values, "rise_delay"), part_of(values, "fall_delay"))),
    ),
    check=noise_has_a_bandwidth,
    levels=ordered("low", "high"),
)  # fmt: skip

COMPARATOR = InputDescription(
    name="comparator",
    meaning="A comparator: one threshold with a hysteresis around it, and a delay.",
    keys=(
        Key("threshold", SupplyLevel(), "middle of the two thresholds"),
        Key("hysteresis", NOISE_VOLTS, "between the two thresholds", 0.0),
        Key("delay", TIMING, "from the crossing to the output; a shorter pulse is swallowed", 0.0),
        INVERTING, LEAKAGE, NOISE, NOISE_BANDWIDTH,
        tolerance(threshold="of the threshold", hysteresis="of the hysteresis", delay="of the delay"),
    ),
    build=lambda values: Comparator(
        level_of(values.threshold, values.tolerance.threshold), part_of(values, "hysteresis"),
        *common(values, GateDelay(part_of(values, "delay"), part_of(values, "delay"))),
    ),
    check=noise_has_a_bandwidth,
    levels=wide_hysteresis,
)  # fmt: skip


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
    low = level_volts(logic.low, volts, 0.5)
    high = level_volts(logic.high, volts, 0.5)
    threshold = between(low, high, u[0])
    return Thresholds(threshold, threshold, logic.inverting)


@member(input_thresholds, Comparator)
def comparator_thresholds(
    logic: Comparator, volts: float, u: tuple[float, float, float, float]
) -> Thresholds:
    middle = level_volts(logic.threshold, volts, u[0])
    half = 0.5 * toleranced(logic.hysteresis, u[1])
    return Thresholds(middle + half, middle - half, logic.inverting)


@rule
def leakage_current(leakage: Leakage, u: float) -> float:
    """The current (A) that one built input draws out of its line."""
    return leakage.most * (2.0 * u - 1.0)


class Spread(NamedTuple):
    """A threshold that varies from unit to unit: the ``place`` of its draw, its name, both ends in words."""

    place: int
    name: str
    ends: tuple[str, str]


@singledispatch
def threshold_spreads(logic: Any) -> tuple[Spread, ...]:
    """What of an input's thresholds varies."""
    return ()


def within(tolerance: float) -> tuple[str, str]:
    """Both ends of a tolerance (a share) in words."""
    return f"-{100.0 * tolerance:g} %", f"+{100.0 * tolerance:g} %"


def _spreads(**parts: Part) -> tuple[Spread, ...]:
    return tuple(
        Spread(place, name, within(part.tolerance))
        for place, (name, part) in enumerate(parts.items())
        if part.tolerance
    )


@threshold_spreads.register
def schmitt_spreads(logic: SchmittInput) -> tuple[Spread, ...]:
    return _spreads(rising=logic.rising.part, falling=logic.falling.part)


@threshold_spreads.register
def plain_spreads(logic: PlainInput) -> tuple[Spread, ...]:
    ends = ("at its lowest", "at its highest")
    return (Spread(0, "threshold", ends),) if logic.low != logic.high else ()


@threshold_spreads.register
def comparator_spreads(logic: Comparator) -> tuple[Spread, ...]:
    return _spreads(threshold=logic.threshold.part, hysteresis=logic.hysteresis)


@singledispatch
def at_midpoint(logic: Any, volts: float) -> Any:
    """The nominal input under a supply of ``volts``: for one whose threshold is not stated but lies between
    two levels, midway between them; any other stays as it is.
    """
    return logic


@at_midpoint.register
def plain_midpoint(logic: PlainInput, volts: float) -> PlainInput:
    """Midway between the sure low and the sure high."""
    middle = 0.5 * (level_volts(logic.low, volts, 0.5) + level_volts(logic.high, volts, 0.5))
    level = Level(Part(middle, 0.0), 0)
    return logic._replace(low=level, high=level)


@parts_list.register
def input_parts(logic: SchmittInput) -> tuple[Component, ...]:
    return (Component("gate with hysteresis", 1),)


@parts_list.register
def plain_parts(logic: PlainInput) -> tuple[Component, ...]:
    return (Component("gate", 1),)


@parts_list.register
def comparator_parts(logic: Comparator) -> tuple[Component, ...]:
    return (Component("comparator", 1),)
