"""What kinds say of themselves: nothing is left to a default by oversight."""

from __future__ import annotations

from typing import Any, cast

import pytest

from simcore import kinds as _kinds  # noqa: F401  registers every kind
from simcore.base.check import FARAD, OHM
from simcore.base.draws import Part
from simcore.checks.sections import parts_of
from simcore.counters.facts import clock_period, clocking, needs_order, undivided
from simcore.counters.prescaled import Prescaled
from simcore.counters.step_direction import StepDirection
from simcore.networks.inputs import Level, PlainInput, input_thresholds, threshold_spreads
from simcore.networks.response import Node, facing, network_parts, node_rest
from simcore.stages.facts import Times, drawing, network_values, parts_list, values_to_vary

LOOSE = Part(1.0, 0.1)
NODES = {"supply", "ground", "contact", "input", "output", "node"}


def members(family: Any) -> list[Any]:
    """The kinds of a family that come from this project."""
    kinds = cast(Any, family).family.members
    return [kind for kind in kinds if kind.__module__.startswith("simcore.")]


def made(kind: Any, value: Any) -> Any:
    """A record with ``value`` in every field that has no default, switches 0."""
    names = [name for name in kind._fields if name not in kind._field_defaults]
    switches = {"charging", "inverting"}
    return kind(**{name: 0 if name in switches else value for name in names})


@pytest.mark.parametrize("kind", members(network_parts))
def test_a_network_lists_and_draws_each_of_its_parts(kind: Any) -> None:
    network = made(kind, LOOSE)
    keys = [key for key, _ in parts_of(network)]
    listed = parts_list(network)
    assert [each.key for each in listed] == keys
    assert {each.unit for each in listed if each.key != "drop"} <= {OHM, FARAD}
    assert all((each.unit == FARAD) == ("capacitor" in each.key) for each in listed)
    found = drawing(network)
    assert found is not None
    drawn = [name for branch in found.branches for name in branch if name not in NODES]
    drawn += [key for _, key in found.shunts]
    assert sorted(drawn) == sorted(key for key in keys if key != "drop")
    assert all(f"{{{key}}}" in found.note for key in keys if key == "drop")
    assert values_to_vary.dispatch(kind) is network_values


@pytest.mark.parametrize("kind", members(node_rest))
def test_every_built_network_faces_its_contact(kind: Any) -> None:
    assert facing(made(kind, 1.0), 5.0, Node(5.0, 5.0)) is not None


@pytest.mark.parametrize("kind", members(input_thresholds))
def test_an_input_has_its_thresholds_among_the_corners_and_is_a_part(kind: Any) -> None:
    low, high = Level(LOOSE, 0), Level(Part(2.0, 0.1), 0)
    logic: Any = PlainInput(low, high, 0) if kind is PlainInput else made(kind, low)
    if hasattr(logic, "hysteresis"):
        logic = logic._replace(hysteresis=LOOSE)
    assert threshold_spreads(logic)
    assert parts_list(logic)


def test_a_prescaler_says_what_its_counter_says() -> None:
    inner = StepDirection(0, 1, 1, 20, 5, 10, 11, 0, 0)
    counter = Prescaled(Prescaled(inner, 4, 0), 2, 0)
    assert undivided(counter) == (inner, 8)
    assert clocking(counter) == clocking(inner)
    assert (clock_period(counter), needs_order(counter)) == (None, False)


def test_nothing_is_varied_where_there_is_no_capacitor() -> None:
    from simcore.networks.single_pole import Direct

    assert not list(values_to_vary(Direct(LOOSE), Times(None, None, None, None)))
