"""What every check is given: the design, its sections, its fastest hand, its contacts' chatter."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from simcore.base.draws import Part, toleranced
from simcore.design import Design, StageEntry
from simcore.engines.chain import Chain, wire
from simcore.limits.chatter import Chatter, chatter_of
from simcore.limits.hand import Fastest, fastest
from simcore.limits.records import Number
from simcore.limits.sections import Corner, Section, factors, parts_of, sections

OHM, FARAD, VOLT, AMPERE, SECOND = "ohm", "F", "V", "A", "s"


@dataclass(frozen=True)
class Bench:
    """A design with all that its checks have in common; ``chatter`` is None for contacts that are not
    known.
    """

    design: Design
    chain: Chain
    sections: tuple[Section, ...]
    hand: Fastest
    chatter: Chatter | None

    def with_part(self, stage: str, key: str, value: float) -> Bench:
        """The same with another nominal value of one part; hand and contacts stay."""
        return self.with_item(
            stage, lambda item: item._replace(**{key: getattr(item, key)._replace(nominal=value)})
        )

    def with_item(self, stage: str, change: Any) -> Bench:
        """The same with the record of one stage changed."""
        stages = tuple(
            _changed(entry, change) if entry.name == stage else entry for entry in self.design.stages
        )
        design = replace(self.design, stages=stages)
        return replace(self, design=design, chain=wire(design), sections=sections(design))


def _changed(entry: StageEntry, change: Any) -> StageEntry:
    return replace(entry, item=change(entry.item))


def bench_of(design: Design) -> Bench:
    """Everything that the checks of a design share."""
    return Bench(design, wire(design), sections(design), fastest(design), chatter_of(design))


def unit_of(key: str) -> str:
    """The unit of a part of a network, from the name of its field."""
    if "capacitor" in key:
        return FARAD
    return VOLT if key == "drop" else OHM


def numbers_at(design: Design, section: Section, corner: Corner) -> tuple[Number, ...]:
    """Supply, parts and contact resistance as they are at a corner."""
    ends = {(f.kind, f.place): end for f, end in zip(factors(design, section), corner.ends, strict=True)}
    found = [Number("supply", corner.volts, VOLT)]
    for place, (name, part) in enumerate(parts_of(section.network)):
        value = toleranced(part, float(ends.get(("part", place), 0.5)))
        found.append(Number(name.replace("_", " "), value, unit_of(name)))
    return (*found, Number("contact resistance", corner.ohms, OHM))


def nominal(part: Part) -> Part:
    """The part without its tolerance."""
    return part._replace(tolerance=0.0)
