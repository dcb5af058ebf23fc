"""The rules of every kind of network compile, and give what plain Python gives."""

from __future__ import annotations

from typing import Any

import pytest

from simcore.base.compiling import kernel
from simcore.base.draws import Part
from simcore.networks.diode import DiodeCapacitor
from simcore.networks.ladder import TwoSection
from simcore.networks.response import (
    Drive,
    Node,
    Uniforms,
    network_idle,
    network_parts,
    node_after,
    node_crosses,
    node_reaches,
    node_rest,
)
from simcore.networks.single_pole import (
    AcrossCapacitor,
    AtCapacitor,
    Direct,
    PullDownAcross,
    PullDownDirect,
    PullDownSeries,
    SeriesCapacitor,
)

PULL, SERIES, FARADS = Part(10e3, 0.05), Part(4.7e3, 0.05), Part(47e-9, 0.2)
NETWORKS = [
    Direct(PULL),
    SeriesCapacitor(PULL, SERIES, FARADS),
    AcrossCapacitor(PULL, FARADS),
    AtCapacitor(PULL, SERIES, FARADS),
    PullDownDirect(PULL),
    PullDownSeries(PULL, SERIES, FARADS),
    PullDownAcross(PULL, FARADS),
    DiodeCapacitor(PULL, SERIES, FARADS, Part(0.6, 0.1), 1),
    TwoSection(PULL, SERIES, FARADS, SERIES, FARADS),
]
U, W = (0.1, 0.9, 0.4, 0.7), (0.8, 0.2, 0.6, 0.3)


@kernel
def answers(
    network: Any, u: Uniforms, w: Uniforms, drive: Drive, node: Node, seconds: float, volts: float
) -> tuple[Any, Node, Node, float, float, float]:
    """All that the contract offers."""
    parts = network_parts(network, u, w)
    return (
        parts,
        node_rest(parts, drive),
        node_after(parts, drive, node, seconds),
        node_reaches(parts, drive, node, volts),
        node_crosses(parts, drive, node, volts, 0),
        node_crosses(parts, drive, node, volts, 1),
    )


@pytest.mark.parametrize("network", NETWORKS, ids=lambda network: type(network).__name__)
def test_compiled_and_plain(network: Any) -> None:
    for closed in (0, 1):
        drive = Drive(closed, 3.3, 12.0, 1e-6)
        for node in (Node(0.0, 0.0), Node(0.4, 2.9), Node(3.3, 3.3), Node(3.0, -0.2)):
            for volts in (0.3, 1.2, 1.9, 3.0):
                asked = (network, U, W, drive, node, 2e-4, volts)
                compiled, plain = answers(*asked), answers.plain(*asked)  # type: ignore[attr-defined]
                assert compiled[:1] == plain[:1]
                assert [type(each) for each in compiled] == [type(each) for each in plain]
                for one, other in zip(compiled[1:3], plain[1:3], strict=True):
                    assert one == pytest.approx(other, rel=1e-12, abs=1e-13)
                assert compiled[3:] == pytest.approx(plain[3:], rel=1e-12)


def test_lines_rest_low_behind_a_pull_down() -> None:
    for network in NETWORKS:
        idle = 0 if type(network).__name__.startswith("PullDown") else 1
        assert network_idle(network) == idle
        parts = network_parts(network, U, W)
        opened, shut = (node_rest(parts, Drive(closed, 3.3, 12.0, 0.0)).x for closed in (0, 1))
        assert (opened > shut) == bool(idle)
