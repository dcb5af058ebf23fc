"""What passes a check does not fail in simulation: clean contacts, the hand at the pace that was checked."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from simcore.base.check import FAIL, Check
from simcore.base.draws import Part
from simcore.base.records import A, B
from simcore.checks.context import CheckContext, context_of
from simcore.checks.counter import hold, set_up
from simcore.checks.networks import charge, discharge
from simcore.design import Design
from simcore.judging.sums import RIGHT
from simcore.networks.single_pole import SeriesCapacitor
from tests.theory import designs as make
from tests.theory.checked import clean_designs
from tests.theory.looking import look

RUNS = 6


def fails(check: Check) -> bool:
    return check.verdict == FAIL


def keeps_up(context: CheckContext) -> bool:
    """Whether charge and discharge pass or are tight."""
    (section,) = context.sections
    return not fails(charge(context, section)) and not fails(discharge(context, section))


@given(clean_designs(), make.seeds)
@settings(max_examples=25, deadline=None)
def test_a_design_that_passes_the_charge_and_discharge_times_loses_no_edge(design: Design, seed: int) -> None:
    assume(keeps_up(context_of(design)))
    for run in look(design, seed, RUNS):
        for line in (A, B):
            assert len(run.seen[line]) == len([move for move in run.moves if move.line == line])


@given(clean_designs(), make.seeds)
@settings(max_examples=25, deadline=None)
def test_with_set_up_and_hold_as_well_every_step_is_right(design: Design, seed: int) -> None:
    context = context_of(design)
    assume(keeps_up(context) and not fails(set_up(context)) and not fails(hold(context)))
    for run in look(design, seed, RUNS):
        assert set(run.verdicts) <= {RIGHT}


@pytest.mark.parametrize(("factor", "lost"), [(0.999, False), (1.001, True)])
def test_the_charge_time_is_the_limit_of_a_steady_turn(factor: float, lost: bool) -> None:
    """Exact parts, a steady turn, a discharge in no time: a level shorter than the charge never shows."""
    network = SeriesCapacitor(Part(10e3, 0.0), Part(0.0, 0.0), Part(100e-9, 0.0))
    seconds = 1e-3 * math.log(5.0 / (5.0 - 3.0))
    turn = make.spin(6, 2.0 * seconds / factor)
    design = make.design(turn, stages=make.filtered(network, make.schmitt(3.0, 1.0)))
    context = context_of(design)
    check = charge(context, context.sections[0])
    assert check.result == pytest.approx(seconds, rel=1e-9)
    assert check.limit == pytest.approx(seconds / factor, rel=1e-6)
    assert fails(check) == lost
    (run,) = look(design, 1, 1)
    # Only what opens while the turn goes on is short: after its end there is time enough.
    assert (len(run.seen[A]) < len([move for move in run.moves if move.line == A])) == lost


@given(st.data(), clean_designs())
@settings(max_examples=15, deadline=None)
def test_no_unit_is_outside_the_worst_corners(data: st.DataObject, design: Design) -> None:
    """Levels and delays of units drawn at random, against the ends that the corners give."""
    from simcore.checks.sections import corner_at, corners, factors, rest, turning

    context = context_of(design)
    (section,) = context.sections
    count = len(factors(design, section))
    ends = data.draw(st.tuples(*[make.unit(0.0, 1.0)] * count))
    unit = corner_at(design.supply, design.resistance, section, ends)
    values: tuple[Callable[..., float], ...] = (
        lambda corner: turning(section, corner, 0),
        lambda corner: turning(section, corner, 1),
        lambda corner: rest(corner, 1).x,
    )
    for value in values:
        found = [value(corner) for corner in corners(design, section)]
        assert min(found) * (1 - 1e-9) <= value(unit) <= max(found) * (1 + 1e-9)
