"""``list``, ``show``, ``new``, ``completion``, ``--help`` and ``--version``."""

from __future__ import annotations

import json
import pathlib
import shutil
import subprocess
import sys
from importlib.metadata import version

import jsonschema
import pytest

from reports.cli.group import VERBS
from reports.results import RESULTS, schema_of
from scenarios.loading.catalogue import ready_names, ready_title, starter_text
from scenarios.loading.load import load_scenario
from tests.reports.running import command, environment, names, steptally


def test_list_names_everything_with_a_line_each(folder: pathlib.Path) -> None:
    done = steptally(folder, "list", changes={"COLUMNS": "200"})
    assert done.returncode == 0
    for name in ready_names():
        line = next(line for line in done.stdout.splitlines() if line.split()[:1] == [name])
        assert line.endswith(ready_title(name))


def test_list_as_json_is_valid_and_its_paths_are_those_that_set_takes(folder: pathlib.Path) -> None:
    assert steptally(folder, "list", "--json", "list.json").returncode == 0
    loaded = json.loads((folder / "list.json").read_text(encoding="utf-8"))
    assert loaded == json.loads(steptally(folder, "list", "--json", "-").stdout)
    jsonschema.validate(loaded, schema_of("list"))
    assert [entry["name"] for entry in loaded["scenarios"]] == list(ready_names())
    for entry in loaded["scenarios"]:
        assert entry["paths"] == list(load_scenario(entry["name"]).paths)
    assert steptally(folder, "list", "--json", "missing/list.json").returncode == 2


def test_list_of_kinds_names_each_with_its_keys(folder: pathlib.Path) -> None:
    done = steptally(folder, "list", "counters", changes={"COLUMNS": "80"})
    assert (done.returncode, done.stderr) == (0, "")
    kinds = json.loads(steptally(folder, "list", "counters", "--json", "-").stdout)["counters"]
    names = steptally(folder, "list", "counters", "--quiet").stdout.splitlines()
    assert names == [kind["kind"] for kind in kinds]
    text = " ".join(done.stdout.split())
    for kind in kinds:
        assert f'"{kind["kind"]}" {kind["meaning"]}' in text
    assert max(len(line) for line in done.stdout.splitlines()) <= 80
    assert steptally(folder, "list", "countres").stderr.count('did you mean "counters"?') == 1


@pytest.mark.parametrize("verb", RESULTS)
def test_list_schema_prints_what_the_json_of_a_verb_holds(folder: pathlib.Path, verb: str) -> None:
    told = json.loads(steptally(folder, "list", "schema", verb, "--json", "-").stdout)
    assert told == json.loads(json.dumps(schema_of(verb)))
    jsonschema.Draft202012Validator.check_schema(told)


def test_list_schema_needs_a_verb(folder: pathlib.Path) -> None:
    for words, message in (
        (("schema",), "VERB: expected a verb after schema"),
        (("schema", "rum"), 'did you mean "run"?'),
        (("stages", "run"), "VERB: expected only after schema"),
    ):
        done = steptally(folder, "list", *words)
        assert (done.returncode, done.stdout, done.stderr.count("Error: ")) == (2, "", 1)
        assert message in done.stderr


@pytest.mark.parametrize("name", ready_names())
def test_what_show_prints_is_the_scenario_as_a_file(folder: pathlib.Path, name: str) -> None:
    done = steptally(folder, "show", name)
    assert done.returncode == 0
    (folder / "copy.toml").write_text(done.stdout, encoding="utf-8")
    assert load_scenario(str(folder / "copy.toml")).design == load_scenario(name).design


def test_show_of_an_unknown_name_hints_at_the_nearest(folder: pathlib.Path) -> None:
    done = steptally(folder, "show", "panel-knop")
    assert (done.returncode, done.stdout) == (2, "")
    assert 'did you mean "panel-knob"?' in done.stderr


def test_new_writes_a_scenario_that_runs_and_never_overwrites(folder: pathlib.Path) -> None:
    made = steptally(folder, "new", "mine.toml")
    assert made.returncode == 0
    text = (folder / "mine.toml").read_text(encoding="utf-8")
    assert "#" in text
    done = steptally(folder, "run", "mine.toml", "--runs", "20", "--json", "-")
    assert done.returncode in (0, 1), done.stderr
    assert json.loads(done.stdout)["runs"] == 20
    (folder / "mine.toml").write_text("mine", encoding="utf-8")
    again = steptally(folder, "new", "mine.toml")
    assert (again.returncode, again.stdout) == (2, "")
    assert "exists already" in again.stderr
    assert (folder / "mine.toml").read_text(encoding="utf-8") == "mine"


def test_new_needs_a_folder_that_is_there(folder: pathlib.Path) -> None:
    done = steptally(folder, "new", "missing/mine.toml")
    assert done.returncode == 2
    assert "no folder 'missing'" in done.stderr


@pytest.mark.parametrize(("name", "said"), [("", 'got ""'), ("panel-knob", "panel-knob.toml")])
def test_new_takes_no_name_by_which_the_file_could_not_be_run(
    folder: pathlib.Path, name: str, said: str
) -> None:
    done = steptally(folder, "new", name)
    assert (done.returncode, done.stdout, done.stderr.count("Error: ")) == (2, "", 1)
    assert said in done.stderr
    assert names(folder) == ["knob.toml"]


