"""Laws that every built network obeys, whatever its kind.

*One pole.*  A network of one pole is the two sources that the fast stage takes it for.

*Composition.*  Under a constant drive the future depends on the node alone, so going on for s + t is
going on for s and then for t.

*Crossings.*  The instant that `node_crosses` gives is one at which `node_after` passes the voltage in that
direction, to a tick; the one that `node_reaches` gives is the first at which it has it.

*Mirror.*  Exchange supply and ground and measure downward: a pull-up becomes a pull-down, a contact to
ground one to the supply, a leakage out of the node one into it, and the voltage is the supply less the
other's.  What an input with mirrored thresholds turns at, its mirror image turns at as well.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from simcore.base.draws import toleranced
from simcore.networks.analogue import Analogue, Resistance
from simcore.networks.inputs import Level, SchmittInput
from simcore.networks.response import (
    NEVER_SECONDS,
    Drive,
    Node,
    network_parts,
    node_after,
    node_crosses,
    node_reaches,
    node_rest,
    pole_sources,
    single_pole,
)
from simcore.networks.single_pole import (
    AtCapacitor,
    Direct,
    PullDownAcross,
    PullDownDirect,
    PullDownSeries,
    SeriesCapacitor,
)
from tests.agreement.designs import networks
from tests.agreement.kinds_networks import KINDS
from tests.outside.lines import one_run, part, through, times_of
from tests.theory.driven import FOURS, OHMS, SECONDS, built, drives, nodes, swing

LINEAR = st.one_of(networks(), *(KINDS[kind] for kind in KINDS if kind not in ("diode", "two sections")))
TICK = 1e-12


def two_sources(network: Any, volts: float, ohms: float, u: tuple[float, ...]) -> tuple[float, ...]:
    """Thevenin's theorem for each network, written out: volts and time constant with the contact open, and
    with it closed.
    """
    drawn = {name: toleranced(value, u[i]) for i, (name, value) in enumerate(network._asdict().items())}
    pull = drawn.get("pull_up", drawn.get("pull_down", 0.0))
    farads, series = drawn.get("capacitor", 0.0), drawn.get("series", 0.0)
    # What the contact closes through, and what lies between the divider and the capacitor.
    lower, between = (series + ohms, 0.0) if isinstance(network, AtCapacitor) else (ohms, series)
    parallel = pull * lower / (pull + lower)
    if "pull_down" in drawn:
        opened, closed = 0.0, volts * pull / (lower + pull)
    else:
        opened, closed = volts, volts * lower / (pull + lower)
    return opened, (pull + between) * farads, closed, (between + parallel) * farads


@given(LINEAR, FOURS, st.floats(0.5, 30.0), OHMS)
def test_one_pole_is_its_two_sources(
    network: Any, u: tuple[float, float, float, float], volts: float, ohms: float
) -> None:
    parts = network_parts(network, u, u)
    expected = two_sources(network, volts, ohms, u)
    assert pole_sources(parts, volts, ohms, 0.0) == pytest.approx(expected, rel=1e-14)
    assert single_pole(network)


@settings(max_examples=400, deadline=None)
@given(st.data(), built(), drives(), SECONDS, SECONDS)
def test_composition(data: st.DataObject, parts: Any, drive: Drive, first: float, then: float) -> None:
    # A jump takes place once, at the start: begin after it.
    node = node_after(parts, drive, data.draw(nodes(drive.volts)), 0.0)
    together = node_after(parts, drive, node, first + then)
    apart = node_after(parts, drive, node_after(parts, drive, node, first), then)
    scale = swing(drive)
    assert apart == pytest.approx(together, abs=1e-9 * scale)


@settings(max_examples=200, deadline=None)
@given(st.data(), built(), drives())
def test_rest_stays_at_rest(data: st.DataObject, parts: Any, drive: Drive) -> None:
    rest = node_rest(parts, drive)
    scale = swing(drive)
    assert node_after(parts, drive, rest, data.draw(SECONDS)) == pytest.approx(rest, abs=1e-12 * scale)
    node = data.draw(nodes(drive.volts))
    assert node_after(parts, drive, node, 1e14) == pytest.approx(rest, abs=1e-9 * scale)


@settings(max_examples=600, deadline=None)
@given(st.data(), built(), drives(), st.floats(-0.3, 1.3), st.integers(0, 1))
def test_crossings(data: st.DataObject, parts: Any, drive: Drive, share: float, up: int) -> None:
    node = data.draw(nodes(drive.volts))
    volts = share * drive.volts
    near = 1e-9 * swing(drive)
    assume(abs(node.x - volts) > near and abs(node_rest(parts, drive).x - volts) > near)
    sign = 1.0 if up else -1.0

    def beyond(seconds: float) -> float:
        return sign * (node_after(parts, drive, node, max(seconds, 0.0)).x - volts)

    found = node_crosses(parts, drive, node, volts, up)
    if found == NEVER_SECONDS:
        # Either it never gets there, or it is beyond from the start and does not come back for more.
        seen = [beyond(10.0 ** (power / 4.0)) for power in range(-60, 60)]
        rises = [
            later > near and earlier < -near
            for earlier, later in zip([beyond(0.0), *seen], seen, strict=False)
        ]
        assert not any(rises)
        return
    assert found >= 0.0
    # A line that jumps may touch the voltage and turn back within the tick.
    assert max(beyond(found), beyond(found + TICK)) > -near
    if found > TICK:
        assert beyond(found - TICK) < near


@settings(max_examples=300, deadline=None)
@given(st.data(), built(), drives(), st.floats(-0.3, 1.3), st.floats(0.0, 0.999), SECONDS)
def test_the_voltage_is_not_reached_before(
    data: st.DataObject, parts: Any, drive: Drive, share: float, when: float, ever: float
) -> None:
    """At no earlier instant, and at none at all if it is never reached."""
    node = data.draw(nodes(drive.volts))
    volts = share * drive.volts
    near = 1e-9 * swing(drive)
    found = node_reaches(parts, drive, node, volts)
    side = 1.0 if node.x > volts else -1.0
    if found == 0.0:
        assert node.x == volts or side * (node_after(parts, drive, node, 0.0).x - volts) < near
        return
    seconds = ever if found == NEVER_SECONDS else when * found
    assert side * (node_after(parts, drive, node, seconds).x - volts) > -near


def mirrored(network: Any) -> Any:
    """The same parts the other way up."""
    if isinstance(network, Direct):
        return PullDownDirect(*network)
    return PullDownSeries(*network) if isinstance(network, SeriesCapacitor) else PullDownAcross(*network)


@settings(max_examples=300, deadline=None)
@given(st.data(), networks(), FOURS, drives(), SECONDS, st.floats(0.0, 1.0))
def test_mirror(
    data: st.DataObject, network: Any, u: tuple[float, float, float, float], drive: Drive, seconds: float,
    share: float,
) -> None:  # fmt: skip
    upper, lower = network_parts(network, u, u), network_parts(mirrored(network), u, u)
    turned = drive._replace(leak=-drive.leak)
    node = data.draw(nodes(drive.volts))
    image = Node(drive.volts - node.x, 0.0)
    tight = 1e-12 * swing(drive)
    rest = node_rest(upper, drive).x
    assert node_rest(lower, turned).x == pytest.approx(drive.volts - rest, abs=tight)
    ours = node_after(lower, turned, image, seconds).x
    assert ours == pytest.approx(drive.volts - node_after(upper, drive, node, seconds).x, abs=tight)
    volts = share * drive.volts
    assume(min(abs(volts - rest), abs(volts - node.x)) > 1e-3)
    for up in (0, 1):
        theirs = node_crosses(upper, drive, node, volts, up)
        found = node_crosses(lower, turned, image, drive.volts - volts, 1 - up)
        assert found == pytest.approx(theirs, rel=1e-6)


@settings(max_examples=100, deadline=None)
@given(
    st.floats(500.0, 5e4), st.floats(500.0, 5e4), st.floats(1e-9, 1e-6), st.integers(0, 1),
    st.lists(st.integers(10**6, 10**10), min_size=1, max_size=20),
)  # fmt: skip
def test_mirrored_lines_pass_the_same_edges(
    pull: float, series: float, farads: float, first: int, durations: list[int]
) -> None:
    """A whole stage: thresholds mirrored in the supply, and the input turned over."""
    upper = SeriesCapacitor(part(pull), part(series), part(farads))
    times = times_of(durations)
    seen = []
    for network, rising, falling, inverting in (
        (upper, 1.9, 1.2, 0), (mirrored(upper), 5.0 - 1.2, 5.0 - 1.9, 1),
    ):  # fmt: skip
        logic = SchmittInput(Level(part(rising), 0), Level(part(falling), 0), inverting)
        seen.append(through(Analogue(part(5.0), Resistance(3.0, 0.0), network, logic), one_run(first, times)))
    assert seen[0].first[0] == seen[1].first[0]
    assert len(seen[0].times) == len(seen[1].times)
    assert seen[0].times == pytest.approx(seen[1].times, abs=2)
