"""Whether the stated resistors and capacitors can be bought: preferred values of IEC 60063."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from simcore.base.draws import Part
from simcore.base.preferred import is_preferred, nearest, series_for, series_of
from simcore.limits.bench import FARAD, OHM, Bench, unit_of
from simcore.limits.records import EQUAL, FAIL, PASS, TIGHT, Change, Check, Number, spared
from simcore.limits.sections import parts_of
from simcore.stages.quiet import OneShot


def value_checks(bench: Bench) -> Iterator[Check]:
    """One check for each resistor and capacitor of networks and one-shots."""
    for section in bench.sections:
        if not section.assumed:
            for key, part in parts_of(section.network):
                if unit_of(key) in (OHM, FARAD):
                    yield preferred_value(section.network_name, key, part)
    for entry in bench.design.stages:
        if isinstance(entry.item, OneShot):
            yield preferred_value(entry.name, "resistor", entry.item.resistor)
            yield preferred_value(entry.name, "capacitor", entry.item.capacitor)


def preferred_value(stage: str, key: str, part: Part) -> Check:
    """A value that is in the series of its tolerance passes; one of a finer series only is tight."""
    series, word = series_for(part.tolerance), key.replace("_", " ")
    check = Check(
        "preferred value", f"{stage}, {word}",
        "The value is one of the series that goes with its tolerance; one of a finer series may have to be "
        "ordered, and others are not made.",
        f"E{series} for {100.0 * part.tolerance:g} %" if part.tolerance else "E24, no tolerance is stated",
        numbers=(Number(word, part.nominal, unit_of(key)),), unit=unit_of(key), relation=EQUAL,
        result=part.nominal, source="IEC 60063",
    )  # fmt: skip
    if part.nominal <= 0.0:
        return spared(replace(check, result=None), "there is no such part")
    found, near = series_of(part.nominal), nearest(part.nominal, series)
    # Values of E24 are made in close tolerances too, though most of them are not in E48 to E192.
    if is_preferred(part.nominal, series) or (series > 24 and found is not None and found <= 24):
        return replace(check, verdict=PASS, limit=part.nominal, why=f"in E{found}")
    check = replace(
        check, limit=near, change=Change(stage, key, near, unit_of(key), series, near),
        advice=f"the nearest value of E{series}",
    )  # fmt: skip
    if found is not None:
        return replace(check, verdict=TIGHT, why=f"in E{found}, which is finer than its tolerance asks for")
    return replace(check, verdict=FAIL, why="in no series; a resistor within a chip need not be")
