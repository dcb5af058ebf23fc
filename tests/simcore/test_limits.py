"""Checks of any design: none raises, none gives what is no number; and parts of them by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings

from simcore.base.check import (
    AT_LEAST,
    AT_MOST,
    EQUAL,
    FAIL,
    NOT_APPLICABLE,
    PASS,
    TIGHT,
    VERDICTS,
    Check,
    judged,
)
from simcore.base.draws import Part
from simcore.checks.checking import check_design
from simcore.checks.context import context_of
from simcore.checks.counter import logic_delay, order
from simcore.checks.networks import peak
from simcore.checks.sections import corners, factors, sections
from simcore.counters.quadrature import Quadrature
from simcore.design import Design, StageEntry
from simcore.networks.analogue import Resistance
from simcore.networks.diode import DiodeCapacitor
from simcore.networks.inputs import TIGHT as TIGHT_INPUT
from simcore.networks.inputs import Comparator, Leakage, Level, PlainInput
from simcore.networks.noise import QUIET
from simcore.networks.single_pole import PullDownSeries, SeriesCapacitor
from simcore.stages.clock import Clock
from simcore.stages.delay import PROMPT, GateDelay
from simcore.stages.quiet_time import QuietTime
from simcore.stages.sampled import Agree, Sampled
from tests.theory import designs as make

EXACT = (Part(10e3, 0.0), Part(1e3, 0.0), Part(100e-9, 0.0))


def quietened(entry: StageEntry) -> StageEntry:
    """An input without the noise, leakage and delay that hypothesis makes up for fields left out."""
    if not hasattr(entry.item, "noise"):
        return entry
    return replace(entry, item=entry.item._replace(noise=QUIET, leakage=TIGHT_INPUT, delay=PROMPT))


@given(make.designs())
@settings(max_examples=20, deadline=None)
def test_checks_of_any_design_are_sound(design: Design) -> None:
    design = replace(design, stages=tuple(quietened(entry) for entry in design.stages))
    for check in check_design(design, suggest=False):
        assert check.verdict in VERDICTS
        assert check.result is None or not math.isnan(check.result)
        assert check.verdict != NOT_APPLICABLE or check.why
        if check.verdict in (PASS, TIGHT):
            assert check.result is not None
            assert check.limit is not None
            assert math.isfinite(check.result)
            beyond = check.result - check.limit
            assert {AT_MOST: beyond <= 0.0, AT_LEAST: beyond >= 0.0, EQUAL: True}[check.relation]


@pytest.mark.parametrize(
    ("relation", "result", "verdict"),
    [
        (AT_MOST, 0.89, PASS), (AT_MOST, 0.91, TIGHT), (AT_MOST, 1.0, TIGHT), (AT_MOST, 1.001, FAIL),
        (AT_LEAST, 1.11, PASS), (AT_LEAST, 1.09, TIGHT), (AT_LEAST, 1.0, TIGHT), (AT_LEAST, 0.999, FAIL),
        (AT_MOST, math.inf, FAIL), (EQUAL, 1.0, PASS), (EQUAL, 0.5, FAIL),
    ],
)  # fmt: skip
def test_a_tenth_of_the_limit_is_tight(relation: str, result: float, verdict: str) -> None:
    check = Check("x", "y", "z.", "f", result=result, relation=relation, limit=1.0)
    assert judged(check).verdict == verdict


def test_a_limit_of_zero_is_tight_by_a_scale_of_its_own() -> None:
    check = Check("x", "y", "z.", "f", result=0.05, relation=AT_LEAST, limit=0.0)
    assert (judged(check).verdict, judged(check, 1.0).verdict) == (PASS, TIGHT)


def test_all_corners_are_tried() -> None:
    """Supply, contact, three parts, two thresholds, leakage: two to the eighth."""
    logic = make.schmitt(1.9, 1.2, 0.1)._replace(leakage=Leakage(1e-6))
    network = SeriesCapacitor(Part(10e3, 0.05), Part(1e3, 0.05), Part(100e-9, 0.2))
    design = make.design(
        make.spin(2, 0.1),
        stages=make.filtered(network, logic),
        resistance=Resistance(0.5, 0.3),
        supply=Part(3.3, 0.05),
    )
    (section,) = sections(design)
    found = corners(design, section)
    assert len(factors(design, section)) == 8
    assert len(found) == len(set(found)) == 256
    assert sorted({corner.volts for corner in found}) == pytest.approx([3.135, 3.465])


def test_sections_are_told_apart_by_kind_and_not_only_by_numbers() -> None:
    stages = (
        StageEntry("filter", SeriesCapacitor(*EXACT), (0,)),
        StageEntry("filter", PullDownSeries(*EXACT), (1,)),
        StageEntry("input", make.schmitt(1.9, 1.2)),
    )
    found = sections(make.design(make.spin(2, 0.1), stages=stages))
    assert [(section.lines, section.charging) for section in found] == [((0,), 0), ((1,), 1)]


def test_a_diode_that_lets_the_discharge_pass_lets_its_current_pass_too() -> None:
    """Past the resistor: 4.4 V over the contact's half an ohm; the other way round the resistor holds."""
    for charging, amperes in ((0, 4.4 / 0.5), (1, 5.0 / 0.5 / (1 + (1e4 * 1e3 / 1.1e4) / 0.5))):
        network = DiodeCapacitor(*EXACT, Part(0.6, 0.0), charging)
        design = make.design(
            make.spin(2, 0.1),
            stages=make.filtered(network, make.schmitt(3.0, 1.0)),
            resistance=Resistance(0.5, 0.0),
        )
        bench = context_of(design)
        assert peak(bench, bench.sections[0]).result == pytest.approx(amperes, rel=1e-9)


