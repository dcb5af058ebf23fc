"""What a contact carries: the current as it closes, the current that then flows on, the energy."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any, NamedTuple

from simcore.limits.bench import AMPERE, Bench, numbers_at
from simcore.limits.records import AT_LEAST, PRACTICE, Check, judged, spared
from simcore.limits.sections import Corner, Section, rest, worst
from simcore.stages.diode import DiodePole
from simcore.stages.ladder import Ladder
from simcore.stages.response import SinglePole, parallel

USUAL_MOST, USUAL_LEAST = 10.0e-3, 0.1e-3
"""Without ratings: makers' largest currents lie between 0.5 and 10 mA, and a contact of ordinary metals
grows unreliable somewhere below 0.1 mA (common practice, no source)."""
STATED = "stated in the scenario"


class Facing(NamedTuple):
    """What a contact faces as it closes: ``volts`` across it, ``ohms`` behind that, the resistance
    ``pull`` through which current goes on to flow, and all capacitance that it moves (F).
    """

    volts: float
    ohms: float
    pull: float
    farads: float


def facing(parts: Any, corner: Corner) -> Facing | None:
    """What the contact of a built network faces; None for a network that is not known."""
    node = rest(corner, 0)
    if isinstance(parts, SinglePole):
        path = parts.series if parts.farads > 0.0 else math.inf
        open_volts = _joint(parts.pull, path, 0.0 if parts.to_supply else corner.volts, node.x)
        across = corner.volts - open_volts if parts.to_supply else open_volts
        return Facing(across, parts.outer + _beside(parts.pull, path), parts.pull + parts.outer, parts.farads)
    if isinstance(parts, DiodePole):
        path = parts.series if parts.farads > 0.0 else math.inf
        volts = _joint(parts.pull, path, corner.volts, node.x)
        return Facing(volts, _beside(parts.pull, path), parts.pull, parts.farads)
    if isinstance(parts, Ladder):
        path, held = parts.first_series, node.y
        if parts.first_farads == 0.0:
            path, held = parts.first_series + parts.second_series, node.x
        farads = parts.first_farads + parts.second_farads
        path = path if farads > 0.0 else math.inf
        volts = _joint(parts.pull, path, corner.volts, held)
        return Facing(volts, _beside(parts.pull, path), parts.pull, farads)
    return None


def _joint(pull: float, path: float, rail: float, held: float) -> float:
    """Volts of the joint between a rail behind ``pull`` and a capacitor behind ``path`` (ohm)."""
    return rail if math.isinf(path) else (rail * path + held * pull) / (pull + path)


def _beside(pull: float, path: float) -> float:
    return pull if math.isinf(path) else parallel(pull, path)


def peak_current(corner: Corner) -> float:
    """The contact's current (A) at the instant at which it closes; infinite without any resistance."""
    found = facing(corner.parts, corner)
    if found is None:
        return math.nan
    ohms = found.ohms + corner.ohms
    current = found.volts / ohms if ohms > 0.0 else math.inf
    parts = corner.parts
    if isinstance(parts, DiodePole) and not parts.charging and parts.series > 0.0 and parts.farads > 0.0:
        ahead = rest(corner, 0).x - parts.drop
        # A diode that lets the discharge pass holds the joint no lower than its drop below the capacitor.
        if ahead > current * corner.ohms:
            current = ahead / corner.ohms if corner.ohms > 0.0 else math.inf
    return current


def steady_current(corner: Corner) -> float:
    """The current (A) that goes on to flow through the closed contact."""
    found = facing(corner.parts, corner)
    return math.nan if found is None else corner.volts / (found.pull + corner.ohms)


def energy(corner: Corner) -> float:
    """The energy (J) that a closure turns into heat in what lies between capacitor and contact."""
    found = facing(corner.parts, corner)
    return math.nan if found is None else 0.5 * found.farads * corner.volts**2


def _checked(
    check: Check, bench: Bench, section: Section, value: Callable[[Corner], float], rating: float | None
) -> Check:
    """The check at its worst corner, against a rating or the limit it bears already."""
    found = worst(bench.design, section, value, check.relation != AT_LEAST)
    check = replace(
        check, subject=section.subject, corner=found.words, result=found.value,
        numbers=numbers_at(bench.design, section, found.corner),
    )  # fmt: skip
    if math.isnan(found.value):
        return spared(replace(check, result=None), "the network comes from another package")
    if rating is not None:
        check = replace(check, limit=rating, source=STATED)
    if check.limit is None:
        return spared(check, "no rating stated ([contacts] most_energy)")
    return judged(check)


def peak(bench: Bench, section: Section) -> Check:
    """Peak current at closure."""
    check = Check(
        "peak contact current", "",
        "As it closes, the contact carries what the capacitor gives through the resistance between them, "
        "and the pull resistor's share.",
        "V across the contact / (resistance behind it + contact resistance); with a series resistor about "
        "V / (Rs + Rc) + V / Rpull",
        limit=USUAL_MOST, unit=AMPERE, source=f"largest of makers' ratings, 0.5 to 10 mA: {PRACTICE}",
        advice="a larger series resistor between capacitor and contact",
    )  # fmt: skip
    return _checked(check, bench, section, peak_current, bench.design.ratings.most)


def wetting(bench: Bench, section: Section) -> Check:
    """Steady current while closed."""
    check = Check(
        "wetting current", "",
        "While closed, the contact carries the current of the pull resistor; too little of it leaves films "
        "on the contact unbroken.",
        "V / (Rpull + resistance at the contact + contact resistance)",
        relation=AT_LEAST, limit=USUAL_LEAST, unit=AMPERE, source=PRACTICE,
        advice="a smaller pull resistor",
    )  # fmt: skip
    return _checked(check, bench, section, steady_current, bench.design.ratings.least)


def energy_at_closure(bench: Bench, section: Section) -> Check:
    """Energy at closure."""
    check = Check(
        "energy per closure", "",
        "A closure moves the capacitor by the whole supply; the energy that this takes becomes heat in the "
        "resistance in its way, with no resistor there in the contact itself.",
        "C V^2 / 2", unit="J", advice="a smaller capacitor",
    )  # fmt: skip
    return _checked(check, bench, section, energy, bench.design.ratings.energy)
