"""Whether the stated resistors and capacitors can be bought: preferred values of IEC 60063."""

from __future__ import annotations

from dataclasses import replace

from simcore.base.check import EQUAL, FAIL, FARAD, OHM, PASS, TIGHT, Change, Check, Number, not_applicable
from simcore.base.compiling import handles
from simcore.base.draws import Part
from simcore.base.preferred import is_preferred, nearest, series_for, series_of
from simcore.checks.bench import Bench
from simcore.networks.response import network_parts
from simcore.stages.facts import Component, parts_list


def value_checks(bench: Bench) -> tuple[Check, ...]:
    """One check for each resistor and capacitor: of the networks that are read, then of all other stages."""
    stages = [(each.network_name, each.network) for each in bench.sections if not each.assumed]
    others = [entry for entry in bench.design.stages if not handles(network_parts, type(entry.item))]
    found: dict[str, Check] = {}
    for name, item in (*stages, *((entry.name, entry.item) for entry in others)):
        for component in parts_list(item):
            if component.part is not None and component.unit in (OHM, FARAD):
                check = preferred_value(name, component, component.part)
                found[check.subject] = check  # a network of both lines with two inputs is still one
    return tuple(found.values())


def preferred_value(stage: str, component: Component, part: Part) -> Check:
    """A value that is in the series of its tolerance passes; one of a finer series only is tight."""
    series, word, unit = series_for(part.tolerance), component.name, component.unit
    check = Check(
        "preferred value", f"{stage}, {word}",
        "The value is one of the series that goes with its tolerance; one of a finer series may have to be "
        "ordered, and others are not made.",
        f"E{series} for {100.0 * part.tolerance:g} %" if part.tolerance else "E24, no tolerance is stated",
        numbers=(Number(word, part.nominal, unit),), unit=unit, relation=EQUAL,
        result=part.nominal, source="IEC 60063",
    )  # fmt: skip
    if part.nominal <= 0.0:
        return not_applicable(replace(check, result=None), "there is no such part")
    found, near = series_of(part.nominal), nearest(part.nominal, series)
    # Values of E24 are made in close tolerances too, though most of them are not in E48 to E192.
    if is_preferred(part.nominal, series) or (series > 24 and found is not None and found <= 24):
        return replace(check, verdict=PASS, limit=part.nominal, why=f"in E{found}")
    check = replace(
        check, limit=near, change=Change(stage, component.key, near, unit, series, near),
        advice=f"the nearest value of E{series}",
    )  # fmt: skip
    if found is not None:
        return replace(check, verdict=TIGHT, why=f"in E{found}, which is finer than its tolerance asks for")
    return replace(check, verdict=FAIL, why="in no series; a resistor within a chip need not be")
