"""Cautions about a design, which belong beside any result: its geometry, sense of counting, and contacts
that are unsettled at rest.
"""

from __future__ import annotations

import math

from simcore.counters.base import counter_rate
from simcore.counters.facts import undivided
from simcore.counters.prescaled import MOST_DIVISOR
from simcore.design import Design, fits, geometric_counts, levels_at_rest, sense
from simcore.hand.base import gesture_swing
from simcore.hand.geometry import Geometry, boundaries

DECODERS = (
    (1, "one count per cycle (step-direction, two-clock, whole-cycle or x1)"),
    (2, "x2 decoding"),
    (4, "x4 decoding"),
)


def cautions_of(design: Design, detents: bool = True) -> tuple[str, ...]:
    """What the user should know before running about geometry and sense of counting; an encoder
    without ``detents`` rests anywhere.
    """
    return _misfit(design) + _backward(design) + (_unsettled(design) if detents else ())


def _backward(design: Design) -> tuple[str, ...]:
    if sense(design) > 0:
        return ()
    return (
        "The counter counts down when the shaft turns up (A leads B); its steps are judged in that "
        "sense. If that is not meant, change up_when or the active edge, or swap the lines.",
    )


def _misfit(design: Design) -> tuple[str, ...]:
    """A decoder that does not fit the geometry, or counts from another state than that at rest."""
    if fits(design):
        return ()
    turned, wanted = design.geometry.cycles_per_step, design.counts_per_step
    given = geometric_counts(design)
    if abs(given - wanted) < 1.0e-9:
        return (_other_rest(design),)
    return (
        f"By its geometry one step of the encoder ({turned:g} of a quadrature cycle) gives {given:g} "
        f"{_counts(given)} with this counter, but {wanted} {'is' if wanted == 1 else 'are'} wanted: steps "
        f"go wrong even without any bounce; {cure(design)}.",
    )


def _other_rest(design: Design) -> str:
    """A counter that counts from a rest state of its own, on an encoder that rests elsewhere."""
    a, b = ("high" if level else "low" for level in levels_at_rest(design))
    both = a == b
    return (
        f"At rest the counter sees {f'both lines {a}' if both else f'A {a} and B {b}'}, but counts from "
        "another state: every reversal loses a count, even without any bounce; "
        + (f'rest = "{a}" would fit.' if both else "turn the encoder's rest, for no rest state fits.")
    )


def cure(design: Design) -> str:
    """Which decoder would fit, with or without a prescaler."""
    turned, wanted = design.geometry.cycles_per_step, design.counts_per_step
    inner, divisor = undivided(design.counter)
    plain = " without a prescaler" if divisor > 1 else ""
    cures = [f"{name}{plain}" for counts, name in DECODERS if abs(counts * turned - wanted) < 1.0e-9]
    ratio = counter_rate(inner) * turned / wanted
    if abs(ratio - round(ratio)) < 1.0e-9 and 2 <= round(ratio) <= MOST_DIVISOR:
        cures.append(f"this counter with prescale = {round(ratio)}")
    if cures:
        return f"{' or '.join(cures)} would fit"
    offers = ", ".join(f"x{counts} gives {counts * turned:g}" for counts, _ in DECODERS)
    return f"no decoder fits ({offers})"


def _counts(number: float) -> str:
    return "count" if number == 1.0 else "counts"


def _unsettled(design: Design) -> tuple[str, ...]:
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
