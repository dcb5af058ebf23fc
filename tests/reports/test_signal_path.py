"""The boxes of a design, the command that gives a result again, and the page in a wheel."""

from __future__ import annotations

import pathlib
import shlex
import zipfile

import pytest

from reports.exact_command import Asked, exact_command, trace_command
from reports.signal_path import signal_path
from scenarios.loading.load import load_scenario, ready_names

TOP = pathlib.Path(__file__).parents[2]


def boxes(name: str) -> list[dict[str, object]]:
    return signal_path(load_scenario(name))


@pytest.mark.parametrize("name", ready_names())
def test_every_stage_of_a_ready_scenario_has_its_box(name: str) -> None:
    scenario = load_scenario(name)
    path = signal_path(scenario)
    stages = scenario.resolved.get("stage", [])
    roles = [box["role"] for box in path]
    assert roles == ["hand", "encoder", "contacts", *["stage"] * len(stages), "counter", "supply"]
    for box, table in zip(path[3:-2], stages, strict=True):
        assert (box["name"], box["kind"], box["lines"]) == (table["name"], table["kind"], table["lines"])
        for value in box["values"]:
            assert not value["value"].startswith("0 ")


def test_values_bear_their_tolerances() -> None:
    filter_box = next(box for box in signal_path(load_scenario("panel-knob")) if box["name"] == "filter")
    told = {value["name"]: (value["value"], value["tolerance"]) for value in filter_box["values"]}
    assert told == {
        "pull up": ("4.7 kohm", "5 %"),
        "series": ("1 kohm", "5 %"),
        "capacitor": ("100 nF", "20 %"),
    }


def test_a_stage_on_both_lines_at_once_is_one_box_and_a_stage_on_one_line_passes_the_other() -> None:
    latches = next(box for box in boxes("interlock") if box["name"] == "latches")
    timer = next(box for box in boxes("one-shot") if box["name"] == "timer")
    assert (latches["joint"], latches["lines"]) == (True, ["A", "B"])
    assert (timer["joint"], timer["lines"]) == (False, ["A"])


def test_commands_come_back_word_for_word() -> None:
    asked = Asked("my knob's.toml", ["filter.capacitor=47 nF", 'title=$HOME `x` "q"'])
    words = shlex.split(exact_command(asked, 300, 7, 0))
    assert words == [
        "steptally", "run", "my knob's.toml", "--runs", "300", "--seed", "7",
        "--set", asked.sets[0], "--set", asked.sets[1],
    ]  # fmt: skip
    assert exact_command(Asked("a.toml"), 5, 1, 40) == "steptally run a.toml --runs 5 --seed 1 --first-run 40"
    assert shlex.split(trace_command(asked, 7, 12, 3))[3:9] == ["--seed", "7", "--run", "12", "--step", "3"]


def test_a_wheel_carries_the_templates(tmp_path: pathlib.Path) -> None:
    from hatchling.builders.wheel import WheelBuilder

    built = next(WheelBuilder(str(TOP)).build(directory=str(tmp_path), versions=["standard"]))
    held = set(zipfile.ZipFile(built).namelist())
    wanted = {f"reports/page/templates/{path.name}" for path in (TOP / "reports/page/templates").iterdir()}
    assert len(wanted) >= 7
    assert wanted <= held
    assert {"reports/page/document.py", "reports/schemas/run.schema.json"} <= held
