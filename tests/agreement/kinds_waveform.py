"""Random supplies, contacts and inputs that make a line a Waveform, and gate delays.

Records keep their types whatever the values, so that one compilation serves all of a kind.
"""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from simcore.base.draws import Part
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import Comparator, Leakage, Level, PlainInput, SchmittInput
from simcore.networks.noise import Noise
from simcore.networks.supply import Dips
from simcore.stages.delay import GateDelay


def either(*values: float) -> st.SearchStrategy[float]:
    """One of a few values."""
    return st.sampled_from(values)


def tolerance() -> st.SearchStrategy[float]:
    """None, a few per cent, wide."""
    return either(0.0, 0.05, 0.2)


@st.composite
def noises(draw: DrawFn) -> Noise:
    """None, a little, and so much that a line may toggle at rest; the bandwidth stays modest, or such a
    line would take for ever.
    """
    rms = draw(either(0.0, 1e-3, 0.02, 0.02, 0.1, 0.5))
    return Noise(rms, draw(either(5e3, 20e3, 50e3)))


def leakages() -> st.SearchStrategy[Leakage]:
    """None, a microampere, and enough to move a line far."""
    return st.builds(Leakage, either(0.0, 1e-6, 1e-4))


@st.composite
def gate_delays(draw: DrawFn) -> GateDelay:
    """None, a gate's, and as slow as a bounce."""
    rising, falling = draw(st.sampled_from([(0.0, 0.0), (10e-9, 12e-9), (1e-6, 0.0), (50e-6, 20e-6)]))
    return GateDelay(Part(rising, draw(tolerance())), Part(falling, draw(tolerance())))


@st.composite
def levels(draw: DrawFn, *volts: float) -> Level:
    """Volts, or the same as a share of a supply of 3.3 V."""
    value = draw(either(*volts))
    return Level(Part(value, 0.0), 0) if draw(st.booleans()) else Level(Part(value / 3.3, 0.0), 1)


@st.composite
def noisy_plain_inputs(draw: DrawFn) -> PlainInput:
    """One threshold, anywhere between a low and a high one."""
    low, high = draw(st.sampled_from([(0.8, 2.0), (1.5, 1.5), (0.05, 3.2)]))
    of_supply = draw(st.integers(0, 1))
    scale = 1.0 / 3.3 if of_supply else 1.0
    return PlainInput(
        Level(Part(low * scale, 0.0), of_supply), Level(Part(high * scale, 0.0), of_supply),
        draw(st.integers(0, 1)), draw(leakages()), draw(noises()), draw(gate_delays()),
    )  # fmt: skip


@st.composite
def noisy_schmitt_inputs(draw: DrawFn) -> SchmittInput:
    """Thresholds far apart, close together, and hardly reached."""
    falling, rising = draw(st.sampled_from([(1.2, 1.9), (1.6, 1.65), (0.02, 3.25)]))
    of_supply = draw(st.integers(0, 1))
    scale, spread = (1.0 / 3.3 if of_supply else 1.0), draw(either(0.0, 0.1))
    return SchmittInput(
        Level(Part(rising * scale, spread), of_supply), Level(Part(falling * scale, spread), of_supply),
        draw(st.integers(0, 1)), draw(leakages()), draw(noises()), draw(gate_delays()),
    )  # fmt: skip


@st.composite
def comparators(draw: DrawFn) -> Comparator:
    """With and without hysteresis."""
    return Comparator(
        draw(levels(1.65, 0.4, 3.0)), Part(draw(either(0.0, 0.05, 0.7)), draw(tolerance())),
        draw(st.integers(0, 1)), draw(leakages()), draw(noises()), draw(gate_delays()),
    )  # fmt: skip


def supply_dips() -> st.SearchStrategy[Dips]:
    """None, rare and deep, many and short, and longer than the time between them."""
    return st.sampled_from(
        [
            Dips(0.0, 0.0, 0.0),
            Dips(5.0, 0.8, 2e-3),
            Dips(300.0, 0.4, 50e-6),
            Dips(500.0, 1.0, 5e-3),
            Dips(1000.0, 0.05, 1e-9),
        ]
    )


@st.composite
def resistances(draw: DrawFn) -> Resistance:
    """Per unit or per closure, from nothing to a dirty contact."""
    median = draw(either(3.0, 0.1, 500.0, 20e3))
    return Resistance(median, draw(either(0.0, 1.0)), draw(st.integers(0, 1)))


@st.composite
def lines(draw: DrawFn, logic: st.SearchStrategy[Any]) -> dict[str, Any]:
    """What a design says of its lines but for the network: an input, dips, power-up, resistance."""
    return {
        "logic": draw(logic),
        "dips": draw(supply_dips()),
        "power_up": draw(st.integers(0, 1)),
        "resistance": draw(resistances()),
    }
