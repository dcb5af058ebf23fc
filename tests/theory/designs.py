"""Random designs for hypothesis, and the plain ones that theorems start from.

Every number is given its lasting type (float or int) here, because compiled code is made per type.
"""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.contacts.bursts import Clean, Telegraph, TelegraphSide, Wiping, WipingSide
from simcore.contacts.crossing import Sliding
from simcore.counters.base import NEW, OLD, RANDOM, WORST, Range
from simcore.counters.quadrature import Quadrature
from simcore.counters.step_direction import StepDirection
from simcore.design import Design, HandEntry, StageEntry
from simcore.hand.base import ALTERNATE, CLICK, CREEP, DOWN, EITHER, SPIN, TWIST, UP, Gesture
from simcore.hand.geometry import Geometry
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import TIGHT, Level, PlainInput, SchmittInput
from simcore.networks.noise import QUIET
from simcore.networks.single_pole import AcrossCapacitor, Direct, SeriesCapacitor
from simcore.stages.delay import PROMPT

MICROSECOND = 1_000_000
NO_SLIDING = Sliding(0.0, 1e-4, 0.5, 2e-3)
CLEAN = Clean(1)
UNBOUNDED = Range(0, 0, 0)
IDEAL = (st.just(TIGHT), st.just(QUIET), st.just(PROMPT))
"""Inputs without leakage, noise and delay, said outright: hypothesis fills in what has a default."""
EXACT = Geometry(20.0, 1.0, 0.5, 0.0, 0.25, 0.0, 0.0, 0.0)
"""20 detents, a cycle each; A closes at 1/8 of a step, B at 3/8, A opens at 5/8, B at 7/8."""


def side(
    *, zone: float = 0.3, pairs: float = 0.0, rebound: float = 0.0, flight: float = 60e-6,
    restitution: float = 0.55, pause: float = 20e-6, packets: float = 0.0, straggler: float = 0.0,
) -> WipingSide:  # fmt: skip
    """One side of a wiping contact, quiet unless told otherwise."""
    return WipingSide(
        zone, pairs, rebound, flight, restitution, pause, packets, 2.0, 100e-6, 150e-6, 640e-6,
        straggler, 2e-3, 4e-3, 50e-6,
    )  # fmt: skip


def step_direction(
    *, clock: int = 0, active: int = 0, up: int = 1, limits: int = 0, doubt: int = RANDOM, short: int = 0
) -> StepDirection:
    """A counter clocked by A's falling edge; ``limits`` ticks for set-up, hold, low and high alike."""
    return StepDirection(clock, active, up, limits, limits, limits, limits, doubt, short)


def gesture(
    kind: int = CLICK, *, steps: float = 1.0, heading: int = UP, duration: float = 28e-3,
    spread: float = 0.0, dwell: float = 0.15, ripple: float = 0.0,
) -> Gesture:  # fmt: skip
    """A gesture whose movements all go the whole way; a spin is steady, all else minimum jerk."""
    steady = 1 if kind == SPIN else 0
    return Gesture(kind, 1, steps, steps, heading, duration, spread, dwell, 0.0, steady, ripple)


def design(
    *hand: HandEntry, contact: Any = CLEAN, counter: Any = None, stages: tuple[StageEntry, ...] = (),
    geometry: Geometry = EXACT, sliding: Sliding = NO_SLIDING, resistance: Resistance | None = None,
    supply: Part | None = None, place: Range = UNBOUNDED, counts_per_step: int = 1,
) -> Design:  # fmt: skip
    """A design that is exact and clean in all that is not named."""
    return Design(
        geometry, hand, contact, sliding, resistance or Resistance(0.0, 0.0),
        supply or Part(5.0, 0.0), stages, counter or step_direction(), place, counts_per_step,
    )  # fmt: skip


def spin(steps: int, seconds_per_step: float, heading: int = UP) -> HandEntry:
    """A steady turn of ``steps`` steps."""
    turn = gesture(SPIN, steps=float(steps), heading=heading, duration=steps * seconds_per_step)
    return HandEntry("spin", turn, 1)


def filtered(network: Any, logic: Any) -> tuple[StageEntry, ...]:
    """A network into an input, on both lines."""
    return (StageEntry("filter", network), StageEntry("input", logic))


def schmitt(rising: float, falling: float, tolerance: float = 0.0) -> SchmittInput:
    """Thresholds in volts."""
    return SchmittInput(Level(Part(rising, tolerance), 0), Level(Part(falling, tolerance), 0), 0)


def busy_design() -> Design:
    """Everything at once: all mechanisms of the wiping contact, sliding noise, tolerances, limits."""
    make = side(pairs=1.5, rebound=0.7, packets=0.6, straggler=0.2)
    network = SeriesCapacitor(Part(4700.0, 0.05), Part(1000.0, 0.05), Part(47e-9, 0.2))
    clicks = gesture(heading=EITHER, spread=0.25)
    twists = gesture(TWIST, steps=4.0, heading=ALTERNATE, duration=60e-3, spread=0.2, ripple=0.3)
    return design(
        HandEntry("clicks", clicks, 6), HandEntry("twists", twists, 2),
        contact=Wiping(make, side(pairs=1.5, packets=0.4)),
        counter=step_direction(limits=MICROSECOND),
        stages=filtered(network, schmitt(1.9, 1.2, 0.1)),
        geometry=Geometry(20.0, 1.0, 0.5, 0.02, 0.25, 0.02, 0.0, 0.01),
        sliding=Sliding(60.0, 1e-4, 0.5, 2e-3),
        resistance=Resistance(0.5, 0.3),
        supply=Part(3.3, 0.05),
    )  # fmt: skip


