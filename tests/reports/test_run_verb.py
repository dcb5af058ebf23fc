"""``steptally run`` as a process: outputs, exit codes, and every error that a user can make."""

from __future__ import annotations

import json
import os
import pathlib
import re
import shlex
import subprocess
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner

from reports.cli.group import steptally as group
from reports.results import schema_of
from reports.results.run import RunResult
from reports.words.numbers import interval_text, whole
from tests.reports.running import ANSWER_WITHIN, command, environment, names, steptally

VARYING = ("seconds", "engine", "versions")


def told(text: str) -> dict[str, Any]:
    """A JSON result without what differs from one time to the next."""
    loaded = json.loads(text)
    jsonschema.validate(loaded, schema_of("run"))
    return {key: value for key, value in loaded.items() if key not in VARYING}


def test_the_report_and_the_json_file_of_one_run_agree(folder: pathlib.Path) -> None:
    done = steptally(folder, "run", "knob.toml", "--json", "out.json", changes={"COLUMNS": "100"})
    assert done.returncode == 0
    text = (folder / "out.json").read_text(encoding="utf-8")
    result = RunResult.model_validate_json(text)
    assert told(text)["runs"] == 300
    assert names(folder) == ["knob.toml", "out.json"]
    assert done.stdout.startswith("Volume knob [bold]in brackets[/bold]\n300 runs of 16 steps: ")
    for verdict, rate in result.verdict_rates:
        line = next(line for line in done.stdout.splitlines() if line.startswith(verdict))
        assert line.split()[1] == whole(getattr(result.verdicts, verdict))
        assert line.rstrip().find(interval_text(rate)) > 0
    assert "Scenario knob, seed 7, 300 runs (numbers 0 to 299), batch engine" in done.stdout


def test_json_on_standard_output_is_alone_there(folder: pathlib.Path) -> None:
    done = steptally(folder, "run", "knob.toml", "--runs", "50", "--json", "-")
    assert done.returncode == 0
    assert told(done.stdout)["runs"] == 50


def test_the_same_answer_whatever_the_threads_and_the_engine(folder: pathlib.Path) -> None:
    asked = ("run", "knob.toml", "--runs", "40", "--first-run", "100", "--seed", "3", "--json", "-")
    one = told(steptally(folder, *asked, "--threads", "1").stdout)
    many = told(steptally(folder, *asked, "--threads", "5").stdout)
    events = told(steptally(folder, *asked, "--engine", "events", "--threads", "1").stdout)
    assert one == many == events
    assert (one["seed"], one["first_run"], one["runs"]) == (3, 100, 40)


def test_a_later_first_run_goes_on_where_an_earlier_ended(folder: pathlib.Path) -> None:
    whole_run, head, tail = (
        told(
            steptally(folder, "run", "knob.toml", "--runs", runs, "--first-run", first, "--json", "-").stdout
        )
        for runs, first in (("60", "0"), ("25", "0"), ("35", "25"))
    )
    for verdict, count in whole_run["verdicts"].items():
        assert head["verdicts"][verdict] + tail["verdicts"][verdict] == count


def test_set_changes_the_scenario_and_shows_in_the_json(folder: pathlib.Path) -> None:
    plain = told(steptally(folder, "run", "knob.toml", "--json", "-").stdout)
    larger = told(
        steptally(
            folder, "run", "knob.toml", "--set", "filter.capacitor=220 nF", "--set", "runs=200", "--json", "-"
        ).stdout
    )
    assert larger["scenario"]["stage"][0]["capacitor"] == "220 nF"
    assert larger["runs"] == 200
    assert larger["wrong_rate"]["high"] < plain["wrong_rate"]["low"]


def test_quiet_says_the_result_and_nothing_else(folder: pathlib.Path) -> None:
    done = steptally(folder, "run", "knob.toml", "--quiet")
    words = " ".join(done.stdout.split())
    assert re.fullmatch(r"Wrong steps: \S+ per 1,000 \(95 % confidence interval .*\), \d+ of 4,800\.", words)
    assert done.stderr == ""


@pytest.mark.parametrize(("goal", "code", "word"), [("50 %", 0, "met;"), ("1 in 100000 steps", 1, "missed;")])
def test_a_target_decides_the_exit_code(folder: pathlib.Path, goal: str, code: int, word: str) -> None:
    done = steptally(folder, "run", "knob.toml", "--set", f"target.wrong={goal}")
    assert done.returncode == code
    assert f"Target ({goal}): {word}" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "messages"),
    [
        (["run", "knob.toml", "--threads", "0"], ["--threads", "0"]),
        (["run", "knob.toml", "--threads", "many"], ["--threads", '"many"']),
        (["run", "knob.toml", "--runs", "0"], ["--runs", "0"]),
        (["run", "knob.toml", "--runs", "1e3"], ["--runs", '"1e3"']),
        (["run", "knob.toml", "--seed", "-1"], ["--seed", "-1"]),
        (["run", "knob.toml", "--seed", str(2**64)], ["--seed", str(2**64)]),
        (["run", "knob.toml", "--first-run", str(2**63 - 1)], ["--first-run", str(2**63 - 1)]),
        (["run", "knob.toml", "--engine", "event"], ["--engine", 'got "event"', "batch or events"]),
        (["run", "knob.toml", "--thread", "2"], ["--thread", "Did you mean '--threads'?"]),
        (["run", "knob.toml", "--set", "filter.capasitor=1 nF"], ["capasitor", "capacitor"]),
        (["run", "knob.toml", "--set", "filter"], ["PATH=VALUE"]),
        (["run", "knob.toml", "--json", "missing/out.json"], ["missing/out.json", "no folder"]),
        (["run", "knob.toml", "--json", "."], ["folder"]),
        (["run", "knob.toml", "extra"], ["extra"]),
        (["run"], ["SCENARIO"]),
        (["run", "panel-knop"], ["panel-knop", "panel-knob"]),
        (["run", "missing.toml"], ["missing.toml"]),
        (["rnu", "knob.toml"], ["'rnu'", "Did you mean 'run'?"]),
        (["--versoin"], ["--versoin", "--version"]),
    ],
)
def test_bad_input_is_one_message_and_exit_code_2(
    folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], messages: list[str]
) -> None:
    monkeypatch.chdir(folder)
    result = CliRunner().invoke(group, arguments)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith("Error: ")
    assert result.stderr.count("Error: ") == 1
    for message in messages:
        assert message in result.stderr


