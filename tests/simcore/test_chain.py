"""Wiring: what may follow what, and what the counter sees at rest."""

from __future__ import annotations

import dataclasses

import pytest

from simcore.campaigns.campaign import run_campaign
from simcore.counters.quadrature import Quadrature
from simcore.design import StageEntry, WiringError, fits, geometric_counts, sense, without_tolerances
from tests.simcore.builders import CLEAN, PLAIN_COUNTER, design, filtered

FILTER, INPUT = filtered(100.0)


def test_straight_off_the_contact_the_counter_sees_high_for_open() -> None:
    chain = design().chain
    assert chain.layers == ()
    assert chain.turned == (1, 1)
    assert chain.flips == (1, 1)


def test_an_inverting_input_turns_the_level_over() -> None:
    turned = StageEntry("input", INPUT.item._replace(inverting=1))
    assert design((FILTER, turned)).chain.flips == (0, 0)


def test_stages_may_serve_one_line_only() -> None:
    only_a = tuple(dataclasses.replace(entry, lines=(0,)) for entry in (FILTER, INPUT))
    chain = design(only_a).chain
    assert [[layer.serves(line) for layer in chain.layers] for line in (0, 1)] == [[True], [False]]
    assert chain.turned == (0, 1)


@pytest.mark.parametrize(
    ("stages", "fault", "message"),
    [
        ((FILTER,), "filter", "nothing reads; put an input after it"),
        ((FILTER, FILTER, INPUT), "filter", "must be the first thing after contact A"),
        ((FILTER, INPUT, INPUT), "input", "reads a line that is a logic level already"),
        ((INPUT, FILTER), "filter", "must be the first thing after contact A"),
    ],
)
def test_what_cannot_be_joined_is_named(stages: tuple[StageEntry, ...], fault: str, message: str) -> None:
    with pytest.raises(WiringError, match=message) as caught:
        _ = design(stages).chain
    assert caught.value.stage == fault


def test_the_geometry_says_what_a_step_counts() -> None:
    assert geometric_counts(design()) == 1.0
    times_four = dataclasses.replace(design(), counter=Quadrature(4, 1))
    assert geometric_counts(times_four) == 4.0
    assert not fits(times_four)
    assert fits(dataclasses.replace(times_four, counts_per_step=4))


def test_without_tolerances_every_part_is_nominal() -> None:
    plain = without_tolerances(design(filtered(100.0)))
    network = plain.stages[0].item
    assert network.capacitor.nominal == pytest.approx(100e-9)
    assert network.capacitor.tolerance == 0.0
    assert plain.stages[1].item.rising.part.tolerance == 0.0


@pytest.mark.parametrize(
    ("counter", "expected"),
    [
        (Quadrature(4, 1), 1),
        (Quadrature(1, -1), -1),
        (PLAIN_COUNTER, 1),
        (PLAIN_COUNTER._replace(up=0), -1),
        (PLAIN_COUNTER._replace(active=1), -1),
        (PLAIN_COUNTER._replace(clock=1), -1),
    ],
)
def test_the_sense_of_a_counter_follows_from_its_own_rules(counter: object, expected: int) -> None:
    turned = design(counter=counter)
    assert sense(turned) == expected


def test_a_misfit_that_counts_down_is_doubled_and_not_reversed() -> None:
    misfit = dataclasses.replace(design(counter=Quadrature(4, -1), contact=CLEAN), counts_per_step=1)
    tally = run_campaign(misfit, seed=1, runs=5).tally
    assert tally.verdicts["doubled"] == tally.steps
    assert tally.causes == {"misfit": tally.steps}
