"""Networks, and other stages whose kind says how it is joined up, as small schematics in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from simcore.design import Design
    from simcore.stages.facts import StageDrawing


def networks(design: Design) -> list[dict[str, Any]]:
    """Each network with the lines that have it, then each other stage that can be drawn, and its drawing in
    ``words``.
    """
    from simcore.base.compiling import handles
    from simcore.base.records import LINE_NAMES
    from simcore.checks.sections import sections
    from simcore.networks.response import network_parts
    from simcore.stages.facts import drawing

    drawn = [
        (each.network_name, each.lines, each.network, " (taken, for none is stated)" if each.assumed else "")
        for each in sections(design)
    ]
    drawn += [
        (entry.name, entry.lines, entry.item, "")
        for entry in design.stages
        if drawing(entry.item) is not None and not handles(network_parts, type(entry.item))
    ]
    return [
        {
            "stage": name,
            "lines": [LINE_NAMES[line] for line in lines],
            "words": drawing_words(item, design.supply.nominal, note),
        }
        for name, lines, item, note in drawn
    ]


def drawing_words(item: Any, volts: float, note: str = "") -> str:
    """The ways through a network or stage, resistors of 0 ohm in series left out; its parts alone, where its
    kind does not say how they are joined.
    """
    from scenarios.quantities import VOLTAGE, write_quantity
    from simcore.stages.facts import drawing, parts_list

    supply = write_quantity(volts, VOLTAGE)
    texts = {each.key: _text(each.part.nominal, each.unit) for each in parts_list(item) if each.part}
    found = drawing(item)
    if found is None:
        return "; ".join([supply, ", ".join(f"{key} {text}" for key, text in texts.items())])
    branches = [*_branches(found, {**texts, "supply": supply})]
    to = {"ground": "the contact closes to ground", "supply": "the contact closes to the supply"}
    words = "; ".join([*branches, *([to[found.closes_to]] if found.closes_to else [])]) + note
    return f"{words}; {found.note.format(**texts)}" if found.note else words


def _text(value: float, unit: str) -> str:
    from scenarios.quantities import CAPACITANCE, RESISTANCE, TIME, VOLTAGE, write_quantity

    return write_quantity(value, {"ohm": RESISTANCE, "F": CAPACITANCE, "V": VOLTAGE, "s": TIME}[unit])


def _branches(drawing: StageDrawing, texts: dict[str, str]) -> list[str]:
    """Each branch in words; a node has its capacitor where it is met first."""
    shunts = dict(drawing.shunts)
    found = []
    for branch in drawing.branches:
        hops = []
        for name in branch:
            if "series" in name and texts[name].startswith("0 "):
                continue
            shunt = shunts.pop(name, None)
            place = "across it" if (name, drawing.closes_to) == ("contact", "ground") else "to ground"
            hops.append(texts.get(name, name) + (f" with {texts[shunt]} {place}" if shunt else ""))
        found.append(" - ".join(hops))
    return found
