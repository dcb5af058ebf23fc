"""Kinds from a package of someone else's: installed, listed, run by both engines, refused when faulty."""

from __future__ import annotations

import json
import pathlib
import subprocess
import sys
from typing import Any

import jsonschema
import pytest

from reports.results import schema_of
from tests.reports.running import environment, steptally
from tests.scenarios.samples import says

HERE = pathlib.Path(__file__).parent
COMPARED = ("steps", "verdicts", "causes", "final_errors", "excursions")
DESIGN = """
title = "Everything from another package"
runs = 60

[encoder]
detents = 20
cycles = 20

[contacts]
kind = "chirp"
pairs = 3
apart = "30 us"

[[hand]]
name = "nudges"
gesture = "nudge"

[[stage]]
name = "first"
kind = "{kind}"
{keys}

[counter]
kind = "event counter"
line = "A"
"""


def install(package: str, folder: pathlib.Path) -> str:
    """Install one of the packages beside this file into ``folder``; returns the folder."""
    subprocess.run(
        [
            *(sys.executable, "-m", "pip", "install", "-q", "--disable-pip-version-check", "--no-index"),
            *("--no-deps", "--no-build-isolation", "--target", str(folder), str(HERE / package)),
        ],
        check=True,
        capture_output=True,
    )
    return str(folder)


