"""The event engine against the batch engine on designs whose lines are Waveforms, and gate delays."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from simcore.base.draws import Part
from simcore.design import Design, StageEntry
from simcore.networks.ladder import TwoSection
from simcore.networks.single_pole import SeriesCapacitor
from simcore.networks.waveform import Waveform

from . import kinds_waveform as kinds
from .designs import addresses, designs, either, parts
from .test_engines import compare_engines

EXAMPLES = 25


def series() -> st.SearchStrategy[SeriesCapacitor]:
    """With a capacitor of any size, and without."""
    farads = parts(100e-9, 10e-9, 1e-6, 0.0)
    return st.builds(SeriesCapacitor, parts(4.7e3, 100e3), parts(1e3, 0.0), farads)


def ladders() -> st.SearchStrategy[TwoSection]:
    """Two sections, the second light or as heavy as the first."""
    return st.builds(
        TwoSection, parts(4.7e3), parts(1e3), parts(47e-9, 1e-9), parts(10e3), parts(10e-9, 100e-9)
    )


KINDS: dict[str, tuple[st.SearchStrategy[Any], st.SearchStrategy[Any]]] = {
    "plain input": (series(), kinds.noisy_plain_inputs()),
    "schmitt input": (series(), kinds.noisy_schmitt_inputs()),
    "comparator": (ladders(), kinds.comparators()),
}


def wave_design(design: Design, line: dict[str, Any], network: Any) -> Design:
    """A design whose lines are what is asked for, and short."""
    hand = tuple(
        replace(entry, moves=min(entry.moves, 2), gesture=entry.gesture._replace(duration=0.02, dwell=0.01))
        for entry in design.hand[:1]
    )
    stages = (StageEntry("filter", network), StageEntry("input", line["logic"]))
    return replace(
        design, hand=hand, stages=stages, dips=line["dips"], power_up=line["power_up"],
        resistance=line["resistance"],
    )  # fmt: skip


@pytest.mark.parametrize("kind", list(KINDS))
def test_waveforms_agree(kind: str) -> None:
    networks, inputs = KINDS[kind]
    done: Counter[str] = Counter()

    @seed(31)
    @settings(max_examples=EXAMPLES, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(designs(), kinds.lines(inputs), networks, addresses())
    def compare(design: Design, line: dict[str, Any], network: Any, address: tuple[int, int]) -> None:
        made = wave_design(design, line, network)
        done["waveforms"] += isinstance(made.chain.layers[0].line[0], Waveform)
        done.update(compare_engines(made, address, 2))

    compare()
    assert done["waveforms"] > EXAMPLES // 2
    assert done["edges"] > 1000


def test_gate_delays_agree() -> None:
    """Alone, on bare contacts."""
    done: Counter[str] = Counter()

    @seed(31)
    @settings(max_examples=EXAMPLES, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(designs(), kinds.gate_delays(), addresses(), either(0.0, 1.0))
    def compare(design: Design, delay: Any, address: tuple[int, int], both: float) -> None:
        entries = (StageEntry("gate", delay, (0, 1) if both else (1,)),)
        done.update(compare_engines(replace(design, stages=entries, supply=Part(3.3, 0.0)), address, 2))

    compare()
    assert done["edges"] > 500
