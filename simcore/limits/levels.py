"""What the input sees at rest and on the way: levels, steepness of edges, noise."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from simcore.limits.bench import SECOND, VOLT, Bench, numbers_at
from simcore.limits.records import AT_LEAST, AT_MOST, CIRCUITS, PRACTICE, Check, Number, judged, spared
from simcore.limits.sections import Corner, Section, delay, rest, worst

PEAK_TO_PEAK = 6.6
"""Gaussian noise stays within so many times its rms value all but a thousandth of the time: common
practice, no source."""


def _ratio(result: float, limit: float) -> float:
    """Result over limit, to find the worst corner where both move."""
    if limit > 0.0:
        return result / limit
    return math.inf if result > 0.0 else 0.0


def low_level(bench: Bench, section: Section) -> Check:
    """The low level against the falling threshold."""
    closed = 1 - section.charging
    found = worst(
        bench.design, section, lambda corner: _ratio(rest(corner, closed).x, corner.logic.falling), True
    )
    corner = found.corner
    return judged(
        Check(
            "low level", section.subject,
            f"At rest with its contact {_word(closed)} the line lies below what the input takes as low.",
            "V at rest (divider of pull resistor and contact, and leakage) <= falling threshold, V_IL",
            numbers=(
                *numbers_at(bench.design, section, corner),
                Number("leakage", corner.leak, "A"),
                Number("falling threshold", corner.logic.falling, VOLT),
            ),
            corner=found.words, result=rest(corner, closed).x, relation=AT_MOST,
            limit=corner.logic.falling, unit=VOLT, source=_level_source(section),
            advice="a smaller series resistor, or a larger pull resistor",
        )
    )  # fmt: skip


def high_level(bench: Bench, section: Section) -> Check:
    """The high level against the rising threshold."""
    closed = section.charging
    found = worst(
        bench.design, section, lambda corner: _ratio(corner.logic.rising, rest(corner, closed).x), True
    )
    corner = found.corner
    return judged(
        Check(
            "high level", section.subject,
            f"At rest with its contact {_word(closed)} the line lies above what the input takes as high.",
            "V at rest (supply less what leakage drops over the resistors) >= rising threshold, V_IH",
            numbers=(
                *numbers_at(bench.design, section, corner),
                Number("leakage", corner.leak, "A"),
                Number("rising threshold", corner.logic.rising, VOLT),
            ),
            corner=found.words, result=rest(corner, closed).x, relation=AT_LEAST,
            limit=corner.logic.rising, unit=VOLT, source=_level_source(section),
            advice="a smaller pull resistor, or an input with less leakage or another threshold",
        )
    )  # fmt: skip


def _word(closed: int) -> str:
    return "closed" if closed else "open"


def _level_source(section: Section) -> str:
    return f"the thresholds of {section.input_name}, with their tolerance"


def edge_time(corner: Corner, closed: int) -> float:
    """Seconds from 10 % to 90 % of the way after a contact's change to ``closed``."""
    before, after = rest(corner, 1 - closed).x, rest(corner, closed).x
    ends = [delay(corner, closed, before + share * (after - before)) for share in (0.1, 0.9)]
    return ends[1] - ends[0]


def transition(bench: Bench, section: Section) -> Check:
    """The slower edge from 10 to 90 % against what the input takes."""

    def slower(corner: Corner) -> float:
        return max(edge_time(corner, 0), edge_time(corner, 1))

    found = worst(bench.design, section, slower, True)
    check = Check(
        "steepness of edges", section.subject,
        "An input without hysteresis wants its edges steep, or it may switch to and fro on the way.",
        "time from 10 % to 90 % of the way, ln 9 x tau = 2.197 tau for one pole",
        numbers=numbers_at(bench.design, section, found.corner),
        corner=found.words, result=found.value, relation=AT_MOST, unit=SECOND,
        source=f"slowest_edge of {section.input_name}; 2.197 tau: {CIRCUITS}",
        advice="an input with hysteresis (kind \"schmitt input\"), which knows no such limit",
    )  # fmt: skip
    if section.slowest_edge is not None:
        return judged(replace(check, limit=section.slowest_edge))
    if hysteresis(found.corner) > 0.0:
        return spared(check, "the input has hysteresis, and no limit is stated")
    return spared(check, f"no rating stated ({section.input_name}.slowest_edge)")


def hysteresis(corner: Corner) -> float:
    """Volts between the two thresholds."""
    return corner.logic.rising - corner.logic.falling


def noise(bench: Bench, section: Section) -> Check:
    """Noise against the hysteresis."""
    found = worst(bench.design, section, hysteresis, False)
    rms = section.logic.noise.rms
    check = Check(
        "noise against hysteresis", section.subject,
        "An edge that noise carries to and fro across one threshold counts several times; it cannot, as "
        "long as the hysteresis is wider than the noise from peak to peak.",
        f"{PEAK_TO_PEAK:g} x rms value <= rising threshold - falling threshold",
        numbers=(Number("noise, rms", rms, VOLT), Number("hysteresis", found.value, VOLT)),
        corner=found.words, result=PEAK_TO_PEAK * rms, relation=AT_MOST, limit=found.value, unit=VOLT,
        source="a data sheet of inverters with hysteresis: noise immunity is the least hysteresis, peak to "
        f"peak; {PEAK_TO_PEAK:g} times the rms value for the peak to peak: {PRACTICE}",
        advice="an input with more hysteresis",
    )  # fmt: skip
    if rms == 0.0:
        return spared(check, f"no noise stated ({section.input_name}.noise)")
    return judged(check)


LEVEL_CHECKS: tuple[Callable[[Bench, Section], Check], ...] = (low_level, high_level, transition, noise)
