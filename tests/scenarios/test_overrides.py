"""`--set`, the resolved scenario, and the paths."""

from __future__ import annotations

import json
from typing import Any

import pytest

from scenarios.loading.catalogue import ready_names
from scenarios.loading.load import load_scenario
from scenarios.loading.written import as_toml
from simcore.base.draws import Part
from tests.scenarios.samples import SMALL, load_text, only_problem


@pytest.mark.parametrize("name", ready_names())
def test_a_resolved_scenario_loads_again_to_an_equal_design(name: str) -> None:
    first = load_scenario(name)
    again = load_text(as_toml(first.resolved))
    assert again.design == first.design
    assert again.resolved == first.resolved
    assert (again.title, again.seed, again.runs, again.target) == (
        first.title, first.seed, first.runs, first.target,
    )  # fmt: skip
    assert json.loads(json.dumps(first.resolved)) == first.resolved


def value_at(resolved: dict[str, Any], path: str) -> Any:
    words = path.split(".")
    table: Any = resolved
    if words[0] == "hand":
        table = next(item for item in resolved["hand"] if item["name"] == words[1])
        words = words[2:]
    elif words[0] not in resolved:
        table = next(item for item in resolved["stage"] if item["name"] == words[0])
        words = words[1:]
    for word in words:
        table = table[word]
    return table


@pytest.mark.parametrize("name", ready_names())
def test_every_path_takes_what_the_resolved_scenario_says(name: str) -> None:
    scenario = load_scenario(name)
    sets = []
    for path in scenario.paths:
        left_out = path.split(".")[0] in ("target", "stop") and path.split(".")[0] not in scenario.resolved
        if not path.endswith(".part") and not left_out:
            value = value_at(scenario.resolved, path)
            sets.append(f"{path}={value if isinstance(value, str) else json.dumps(value)}")
    assert len(sets) > 50
    again = load_scenario(name, sets)
    assert again.resolved == scenario.resolved
    assert again.design == scenario.design


def test_every_path_is_a_path_of_its_own() -> None:
    for name in ready_names():
        paths = load_scenario(name).paths
        assert len(paths) == len(set(paths))
        assert {"seed", "runs", "supply.voltage", "contacts.wear"} <= set(paths)


def test_values_laid_over_a_scenario() -> None:
    scenario = load_scenario(
        "panel-knob",
        [
            "filter.capacitor=47 nF", "encoder.detents=24", "hand.clicks.duration=30 ms",
            "contacts.make.pairs=2", "counter.setup=2 us", "runs=100", "supply.voltage = 5 V",
            "filter.tolerance.capacitor=10 %", "input.inverting=true", "filter.lines=[\"A\"]",
            "title=42", "target.wrong=1 in 50",
        ],
    )  # fmt: skip
    design = scenario.design
    assert design.stages[0].item.capacitor == Part(47e-9, 0.1)
    assert design.stages[0].lines == (0,)
    assert design.stages[1].item.inverting == 1
    assert design.geometry.steps_per_turn == 24.0
    assert design.hand[0].gesture.duration == 30e-3
    assert design.contact.make.pairs == 2.0
    assert design.counter.setup == 2_000_000
    assert design.supply.nominal == 5.0
    assert (scenario.runs, scenario.title) == (100, "42")
    assert scenario.target is not None
    assert scenario.target.rate == 0.02


def test_the_last_of_two_options_wins() -> None:
    assert load_text(SMALL, ["runs=5", "runs=7"]).runs == 7


def test_names_given_by_default_are_paths() -> None:
    text = SMALL.replace('gesture = "click"\n', 'gesture = "click"\n[[hand]]\ngesture = "click"\n')
    scenario = load_text(text, ["hand.click 2.clicks=3", "schmitt input.rising=2 V"])
    assert [entry.name for entry in scenario.design.hand] == ["click", "click 2"]
    assert scenario.design.hand[1].moves == 3
    assert scenario.design.stages[1].item.rising.part.nominal == 2.0


def test_a_default_name_makes_way_for_a_given_one() -> None:
    text = SMALL.replace(
        'gesture = "click"\n', 'gesture = "click"\n[[hand]]\nname = "click"\ngesture = "rest"\n'
    )
    assert [entry.name for entry in load_text(text).design.hand] == ["click 2", "click"]


def test_a_part_chosen_by_an_option_takes_the_place_of_a_kind_and_the_other_way_round() -> None:
    wiping = load_text(SMALL, ["contacts.part=crisp"]).design.contact
    assert wiping.make.zone == 0.1
    assert type(load_scenario("panel-knob", ["contacts.kind=clean"]).design.contact).__name__ == "Clean"
    assert load_scenario("panel-knob", ["counter.part=quadrature-x1"]).design.counter.counts == 1


@pytest.mark.parametrize(
    ("option", "words"),
    [
        ("filtre.capacitor=1 nF", ["unknown path", 'did you mean "filter"', '"supply"']),
        ("filter.capacitr=1 nF", ['got "capacitr"', 'did you mean "capacitor"', "pull_up"]),
        ("filter.capacitor=1 nX", ['got "1 nX"', "capacitance", '"47 nF"']),
        ("hand.clik.clicks=1", ["no such gesture", '"hand.click"', 'did you mean "click"']),
        ("hand.clicks=1", ["no such gesture", '"hand.click"']),
        ("hand=1", ["no such gesture"]),
        ("stage.filter.capacitor=1 nF", ['got "stage"', '"filter"']),
        ("encoder=1", ['"encoder" is a table', '"encoder.KEY"']),
        ("filter=1", ['"filter" is a table', '"filter.KEY"']),
        ("runs.more=1", ['"runs" is a single value']),
        ("filter.capacitor.more=1", ['"capacitor" is a single value']),
        ("filter.name=x", ['"name" cannot be set']),
        ("hand.click.gesture=twist", ['"gesture" cannot be set']),
        ("runs", ["PATH=VALUE"]),
        ("=5", ["PATH=VALUE"]),
        ("a..b=5", ["PATH=VALUE"]),
        ("", ["PATH=VALUE"]),
        ("runs=", ['got ""', "whole number"]),
        ("runs=5\nseed=6", ["whole number"]),
        ("counter.part=quadrature-x5", ["unknown part", 'did you mean "quadrature-x4"']),
        ("contacts.part=cmos-schmitt", ["unknown part", "ordinary"]),
        ("encoder.closed=30 deg", ["A would open before B closes", "closed 30 deg"]),
        ("schmitt input.falling=3 V", ["expected at most rising"]),
    ],
)
def test_options_that_cannot_be_taken_are_their_own_place(option: str, words: list[str]) -> None:
    problem = only_problem(SMALL, [option])
    assert problem.place.startswith("--set ")
    assert "\n" not in problem.place
    for word in words:
        assert word in str(problem)


def test_all_bad_options_are_told_at_once() -> None:
    with pytest.raises(ValueError, match="--set") as caught:
        load_text(SMALL, ["runs=0", "seed=-1", "foo=1", "filter.series=x"])
    assert [problem.place for problem in caught.value.problems] == [  # type: ignore[attr-defined]
        "--set runs=0", "--set seed=-1", "--set foo=1", "--set filter.series=x",
    ]  # fmt: skip
