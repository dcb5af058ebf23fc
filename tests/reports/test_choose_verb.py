"""``steptally choose`` end to end: what it recommends, what it says where nothing does, and bad input."""

from __future__ import annotations

import json
import pathlib
import shlex
from typing import Any

import jsonschema
import pytest

from reports.choose_words import good_rate
from reports.choosing import searched
from reports.exact_command import Asked
from reports.exports import as_json
from reports.numbers import estimate_text
from reports.sweeping import Campaigns, Request
from reports.window_export import windows_of
from scenarios.loading.sweeps import load_sweep
from simcore.statistics.stopping import Stop, Target
from tests.reports.running import KNOB, names, steptally
from tests.reports.test_exports import schema

VARY = ("--vary", "filter.capacitor=10n, 220n, 330n, 1u")
FEW = ("--target", "1 wrong in 5 steps", "--no-color")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    place = tmp_path_factory.mktemp("choose")
    (place / "knob.toml").write_text(KNOB)
    return place


def chosen(folder: pathlib.Path, *options: str, code: int = 0) -> dict[str, Any]:
    """What --json writes."""
    done = steptally(folder, "choose", "knob.toml", *options, "--json", "-", "--quiet")
    assert done.returncode == code, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


@pytest.fixture(scope="module")
def good(folder: pathlib.Path) -> dict[str, Any]:
    return chosen(folder, *VARY, *FEW, "--no-ledger")


@pytest.fixture(scope="module")
def bad(folder: pathlib.Path) -> dict[str, Any]:
    options = (
        "--vary",
        "filter.capacitor=1n, 2n2",
        "--target",
        "1 in 20 steps",
        "--threads",
        "1",
        "--no-ledger",
    )
    return chosen(folder, *options, code=1)


def test_both_results_keep_to_the_schema(good: dict[str, Any], bad: dict[str, Any]) -> None:
    described = schema("choose.schema.json")
    jsonschema.Draft202012Validator.check_schema(described)
    jsonschema.validate(good, described)
    jsonschema.validate(bad, described)
    assert all(entry.get("description") for entry in described["properties"].values())


def test_the_recommended_one_is_good_at_every_gesture_on_new_runs(good: dict[str, Any]) -> None:
    best = good["recommended"]
    assert best == good["ranked"][0]
    assert best["verdict"] == "good"
    assert best["runs"] == good["runs_asked"]
    assert best["bound"] <= good["target"]["rate"]
    assert all(group["wrong_rate"]["high"] <= good["target"]["rate"] for group in best["by_gesture"])
    assert f"--first-run {good['first_fresh_run']}" in best["command"]
    assert good["first_fresh_run"] >= good["runs_asked"]
    assert best["margin"] == min(best["decades"], best["room"])


def test_the_command_of_a_candidate_gives_its_numbers(folder: pathlib.Path, good: dict[str, Any]) -> None:
    """The new runs, simulated alone by the verb ``run``."""
    best = good["recommended"]
    words = shlex.split(best["command"])
    assert words[:3] == ["steptally", "run", "knob.toml"]
    done = steptally(folder, *words[1:], "--json", "-", "--quiet")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert (found["steps"], found["wrong"]) == (best["steps"], best["wrong"])
    assert found["verdicts"] == best["verdicts"]


def test_ranks_failed_checks_last_and_then_by_margin(good: dict[str, Any]) -> None:
    found = [each for each in good["ranked"] if each["verdict"] == "good"]
    keys = [(bool(each["checks_failed"]), -each["margin"]) for each in found]
    assert keys == sorted(keys)


def test_what_binds_is_the_first_that_is_not_good(good: dict[str, Any]) -> None:
    axis = good["axes"][0]
    verdicts = {cell["values"][axis["path"]]: cell["verdict"] for cell in good["cells"]}
    for each in good["ranked"]:
        at = axis["values"].index(each["values"][axis["path"]])
        for side, outward in (("below", axis["values"][:at][::-1]), ("above", axis["values"][at + 1 :])):
            first = next((value for value in outward if verdicts[value] != "good"), None)
            assert each["sides"][0][side]["value"] == first
    below = good["recommended"]["sides"][0]["below"]
    assert below["value"] == "10 nF"
    assert below["spoiler"]["cause"] == "chatter"


def test_none_good_tells_the_closest_and_tries_others(bad: dict[str, Any]) -> None:
    assert bad["recommended"] is None
    assert {cell["verdict"] for cell in bad["cells"]} == {"bad"}
    assert bad["closest"]["values"] == {"filter.capacitor": "2.2 nF"}
    assert bad["closest"]["worst"]["cause"] == "chatter"
    found = {each["name"]: each for each in bad["alternatives"]}
    assert len(found) >= 6
    assert any(each["verdict"] == "good" for each in found.values())
    assert all("[[stage]]" in each["toml"] for each in found.values())


