"""Designs with clean contacts and a hand of fixed pace, for theorems about checks."""

from __future__ import annotations

from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.design import Design, HandEntry
from simcore.hand.base import ALTERNATE, CLICK, DOWN, SPIN, TWIST, UP, Gesture
from simcore.hand.geometry import Geometry
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import Level, SchmittInput
from simcore.networks.single_pole import SeriesCapacitor
from tests.theory import designs as make

MILLISECOND = 1.0e-3


@st.composite
def movements(draw: st.DrawFn) -> HandEntry:
    """Clicks, twists or a steady turn, up, down or by turns."""
    kind = draw(st.sampled_from([CLICK, TWIST, SPIN]))
    steps = 1.0 if kind == CLICK else float(draw(st.integers(2, 5)))
    gesture: Gesture = make.gesture(
        kind, steps=steps, heading=draw(st.sampled_from([UP, DOWN, ALTERNATE])),
        duration=steps * draw(make.unit(8.0, 25.0)) * MILLISECOND,
        dwell=draw(make.unit(30.0, 100.0)) * MILLISECOND,
        ripple=draw(make.unit(0.0, 0.4)) if kind == TWIST else 0.0,
    )  # fmt: skip
    return HandEntry("hand", gesture, 4)


@st.composite
def clean_designs(draw: st.DrawFn) -> Design:
    """A network of one pole with tolerances, from quick to too slow, behind an encoder with tolerances."""
    spread = draw(st.sampled_from([0.0, 0.02, 0.04]))
    geometry = Geometry(20.0, 1.0, 0.5, spread, 0.25, spread, 0.0, spread)
    network = SeriesCapacitor(
        Part(draw(make.unit(2e3, 2e4)), 0.05),
        Part(draw(make.unit(200.0, 5e3)), 0.05),
        Part(draw(make.unit(20e-9, 300e-9)), 0.2),
    )
    logic = SchmittInput(Level(Part(0.55, 0.1), 1), Level(Part(0.3, 0.1), 1), 0)
    return make.design(
        draw(movements()), geometry=geometry, stages=make.filtered(network, logic),
        resistance=Resistance(0.5, 0.0), supply=Part(3.3, 0.05), counter=make.step_direction(limits=10**6),
    )  # fmt: skip
