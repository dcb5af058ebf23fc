"""The encoder's angles: where its contacts make and break.

Places are steps (detents; quadrature cycles where there are no detents) from where a run starts.
"""

from __future__ import annotations

from typing import NamedTuple

from simcore.base.compiling import rule
from simcore.base.draws import GEOMETRY, four, purpose

Angles = tuple[float, float, float, float]


class Geometry(NamedTuple):
    """The encoder's angles.  Electrical angles are shares of a quadrature cycle.

    ``closed``: span over which each contact is closed; ``phase``: from A's span to B's;
    ``rest``: rest position, counted from the middle of the span with both contacts open.
    Every ``_spread`` is the half width of a uniform error that belongs to the unit.
    """

    steps_per_turn: float
    cycles_per_step: float
    closed: float
    closed_spread: float
    phase: float
    phase_spread: float
    rest: float
    rest_spread: float


@rule
def boundaries(geometry: Geometry, seed: int, run: int) -> Angles:
    """Electrical angles (cycles from rest) at which A closes, B closes, A opens, B opens, turning up."""
    u = four(seed, run, purpose(GEOMETRY, 0), 0)
    closed_a = geometry.closed + geometry.closed_spread * (2.0 * u[0] - 1.0)
    closed_b = geometry.closed + geometry.closed_spread * (2.0 * u[1] - 1.0)
    phase = geometry.phase + geometry.phase_spread * (2.0 * u[2] - 1.0)
    rest = geometry.rest + geometry.rest_spread * (2.0 * u[3] - 1.0)
    return angles_of(closed_a, closed_b, phase, rest)


@rule
def angles_of(closed_a: float, closed_b: float, phase: float, rest: float) -> Angles:
    """The same from known angles: the spans of A and B, from one to the other, and the rest."""
    middle_a = 0.5 - 0.5 * phase - rest
    middle_b = 0.5 + 0.5 * phase - rest
    return (
        middle_a - 0.5 * closed_a,
        middle_b - 0.5 * closed_b,
        middle_a + 0.5 * closed_a,
        middle_b + 0.5 * closed_b,
    )


@rule
def boundary_place(angles: Angles, cycles_per_step: float, j: int) -> float:
    """Place (steps) of boundary number ``j``; they rise with ``j``, four to a cycle."""
    cycle = j // 4
    part = j - 4 * cycle
    angle = angles[0]
    if part == 1:
        angle = angles[1]
    elif part == 2:
        angle = angles[2]
    elif part == 3:
        angle = angles[3]
    return (angle + cycle) / cycles_per_step


@rule
def first_boundary(angles: Angles, cycles_per_step: float) -> int:
    """Number of the first boundary above the start of the run."""
    j = -8
    while boundary_place(angles, cycles_per_step, j) <= 0.0:
        j += 1
    return j


@rule
def resting_state(j: int) -> int:
    """Contacts closed (A in bit 0, B in bit 1) when boundary ``j`` is the next one up."""
    part = j % 4
    if part == 1:
        return 1
    if part == 2:
        return 3
    if part == 3:
        return 2
    return 0
