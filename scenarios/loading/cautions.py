"""Sentences about a design that the user should read beside any result."""

from __future__ import annotations

import math

from simcore.design import Design
from simcore.hand.base import gesture_swing
from simcore.hand.geometry import Geometry, boundaries


def unsettled(design: Design) -> tuple[str, ...]:
    """Contacts that may lie on one of their boundaries at rest, and the line to clock from then."""
    reach = _reach(design.geometry)
    shaking = _shaking(design)
    names = undecided(design)
    if not names:
        return ()
    found = f"tolerance ({360.0 * reach:.3g} deg)"
    if shaking > 0.0:
        found += f" and vibration ({360.0 * shaking:.3g} deg)"
    within = f"within the {found} of the rest position"
    if len(names) == 2:
        return (
            f"Both contacts have a boundary {within}, so in some units either of them may chatter or stand "
            "either way at rest: no line is safe to clock from.",
        )
    quiet = "B" if names == ("A",) else "A"
    return (
        f"Contact {names[0]} has a boundary {within}, so in some units it may chatter or stand either way "
        f"at rest: clock the counter from line {quiet}, and read {names[0]} as the direction only.",
    )


def undecided(design: Design) -> tuple[str, ...]:
    """Names of the contacts with a boundary within tolerance and vibration of the rest position."""
    away, near = clearance(design)
    return tuple(name for name, distance in zip("AB", away, strict=True) if distance <= near + 1.0e-9)


def clearance(design: Design) -> tuple[tuple[float, float], float]:
    """How far (cycles) A's and B's nearest boundary lie from the rest position, and how far tolerance and
    vibration reach.
    """
    return _from_rest(design.geometry), _reach(design.geometry) + _shaking(design)


def _reach(geometry: Geometry) -> float:
    """How far (cycles) a boundary may lie from its nominal angle from the rest position."""
    return geometry.rest_spread + 0.5 * (geometry.phase_spread + geometry.closed_spread)


def _shaking(design: Design) -> float:
    """The widest median vibration (cycles) of the hand."""
    swings = [gesture_swing(entry.gesture) for entry in design.hand]
    return max(swings, default=0.0) * design.geometry.cycles_per_step


def _from_rest(geometry: Geometry) -> tuple[float, float]:
    """The distance (cycles) from a rest position to the nearest boundary of A, and of B."""
    steps = round(geometry.steps_per_turn)
    spacing = math.gcd(steps, round(steps * geometry.cycles_per_step)) / steps
    exact = geometry._replace(closed_spread=0.0, phase_spread=0.0, rest_spread=0.0)
    away = [abs(angle - spacing * round(angle / spacing)) for angle in boundaries(exact, 0, 0)]
    return min(away[0], away[2]), min(away[1], away[3])
