"""Random designs for the agreement tests, ordinary and extreme.

Every number field keeps one type (whole or floating), so that the compiled code of a few
combinations serves all designs.  Angles lie on a grid: two boundaries coincide exactly or not
at all, which leaves no tie for the last bit of a float to decide.
"""

from __future__ import annotations

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from simcore.base.draws import Part
from simcore.contacts.bursts import Clean, Telegraph, TelegraphSide, Wiping, WipingSide
from simcore.contacts.crossing import Sliding
from simcore.counters.base import Range
from simcore.counters.quadrature import Quadrature
from simcore.counters.step_direction import StepDirection
from simcore.design import Design, HandEntry, StageEntry
from simcore.hand.base import CLICK, CREEP, REST, ROCK, SPIN, TWIST, Gesture
from simcore.hand.geometry import Geometry
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import Level, PlainInput, SchmittInput
from simcore.networks.single_pole import AcrossCapacitor, Direct, SeriesCapacitor

MICROSECOND = 1_000_000


def either(*values: float) -> st.SearchStrategy[float]:
    """One of a few values."""
    return st.sampled_from(values)


@st.composite
def geometries(draw: DrawFn) -> Geometry:
    """A whole cycle per step, halves, quarters, thirds and doubles; boundaries always in order."""
    pitch = draw(either(1.0, 1.0, 1.0, 0.5, 0.25, 2.0, 1 / 3))
    spans = [(0.5, 0.25), (0.5, 0.25), (0.4, 0.3), (0.45, 0.2), (0.55, 0.15), (0.7, 0.2), (0.5, 0.05)]
    closed, phase = draw(st.sampled_from(spans))
    rest = draw(either(0.0, 0.0, 0.1, 0.125, -0.125, 0.24, -0.4))
    closed_spread, phase_spread = draw(st.sampled_from([(0.0, 0.0), (0.02, 0.02), (0.05, 0.05)]))
    early, late = phase - phase_spread, phase + phase_spread
    if early <= closed_spread or late >= closed - closed_spread or late + closed + closed_spread >= 1.0:
        closed_spread, phase_spread = 0.0, 0.0
    turn = draw(either(12.0, 20.0, 24.0, 30.0))
    rest_spread = draw(either(0.0, 0.05, 0.2))
    return Geometry(turn, pitch, closed, closed_spread, phase, phase_spread, rest, rest_spread)


def headings() -> st.SearchStrategy[int]:
    """Up, down, either, alternating."""
    return st.sampled_from([1, -1, 0, 2])


@st.composite
def clicks(draw: DrawFn) -> HandEntry:
    """Single detents; some faster than any hand."""
    moves = draw(st.integers(1, 6))
    duration = draw(either(0.02, 0.02, 0.005, 0.0005, 0.08, 1e-12))
    dwell = draw(either(0.03, 0.15, 0.001, 0.0))
    return _entry(
        CLICK, moves, 1.0, 1.0, draw(headings()), duration, draw(either(0.0, 0.3)), dwell,
        draw(either(0.0, 0.3)), 0, 0.0,
    )  # fmt: skip


@st.composite
def sweeps(draw: DrawFn) -> HandEntry:
    """Twists, spins and creeps over several detents, with the detents' ripple or without."""
    kind = draw(st.sampled_from([TWIST, TWIST, SPIN, CREEP]))
    steps = float(draw(st.integers(1, 8)))
    per_step = draw(either(0.012, 0.003, 0.0001, 0.05, 1e-9))
    if kind == CREEP:
        steps, per_step = 1.0, draw(either(0.2, 1.5))
    ripple = draw(either(0.0, 0.0, 0.4, 0.9))
    return _entry(
        kind, draw(st.integers(1, 2)), steps, steps, draw(headings()), steps * per_step,
        draw(either(0.0, 0.2)), 0.1, draw(either(0.0, 0.3)), int(kind == SPIN), ripple,
    )  # fmt: skip


@st.composite
def rocks(draw: DrawFn) -> HandEntry:
    """Part of the way and back."""
    low, high = draw(st.sampled_from([(0.1, 0.4), (0.3, 0.9), (0.55, 0.55)]))
    turns = 2 * draw(st.integers(1, 3))
    return _entry(
        ROCK, turns, high, low, draw(headings()), draw(either(0.03, 0.002)), draw(either(0.0, 0.3)),
        draw(either(0.05, 0.0)), 0.2, 0, 0.0,
    )  # fmt: skip