def test_threads_ledger_and_a_second_time_change_nothing(folder: pathlib.Path, good: dict[str, Any]) -> None:
    again = chosen(folder, *VARY, *FEW, "--threads", "1", "--ledger", "kept.ledger")
    third = chosen(folder, *VARY, *FEW, "--ledger", "kept.ledger")
    for other in (again, third):
        assert {**other, "seconds": 0} == {**good, "seconds": 0}


def test_too_few_runs_are_told_and_never_good(folder: pathlib.Path) -> None:
    options = ("--vary", "filter.capacitor=47n, 68n", "--target", "1 in 1000000 steps", "--runs", "20")
    done = steptally(folder, "choose", "knob.toml", *options, "--no-ledger", "--json", "few.json")
    assert done.returncode == 1
    assert "20 runs can never show a rate of 1 in 1000000 steps" in done.stderr
    found = json.loads((folder / "few.json").read_text())
    (folder / "few.json").unlink()
    assert not found["can_be_shown"]
    assert all(cell["verdict"] != "good" for part in ("cells", "alternatives") for cell in found[part])


@pytest.mark.parametrize("columns", [80, 120])
def test_pages_fit_the_terminal(good: dict[str, Any], bad: dict[str, Any], columns: int) -> None:
    from rich.console import Console

    from reports.terminal.choose import page

    for export in (good, bad):
        text = page(export, Console(width=columns, force_terminal=False))
        assert max(map(len, text.splitlines())) <= columns
        assert "Measured:" in text
    text = page(good, Console(width=columns, force_terminal=False))
    assert estimate_text(good["recommended"]["wrong_rate"]) in text
    assert "chatter passes at" in text


def test_the_html_page_holds_it_all(good: dict[str, Any], bad: dict[str, Any]) -> None:
    from reports.page.choose import page

    text = page(good)
    assert text == page(json.loads(as_json(good)))
    assert "What binds" in text
    assert 'id="table-ranked"' in text
    other = page(bad)
    assert 'id="table-others"' in other
    assert "ready to paste" in other


HOSTILE = [
    (("--target", "often"), "--target: read"),
    (("--target", "1 in 0 steps"), "--target: read"),
    (("--vary", "filter.capacitr=10n"), 'read "capacitr"; unknown key'),
    (("--vary", "filter.capacitor=10n..1p:E6"), "the range falls"),
    (("--vary", "seed=1, 2"), "cannot be varied"),
    (("--runs", "0"), "--runs"),
    (("--ledger", "a", "--no-ledger"), "allowed is one of the two"),
    (("--json", "nowhere/x.json"), "nowhere"),
    (("--set", "filter.capacitor=big"), "big"),
]


@pytest.mark.parametrize(("options", "said"), HOSTILE)
def test_bad_input_is_told_in_a_line(folder: pathlib.Path, options: tuple[str, ...], said: str) -> None:
    before = names(folder)
    target = () if "--target" in options else ("--target", "1 in 5")
    vary = () if "--vary" in options or "--set" in options else ("--vary", "filter.capacitor=10n, 22n")
    done = steptally(folder, "choose", "knob.toml", *options, *target, *vary)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert names(folder) == before


def test_no_target_and_nothing_to_vary(folder: pathlib.Path) -> None:
    done = steptally(folder, "choose", "knob.toml", *VARY)
    assert done.returncode == 2
    assert "states no target" in done.stderr
    done = steptally(folder, "choose", "no-filter", "--target", "1 in 5")
    assert done.returncode == 2
    assert "say what to vary" in done.stderr


def test_the_window_of_all_steps_is_that_of_all_steps() -> None:
    """Clicks miss the target, all steps together meet it: the candidate is bad, its bar is not."""
    cells = load_sweep("panel-knob", ["filter.capacitor=100n"])
    target = Target(0.01, each=True, joint=True)
    stop = Stop(5000, target=target)
    request = Request(cells, 1, stop, target.rate, 2, Asked("panel-knob"), judge=searched)
    (cell,) = Campaigns(request).outcome(lambda done, asked: None).cells
    assert cell["wrong_rate"]["high"] < target.rate < cell["by_gesture"][0]["wrong_rate"]["low"]
    assert (cell["verdict"], cell["meets_target"]) == ("bad", "no")
    windows = windows_of(cells.axes, [cell], target.rate)
    assert [window["standings"] for window in windows] == [["within"], ["outside"], ["within"]]


def test_the_gesture_that_may_be_worst_is_told_by_its_bound() -> None:
    """Few runs: its estimate can be below that of all steps, so it is no "worst rate"."""
    whole = {"estimate": 1.5e-3, "low": 0.4e-3, "high": 5.5e-3}
    worst = {"gesture": "twists", "wrong_rate": {"estimate": 0.7e-3, "low": 0.1e-3, "high": 7.0e-3}}
    text = good_rate({"wrong_rate": whole, "worst": worst})
    assert text.endswith("highest bound at twists (0.1 to 7.0)")
    assert "at worst" not in text
