"""What a drawing or a file needs of a traced run: its places in order, and samples of its voltages."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from simcore.base.records import Floats, Ints
    from simcore.tracing.tracing import LineNode, TracedRun, Trail

FLATNESS = 0.005
"""A straight line between neighbouring samples is off by no more than this share of the line's swing,
as seen at the middle between them."""
HALVINGS = 20
"""Times that the span between two events may be halved."""


class Place(NamedTuple):
    """A stage by name, and the trails it leaves on A and on B (None: it does not serve the line)."""

    name: str
    trails: tuple[Trail | None, Trail | None]


def places(traced: TracedRun) -> list[Place]:
    """All stages in the order of the way; those of one line stand before the next one of both."""
    a, b = (list(line.stages) for line in traced.lines)
    found = []
    while a or b:
        if a and a[0].name not in [trail.name for trail in b]:
            found.append(Place(a[0].name, (a.pop(0), None)))
        elif b and b[0].name not in [trail.name for trail in a]:
            found.append(Place(b[0].name, (None, b.pop(0))))
        else:
            found.append(Place(a[0].name, (a.pop(0), b.pop(0))))
    return found


class Samples(NamedTuple):
    """``ticks`` (never falling) and ``volts``; a jump has two samples of one tick."""

    ticks: Ints
    volts: Floats


def voltage_samples(node: LineNode, start: int, end: int) -> Samples:
    """Samples of a voltage from ``start`` to ``end`` (ticks), both included.

    There is one at every event of the line (an edge of its contact, a crossing of a threshold),
    two where the voltage jumps, and between events as many as FLATNESS asks for.
    """
    import numpy as np

    inner = node.knots[(node.knots > start) & (node.knots < end)]
    knots = np.unique(np.concatenate([inner, np.array([start, end], np.int64)]))
    after, before = node.volts(knots), node.volts_before(knots)
    before[0] = after[0]
    swing = max(float(np.ptp(np.concatenate([after, before]))), 1.0e-9)
    ticks, volts = _between(node, Samples(knots, after), before[1:], FLATNESS * swing)
    jumps = np.flatnonzero(np.abs(after - before) > 1.0e-9)
    ticks = np.concatenate([ticks, knots[jumps], knots])
    volts = np.concatenate([volts, before[jumps], after])
    order = np.argsort(ticks, kind="stable")
    return Samples(ticks[order], volts[order])


def _between(node: LineNode, knots: Samples, before: Floats, off: float) -> Samples:
    """Samples inside the spans between knots; ``before`` is the voltage at each span's end."""
    import numpy as np

    left, right = knots.ticks[:-1], knots.ticks[1:]
    low, high = knots.volts[:-1], before
    ticks, volts = [], []
    for _ in range(HALVINGS):
        wide = np.flatnonzero(right - left > 1)
        left, right, low, high = left[wide], right[wide], low[wide], high[wide]
        middle = left + (right - left) // 2
        level = node.volts(middle)
        bent = np.flatnonzero(np.abs(level - 0.5 * (low + high)) > off)
        if not bent.size:
            break
        left, right, low, high = left[bent], right[bent], low[bent], high[bent]
        middle, level = middle[bent], level[bent]
        ticks.append(middle)
        volts.append(level)
        left, right = np.concatenate([left, middle]), np.concatenate([middle, right])
        low, high = np.concatenate([low, level]), np.concatenate([level, high])
    nothing: list[Ints] = [np.zeros(0, np.int64)]
    return Samples(np.concatenate(nothing + ticks), np.concatenate([np.zeros(0), *volts]))