def test_new_writes_to_standard_output_for_a_dash(folder: pathlib.Path) -> None:
    assert steptally(folder, "new", "-").stdout == starter_text()
    assert names(folder) == ["knob.toml"]


@pytest.mark.parametrize(
    "asked",
    [
        ["run", "knob.toml", "--json", "knob.toml"],
        ["run", "knob.toml", "--html", "./knob.toml"],
        ["check", "knob.toml", "--json", "knob.toml"],
        ["show", "knob.toml", "--json", "knob.toml"],
        ["trace", "knob.toml", "--run", "0", "--vcd", "knob.toml"],
        ["trace", "knob.toml", "--run", "0", "--csv", "x.csv", "--csv-steps", "x.csv"],
        ["run", "knob.toml", "--html", "x.html", "--ledger", "x.html"],
        ["compare", "knob.toml", "--with", "filter.capacitor=1 nF", "--json", "knob.toml"],
        ["sweep", "knob.toml", "--vary", "filter.capacitor=10n..1u", "--html", "knob.toml"],
        ["choose", "knob.toml", "--ledger", "knob.toml"],
        ["ledger", "trace.csv", "--json", "trace.csv"],
        ["replay", "trace.csv", "panel-knob", "--json", "trace.csv"],
    ],
    ids=lambda asked: " ".join((asked[0], asked[-1])),
)
def test_no_result_is_written_over_what_is_read_or_over_another(
    folder: pathlib.Path, asked: list[str]
) -> None:
    (folder / "trace.csv").write_text("time,A,B\n0,1,1\n1,0,1\n", encoding="utf-8")
    before = {name: (folder / name).read_bytes() for name in names(folder)}
    done = steptally(folder, *asked)
    assert (done.returncode, done.stdout, done.stderr.count("Error: ")) == (2, "", 1)
    assert f"Error: {asked[-1]}: " in done.stderr
    assert {name: (folder / name).read_bytes() for name in names(folder)} == before


def test_version_and_help(folder: pathlib.Path) -> None:
    assert steptally(folder, "--version").stdout == f"steptally {version('steptally')}\n"
    shown = steptally(folder, "--help")
    assert shown.returncode == 0
    for verb in VERBS:
        assert verb in shown.stdout
        assert steptally(folder, verb, "--help").returncode == 0


def test_without_a_verb_help_comes_as_an_error(folder: pathlib.Path) -> None:
    done = steptally(folder)
    assert (done.returncode, done.stdout) == (2, "")
    assert "Usage: steptally" in done.stderr


def test_the_installed_command_is_the_same(folder: pathlib.Path) -> None:
    installed = pathlib.Path(sys.executable).with_name("steptally")
    if not installed.exists():
        pytest.skip("not installed beside this Python")
    done = subprocess.run(
        [installed, "--version"], cwd=folder, env=environment(), capture_output=True, text=True, check=True
    )
    assert done.stdout == steptally(folder, "--version").stdout


@pytest.mark.parametrize("arguments", [["--version"], ["--help"], ["run", "--help"], ["list"]])
def test_what_simulates_nothing_imports_nothing_heavy(folder: pathlib.Path, arguments: list[str]) -> None:
    code = (
        "import sys; from reports.cli import main; main(sys.argv[1:]);"
        "print(*(name for name in ('numpy', 'numba', 'scipy', 'pydantic', 'simpy') if name in sys.modules),"
        "file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        cwd=folder, env=environment(), capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stderr.split() == []


def completed(folder: pathlib.Path, words: str, shell: str = "bash") -> list[str]:
    changes = {
        "_STEPTALLY_COMPLETE": f"{shell}_complete",
        "COMP_WORDS": words,
        "COMP_CWORD": str(len(words.split(" ")) - 1),
    }
    done = subprocess.run(
        command(), cwd=folder, env=environment(changes), capture_output=True, text=True, check=True
    )
    return done.stdout.splitlines()


def test_the_shell_completes_verbs_options_and_scenarios(folder: pathlib.Path) -> None:
    assert "plain,run" in completed(folder, "steptally r")
    assert completed(folder, "steptally run --thr") == ["plain,--threads"]
    for verb in ("run", "show"):
        assert {f"plain,{name}" for name in ready_names()} <= set(completed(folder, f"steptally {verb} "))
        assert completed(folder, f"steptally {verb} panel-kn") == ["plain,panel-knob"]
    assert completed(folder, "steptally run ./kn") == ["file,./kn"]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_completion_script_asks_this_program(folder: pathlib.Path, shell: str) -> None:
    done = steptally(folder, "completion", shell)
    assert done.returncode == 0
    assert f"_STEPTALLY_COMPLETE={shell}_complete" in done.stdout
    program = shutil.which(shell)
    if program is not None:
        subprocess.run([program, "-n"], input=done.stdout, text=True, check=True)


def test_an_unknown_shell_is_refused(folder: pathlib.Path) -> None:
    done = steptally(folder, "completion", "dash")
    assert done.returncode == 2
    assert "bash" in done.stderr
