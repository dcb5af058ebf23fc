"""The checks of the counter: whether the order of the two lines' edges survives their delays (set-up and
hold of the direction), and whether a clocked one looks often enough.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

from simcore.base.check import (
    AT_LEAST,
    AT_MOST,
    HAND,
    PRACTICE,
    SECOND,
    STILL,
    VOLT,
    Check,
    Number,
    Shortest,
    judged,
    not_applicable,
)
from simcore.base.draws import Part, toleranced
from simcore.base.records import LINE_NAMES
from simcore.base.ticks import TICKS_PER_SECOND
from simcore.checks.context import CheckContext
from simcore.checks.fastest import Edge
from simcore.checks.networks import LESS_CAPACITANCE
from simcore.checks.sections import Corner, NetworkSection, corners, turning_ends, voltage_after
from simcore.counters.facts import Clocking, clock_period, clocking, needs_order
from simcore.stages.facts import Delays, stage_delay

UNCLOCKED = "the counter has no clock and direction lines"
MORE_ALIKE = "a filter with less delay, more alike on rise and fall, or a slower hand"


def logic_delay(context: CheckContext, line: int) -> Delays | None:
    """The delay that the logic behind the input adds to an edge; None where it is more than a delay."""
    total = Delays(0.0, 0.0)
    for layer in context.chain.layers:
        if not layer.serves(line):
            continue
        found = stage_delay(layer.line[line] if layer.pair is None else layer.pair)
        if found is None:
            return None
        total = Delays(total.least + found.least, total.most + found.most)
    return total


class EdgePair(NamedTuple):
    """Two neighbouring edges: ``first`` is to come out ``before`` the ``second``; their ``spacing`` (s) in
    ``gesture``, the longest delay of the first and the shortest of the second at the worst supply (V).
    """

    first: Edge
    second: Edge
    spacing: float
    gesture: str
    late: float
    early: float
    volts: float

    @property
    def margin(self) -> float:
        """Seconds from the first edge to the second as the counter gets them."""
        return self.spacing + self.early - self.late


def line_section(context: CheckContext, line: int) -> NetworkSection | None:
    return next((each for each in context.sections if line in each.lines), None)


Ends = tuple[tuple[float, Corner | None], tuple[float, Corner | None]]


def _ends(context: CheckContext, edge: Edge, volts: float) -> Ends | None:
    """Shortest and longest delay of a contact's edge under a supply of ``volts``."""
    line, closed = edge
    section, logic = line_section(context, line), logic_delay(context, line)
    if logic is None:
        return None
    if section is None:
        return (logic.least, None), (logic.most, None)
    early, late = turning_ends(context.design.supply, context.design.resistance, section, closed)[volts]
    return (early[0] + logic.least, early[1]), (late[0] + logic.most, late[1])


def _supplies(supply: Part) -> tuple[float, ...]:
    return tuple({toleranced(supply, end): None for end in ((0.0, 1.0) if supply.tolerance else (0.5,))})


def pair_of(context: CheckContext, first: Edge, second: Edge, spacing: Shortest) -> EdgePair | None:
    """The two edges at their worst; None where their order is not a matter of delays."""
    found = []
    for volts in _supplies(context.design.supply):
        one, other = _ends(context, first, volts), _ends(context, second, volts)
        if one is None or other is None:
            return None
        found.append(EdgePair(first, second, spacing.seconds, spacing.gesture, one[1][0], other[0][0], volts))
    return min(found, key=lambda pair: pair.margin)


def _clock_edge(context: CheckContext, spec: Clocking) -> Edge:
    """What the clock's contact does as the counter's active edge comes."""
    return spec.clock, int(spec.active) ^ context.chain.flips[spec.clock]


def _pairs(context: CheckContext, wanted: Callable[[Edge, Edge], bool]) -> Iterator[EdgePair | None]:
    for (first, second), spacing in context.hand.apart.items():
        if wanted(first, second):
            yield pair_of(context, first, second, spacing)


def set_up(context: CheckContext) -> Check:
    spec = clocking(context.design.counter)
    check = _of_direction(
        "set-up",
        "The direction line's change comes out long enough before the clock edge that follows it.",
        "shortest delay of the clock edge - longest delay of the direction's",
    )
    if spec is None:
        return not_applicable(check, UNCLOCKED)
    clock = _clock_edge(context, spec)
    return _worst_pair(check, context, lambda a, b: b == clock and a[0] != clock[0], spec.setup)


def hold(context: CheckContext) -> Check:
    spec = clocking(context.design.counter)
    check = _of_direction(
        "hold",
        "The direction line's next change comes out long enough after the clock edge.",
        "shortest delay of the direction's edge - longest delay of the clock's",
    )
    if spec is None:
        return not_applicable(check, UNCLOCKED)
    clock = _clock_edge(context, spec)
    return _worst_pair(check, context, lambda a, b: a == clock and b[0] != clock[0], spec.hold)


def _of_direction(time: str, rule: str, delays: str) -> Check:
    return Check(
        f"{time} of the direction", "counter", rule, f"spacing of the edges + {delays} >= {time} time",
        relation=AT_LEAST, unit=SECOND, source=f"the counter's {time} time; {HAND}",
        advice=MORE_ALIKE, remedies=(LESS_CAPACITANCE,),
    )  # fmt: skip