def test_a_comparator_and_a_plain_input_have_corners_of_their_own() -> None:
    comparator = Comparator(Level(Part(2.0, 0.1), 0), Part(0.2, 0.5), 0)
    plain = PlainInput(Level(Part(0.8, 0.0), 0), Level(Part(2.0, 0.0), 0), 0)
    thresholds = []
    for logic in (comparator, plain):
        design = make.design(make.spin(2, 0.1), stages=make.filtered(SeriesCapacitor(*EXACT), logic))
        (section,) = sections(design)
        thresholds.append(sorted({(c.logic.rising, c.logic.falling) for c in corners(design, section)}))
    middles = [(1.8, 0.05), (1.8, 0.15), (2.2, 0.05), (2.2, 0.15)]
    found = [volts for pair in thresholds[0] for volts in pair]
    assert found == pytest.approx([volts for at, half in middles for volts in (at + half, at - half)])
    assert thresholds[1] == [(0.8, 0.8), (2.0, 2.0)]


def test_delays_of_logic_add_up() -> None:
    """A quiet time of 1 ms +- 10 %, three samples of 0.1 ms, a gate of 1 or 2 us."""
    stages = (
        StageEntry("quiet", QuietTime(Part(1e-3, 0.1))),
        StageEntry("samples", Sampled(Clock(Part(1e-4, 0.0), 1), Agree(3))),
        StageEntry("gate", GateDelay(Part(1e-6, 0.0), Part(2e-6, 0.0))),
    )
    found = logic_delay(context_of(make.design(make.spin(2, 0.1), stages=stages)), 0)
    assert found == pytest.approx((0.9e-3 + 2e-4 + 1e-6, 1.1e-3 + 3e-4 + 2e-6))


def test_unlike_lines_swap_their_order_and_that_fails() -> None:
    """A filter on one line only, a millisecond slow, with edges 2.5 ms and then 0.5 ms apart."""
    stages = (
        StageEntry("filter", SeriesCapacitor(*EXACT), (0,)),
        StageEntry("input", make.schmitt(3.0, 1.0)),
    )
    for seconds, verdict in ((20e-3, PASS), (2e-3, FAIL)):
        design = replace(make.design(make.spin(6, seconds), stages=stages), counter=Quadrature(4, 1))
        assert order(context_of(design)).verdict == verdict
