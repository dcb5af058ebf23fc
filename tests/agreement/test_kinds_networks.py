"""Both engines agree on designs with networks of every kind."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings

from simcore.base.draws import Part
from simcore.design import Design, StageEntry
from simcore.networks.inputs import Level, SchmittInput

from .designs import addresses, designs
from .kinds_networks import KINDS
from .test_engines import compare_engines

INPUT = SchmittInput(Level(Part(1.9, 0.1), 0), Level(Part(1.2, 0.1), 0), 0)


@pytest.mark.parametrize("kind", KINDS)
def test_engines_agree(kind: str) -> None:
    seen = 0

    @settings(max_examples=20, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(designs(), KINDS[kind], addresses())
    def compare(design: Design, network: object, address: tuple[int, int]) -> None:
        nonlocal seen
        entries = StageEntry("filter", network), StageEntry("input", INPUT)
        seen += compare_engines(replace(design, stages=entries), address, 2)["edges"]

    compare()
    assert seen > 100