def unit(low: float, high: float) -> st.SearchStrategy[float]:
    """A plain float in a range."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


headings = st.sampled_from([UP, DOWN, EITHER, ALTERNATE])


@st.composite
def geometries(draw: st.DrawFn, cycles_per_step: float = 1.0) -> Geometry:
    """Angles with errors, never so large that two boundaries change places or leave their detent."""
    closed = draw(unit(0.42, 0.58))
    phase = draw(unit(0.21, 0.29))
    spread = draw(st.sampled_from([0.0, 0.01, 0.02]))
    rest = draw(unit(-0.03, 0.03))
    return Geometry(20.0, cycles_per_step, closed, spread, phase, spread, rest, spread)


@st.composite
def hands(draw: st.DrawFn, most: int = 2) -> tuple[HandEntry, ...]:
    """One to ``most`` gestures of different kinds."""
    entries = []
    for number in range(draw(st.integers(1, most))):
        kind = draw(st.sampled_from([CLICK, TWIST, SPIN, CREEP]))
        steps = 1.0 if kind in (CLICK, CREEP) else float(draw(st.integers(2, 5)))
        pace = {CLICK: 20e-3, TWIST: 15e-3, SPIN: 10e-3, CREEP: 0.2}[kind]
        ripple = draw(unit(0.0, 0.6)) if kind == TWIST else 0.0
        turn = gesture(
            kind, steps=steps, heading=draw(headings), duration=steps * pace * draw(unit(0.7, 2.0)),
            spread=draw(unit(0.0, 0.3)), dwell=draw(unit(0.05, 0.2)), ripple=ripple,
        )  # fmt: skip
        entries.append(HandEntry(f"gesture {number}", turn, draw(st.integers(1, 4))))
    return tuple(entries)


@st.composite
def counters(draw: st.DrawFn) -> tuple[Any, int]:
    """A decoder and the counts it gives per quadrature cycle."""
    if draw(st.booleans()):
        counts = draw(st.sampled_from([1, 2, 4]))
        return Quadrature(counts, draw(st.sampled_from([1, -1]))), counts
    chosen = step_direction(
        clock=draw(st.integers(0, 1)), active=draw(st.integers(0, 1)), up=draw(st.integers(0, 1)),
        limits=draw(st.sampled_from([0, 1, 3])) * MICROSECOND,
        doubt=draw(st.sampled_from([RANDOM, OLD, NEW, WORST])), short=draw(st.integers(0, 1)),
    )  # fmt: skip
    return chosen, 1


def parts(low: float, high: float) -> st.SearchStrategy[Part]:
    """A part between two values with a usual tolerance."""
    return st.builds(Part, unit(low, high), st.sampled_from([0.0, 0.01, 0.05, 0.2]))


networks = st.one_of(
    st.builds(SeriesCapacitor, parts(1e3, 5e4), parts(100.0, 2e4), parts(1e-9, 3e-7)),
    st.builds(AcrossCapacitor, parts(1e3, 5e4), parts(1e-9, 3e-7)),
    st.builds(Direct, parts(1e3, 5e4)),
)


def share(low: float, high: float) -> st.SearchStrategy[Level]:
    """A level as a share of the supply."""
    return st.builds(Level, parts(low, high).map(lambda p: p._replace(tolerance=p.tolerance / 4)), st.just(1))


inputs = st.one_of(
    st.builds(SchmittInput, share(0.5, 0.7), share(0.2, 0.4), st.integers(0, 1), *IDEAL),
    st.builds(PlainInput, share(0.2, 0.3), share(0.6, 0.7), st.integers(0, 1), *IDEAL),
)


@st.composite
def wiping_sides(draw: st.DrawFn) -> WipingSide:
    """Bounce of any usual kind and amount."""
    return side(
        zone=draw(unit(0.02, 0.6)), pairs=draw(unit(0.0, 4.0)), rebound=draw(unit(0.0, 1.0)),
        flight=draw(unit(5e-6, 3e-4)), restitution=draw(unit(0.1, 0.8)), pause=draw(unit(0.0, 1e-4)),
        packets=draw(st.sampled_from([0.0, 0.5, 1.5])), straggler=draw(st.sampled_from([0.0, 0.1])),
    )  # fmt: skip


telegraph_sides = st.builds(TelegraphSide, unit(0.0, 8.0), unit(1e-5, 3e-3), unit(0.0, 0.6), st.just(3e-3))

contacts = st.one_of(
    st.just(CLEAN),
    st.builds(Wiping, wiping_sides(), wiping_sides()),
    st.builds(Telegraph, telegraph_sides, telegraph_sides),
)

slidings = st.one_of(
    st.just(NO_SLIDING), st.builds(Sliding, unit(1.0, 80.0), unit(1e-5, 1e-3), unit(0.0, 0.6), st.just(2e-3))
)


@st.composite
def designs(draw: st.DrawFn) -> Design:
    """Any design whose decoder fits."""
    counter, counts = draw(counters())
    stages = filtered(draw(networks), draw(inputs)) if draw(st.integers(0, 4)) else ()
    return design(
        *draw(hands()), contact=draw(contacts), counter=counter, stages=stages,
        geometry=draw(geometries()), sliding=draw(slidings),
        resistance=Resistance(draw(unit(0.0, 3.0)), draw(unit(0.0, 0.5))), supply=draw(parts(3.0, 5.0)),
        place=draw(st.sampled_from([UNBOUNDED, Range(32, 5, 0), Range(16, 8, 1)])),
        counts_per_step=counts,
    )  # fmt: skip


seeds = st.integers(0, 2**40)
