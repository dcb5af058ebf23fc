"""The checks of a network and its input: what the contact carries, what the input sees at rest and on the
way, and whether the network is quick enough for the hand and slow enough for the chatter.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from simcore.base.check import (
    AMPERE,
    AT_LEAST,
    AT_MOST,
    CIRCUITS,
    DOWN,
    FARAD,
    HAND,
    INSERT,
    NONE,
    OHM,
    PRACTICE,
    SECOND,
    STILL,
    UP,
    VOLT,
    Chatter,
    Check,
    Number,
    Remedy,
    judged,
    not_applicable,
)
from simcore.checks.context import CheckContext, numbers_at
from simcore.checks.sections import Corner, NetworkSection, delay, lines_words, rest, turning, worst
from simcore.networks.response import Facing, facing
from simcore.stages.facts import PULLS, bridges_openings, parts_list

CAPACITORS = ("capacitor", "second_capacitor", "first_capacitor")
SERIES_RESISTORS = ("series", "first_series")
LESS_CAPACITANCE, MORE_CAPACITANCE = (Remedy(CAPACITORS, way, FARAD) for way in (DOWN, UP))
LOWER_PULL, HIGHER_PULL = (Remedy(PULLS, way, OHM) for way in (DOWN, UP))
LESS_SERIES, MORE_SERIES = (Remedy(SERIES_RESISTORS, way, OHM) for way in (DOWN, UP))
LESS_AT_INPUT = Remedy(("series",), DOWN, OHM)
ADDED_SERIES = Remedy(("series",), INSERT, OHM)

USUAL_MOST, USUAL_LEAST = 10.0e-3, 0.1e-3
"""Without ratings: makers' largest currents lie between 0.5 and 10 mA, and a contact of ordinary metals
grows unreliable somewhere below 0.1 mA (common practice, no source)."""
STATED = "stated in the scenario"


def contact_faces(corner: Corner) -> Facing | None:
    """What the contact of a section faces as it closes."""
    return facing(corner.parts, corner.volts, rest(corner, 0))


def peak_current(corner: Corner) -> float:
    """The contact's current (A) at the instant at which it closes; infinite without any resistance."""
    found = contact_faces(corner)
    if found is None:
        return math.nan
    ohms = found.ohms + corner.ohms
    current = found.volts / ohms if ohms > 0.0 else math.inf
    if found.held > current * corner.ohms:
        current = found.held / corner.ohms if corner.ohms > 0.0 else math.inf
    return current


def steady_current(corner: Corner) -> float:
    """The current (A) that goes on to flow through the closed contact."""
    found = contact_faces(corner)
    return math.nan if found is None else corner.volts / (found.pull + corner.ohms)


def energy(corner: Corner) -> float:
    """The energy (J) that a closure turns into heat in what lies between capacitor and contact."""
    found = contact_faces(corner)
    return math.nan if found is None else 0.5 * found.farads * corner.volts**2


def _checked(
    check: Check,
    context: CheckContext,
    section: NetworkSection,
    value: Callable[[Corner], float],
    rating: float | None,
) -> Check:
    """The check at its worst corner, against a rating or its own limit."""
    found = worst(context.design, section, value, check.relation != AT_LEAST)
    check = replace(
        check, subject=section.subject, corner=found.words, result=found.value,
        numbers=numbers_at(context.design, section, found.corner),
    )  # fmt: skip
    if math.isnan(found.value):
        return not_applicable(replace(check, result=None), "the network comes from another package")
    if rating is not None:
        check = replace(check, limit=rating, source=STATED)
    if check.limit is None:
        return not_applicable(check, "no rating stated ([contacts] most_energy)")
    return judged(check)


def peak(context: CheckContext, section: NetworkSection) -> Check:
    check = Check(
        "peak contact current", "",
        "As it closes, the contact carries what the capacitor gives through the resistance between them, "
        "and the pull resistor's share.",
        "V across the contact / (resistance behind it + contact resistance); with a series resistor about "
        "V / (Rs + Rc) + V / Rpull",
        limit=USUAL_MOST, unit=AMPERE, source=f"largest of makers' ratings, 0.5 to 10 mA: {PRACTICE}",
        advice="a larger series resistor between capacitor and contact",
        remedies=(ADDED_SERIES, MORE_SERIES, HIGHER_PULL),
    )  # fmt: skip
    return _checked(check, context, section, peak_current, context.design.ratings.most)


def wetting(context: CheckContext, section: NetworkSection) -> Check:
    check = Check(
        "wetting current", "",
        "While closed, the contact carries the current of the pull resistor; too little of it leaves films "
        "on the contact unbroken.",
        "V / (Rpull + resistance at the contact + contact resistance)",
        relation=AT_LEAST, limit=USUAL_LEAST, unit=AMPERE, source=PRACTICE,
        advice="a smaller pull resistor",
        remedies=(LOWER_PULL,),
    )  # fmt: skip
    return _checked(check, context, section, steady_current, context.design.ratings.least)


