"""A network as a small schematic in words, from the supply to the input."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from simcore.design import Design
    from simcore.limits.sections import Section

TO_GROUND = "the contact closes to ground"
TO_SUPPLY = "the contact closes to the supply"


def networks(design: Design) -> list[dict[str, Any]]:
    """Each network with the lines that have it, and its drawing in ``words``."""
    from simcore.base.records import LINE_NAMES
    from simcore.limits.sections import sections

    return [
        {
            "stage": section.network_name,
            "lines": [LINE_NAMES[line] for line in section.lines],
            "words": drawn(section, design.supply.nominal),
        }
        for section in sections(design)
    ]


def drawn(section: Section, volts: float) -> str:
    """The way from the supply over the contact to the input, parts of 0 ohm left out."""
    from scenarios.quantities import CAPACITANCE, RESISTANCE, VOLTAGE, write_quantity
    from simcore.limits.bench import FARAD, unit_of
    from simcore.limits.sections import parts_of

    dimensions = {"ohm": RESISTANCE, FARAD: CAPACITANCE, "V": VOLTAGE}
    parts = dict(parts_of(section.network))
    texts = {key: write_quantity(part.nominal, dimensions[unit_of(key)]) for key, part in parts.items()}
    supply = write_quantity(volts, VOLTAGE)
    form = FORMS.get(type(section.network).__name__)
    if form is None:
        return f"{supply}; {', '.join(f'{key} {text}' for key, text in texts.items())}"
    note = " (taken, for none is stated)" if section.assumed else ""
    return form.format(supply=supply, **_shortened(texts)) + note + _diode(section.network, texts)


def _shortened(texts: dict[str, str]) -> dict[str, str]:
    """With the dash that follows a resistor, and nothing at all for one of 0 ohm."""
    return {
        key: text if "series" not in key else "" if text.startswith("0 ") else f"{text} - "
        for key, text in texts.items()
    }


def _diode(network: Any, texts: dict[str, str]) -> str:
    if "drop" not in texts:
        return ""
    way = "charges" if network.charging else "discharges"
    return (
        f"; a diode of {texts['drop']} across the {texts['series']}, which conducts while the capacitor {way}"
    )


FORMS = {
    "Direct": f"{{supply}} - {{pull_up}} - contact; contact - input; {TO_GROUND}",
    "SeriesCapacitor": "{supply} - {pull_up} - contact; contact - {series}input with {capacitor} to ground; "
    + TO_GROUND,
    "AcrossCapacitor": "{supply} - {pull_up} - contact with {capacitor} across it; contact - input; "
    + TO_GROUND,
    "AtCapacitor": "{supply} - {pull_up} - input with {capacitor} to ground; input - {series}contact; "
    + TO_GROUND,
    "PullDownDirect": "{supply} - contact - {pull_down} - ground; contact - input; " + TO_SUPPLY,
    "PullDownSeries": "{supply} - contact - {pull_down} - ground; contact - {series}input with "
    "{capacitor} to ground; " + TO_SUPPLY,
    "PullDownAcross": "{supply} - contact - {pull_down} - ground, with {capacitor} beside it; contact - "
    "input; " + TO_SUPPLY,
    "DiodeCapacitor": "{supply} - {pull_up} - contact; contact - {series}input with {capacitor} to ground; "
    + TO_GROUND,
    "TwoSection": "{supply} - {pull_up} - contact; contact - {first_series}node with {first_capacitor} to "
    "ground; node - {second_series}input with {second_capacitor} to ground; " + TO_GROUND,
}
"""By the kind of network; a series resistor brings its dash along."""
