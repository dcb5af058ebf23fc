"""Both engines agree on designs with each kind of counter that has no slow twin."""

from __future__ import annotations

import dataclasses
from collections import Counter
from typing import Any

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from simcore.contacts.crossing import Sliding
from simcore.counters.base import counter_rate
from simcore.design import Design, StageEntry
from simcore.hand.geometry import Geometry
from simcore.networks.analogue import Resistance

from .designs import addresses, contacts, either, geometries, hands, inputs, ranges, step_directions
from .kinds_counters import kinds
from .test_engines import compare_engines
from .test_slow import plain_design

EXAMPLES = 25
ROUND = Geometry(20.0, 1.0, 0.5, 0.02, 0.25, 0.02, 0.0, 0.05)


@st.composite
def designs_with(draw: DrawFn, counter: st.SearchStrategy[Any]) -> Design:
    """A design, half the time with an encoder that the counter fits, behind an input or nothing."""
    spec = draw(counter)
    geometry = draw(geometries()) if draw(st.booleans()) else ROUND
    given = counter_rate(spec) * geometry.cycles_per_step
    wanted = round(given) if given >= 1 and abs(given - round(given)) < 1e-9 else 1
    stages = (StageEntry("input", draw(inputs())),) if draw(st.booleans()) else ()
    return dataclasses.replace(
        plain_design(),
        geometry=geometry,
        hand=draw(hands()),
        contact=draw(contacts()),
        sliding=Sliding(draw(either(0.0, 40.0)), 50e-6, 0.8, 2e-3),
        resistance=Resistance(3.0, 0.5),
        stages=stages,
        counter=spec,
        range=draw(ranges()),
        counts_per_step=wanted,
    )


@pytest.mark.parametrize("kind", kinds())
def test_events_equal_batch(kind: str) -> None:
    done: Counter[str] = Counter()

    @seed(77)
    @settings(max_examples=EXAMPLES, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(designs_with(kinds()[kind]), addresses(), st.integers(1, 3))
    def compare(design: Design, address: tuple[int, int], runs: int) -> None:
        done.update(compare_engines(design, address, runs))

    compare()
    assert done["designs"] >= EXAMPLES
    assert done["pulses"] > 10
    assert done["steps"] > 10
    usual = "skipped state" if "clocked" in kind else "chatter"
    assert done[usual], "the designs have become too tame"


def test_a_prescaler_before_a_step_direction_counter() -> None:
    """Open decisions close late, so here the prescaler follows a wake-up."""
    from .kinds_counters import prescaled

    @seed(78)
    @settings(max_examples=10, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(designs_with(prescaled(step_directions())), addresses())
    def compare(design: Design, address: tuple[int, int]) -> None:
        compare_engines(design, address, 2)

    compare()