def rests() -> st.SearchStrategy[HandEntry]:
    """No movement."""
    return st.just(_entry(REST, 1, 0.0, 0.0, 1, 0.05, 0.0, 0.01, 0.0, 0, 0.0))


def _entry(
    kind: int, moves: int, steps: float, low: float, heading: int, duration: float, duration_spread: float,
    dwell: float, dwell_spread: float, steady: int, ripple: float,
) -> HandEntry:  # fmt: skip
    gesture = Gesture(
        kind, moves, steps, low, heading, duration, duration_spread, dwell, dwell_spread, steady, ripple
    )
    return HandEntry(f"gesture {kind}", gesture, moves)


def hands() -> st.SearchStrategy[tuple[HandEntry, ...]]:
    """One to three gestures."""
    gestures = st.one_of(clicks(), sweeps(), clicks(), sweeps(), rocks(), rests())
    return st.lists(gestures, min_size=1, max_size=3).map(tuple)


@st.composite
def wiping_sides(draw: DrawFn, wear: float) -> WipingSide:
    """All mechanisms of the wiping contact, each of them missing at times; ``wear`` scales them."""
    packets = draw(either(0.0, 0.0, 0.7, 3.0))
    straggler = draw(either(0.0, 0.0, 0.2, 1.0))
    return WipingSide(
        zone=draw(either(0.3, 0.0, 0.05, 3.0)),
        pairs=wear * draw(either(0.0, 1.5, 6.0)),
        rebound=draw(either(0.0, 0.5, 1.0)),
        flight=wear * draw(either(60e-6, 5e-6, 1e-3)),
        restitution=draw(either(0.55, 0.0, 0.9)),
        pause=draw(either(30e-6, 0.0)),
        packets=packets,
        packet_pairs=wear * 3.0,
        packet_length=draw(either(100e-6, 0.0)),
        gap_low=150e-6,
        gap_high=640e-6,
        straggler=straggler,
        straggler_low=2e-3,
        straggler_high=4e-3,
        straggler_length=50e-6,
    )


@st.composite
def telegraph_sides(draw: DrawFn) -> TelegraphSide:
    """From nothing to over a hundred changes, rarely to the most there can be."""
    pairs = draw(either(0.0, 1.0, 4.0, 4.0, 30.0)) if draw(st.integers(0, 19)) else 300.0
    return TelegraphSide(pairs, draw(either(1e-3, 1e-9, 5e-3)), draw(either(0.0, 0.5)), 3e-3)


@st.composite
def contacts(draw: DrawFn) -> Clean | Wiping | Telegraph:
    """One of the three models; making and breaking each with habits of its own."""
    model = draw(st.integers(0, 7))
    if model <= 1:
        return Clean(1)
    if model <= 3:
        return Telegraph(draw(telegraph_sides()), draw(telegraph_sides()))
    wear = draw(either(1.0, 1.0, 0.2, 3.0))
    return Wiping(draw(wiping_sides(wear)), draw(wiping_sides(wear)))


@st.composite
def slidings(draw: DrawFn) -> Sliding:
    """Opens under way."""
    return Sliding(draw(either(0.0, 0.0, 40.0, 400.0)), draw(either(50e-6, 2e-3)), 0.8, 2e-3)


@st.composite
def parts(draw: DrawFn, *nominal: float) -> Part:
    """A value out of a few, with a tolerance out of a few."""
    return Part(draw(either(*nominal)), draw(either(0.0, 0.05, 0.2)))


def networks() -> st.SearchStrategy[Direct | SeriesCapacitor | AcrossCapacitor]:
    """Nothing, a series resistor into a capacitor, a capacitor across the contact; also without
    any capacitance, and with far too much.
    """
    farads = parts(100e-9, 100e-9, 10e-9, 1e-6, 0.0, 1e-15, 1e-3, 1.0, 1e3)
    pull_up = parts(4.7e3, 10e3, 100e3)
    return st.one_of(
        st.builds(Direct, pull_up),
        st.builds(SeriesCapacitor, pull_up, parts(1e3, 10e3, 0.0), farads),
        st.builds(SeriesCapacitor, pull_up, parts(1e3, 10e3, 0.0), farads),
        st.builds(AcrossCapacitor, pull_up, farads),
    )


