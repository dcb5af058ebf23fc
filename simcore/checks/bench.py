"""What every check is given: the design, its sections, its fastest hand, its contacts' chatter."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from simcore.base.check import OHM, VOLT, Chatter, Number, Surroundings
from simcore.base.draws import toleranced
from simcore.checks.chatter import chatter_of
from simcore.checks.fastest import Fastest, fastest
from simcore.checks.sections import Corner, Section, factors, parts_of, sections
from simcore.design import Chain, Design, StageEntry
from simcore.stages.facts import parts_list


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

    def around(self, name: str, lines: tuple[int, ...] = (0, 1)) -> Surroundings:
        """What the checks of one stage or of the counter may ask."""
        hand = self.hand
        return Surroundings(
            name, lines, hand.shortest_level(lines), hand.shortest_cycle(lines), hand.closest(), self.chatter
        )

    def with_part(self, stage: str, key: str, value: float) -> Bench:
        """The same with another nominal value of one part; hand and contacts stay."""
        return self.with_item(
            stage, lambda item: item._replace(**{key: getattr(item, key)._replace(nominal=value)})
        )

    def with_item(self, stage: str, change: Any) -> Bench:
        stages = tuple(
            _changed(entry, change) if entry.name == stage else entry for entry in self.design.stages
        )
        design = replace(self.design, stages=stages)
        return replace(self, design=design, chain=design.chain, sections=sections(design))


def _changed(entry: StageEntry, change: Any) -> StageEntry:
    return replace(entry, item=change(entry.item))


def bench_of(design: Design) -> Bench:
    return Bench(design, design.chain, sections(design), fastest(design), chatter_of(design))


def numbers_at(design: Design, section: Section, corner: Corner) -> tuple[Number, ...]:
    """Supply, parts and contact resistance as they are at a corner."""
    ends = {(f.kind, f.place): end for f, end in zip(factors(design, section), corner.ends, strict=True)}
    units = {component.key: component.unit for component in parts_list(section.network)}
    found = [Number("supply", corner.volts, VOLT)]
    for place, (name, part) in enumerate(parts_of(section.network)):
        value = toleranced(part, float(ends.get(("part", place), 0.5)))
        found.append(Number(name.replace("_", " "), value, units.get(name, "")))
    return (*found, Number("contact resistance", corner.ohms, OHM))