def energy_at_closure(context: CheckContext, section: NetworkSection) -> Check:
    check = Check(
        "energy per closure", "",
        "A closure moves the capacitor by the whole supply; the energy that this takes becomes heat in the "
        "resistance in its way, with no resistor there in the contact itself.",
        "C V^2 / 2", unit="J", advice="a smaller capacitor", remedies=(LESS_CAPACITANCE,),
    )  # fmt: skip
    return _checked(check, context, section, energy, context.design.ratings.energy)


PEAK_TO_PEAK = 6.6
"""Gaussian noise stays within so many times its rms value all but a thousandth of the time: common
practice, no source."""


def _ratio(result: float, limit: float) -> float:
    """Result over limit, to find the worst corner where both move."""
    if limit > 0.0:
        return result / limit
    return math.inf if result > 0.0 else 0.0


def low_level(context: CheckContext, section: NetworkSection) -> Check:
    closed = 1 - section.charging
    found = worst(
        context.design, section, lambda corner: _ratio(rest(corner, closed).x, corner.logic.falling), True
    )
    corner = found.corner
    return judged(
        Check(
            "low level", section.subject,
            f"At rest with its contact {_state(closed)} the line lies below what the input takes as low.",
            "V at rest (divider of pull resistor and contact, and leakage) <= falling threshold, V_IL",
            numbers=(
                *numbers_at(context.design, section, corner),
                Number("leakage", corner.leak, "A"),
                Number("falling threshold", corner.logic.falling, VOLT),
            ),
            corner=found.words, result=rest(corner, closed).x, relation=AT_MOST,
            limit=corner.logic.falling, unit=VOLT, source=_level_source(section),
            advice="a smaller series resistor, or a larger pull resistor",
            remedies=(LESS_AT_INPUT, HIGHER_PULL),
        )
    )  # fmt: skip


def high_level(context: CheckContext, section: NetworkSection) -> Check:
    closed = section.charging
    found = worst(
        context.design, section, lambda corner: _ratio(corner.logic.rising, rest(corner, closed).x), True
    )
    corner = found.corner
    return judged(
        Check(
            "high level", section.subject,
            f"At rest with its contact {_state(closed)} the line lies above what the input takes as high.",
            "V at rest (supply less what leakage drops over the resistors) >= rising threshold, V_IH",
            numbers=(
                *numbers_at(context.design, section, corner),
                Number("leakage", corner.leak, "A"),
                Number("rising threshold", corner.logic.rising, VOLT),
            ),
            corner=found.words, result=rest(corner, closed).x, relation=AT_LEAST,
            limit=corner.logic.rising, unit=VOLT, source=_level_source(section),
            advice="a smaller pull resistor, or an input with less leakage or another threshold",
            remedies=(LOWER_PULL, LESS_AT_INPUT),
        )
    )  # fmt: skip


def _level_source(section: NetworkSection) -> str:
    return f"the thresholds of {section.input_name}, with their tolerance"


def edge_time(corner: Corner, closed: int) -> float:
    """Seconds from 10 % to 90 % of the way after a contact's change to ``closed``."""
    before, after = rest(corner, 1 - closed).x, rest(corner, closed).x
    ends = [delay(corner, closed, before + share * (after - before)) for share in (0.1, 0.9)]
    return ends[1] - ends[0]


def transition(context: CheckContext, section: NetworkSection) -> Check:
    """The slower edge from 10 to 90 % against what the input takes."""

    def slower(corner: Corner) -> float:
        return max(edge_time(corner, 0), edge_time(corner, 1))

    found = worst(context.design, section, slower, True)
    check = Check(
        "steepness of edges", section.subject,
        "An input without hysteresis wants its edges steep, or it may switch to and fro on the way.",
        "time from 10 % to 90 % of the way, ln 9 x tau = 2.197 tau for one pole",
        numbers=numbers_at(context.design, section, found.corner),
        corner=found.words, result=found.value, relation=AT_MOST, unit=SECOND,
        source=f"slowest_edge of {section.input_name}; 2.197 tau: {CIRCUITS}",
        advice="an input with hysteresis (kind \"schmitt input\"), which knows no such limit",
        remedies=(LESS_CAPACITANCE,),
    )  # fmt: skip
    if section.slowest_edge is not None:
        return judged(replace(check, limit=section.slowest_edge))
    if hysteresis(found.corner) > 0.0:
        return not_applicable(check, "the input has hysteresis, and no limit is stated")
    return not_applicable(check, f"no rating stated ({section.input_name}.slowest_edge)")


def hysteresis(corner: Corner) -> float:
    return corner.logic.rising - corner.logic.falling


def noise(context: CheckContext, section: NetworkSection) -> Check:
    found = worst(context.design, section, hysteresis, False)
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
        return not_applicable(check, f"no noise stated ({section.input_name}.noise)")
    return judged(check)


TO_THRESHOLD = "tau ln((V_end - V_start) / (V_end - V_threshold))"


def charge(context: CheckContext, section: NetworkSection) -> Check:
    remedies = (LESS_CAPACITANCE, LOWER_PULL)
    return _against_dwell(context, section, section.charging, ("charge time", "rises"), remedies)