@pytest.fixture(scope="module")
def example(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return {"PYTHONPATH": install("example", tmp_path_factory.mktemp("example"))}


@pytest.fixture(scope="module")
def faulty(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return {"PYTHONPATH": install("faulty", tmp_path_factory.mktemp("faulty"))}


def write(folder: pathlib.Path, kind: str, keys: str) -> None:
    (folder / "theirs.toml").write_text(DESIGN.format(kind=kind, keys=keys), encoding="utf-8")


def both_engines(folder: pathlib.Path, changes: dict[str, str]) -> tuple[dict[str, object], str]:
    """The results that must be equal, and what stood on standard error."""
    found, said = [], ""
    for engine in ("batch", "events"):
        done = steptally(folder, "run", "theirs.toml", "--engine", engine, "--json", "-", changes=changes)
        assert done.returncode == 0, done.stderr
        export = json.loads(done.stdout)
        found.append(
            {key: export[key] for key in ("steps", "verdicts", "causes", "final_errors", "excursions")}
        )
        said += done.stderr
    assert found[0] == found[1]
    return found[0], said


def test_a_compiled_stage_runs_in_both_engines(tmp_path: pathlib.Path, example: dict[str, str]) -> None:
    write(tmp_path, "pulse stretcher", 'least = "1 ms"\ntolerance = "10 %"')
    found, said = both_engines(tmp_path, example)
    assert found["steps"] == 240
    # The make's bounces of 6 x 30 us are bridged by 1 ms; the break's first one begins a low pulse of its
    # own, so that each step has two rises.
    assert found["final_errors"] == {"4": 60}
    assert "interpreted" not in said


def test_without_the_stretching_every_bounce_counts(tmp_path: pathlib.Path, example: dict[str, str]) -> None:
    write(tmp_path, "pulse stretcher", 'least = "0 s"')
    found, _ = both_engines(tmp_path, example)
    # Three extra pairs at the make and three at the break, each with one rise, beside the step's own.
    assert found["final_errors"] == {"24": 60}
    assert found["causes"] == {"chatter": 240}


def test_what_cannot_be_compiled_runs_interpreted_and_says_so_once(
    tmp_path: pathlib.Path, example: dict[str, str]
) -> None:
    write(tmp_path, "exact delay", 'delay = "200 us"')
    found, said = both_engines(tmp_path, example)
    assert found["verdicts"] == {"right": 240, "flickered": 0, "missed": 0, "doubled": 0, "reversed": 0}
    lines = [line for line in said.splitlines() if "interpreted" in line]
    assert len(lines) == 2, "one for each of the two processes"
    assert lines[0].startswith(
        "The rules of bench_extras.exact cannot be compiled (exact.py, line 59: Untyped global name"
    )


def test_their_keys_have_paths_units_and_errors_like_everyones(
    tmp_path: pathlib.Path, example: dict[str, str]
) -> None:
    write(tmp_path, "pulse stretcher", 'leest = "1 ms"')
    done = steptally(tmp_path, "run", "theirs.toml", changes=example)
    assert done.returncode == 2
    assert says(done.stderr, 'theirs.toml, line 21, first.leest: unknown key; ... got "leest"')
    assert 'did you mean "least"?' in done.stderr
    write(tmp_path, "pulse stretcher", 'least = "1 ms"')
    done = steptally(tmp_path, "run", "theirs.toml", "--set", "first.least=3 kohm", changes=example)
    assert done.returncode == 2
    assert 'got "3 kohm"' in done.stderr
    assert "expected a time with its unit" in done.stderr
    done = steptally(tmp_path, "run", "theirs.toml", "--set", "contacts.pairs=200", changes=example)
    assert "expected a whole number from 0 to 100" in done.stderr


def test_list_shows_them_with_their_package(tmp_path: pathlib.Path, example: dict[str, str]) -> None:
    for what, kind in (("stages", "pulse stretcher"), ("counters", "event counter"), ("gestures", "nudge")):
        done = steptally(tmp_path, "list", what, "--json", "-", changes=example)
        listed = json.loads(done.stdout)
        jsonschema.validate(listed, schema_of("list"))
        theirs = next(each for each in listed[what] if each["kind"] == kind)
        assert theirs["package"] == "bench-extras"
        assert all(
            each["meaning"] for each in theirs["parameters"] if each["path"] in ("least", "line", "nudges")
        )
    shown = steptally(tmp_path, "list", "contacts", changes=example).stdout
    assert '"chirp"' in shown
    assert shown.count("From the package bench-extras.") == 1


def checked(folder: pathlib.Path, changes: dict[str, str]) -> dict[str, Any]:
    """What `check` says of the scenario."""
    done = steptally(folder, "check", "theirs.toml", "--json", "-", changes=changes)
    assert done.returncode in (0, 1), done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    jsonschema.validate(found, schema_of("check"))
    return found


def test_their_checks_stand_among_all_others(tmp_path: pathlib.Path, example: dict[str, str]) -> None:
    write(tmp_path, "pulse stretcher", 'least = "1 ms"\ntolerance = "5 %"')
    found = checked(tmp_path, example)
    checks = {check["name"]: check for check in found["checks"]}
    theirs = checks["stretched pulse against chatter"]
    # Three extra pairs, 30 us apart.
    assert (theirs["verdict"], theirs["subject"]) == ("pass", "first, lines A and B")
    assert (theirs["result"], theirs["limit"]) == (pytest.approx(0.95e-3), pytest.approx(180e-6))
    assert checks["stretched pulse against the hand"]["verdict"] == "pass"
    assert checks["open gap ridden through"]["why"] == (
        "there is no capacitor, and a stage behind it does the filtering"
    )
    assert [each["words"] for each in found["networks"]] == [
        "input - pulse stretcher - output; low levels last 1 ms at least"
    ]


def test_their_remedies_find_a_value_that_passes(tmp_path: pathlib.Path, example: dict[str, str]) -> None:
    """0.95 T must be a tenth above 180 us: 220 us is the first of E24 that is."""
    write(tmp_path, "pulse stretcher", 'least = "100 us"\ntolerance = "5 %"')
    checks = {check["name"]: check for check in checked(tmp_path, example)["checks"]}
    theirs = checks["stretched pulse against chatter"]
    assert theirs["verdict"] == "fail"
    assert theirs["change"]["sets"] == ["first.least=220 us"]
    assert theirs["change"]["result"] == pytest.approx(0.95 * 220e-6)
    assert theirs["change"]["costs"] == []


ASKED = """
from scenarios.choosing.choices import usual_ranges
from scenarios.loading.load import load_scenario
from simcore.stages.facts import parts_list

scenario = load_scenario("theirs.toml")
print(*usual_ranges(scenario, ()))
print(*[(each.name, each.quantity, each.unit) for each in parts_list(scenario.design.stages[0].item)])
"""


def test_their_values_to_vary_and_parts_are_known(tmp_path: pathlib.Path, example: dict[str, str]) -> None:
    """The time between half of a return of 30 us and twice the shortest level of some 10 ms."""
    write(tmp_path, "pulse stretcher", 'least = "1 ms"')
    (tmp_path / "asked.py").write_text(ASKED, encoding="utf-8")
    command = [sys.executable, "asked.py"]
    done = subprocess.run(
        command, cwd=tmp_path, env=environment(example), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    values, parts = done.stdout.splitlines()
    assert values.startswith("first.least=")
    assert {"1 ms", "22 us"} <= set(values.partition("=")[2].split(", "))
    assert parts == "('gate', 1, '') ('least', 1, 's')"


def test_faulty_kinds_are_left_out_with_a_line_each(tmp_path: pathlib.Path, faulty: dict[str, str]) -> None:
    done = steptally(tmp_path, "run", "panel-knob", "--runs", "20", "-q", changes=faulty)
    assert done.returncode in (0, 1), done.stderr
    lines = [line for line in done.stderr.splitlines() if "left out" in line]
    reasons = {
        "clash": 'there is a kind "rc" already',
        "function": "faulty_extras:function is not a simcore.base.description.StageDescription",
        "missing": "it cannot be loaded (ModuleNotFoundError: No module named 'faulty_extras.missing')",
        "nameless": "faulty_extras:NAMELESS does not name its kind",
        "shadow": 'its key "lines" has a name that is not free',
        "unsorted": 'its key "time" is of none of the sorts of simcore.base.description',
    }
    assert lines == [
        f'The entry point "{name}" of faulty-extras 0.1.0 (steptally.stages) is left out: {reason}.'
        for name, reason in reasons.items()
    ]
