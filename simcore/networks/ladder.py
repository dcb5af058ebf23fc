"""Two sections of resistor and capacitor one after the other: two poles.

With the source (E, R) at the contact, a = R + R1 and the leakage L out of the second node,

    C1 dy/dt = (E - y) / a - (y - x) / R2
    C2 dx/dt = (y - x) / R2 - L

The time constants are the roots of T^2 - (a C1 + a C2 + R2 C2) T + a C1 R2 C2 = 0.  Working with time
constants instead of rates, parts of zero need no case of their own: the fast one is then 0.  With
distances from rest dx, dy, the slow mode moves along (1, lean), and what is not along it dies out faster
by a factor exp(-gap t):

    x(t) = rest + exp(-t / slow) (dx + quick expm1(-gap t))

(eigenvalues of a two by two matrix; every sum below has terms of one sign, so nothing cancels, not even
where the two poles nearly coincide).  From a start that is not at rest x may turn back once.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from simcore.base.compiling import member, rule
from simcore.base.description import CAPACITOR, SERIES_RESISTOR, Key
from simcore.base.draws import Part, toleranced
from simcore.networks.response import (
    NEVER_SECONDS,
    Drive,
    Facing,
    Node,
    Uniforms,
    beside,
    contact_source,
    facing,
    joint_volts,
    network_parts,
    node_after,
    node_crosses,
    node_rest,
    relaxes_through,
)
from simcore.networks.single_pole import CAPACITOR_TO_GROUND, PULL_UP, network
from simcore.stages.facts import (
    StageDrawing,
    drawing,
    network_components,
    network_values,
    parts_list,
    values_to_vary,
)

INSTANT = 1.0e-18
"""A fast time constant (s) below this, a millionth of a tick, counts as none."""
CLOSE, SHARE = 1.0e-17, 4.0e-16
"""A root that moves by less than a hundred-thousandth of a tick (s), or by less than this share of itself,
has been found."""
TRIES = 200
"""Steps of a root finder that halves at worst; about 80 would do."""


class TwoSection(NamedTuple):
    """Pull-up at the contact, a first resistor into a first capacitor, from there a second resistor into
    a second capacitor, which the input reads.
    """

    pull_up: Part
    first_series: Part
    first_capacitor: Part
    second_series: Part
    second_capacitor: Part


TWO_SECTION_RC = network(
    TwoSection,
    "two-section rc",
    "Pull-up at the contact, and two sections of resistor and capacitor one after the other.",
    PULL_UP,
    Key("first_series", SERIES_RESISTOR, "resistor from the contact into the first capacitor"),
    Key("first_capacitor", CAPACITOR, "from between the resistors to ground"),
    Key("second_series", SERIES_RESISTOR, "resistor from the first capacitor into the second"),
    Key("second_capacitor", CAPACITOR, CAPACITOR_TO_GROUND.meaning),
)


class Ladder(NamedTuple):
    """One built unit (ohms and farads)."""

    pull: float
    first_series: float
    first_farads: float
    second_series: float
    second_farads: float


class Modes(NamedTuple):
    """Rest of both nodes (V), slow and fast time constant (s), 1/fast - 1/slow (1/s, 0.0 where fast is
    none), and the share ``lean`` of the second node's distance that the first node has in the slow mode.
    """

    x: float
    y: float
    slow: float
    fast: float
    gap: float
    lean: float


class Course(NamedTuple):
    """The input's node from now on: distance from rest and the quick part of it (V), and the seconds
    after which it turns back, NEVER_SECONDS if it does not.
    """

    away: float
    quick: float
    turns: float


@member(network_parts, TwoSection)
def ladder_parts(network: TwoSection, u: Uniforms, w: Uniforms) -> Ladder:
    """Five draws, the last one from ``w``."""
    return Ladder(
        toleranced(network.pull_up, u[0]),
        toleranced(network.first_series, u[1]),
        toleranced(network.first_capacitor, u[2]),
        toleranced(network.second_series, u[3]),
        toleranced(network.second_capacitor, w[0]),
    )


@rule
def ladder_modes(parts: Ladder, drive: Drive) -> Modes:
    """The modes; the contact's state changes them all."""
    source = contact_source(parts.pull, 0.0, 0, drive)
    before = source.ohms + parts.first_series
    y = source.volts - drive.leak * before
    x = y - drive.leak * parts.second_series
    first = before * parts.first_farads
    across = before * parts.second_farads
    second = parts.second_series * parts.second_farads
    apart = first - second
    root = math.sqrt(apart * apart + 2.0 * across * (first + second) + across * across)
    slow = 0.5 * (first + across + second + root)
    if slow <= 0.0:
        return Modes(x, y, 0.0, 0.0, 0.0, 1.0)
    ahead = apart + across + root
    lean = 0.5 * ahead / slow if apart >= 0.0 else 2.0 * across / (across - apart + root)
    fast = first * second / slow
    gap = root / (first * second) if fast > INSTANT else 0.0
    return Modes(x, y, slow, fast, gap, lean)


@rule
def shared(parts: Ladder, modes: Modes) -> float:
    """The slow mode's capacitance, to scale the quick part by."""
    return parts.second_farads + parts.first_farads * modes.lean * modes.lean


@rule
def faded(modes: Modes, seconds: float) -> float:
    """The share of the quick part that has gone by now, negative: expm1(-gap t)."""
    return -1.0 if modes.fast <= INSTANT else math.expm1(-modes.gap * seconds)


