"""[stop]: what ends a simulation early, in the file and by ``--set``."""

from __future__ import annotations

import pathlib

import pytest

from scenarios.loading.load import Scenario, load_scenario
from scenarios.loading.messages import ScenarioError
from scenarios.loading.written import as_toml
from simcore.statistics.stopping import Stop
from tests.scenarios.samples import SMALL, says

RULES = '\n[stop]\nerrors = 100\nprecision = "7.5 %"\ntime = "2 min"\n'
LINE = SMALL.count("\n") + 3
"""The line of the first key below [stop], after a blank one."""


def loaded(folder: pathlib.Path, text: str, *sets: str) -> Scenario:
    (folder / "it.toml").write_text(text, encoding="utf-8")
    return load_scenario(str(folder / "it.toml"), sets)


def test_without_rules_all_runs_are_done(tmp_path: pathlib.Path) -> None:
    scenario = loaded(tmp_path, SMALL)
    assert scenario.stop == Stop(scenario.runs)
    assert "stop" not in scenario.resolved


def test_rules_arrive_and_are_written_back(tmp_path: pathlib.Path) -> None:
    scenario = loaded(tmp_path, SMALL + RULES, "runs=700")
    assert scenario.stop == Stop(700, 100, 0.075, 120.0)
    again = loaded(tmp_path, as_toml(scenario.resolved))
    assert again.stop == scenario.stop
    assert again.resolved == scenario.resolved


def test_each_has_a_path(tmp_path: pathlib.Path) -> None:
    scenario = loaded(tmp_path, SMALL, "stop.errors=5", "stop.time=30 s", "stop.precision=0.2")
    assert scenario.stop == Stop(scenario.runs, 5, 0.2, 30.0)
    assert {"stop.errors", "stop.precision", "stop.time"} <= set(scenario.paths)


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("errors = 0", f"line {LINE}, stop.errors: expected a whole number from 1 to 1000000000 ... got 0"),
        ('errors = "many"', f'line {LINE}, stop.errors: expected a whole number ... got "many"'),
        ('precision = "0 %"', 'expected a share from 0.0001 to 1 ... got "0 %"'),
        ("precision = 10", "expected a share ... got 10"),
        ('time = "0 s"', 'expected a time above 0 s and up to ... got "0 s"'),
        ('time = "5 V"', '"V" is not a unit of time'),
        ("tme = 3", 'unknown key; expected errors, precision or time, got "tme"; did you mean "time"?'),
    ],
)
def test_mistakes(tmp_path: pathlib.Path, line: str, message: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        loaded(tmp_path, f"{SMALL}\n[stop]\n{line}\n")
    assert len(caught.value.problems) == 1
    assert says(caught.value, message)
