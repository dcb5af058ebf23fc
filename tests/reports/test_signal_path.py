"""The boxes of a design, the command that gives a result again, and the page in a wheel."""

from __future__ import annotations

import pathlib
import shlex
import zipfile

import pytest

from reports.results.common import SignalBox
from reports.words.commands import NamedScenario, exact_command, trace_command
from reports.words.signal_path import signal_path
from scenarios.loading.catalogue import ready_names
from scenarios.loading.load import load_scenario

TOP = pathlib.Path(__file__).parents[2]


def box(scenario: str, name: str) -> SignalBox:
    return next(each for each in signal_path(load_scenario(scenario)) if each.name == name)


@pytest.mark.parametrize("name", ready_names())
def test_every_stage_of_a_ready_scenario_has_its_box(name: str) -> None:
    scenario = load_scenario(name)
    path = signal_path(scenario)
    stages = scenario.resolved.get("stage", [])
    roles = [each.role for each in path]
    assert roles == ["hand", "encoder", "contacts", *["stage"] * len(stages), "counter", "supply"]
    for each, table in zip(path[3:-2], stages, strict=True):
        assert (each.name, each.kind, [*each.lines]) == (table["name"], table["kind"], table["lines"])
        assert not any(value.value.startswith("0 ") for value in each.values)


def test_values_bear_their_tolerances() -> None:
    told = {value.name: (value.value, value.tolerance) for value in box("panel-knob", "filter").values}
    assert told == {
        "pull up": ("4.7 kohm", "5 %"),
        "series": ("1 kohm", "5 %"),
        "capacitor": ("100 nF", "20 %"),
    }


def test_a_stage_on_both_lines_at_once_is_one_box_and_a_stage_on_one_line_passes_the_other() -> None:
    latches, timer = box("interlock", "latches"), box("one-shot", "timer")
    assert (latches.joint, latches.lines) == (True, ("A", "B"))
    assert (timer.joint, timer.lines) == (False, ("A",))


def test_commands_come_back_word_for_word() -> None:
    asked = NamedScenario("my knob's.toml", ["filter.capacitor=47 nF", 'title=$HOME `x` "q"'])
    words = shlex.split(exact_command(asked, 300, 7, 0))
    assert words == [
        "steptally", "run", "my knob's.toml", "--runs", "300", "--seed", "7",
        "--set", asked.sets[0], "--set", asked.sets[1],
    ]  # fmt: skip
    assert (
        exact_command(NamedScenario("a.toml"), 5, 1, 40)
        == "steptally run a.toml --runs 5 --seed 1 --first-run 40"
    )
    assert shlex.split(trace_command(asked, 7, 12, 3))[3:9] == ["--seed", "7", "--run", "12", "--step", "3"]


def test_a_wheel_carries_the_templates(tmp_path: pathlib.Path) -> None:
    from hatchling.builders.wheel import WheelBuilder

    built = next(WheelBuilder(str(TOP)).build(directory=str(tmp_path), versions=["standard"]))
    held = set(zipfile.ZipFile(built).namelist())
    templates = TOP / "reports/render/templates"
    expected = {f"reports/render/templates/{path.name}" for path in templates.iterdir()}
    assert {path.rpartition(".")[2] for path in expected} == {"css", "j2", "js"}
    assert expected <= held
    assert {"steptally/__init__.py", "reports/measured/acceptance.json"} <= held
