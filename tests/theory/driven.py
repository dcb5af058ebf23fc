"""Units of every kind of network, and what drives them, for the theorems on networks."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from simcore.networks.response import Drive, Node, network_parts
from tests.agreement.designs import networks
from tests.agreement.kinds_networks import KINDS

UNIT = st.floats(0.0, 1.0, exclude_max=True)
FOURS = st.tuples(UNIT, UNIT, UNIT, UNIT)
OHMS = st.sampled_from([0.0, 0.5, 3.0, 1e3, 1e6])
LEAKS = st.sampled_from([0.0, 0.0, 1e-6, -1e-6, 3e-5, -3e-5])
SECONDS = st.one_of(st.just(0.0), st.floats(-9.0, 2.0).map(lambda power: 10.0**power))


@st.composite
def drives(draw: st.DrawFn) -> Drive:
    """Any."""
    return Drive(draw(st.integers(0, 1)), draw(st.floats(1.0, 15.0)), draw(OHMS), draw(LEAKS))


@st.composite
def built(draw: st.DrawFn) -> Any:
    """Parts of one unit of any kind."""
    network = draw(st.one_of(networks(), *KINDS.values()))
    return network_parts(network, draw(FOURS), draw(FOURS))


@st.composite
def nodes(draw: st.DrawFn, supply: float) -> Node:
    """Anywhere about the rails."""
    return Node(*(supply * draw(st.floats(-0.2, 1.2)) for _ in range(2)))


def swing(drive: Drive) -> float:
    """The largest voltage (V) that a drive can cause, give or take."""
    return drive.volts + 1e6 * abs(drive.leak)
