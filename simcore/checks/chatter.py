"""The chatter of a design's contacts (see simcore.contacts.chatter), and the longest open while sliding."""

from __future__ import annotations

import math
from statistics import NormalDist

from simcore.base.check import FASTEST, Chatter
from simcore.checks.fastest import time_at
from simcore.contacts.chatter import contact_chatter
from simcore.design import Design
from simcore.hand.base import CONSTANT, Law, gesture_laws
from simcore.hand.geometry import angles_of, boundary_place, first_boundary

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
