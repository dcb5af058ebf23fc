"""What the Python interface takes for a scenario, and the values laid over it."""

from __future__ import annotations

import pathlib
import tomllib
from typing import Any

import numpy as np
import pytest

from reports import api
from scenarios.loading.catalogue import ready_text
from tests.reports.running import KNOB

NAME = "panel-knob"
TEXT = ready_text(NAME)


def forms(folder: pathlib.Path) -> dict[str, Any]:
    """One scenario in every form."""
    file = folder / "same.toml"
    file.write_text(TEXT, encoding="utf-8")
    return {
        "name": NAME,
        "path": file,
        "path as text": str(file),
        "TOML": TEXT,
        "dictionaries": tomllib.loads(TEXT),
        "resolved": api.scenario(NAME).resolved,
        "loaded": api.scenario(NAME),
    }


def test_all_forms_are_the_same_scenario(tmp_path: pathlib.Path) -> None:
    wanted = api.scenario(NAME)
    for form, given in forms(tmp_path).items():
        found = api.scenario(given)
        assert found.resolved == wanted.resolved, form
        assert found.paths == wanted.paths
        assert (found.seed, found.runs) == (wanted.seed, wanted.runs)


def test_all_forms_give_the_same_numbers(tmp_path: pathlib.Path) -> None:
    results = {form: api.run(given, runs=25) for form, given in forms(tmp_path).items()}
    counts = {form: (result.verdicts, result.final_errors) for form, result in results.items()}
    assert all(each == counts["name"] for each in counts.values()), counts


@pytest.mark.parametrize(
    "sets",
    [
        {"filter.capacitor": "68 nF", "counter.positions": 60, "supply.power_up": True},
        {"filter.capacitor": "68 nF", "counter.positions": np.int64(60), "supply.power_up": True},
        {"filter.capacitor": "68 nF", "counter.positions": "60", "supply.power_up": "true"},
        ["filter.capacitor=68 nF", "counter.positions=60", "supply.power_up=true"],
        iter(("filter.capacitor=68 nF", "counter.positions=60", "supply.power_up=true")),
    ],
)  # fmt: skip
def test_values_in_every_form(sets: Any) -> None:
    found = api.scenario(NAME, sets=sets).resolved
    values = found["stage"][0]["capacitor"], found["counter"]["positions"], found["supply"]["power_up"]
    assert values == ("68 nF", 60, True)


def test_a_list_as_a_value() -> None:
    found = api.scenario(NAME, sets={"filter.lines": ["A", "B"]}).resolved
    assert found["stage"][0]["lines"] == ("A", "B")


def test_one_value_as_text() -> None:
    assert api.scenario(NAME, sets="runs=12").runs == 12


def test_values_add_up_and_the_later_one_counts() -> None:
    first = api.scenario(NAME, sets=["runs=12", "seed=5"])
    second = api.scenario(first, sets={"runs": 13})
    assert second.sets == ("runs=12", "seed=5", "runs=13")
    assert (second.runs, second.seed) == (13, 5)
    assert (first.runs, first.seed) == (12, 5)
    assert api.scenario(second) is second


def test_a_path_is_a_file_even_if_a_ready_scenario_has_its_name(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / NAME).write_text(KNOB, encoding="utf-8")
    assert api.scenario(pathlib.Path(NAME)).title.startswith("Volume knob")
    assert api.scenario(NAME).title.startswith("A panel knob")


@pytest.mark.parametrize("given", [TEXT, tomllib.loads(TEXT)], ids=["TOML", "dictionaries"])
def test_commands_name_a_file_where_there_was_none(given: Any) -> None:
    """The text of the scenario, written to that file, is what the command takes."""
    loaded = api.scenario(given, sets=["runs=7"])
    assert api.run(loaded).command == "steptally run scenario.toml --runs 7 --seed 1 --set runs=7"
    assert tomllib.loads(loaded.text) == tomllib.loads(TEXT)


def test_settings_tell_every_path_with_its_value() -> None:
    loaded = api.scenario(NAME, sets={"filter.capacitor": "68 nF"})
    rows = {row["path"]: row["value"] for row in api.show(loaded).table("settings")}
    assert tuple(rows) == loaded.paths
    assert rows["filter.capacitor"] == "68 nF"
    assert rows["filter.tolerance.capacitor"] == "20 %"
    assert rows["hand.clicks.clicks"] == 8
    assert rows["filter.lines"] == "A, B"
    empty = {path for path, value in rows.items() if value is None}
    optional = ("target.", "stop.")
    assert empty == {path for path in loaded.paths if path.endswith(".part") or path.startswith(optional)}
    again = {path: value for path, value in rows.items() if value is not None and "," not in str(value)}
    assert api.scenario(NAME, sets=again).resolved == loaded.resolved