def order(context: CheckContext) -> Check:
    """The order of A and B for a counter that looks at both."""
    check = Check(
        "order of A and B", "counter",
        "Edges of A and B come out in the order in which the contacts moved.",
        "spacing of the edges + shortest delay of the later - longest delay of the earlier >= 0",
        relation=AT_LEAST, unit=SECOND, source=HAND,
        advice=MORE_ALIKE,
        remedies=(LESS_CAPACITANCE,),
    )  # fmt: skip
    if clocking(context.design.counter) is not None:
        return not_applicable(check, "see set-up and hold of the direction")
    if not needs_order(context.design.counter):
        return not_applicable(check, "the counter comes from another package")
    return _worst_pair(check, context, lambda a, b: a[0] != b[0], 0)


def _worst_pair(
    check: Check, context: CheckContext, wanted: Callable[[Edge, Edge], bool], least: int
) -> Check:
    """The pair with the least margin; it is to be ``least`` ticks."""
    limit = least / TICKS_PER_SECOND
    pairs = list(_pairs(context, wanted))
    if not pairs:
        return not_applicable(check, STILL)
    if None in pairs:
        return not_applicable(check, "the order behind these stages is not a matter of delays")
    pair = min((pair for pair in pairs if pair is not None), key=lambda pair: pair.margin)
    first, second = _edge(pair.first), _edge(pair.second)
    check = replace(
        check, result=pair.margin, limit=limit,
        numbers=(
            Number(f"from {first} to {second}", pair.spacing, SECOND),
            Number(f"longest delay of {first}", pair.late, SECOND),
            Number(f"shortest delay of {second}", pair.early, SECOND),
        ),
        corner=_corner(pair),
        why=f"closest in {pair.gesture}",
    )  # fmt: skip
    if math.isinf(pair.late) or math.isinf(pair.early):
        return judged(replace(check, result=-math.inf, why="an edge never gets to its threshold"))
    return judged(check, max(limit, pair.spacing))


def _corner(pair: EdgePair) -> str:
    return f"{_edge(pair.first)} at its slowest, {_edge(pair.second)} at its fastest, one supply for both"


def _edge(edge: Edge) -> str:
    return f"{LINE_NAMES[edge[0]]} {'closing' if edge[1] else 'opening'}"


def direction_level(context: CheckContext) -> Check:
    """The direction line's voltage beyond its threshold as the clock edge comes."""
    spec = clocking(context.design.counter)
    check = Check(
        "direction's voltage at the clock edge", "counter",
        "As the clock line passes its threshold, the direction line's voltage is beyond its own.",
        "distance of the direction's voltage from its threshold, after spacing + shortest delay of the clock "
        "edge, >= 0",
        relation=AT_LEAST, limit=0.0, unit=VOLT, source=f"{HAND}; {PRACTICE}",
        advice=MORE_ALIKE,
        remedies=(LESS_CAPACITANCE,),
    )  # fmt: skip
    if spec is None:
        return not_applicable(check, UNCLOCKED)
    clock = _clock_edge(context, spec)
    section = line_section(context, 1 - clock[0])
    if section is None or _after_inputs(context):
        return not_applicable(check, "what the counter reads is not the voltage of a network's input")
    pairs = list(_pairs(context, lambda a, b: b == clock and a[0] != clock[0]))
    if not pairs or None in pairs:
        return not_applicable(check, STILL)
    margins = [_volts(context, section, pair) for pair in pairs if pair is not None]
    volts, pair, corner = min(margins, key=lambda each: each[0])
    return judged(
        replace(
            check, result=volts, why=f"closest in {pair.gesture}",
            numbers=(
                Number(f"from {_edge(pair.first)} to {_edge(pair.second)}", pair.spacing, SECOND),
                Number(f"shortest delay of {_edge(pair.second)}", pair.early, SECOND),
                Number("direction's threshold", _threshold(section, corner, pair.first[1]), VOLT),
            ),
            corner=_corner(pair),
        ),
        corner.volts,
    )  # fmt: skip


def _after_inputs(context: CheckContext) -> bool:
    """Whether there is a stage behind the inputs."""
    return any(
        layer.serves(line) and not hasattr(layer.line[line], "logic")
        for layer in context.chain.layers
        for line in (0, 1)
    )


def _threshold(section: NetworkSection, corner: Corner, closed: int) -> float:
    return corner.logic.rising if closed == section.charging else corner.logic.falling


def _volts(context: CheckContext, section: NetworkSection, pair: EdgePair) -> tuple[float, EdgePair, Corner]:
    """The least distance beyond the threshold over all corners of the direction's line."""
    closed, after = pair.first[1], pair.spacing + pair.early
    sign = 1.0 if closed == section.charging else -1.0

    def beyond(corner: Corner) -> float:
        return sign * (voltage_after(corner, closed, after) - _threshold(section, corner, closed))

    here = [corner for corner in corners(context.design, section) if corner.volts == pair.volts]
    corner = min(here, key=beyond)
    return beyond(corner), pair, corner


COUNTER_CHECKS: tuple[Callable[[CheckContext], Check], ...] = (set_up, direction_level, hold, order)
"""In the order in which they are shown; `sampling` comes behind the checks of the stages."""


def sampling(context: CheckContext) -> Check:
    """The period of a clocked counter against the closest edges."""
    check = Check(
        "counter's samples against the hand", "counter",
        "At most one edge falls between two samples: of two at once the direction is lost, and three look "
        "like one the other way.",
        "period <= closest edges", relation=AT_MOST, unit=SECOND, corner="the period at its most",
        advice="a shorter period", source=HAND,
    )  # fmt: skip
    period = clock_period(context.design.counter)
    if period is None:
        return not_applicable(check, "the counter looks at its lines all the time")
    spacing = context.hand.closest()
    check = replace(check, result=period.nominal * (1.0 + period.tolerance))
    if not spacing.gesture:
        return not_applicable(check, STILL)
    return judged(replace(check, limit=spacing.seconds, why=f"closest in {spacing.gesture}"))