def test_an_unwritable_file_stops_everything_before_a_run_is_simulated(
    folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    monkeypatch.setattr("simcore.campaigns.campaign.run_designs", lambda *_, **__: pytest.fail("simulated"))
    assert CliRunner().invoke(group, ["run", "knob.toml", "--json", "missing/out.json"]).exit_code == 2


def test_all_problems_of_a_scenario_are_told_at_once(folder: pathlib.Path) -> None:
    text = (folder / "knob.toml").read_text(encoding="utf-8")
    (folder / "bad.toml").write_text(text.replace('"47 nF"', '"47 nH"').replace("cycles = 20", "cycels = 20"))
    done = steptally(folder, "run", "bad.toml")
    assert done.returncode == 2
    assert done.stdout == ""
    assert "47 nH" in done.stderr
    assert "cycels" in done.stderr
    assert all(line.startswith("Error: bad.toml") for line in done.stderr.splitlines())


def test_a_reader_who_leaves_is_no_error(folder: pathlib.Path) -> None:
    for arguments in (["run", "knob.toml"], ["run", "knob.toml", "--json", "-"], ["list"], ["--help"]):
        process = subprocess.Popen(
            command(*arguments), cwd=folder, env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE
        )
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        errors = process.stderr.read().decode()
        process.stderr.close()
        assert process.wait(ANSWER_WITHIN) == 0
        assert "Traceback" not in errors
        assert "Broken" not in errors


def test_a_full_disk_is_told_after_the_report(folder: pathlib.Path) -> None:
    if not pathlib.Path("/dev/full").exists():
        pytest.skip("no device that is always full")
    done = steptally(folder, "run", "knob.toml", "--json", "/dev/full")
    assert done.returncode == 2
    assert "Wrong steps: " in done.stdout
    assert done.stderr.splitlines()[-1].startswith("Error: /dev/full: cannot be written: ")


@pytest.mark.skipif(not pathlib.Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize(
    "verb", [["run", "knob.toml", "--quiet"], ["list", "--json", "-"], ["run", "--help"], ["--version"]]
)
def test_a_standard_output_that_cannot_be_written_is_told(folder: pathlib.Path, verb: list[str]) -> None:
    with pathlib.Path("/dev/full").open("w") as full:
        done = subprocess.run(
            command(*verb), cwd=folder, env=environment(), stdout=full, stderr=subprocess.PIPE, text=True,
            check=False,
        )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.startswith("Error: standard output: cannot be written: ")
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.skipif(os.name != "posix", reason="closes a stream by the shell")
def test_closed_outputs_are_no_error(folder: pathlib.Path) -> None:
    line = shlex.join(command("run", "knob.toml", "--json", "out.json")) + " >&- 2>&-"
    assert subprocess.run(["/bin/sh", "-c", line], cwd=folder, env=environment(), check=False).returncode == 0
    assert told((folder / "out.json").read_text(encoding="utf-8"))["runs"] == 300


@pytest.mark.parametrize("engine", ["batch", "events"])
def test_the_largest_seed_and_the_last_runs(folder: pathlib.Path, engine: str) -> None:
    asked = ["--seed", str(2**63 - 1), "--first-run", str(2**63 - 9), "--runs", "8", "--engine", engine]
    done = steptally(folder, "run", "knob.toml", *asked, "--json", "-")
    export = told(done.stdout)
    assert (done.returncode, export["runs"], export["steps"]) == (0, 8, 128)


def test_a_hand_that_never_moves_has_no_rates(folder: pathlib.Path) -> None:
    head, _, rest = (folder / "knob.toml").read_text(encoding="utf-8").partition("[[hand]]")
    tail = rest[rest.index("[[stage]]") :]
    (folder / "rest.toml").write_text(f'{head}[[hand]]\ngesture = "rest"\n\n{tail}', encoding="utf-8")
    done = steptally(folder, "run", "rest.toml", "--json", "out.json")
    assert done.returncode == 0
    export = told((folder / "out.json").read_text(encoding="utf-8"))
    assert (export["steps"], export["wrong_rate"]["high"], export["spurious_rate"]["high"]) == (0, None, None)
    assert "no data, for no step was simulated" in done.stdout
    assert "300 of 300 runs ended at the expected position" in done.stdout


def test_a_fault_of_the_program_is_not_mistaken_for_a_missed_target(
    folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.chdir(folder)
    monkeypatch.setattr("simcore.campaigns.campaign.run_designs", broken)
    result = CliRunner().invoke(group, ["run", "knob.toml", "--threads", "1"])
    assert result.exit_code == 3
    assert "ZeroDivisionError" in result.stderr
    assert "not of your input" in result.stderr