@rule
def ladder_course(parts: Ladder, modes: Modes, node: Node) -> Course:
    """How the input's node goes on; ``modes.slow`` must be above 0."""
    dx, dy = node.x - modes.x, node.y - modes.y
    twist = modes.lean * dx - dy
    scale = shared(parts, modes)
    quick = parts.first_farads * modes.lean * twist / scale
    turns = NEVER_SECONDS
    whole = (parts.second_farads + parts.first_farads * modes.lean) * twist
    if modes.fast > INSTANT and whole != 0.0:
        # Where dx/dt is 0: 1 - exp(-gap t) = gone.
        gone = (dx - dy) * scale / whole
        if 0.0 < gone < 1.0:
            turns = -math.log1p(-gone) / modes.gap
    return Course(dx, quick, turns)


@rule
def course_volts(modes: Modes, course: Course, seconds: float) -> float:
    """The input's node on its course."""
    return modes.x + math.exp(-seconds / modes.slow) * (course.away + course.quick * faded(modes, seconds))


@rule
def course_slope(modes: Modes, course: Course, seconds: float) -> float:
    """Its rate of change (V/s)."""
    gone = faded(modes, seconds)
    slope = (course.away + course.quick * gone) / modes.slow + course.quick * modes.gap * (1.0 + gone)
    return -math.exp(-seconds / modes.slow) * slope


@rule
def course_crossing(modes: Modes, course: Course, volts: float, up: int, early: float, late: float) -> float:
    """The root between ``early`` and ``late``, where the course is monotone: Newton's step, or a half
    where that would leave the bracket.
    """
    sign = 1.0 if up else -1.0
    seconds = early + 0.5 * (late - early)
    slowly = (course.away - course.quick) / (volts - modes.x) if volts != modes.x else 0.0
    if slowly > 1.0:
        guess = modes.slow * math.log(slowly)
        seconds = guess if early < guess < late else seconds
    for _ in range(TRIES):
        ahead = sign * (volts - course_volts(modes, course, seconds))
        if ahead > 0.0:
            early = seconds
        else:
            late = seconds
        slope = sign * course_slope(modes, course, seconds)
        following = seconds + ahead / slope if slope > 0.0 else early
        if not early < following < late:
            following = early + 0.5 * (late - early)
        moved = abs(following - seconds)
        seconds = following
        if moved <= CLOSE + SHARE * seconds:
            break
    return seconds


@rule
def settled_by(modes: Modes, course: Course, volts: float) -> float:
    """Seconds after which the input's node is surely nearer to rest than ``volts`` are."""
    most = (abs(course.away - course.quick) + abs(course.quick)) / abs(volts - modes.x)
    return modes.slow * math.log(most) if most > 1.0 else 0.0


@rule
def passes(start: float, volts: float, stop: float, up: int) -> int:
    """1 when ``volts`` lie on the way from ``start`` to ``stop``, ends included, in that direction."""
    return 1 if (start <= volts <= stop if up else start >= volts >= stop) else 0


@member(node_rest, Ladder)
def ladder_rest(parts: Ladder, drive: Drive) -> Node:
    modes = ladder_modes(parts, drive)
    return Node(modes.x, modes.y)


@member(node_after, Ladder)
def ladder_after(parts: Ladder, drive: Drive, node: Node, seconds: float) -> Node:
    modes = ladder_modes(parts, drive)
    if modes.slow <= 0.0:
        return Node(modes.x, modes.y)
    dx, dy = node.x - modes.x, node.y - modes.y
    quick = (modes.lean * dx - dy) * faded(modes, seconds) / shared(parts, modes)
    left = math.exp(-seconds / modes.slow)
    x = dx + parts.first_farads * modes.lean * quick
    y = dy - parts.second_farads * quick
    return Node(modes.x + left * x, modes.y + left * y)


@member(node_crosses, Ladder)
def ladder_crosses(parts: Ladder, drive: Drive, node: Node, volts: float, up: int) -> float:
    """Before the turn or after it, by a bracketed root; by a logarithm where one pole is instant."""
    modes = ladder_modes(parts, drive)
    if modes.slow <= 0.0:
        return relaxes_through(node.x, modes.x, 0.0, volts, up)
    course = ladder_course(parts, modes, node)
    if modes.fast <= INSTANT:
        jumped = modes.x + course.away - course.quick
        if node.x != jumped and passes(node.x, volts, jumped, up):
            return 0.0
        return relaxes_through(jumped, modes.x, modes.slow, volts, up)
    early, start = 0.0, node.x
    if course.turns != NEVER_SECONDS:
        peak = course_volts(modes, course, course.turns)
        if passes(start, volts, peak, up):
            return 0.0 if volts == start else course_crossing(modes, course, volts, up, 0.0, course.turns)
        early, start = course.turns, peak
    if start == modes.x or volts == modes.x or not passes(start, volts, modes.x, up):
        return NEVER_SECONDS
    if volts == start:
        return early
    late = max(early, settled_by(modes, course, volts))
    return course_crossing(modes, course, volts, up, early, late)


@facing.register
def ladder_facing(parts: Ladder, volts: float, node: Node) -> Facing:
    """The nearer capacitor that there is."""
    path, held = parts.first_series, node.y
    if parts.first_farads == 0.0:
        path, held = parts.first_series + parts.second_series, node.x
    farads = parts.first_farads + parts.second_farads
    path = path if farads > 0.0 else math.inf
    across = joint_volts(parts.pull, path, volts, held)
    return Facing(across, beside(parts.pull, path), parts.pull, farads)


parts_list.register(TwoSection, network_components)
values_to_vary.register(TwoSection, network_values)


@drawing.register
def ladder_drawing(network: TwoSection) -> StageDrawing:
    return StageDrawing(
        (
            ("supply", "pull_up", "contact"), ("contact", "first_series", "node"),
            ("node", "second_series", "input"),
        ),
        (("node", "first_capacitor"), ("input", "second_capacitor")), "ground",
    )  # fmt: skip
