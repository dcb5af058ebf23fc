"""A general line whose time constant lies far below a tick."""

from __future__ import annotations

import numpy as np

from simcore.base.draws import Part
from simcore.base.records import edges_of_runs, empty_edges
from simcore.base.ticks import ticks
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import Comparator, Leakage, Level
from simcore.networks.noise import Noise
from simcore.networks.single_pole import AcrossCapacitor
from simcore.networks.supply import STEADY
from simcore.networks.waveform import Waveform
from simcore.stages.base import drive_stage
from simcore.stages.delay import PROMPT


def test_a_noisy_input_turns_over_once_where_the_voltage_jumps_within_a_tick() -> None:
    """Seen in a campaign: 3 ohm and 1 fF.  At the tick of the crossing the voltage still shows its old
    value, which must not turn the input back, and over again, without end.
    """
    network = AcrossCapacitor(Part(100e3, 0.0), Part(1e-15, 0.0))
    logic = Comparator(
        Level(Part(1.65, 0.0), 0), Part(0.7, 0.0), 0, Leakage(0.0), Noise(0.02, 5000.0), PROMPT
    )
    line = Waveform(Part(3.3, 0.0), Resistance(3.0, 0.0, 0), network, logic, STEADY, 0)
    source = edges_of_runs([(0, [ticks(1e-3), ticks(2e-3)], [0, 16])])
    out = empty_edges(100, 1)
    assert drive_stage(line, 1, 0, 0, source, np.array([ticks(3e-3)]), out) == 1
    assert int(out.offsets[1]) == 2
    assert out.times[0] == ticks(1e-3)