@st.composite
def inputs(draw: DrawFn) -> SchmittInput | PlainInput:
    """Schmitt or plain, volts or shares of the supply, straight or inverting; also thresholds
    that cross within tolerance and thresholds hardly reached.
    """
    inverting = draw(st.integers(0, 1))
    if draw(st.booleans()):
        low, high = draw(st.sampled_from([(0.8, 2.0), (1.5, 1.5), (0.3, 3.0)]))
        return PlainInput(Level(Part(low, 0.0), 0), Level(Part(high, 0.0), 0), inverting)
    falling, rising = draw(st.sampled_from([(1.2, 1.9), (1.2, 1.9), (1.6, 1.65), (0.02, 3.25)]))
    spread = draw(either(0.0, 0.1))
    if draw(st.booleans()):
        return SchmittInput(Level(Part(rising, spread), 0), Level(Part(falling, spread), 0), inverting)
    return SchmittInput(
        Level(Part(rising / 3.3, spread), 1), Level(Part(falling / 3.3, spread), 1), inverting
    )


@st.composite
def stages(draw: DrawFn) -> tuple[StageEntry, ...]:
    """Both lines alike, one line only, each line its own, or bare contacts."""
    both: list[tuple[int, ...]] = [(0, 1)]
    wanted: list[tuple[int, ...]] = draw(st.sampled_from([both, both, [(0,)], [(1,)], [(0,), (1,)], []]))
    entries: list[StageEntry] = []
    for number, lines in enumerate(wanted):
        if draw(st.integers(0, 4)):
            entries.append(StageEntry(f"filter {number}", draw(networks()), lines))
        entries.append(StageEntry(f"input {number}", draw(inputs()), lines))
    return tuple(entries)


@st.composite
def step_directions(draw: DrawFn) -> StepDirection:
    """Either clock line, edge and sense; no timing limits, usual ones, and very long ones."""
    setup, hold = draw(
        st.sampled_from([(0, 0), (0, 0), (3, 1), (1000, 500), (5000, 8000), (1, 0), (0, 4000)])
    )
    low, high = draw(st.sampled_from([(0, 0), (0, 0), (1, 1), (0, 300), (2000, 100)]))
    return StepDirection(
        clock=draw(st.integers(0, 1)),
        active=draw(st.integers(0, 1)),
        up=draw(st.integers(0, 1)),
        setup=setup * MICROSECOND,
        hold=hold * MICROSECOND,
        low=low * MICROSECOND,
        high=high * MICROSECOND,
        doubt=draw(st.integers(0, 3)),
        short=draw(st.integers(0, 1)),
    )


def quadratures() -> st.SearchStrategy[Quadrature]:
    """x1, x2 and x4, both signs."""
    return st.builds(Quadrature, st.sampled_from([1, 2, 4]), st.sampled_from([1, -1]))


@st.composite
def ranges(draw: DrawFn) -> Range:
    """Unbounded, wrapping, and end stops, some of them very close."""
    positions = draw(st.sampled_from([0, 0, 2, 3, 5, 32, 100]))
    start = draw(st.integers(0, max(0, min(positions - 1, 40))))
    return Range(positions, start, draw(st.integers(0, 1)))


@st.composite
def designs(draw: DrawFn) -> Design:
    """A whole design.  Mostly it wants the counts that its geometry gives, if these are whole."""
    geometry = draw(geometries())
    counter = draw(st.one_of(step_directions(), quadratures()))
    per_cycle = counter.counts if isinstance(counter, Quadrature) else 1
    natural = per_cycle * geometry.cycles_per_step
    wanted = int(natural) if natural >= 1 and draw(st.integers(0, 3)) else draw(st.integers(1, 4))
    return Design(
        geometry=geometry,
        hand=draw(hands()),
        contact=draw(contacts()),
        sliding=draw(slidings()),
        resistance=Resistance(draw(either(3.0, 0.0, 0.1, 500.0, 1e6)), draw(either(0.0, 1.0))),
        supply=Part(3.3, draw(either(0.0, 0.05))),
        stages=draw(stages()),
        counter=counter,
        range=draw(ranges()),
        counts_per_step=wanted,
    )


def addresses() -> st.SearchStrategy[tuple[int, int]]:
    """Seed and run number."""
    return st.tuples(st.integers(0, 2**63 - 1), st.integers(0, 10**6))