def discharge(context: CheckContext, section: NetworkSection) -> Check:
    remedies = (LESS_CAPACITANCE, LESS_SERIES)
    return _against_dwell(context, section, 1 - section.charging, ("discharge time", "falls"), remedies)


def _state(closed: int) -> str:
    return "closed" if closed else "open"


def _against_dwell(
    context: CheckContext, section: NetworkSection, closed: int, words: tuple[str, str],
    remedies: tuple[Remedy, ...],
) -> Check:  # fmt: skip
    """The time to the threshold against the shortest time that the contact stays open or closed; ``words``
    are the check's name and what the voltage does.
    """
    found = worst(context.design, section, lambda corner: turning(section, corner, closed), True)
    logic = found.corner.logic
    threshold = logic.rising if closed == section.charging else logic.falling
    dwell = min((context.hand.dwell.get((line, closed), NONE) for line in section.lines), default=NONE)
    check = Check(
        words[0], section.subject,
        f"The voltage {words[1]} past the threshold before the contact, {_state(closed)}, changes again: "
        "else an edge is lost. Chatter takes its part of that time.",
        f"{TO_THRESHOLD} <= shortest time that the contact stays {_state(closed)}",
        advice="a smaller capacitor", remedies=remedies,
        corner=found.words, result=found.value, relation=AT_MOST, limit=dwell.seconds, unit=SECOND,
        numbers=(*numbers_at(context.design, section, found.corner), Number("threshold", threshold, "V")),
        source=f"{HAND}; the formula: {CIRCUITS}",
    )  # fmt: skip
    if math.isinf(dwell.seconds):
        return not_applicable(replace(check, limit=None), STILL)
    why = f"shortest in {dwell.gesture}"
    if math.isinf(found.value):
        why = f"the voltage never gets to the threshold; {why}"
    return judged(replace(check, why=why))


GAP = Check(
    "open gap ridden through", "",
    "Chatter after a make opens the contact for moments; an opening too short for the voltage to get "
    "from its rest to the threshold goes unnoticed.",
    f"{TO_THRESHOLD} >= longest opening in a make's chatter",
    relation=AT_LEAST, unit=SECOND,
    source="the contacts of the scenario: one burst in a thousand holds a longer opening, at the median "
    f"pace of the slowest gesture; the formula: {CIRCUITS}",
    advice="a larger capacitor", remedies=(MORE_CAPACITANCE,),
)  # fmt: skip


def ride_through(context: CheckContext, section: NetworkSection) -> Check:
    """The longest open gap that the network bridges against that of the contacts."""
    found = worst(context.design, section, lambda corner: turning(section, corner, 0), False)
    logic = found.corner.logic
    threshold = logic.falling if section.charging else logic.rising
    check = replace(
        GAP, subject=section.subject, corner=found.words, result=found.value, advice=_bridge(section),
        numbers=(*numbers_at(context.design, section, found.corner), Number("threshold", threshold, "V")),
    )  # fmt: skip
    return _against_chatter(check, context, section.lines)


def _bridge(section: NetworkSection) -> str:
    """What would help a network, with a capacitor or without."""
    if any(component.unit == FARAD for component in parts_list(section.network)):
        return GAP.advice
    return "a capacitor, a filter, or a counter that chatter cannot mislead"


def unbridged(context: CheckContext) -> Check | None:
    """The same for lines that are read as logic at once; None if there are none."""
    lines = tuple(n for n in (0, 1) if not any(n in section.lines for section in context.sections))
    if not lines:
        return None
    check = replace(
        GAP, subject=f"{lines_words(lines)}, read as logic", result=0.0,
        corner="there is no network", advice="a network, a filter, or a counter that chatter cannot mislead",
    )  # fmt: skip
    return _against_chatter(check, context, lines)


def _against_chatter(check: Check, context: CheckContext, lines: tuple[int, ...]) -> Check:
    chatter = context.chatter
    if chatter is None:
        return not_applicable(check, "the contacts come from another package")
    if chatter.back_make == 0.0:
        return not_applicable(check, "the contacts do not open once they have closed")
    if check.result == 0.0 and _filtered(context, lines):
        return not_applicable(check, "there is no capacitor, and a stage behind it does the filtering")
    return judged(replace(check, limit=chatter.back_make, why=_pace(chatter)))


def _filtered(context: CheckContext, lines: tuple[int, ...]) -> bool:
    """Whether every line passes a filter of logic levels."""
    filters = [entry for entry in context.design.stages if bridges_openings(entry.item)]
    return all(any(line in entry.lines for entry in filters) for line in lines)


def _pace(chatter: Chatter) -> str:
    return (
        f"the slowest crossing takes {chatter.slow * 1e3:.3g} ms for a degree of shaft"
        if chatter.slow
        else ""
    )


SECTION_CHECKS: tuple[Callable[[CheckContext, NetworkSection], Check], ...] = (
    peak, wetting, energy_at_closure, low_level, high_level, transition, noise, charge, discharge,
    ride_through,
)  # fmt: skip
"""In the order in which they are shown."""
