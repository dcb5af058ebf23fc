"""What the checks of a design share: its sections, its fastest hand and its contacts' chatter."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Any

from simcore.base.check import FASTEST, OHM, VOLT, Chatter, Number, Surroundings
from simcore.base.draws import toleranced
from simcore.checks.fastest import Fastest, fastest, time_at
from simcore.checks.sections import Corner, NetworkSection, factors, parts_of, sections
from simcore.contacts.chatter import contact_chatter
from simcore.design import Chain, Design
from simcore.hand.base import CONSTANT, Law, gesture_laws
from simcore.hand.geometry import angles_of, boundary_place, first_boundary
from simcore.stages.facts import parts_list


@dataclass(frozen=True)
class CheckContext:
    """A design with all that its checks share; ``chatter`` is None for contacts that are not known."""

    design: Design
    chain: Chain
    sections: tuple[NetworkSection, ...]
    hand: Fastest
    chatter: Chatter | None

    def around(self, name: str, lines: tuple[int, ...] = (0, 1)) -> Surroundings:
        """What the checks of one stage or of the counter may ask."""
        hand = self.hand
        return Surroundings(
            name, lines, hand.shortest_level(lines), hand.shortest_cycle(lines), hand.closest(), self.chatter
        )

    def with_part(self, stage: str, key: str, value: float) -> CheckContext:
        """The same with another nominal value of one part; hand and contacts stay."""
        return self.with_item(
            stage, lambda item: item._replace(**{key: getattr(item, key)._replace(nominal=value)})
        )

    def with_item(self, stage: str, change: Any) -> CheckContext:
        stages = tuple(
            replace(entry, item=change(entry.item)) if entry.name == stage else entry
            for entry in self.design.stages
        )
        design = replace(self.design, stages=stages)
        return replace(self, design=design, chain=design.chain, sections=sections(design))


def context_of(design: Design) -> CheckContext:
    return CheckContext(design, design.chain, sections(design), fastest(design), chatter_of(design))


def numbers_at(design: Design, section: NetworkSection, corner: Corner) -> tuple[Number, ...]:
    """Supply, parts and contact resistance as they are at a corner."""
    ends = {(f.kind, f.place): end for f, end in zip(factors(design, section), corner.ends, strict=True)}
    units = {component.key: component.unit for component in parts_list(section.network)}
    found = [Number("supply", corner.volts, VOLT)]
    for place, (name, part) in enumerate(parts_of(section.network)):
        value = toleranced(part, float(ends.get(("part", place), 0.5)))
        found.append(Number(name.replace("_", " "), value, units.get(name, "")))
    return (*found, Number("contact resistance", corner.ohms, OHM))


NUDGE = 1.0e-3
"""Steps by which a place is moved to find the speed there."""


def chatter_of(design: Design) -> Chatter | None:
    """The chatter of a design's contacts; None for a kind of contact that is not known."""
    slow, gliding = slowest_crossing(design)
    sides = contact_chatter(design.contact, slow, gliding)
    if sides is None:
        return None
    make, break_ = sides
    return Chatter(
        max(make.back, _slide(design, slow)), break_.back,
        max(make.dense, break_.dense), max(make.burst, break_.burst), slow,
    )  # fmt: skip


def _slide(design: Design, slow: float) -> float:
    """The longest open while sliding (s) that counts: one that a crossing in a thousand meets or exceeds."""
    sliding = design.sliding
    pads = design.geometry.steps_per_turn * design.geometry.cycles_per_step
    share = sliding.rate * design.geometry.closed / pads
    if share <= FASTEST:
        return 0.0
    z = NormalDist().inv_cdf(1.0 - FASTEST / share)
    length = sliding.length * math.exp(z * sliding.length_spread) + sliding.angle * slow
    return min(length, sliding.most)


def slowest_crossing(design: Design) -> tuple[float, float]:
    """The longest time per degree of shaft (s) at a boundary, and the longest time (s) from a boundary
    until its movement ends, at nominal angles and the median pace of every gesture.
    """
    geometry = design.geometry
    angles = angles_of(geometry.closed, geometry.closed, geometry.phase, geometry.rest)
    degrees = 360.0 / geometry.steps_per_turn
    slow = gliding = 0.0
    for entry in design.hand:
        for laws in gesture_laws(entry.gesture, 0.0) or ():
            law = laws[0]
            j = first_boundary(angles, geometry.cycles_per_step)
            for number in range(j, j + 12):
                at = boundary_place(angles, geometry.cycles_per_step, number)
                if at < abs(law.steps):
                    seconds = 1.0 / (pace(law, at) * degrees)
                    slow, gliding = max(slow, seconds), max(gliding, law.seconds - time_at(law, at))
    return slow, gliding


def pace(law: Law, turned: float) -> float:
    """Steps per second once the shaft has turned ``turned`` steps."""
    if law.steady == CONSTANT and law.ripple == 0.0:
        return abs(law.steps) / law.seconds
    near = min(NUDGE, turned, abs(law.steps) - turned)
    return 2.0 * near / (time_at(law, turned + near) - time_at(law, turned - near))
