"""Diodes, ladders and leakage at the limits where the answer is known.

*Limits.*  A diode without drop is a wire the one way and absent the other; any diode lies between the two.
A section without resistor and capacitor is none.

*Superposition.*  Rest falls by the leakage times the resistance that it flows through.

*Ripple.*  A contact that chatters evenly with period T much below the time constants leaves a ripple
that goes with T after one section, and with T squared after two.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from simcore.networks.diode import DiodeCapacitor, DiodePole
from simcore.networks.ladder import Ladder, TwoSection
from simcore.networks.response import (
    NEVER_SECONDS,
    Drive,
    Node,
    SinglePole,
    network_parts,
    node_after,
    node_crosses,
    node_reaches,
    node_rest,
)
from simcore.networks.single_pole import AcrossCapacitor
from tests.outside.lines import part
from tests.theory.driven import SECONDS, drives, nodes


@settings(max_examples=300, deadline=None)
@given(st.data(), drives(), st.integers(0, 1), SECONDS)
def test_a_diode_without_drop_is_a_wire_one_way(
    data: st.DataObject, drive: Drive, charging: int, seconds: float
) -> None:
    drive = drive._replace(leak=0.0)
    pull, series, farads = 10e3, 22e3, 1e-7
    diode = DiodePole(pull, series, farads, 0.0, charging)
    node = data.draw(nodes(drive.volts))
    rises = node_rest(diode, drive).x > node.x
    wire = SinglePole(pull, 0.0, 0.0 if rises == bool(charging) else series, farads, 0)
    plain = Node(node.x, 0.0)
    assert node_after(diode, drive, node, seconds).x == pytest.approx(
        node_after(wire, drive, plain, seconds).x, abs=1e-13 * drive.volts
    )


@settings(max_examples=300, deadline=None)
@given(st.data(), drives(), st.integers(0, 1), st.floats(0.0, 3.0), SECONDS)
def test_any_diode_lies_between_a_wire_and_none(
    data: st.DataObject, drive: Drive, charging: int, drop: float, seconds: float
) -> None:
    drive = drive._replace(leak=0.0)
    pull, series, farads = 10e3, 22e3, 1e-7
    node = data.draw(nodes(drive.volts))
    diode, wire, none = (
        node_after(parts, drive, node, seconds).x
        for parts in (
            DiodePole(pull, series, farads, drop, charging),
            DiodePole(pull, series, farads, 0.0, charging),
            SinglePole(pull, 0.0, series, farads, 0),
        )
    )
    assert min(wire, none) - 1e-12 <= diode <= max(wire, none) + 1e-12


@settings(max_examples=300, deadline=None)
@given(st.data(), drives(), st.sampled_from(["first", "second"]), SECONDS, st.floats(0.0, 1.0))
def test_a_section_without_parts_is_none(
    data: st.DataObject, drive: Drive, missing: str, seconds: float, share: float
) -> None:
    pull, series, farads = 10e3, 22e3, 1e-7
    kept, gone = (series, farads), (0.0, 0.0)
    single = SinglePole(pull, 0.0, series, farads, 0)
    both = (*gone, *kept) if missing == "first" else (*kept, *gone)
    volts = data.draw(st.floats(0.0, 1.0)) * drive.volts
    node = Node(volts, volts)
    expected = node_after(single, drive, Node(volts, 0.0), seconds).x
    assert node_after(Ladder(pull, *both), drive, node, seconds).x == pytest.approx(expected, abs=1e-12)
    small = tuple(value or 1e-9 for value in both)
    nearly = Ladder(pull, *small[:2], *small[2:])
    tiny = nearly._replace(
        first_farads=min(nearly.first_farads, farads) if missing == "second" else 1e-18,
        second_farads=1e-18 if missing == "second" else nearly.second_farads,
    )
    assert node_after(tiny, drive, node, seconds).x == pytest.approx(expected, abs=1e-6 * drive.volts)
    mark = share * drive.volts
    assume(min(abs(mark - volts), abs(mark - node_rest(single, drive).x)) > 0.01)
    theirs = node_reaches(single, drive, Node(volts, 0.0), mark)
    assert node_reaches(Ladder(pull, *both), drive, node, mark) == pytest.approx(theirs, rel=1e-9)
    assert node_reaches(tiny, drive, node, mark) == pytest.approx(theirs, rel=1e-5)


@given(drives(), st.floats(-3e-5, 3e-5))
def test_leakage_lowers_the_rest_by_its_drop(drive: Drive, leak: float) -> None:
    pull, series, more = 10e3, 22e3, 4.7e3
    source = pull * drive.ohms / (pull + drive.ohms) if drive.closed else pull
    quiet, leaking = drive._replace(leak=0.0), drive._replace(leak=leak)
    through_ohms = {
        Ladder(pull, series, 1e-7, more, 1e-8): source + series + more,
        SinglePole(pull, 0.0, series, 1e-7, 0): source + series,
        SinglePole(pull, 0.0, series, 1e-7, 1): source + series,
        DiodePole(pull, series, 1e-7, 3.0, 1): source + series,
    }
    for parts, ohms in through_ohms.items():
        fall = node_rest(parts, quiet).x - node_rest(parts, leaking).x
        assert fall == pytest.approx(leak * ohms, abs=1e-12)


def test_leakage_beyond_the_drop_rests_on_the_diode() -> None:
    """30 uA through 22 kohm would drop 0.66 V: a diode of 0.6 V that lies that way holds 0.6 V."""
    drive = Drive(0, 5.0, 0.0, 30e-6)
    assert node_rest(DiodePole(10e3, 22e3, 1e-7, 0.6, 1), drive).x == pytest.approx(
        5.0 - 0.3 - 0.6, rel=1e-12
    )
    assert node_rest(DiodePole(10e3, 22e3, 1e-7, 0.6, 0), drive).x == pytest.approx(5.0 - 0.96, rel=1e-12)


def test_a_ladder_turns_back_once() -> None:
    """A low output behind a full first capacitor, contact just closed: up through 0.5, back down."""
    parts = Ladder(10e3, 10e3, 1e-6, 1e3, 1e-8)
    drive = Drive(1, 3.3, 0.0, 0.0)
    node = Node(0.0, 3.3)
    rise, fall = (node_crosses(parts, drive, node, 0.5, up) for up in (1, 0))
    assert 0.0 < rise < 1e-3 < fall
    assert node_after(parts, drive, node, rise).x == pytest.approx(0.5, rel=1e-12)
    assert node_after(parts, drive, node, fall).x == pytest.approx(0.5, rel=1e-12)
    assert node_reaches(parts, drive, node, 0.5) == rise
    assert node_crosses(parts, drive, node, 3.3, 1) == NEVER_SECONDS


def ripple(parts: Any, period: float) -> float:
    """Peak to peak (V) once a contact that is open half of each period has settled."""
    node = node_rest(parts, Drive(0, 1.0, 0.0, 0.0))
    seen: list[float] = []
    settling = int(0.1 / period)
    for number in range(settling + 2):
        steps = 16 if number >= settling else 1
        for closed in (1, 0):
            for _ in range(steps):
                node = node_after(parts, Drive(closed, 1.0, 0.0, 0.0), node, 0.5 * period / steps)
                seen += [node.x] if number >= settling else []
    return max(seen) - min(seen)


def test_ripple_of_dense_chatter() -> None:
    single = SinglePole(10e3, 0.0, 10e3, 1e-7, 0)
    double = Ladder(10e3, 10e3, 1e-7, 10e3, 1e-7)
    once, twice = ripple(single, 1e-4) / ripple(single, 5e-5), ripple(double, 1e-4) / ripple(double, 5e-5)
    assert once == pytest.approx(2.0, rel=0.02)
    assert twice == pytest.approx(4.0, rel=0.05)


def test_every_draw_reaches_its_part() -> None:
    """Ten per cent of tolerance: 0 and nearly 1 give the limits, each draw its own part."""
    tolerant = [value._replace(tolerance=0.1) for value in map(part, (1e3, 2e3, 3e-9, 0.6, 5e-9))]
    low, high = (0.0,) * 4, (1.0,) * 4
    diode = DiodeCapacitor(tolerant[0], tolerant[1], tolerant[2], tolerant[3], 1)
    assert network_parts(diode, low, high) == pytest.approx((900.0, 1800.0, 2.7e-9, 0.54, 1))
    ladder = TwoSection(tolerant[0], tolerant[1], tolerant[2], tolerant[1], tolerant[4])
    assert network_parts(ladder, low, high) == pytest.approx((900.0, 1800.0, 2.7e-9, 1800.0, 5.5e-9))
    across = AcrossCapacitor(tolerant[0], tolerant[2])
    assert network_parts(across, (0.0, 1.0, 0.5, 0.5), low) == pytest.approx((900.0, 0.0, 0.0, 3.3e-9, 0))
