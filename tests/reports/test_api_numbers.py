"""The Python interface gives what the command line writes with ``--json`` and ``--html``, key by key."""

from __future__ import annotations

import inspect
import json
import pathlib
from collections.abc import Callable, Sequence
from typing import Any

import click
import jsonschema
import pytest
from click.testing import CliRunner

from reports import api
from reports.cli.group import steptally
from reports.results import RESULTS, schema_of
from tests.reports.replays import recording
from tests.reports.running import KNOB as TEXT

KNOB = "knob.toml"
SET = "filter.capacitor=68 nF"
FOR_THE_TERMINAL = {"json", "html", "quiet", "no_color", "limit", "vcd", "csv", "csv_steps", "verb"}
"""Options that say where results go and how they look there."""
OTHER_NAMES = {
    "no_margins": "margins",
    "no_ledger": "use_ledger",
    "number": "run",
    "varied": "vary",
    "groups": "with_",
}
LARGER, OTHER = "filter.capacitor=220 nF", "filter.capacitor=150 nF, filter.series=2k2"


@pytest.fixture
def here(folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> pathlib.Path:
    """The folder with ``knob.toml`` and a recorded trace, as the present one; its own ledger is there too."""
    monkeypatch.chdir(folder)
    monkeypatch.setenv("STEPTALLY_LEDGER", str(folder / "own.ledger"))
    (folder / "other.toml").write_text(TEXT.replace('"47 nF"', '"68 nF"'), encoding="utf-8")
    (folder / "trace.csv").write_text(recording(pairs_a=2), encoding="utf-8")
    return folder


def written(*arguments: str) -> dict[str, Any]:
    """What the command line writes as JSON."""
    done = CliRunner().invoke(steptally, [*arguments, "--json", "-"])
    assert done.exit_code in (0, 1), done.output
    loaded: dict[str, Any] = json.loads(done.stdout)
    return loaded


def untimed(told: Any) -> Any:
    """A JSON value without the time taken, at any depth."""
    if isinstance(told, dict):
        return {key: untimed(value) for key, value in told.items() if key != "seconds"}
    return [untimed(each) for each in told] if isinstance(told, list) else told


Made = Callable[[], Any]
CASES: dict[str, tuple[Made, Sequence[str]]] = {
    "run": (lambda: api.run(KNOB), ["run", KNOB]),
    "run with options": (
        lambda: api.run(
            KNOB, sets={"filter.capacitor": "68 nF"}, runs=40, seed=3, first_run=7, threads=1, margins=False
        ),
        ["run", KNOB, "--set", SET, "--runs", "40", "--seed", "3", "--first-run", "7", "--no-margins"],
    ),
    "run by the other engine": (
        lambda: api.run(pathlib.Path(KNOB), engine="events", runs=9),
        ["run", KNOB, "--engine", "events", "--runs", "9"],
    ),
    "run of a loaded scenario": (
        lambda: api.run(api.scenario(KNOB, sets=[SET]), runs=30, sets="target.wrong=1 in 10 steps"),
        ["run", KNOB, "--set", SET, "--set", "target.wrong=1 in 10 steps", "--runs", "30"],
    ),
    "check": (lambda: api.check(KNOB, sets=[SET]), ["check", KNOB, "--set", SET]),
    "trace": (lambda: api.trace(KNOB, run=5, step=2), ["trace", KNOB, "--run", "5", "--step", "2"]),
    "trace, worst": (
        lambda: api.trace(KNOB, worst=True, runs=60, seed=2),
        ["trace", KNOB, "--worst", "--runs", "60", "--seed", "2"],
    ),
    "trace, one cause": (
        lambda: api.trace(KNOB, worst="chatter", runs=60),
        ["trace", KNOB, "--worst", "chatter", "--runs", "60"],
    ),
    "replay": (lambda: api.replay("trace.csv", KNOB), ["replay", "trace.csv", KNOB]),
    "replay with options": (
        lambda: api.replay(
            pathlib.Path("trace.csv"), KNOB, closed="high", settle="3 ms", unit="us", columns="1,3,2", run=4
        ),
        [
            "replay", "trace.csv", KNOB, "--closed", "high", "--settle", "3 ms", "--unit", "us",
            "--columns", "1,3,2", "--run", "4",
        ],
    ),
    "run with rules of ending": (
        lambda: api.run("no-filter", runs=3000, errors=50, precision="none", time="1 h"),
        ["run", "no-filter", "--runs", "3000", "--errors", "50", "--precision", "none", "--time", "1 h"],
    ),
    "compare": (
        lambda: api.compare(
            KNOB, with_=[{"filter.capacitor": "220 nF"}, OTHER], sets={"supply.voltage": "5 V"}, runs=60,
            seed=4, threads=1,
        ),
        [
            "compare", KNOB, "--with", LARGER, "--with", OTHER, "--set", "supply.voltage=5 V", "--runs", "60",
            "--seed", "4",
        ],
    ),
    "compare several": (
        lambda: api.compare(KNOB, pathlib.Path("other.toml"), runs=40),
        ["compare", KNOB, "other.toml", "--runs", "40"],
    ),
    "compare variants": (
        lambda: api.compare("which-filter", runs=40), ["compare", "which-filter", "--runs", "40"],
    ),
    "sweep": (
        lambda: api.sweep(KNOB, {"filter.capacitor": "47n..220n:E3"}, runs=60, target="1 in 100 steps"),
        [
            "sweep", KNOB, "--vary", "filter.capacitor=47n..220n:E3", "--runs", "60",
            "--target", "1 in 100 steps",
        ],
    ),
    "sweep with options": (
        lambda: api.sweep(
            api.scenario(KNOB, sets=["filter.series=2k2"]),
            {"filter.capacitor": ["47 nF", "220 nF"], "supply.voltage": "3.3 V, 5 V"},
            runs=30, all_runs=True, seed=9, use_ledger=False,
        ),
        [
            "sweep", KNOB, "--set", "filter.series=2k2", "--vary", "filter.capacitor=47 nF, 220 nF",
            "--vary", "supply.voltage=3.3 V, 5 V", "--runs", "30", "--all-runs", "--seed", "9", "--no-ledger",
        ],
    ),
    "choose": (
        lambda: api.choose(
            "panel-knob", target="1 in 50 steps", vary="filter.capacitor=100n..470n:E3", runs=900
        ),
        [
            "choose", "panel-knob", "--target", "1 in 50 steps", "--vary", "filter.capacitor=100n..470n:E3",
            "--runs", "900",
        ],
    ),
    "show": (lambda: api.show("synchroniser-alone"), ["show", "synchroniser-alone"]),
    "list": (api.list_, ["list"]),
    "list counters": (lambda: api.list_("counters"), ["list", "counters"]),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_result_is_the_json_of_the_verb(here: pathlib.Path, case: str) -> None:
    make, arguments = CASES[case]
    told = json.loads(make().json())
    assert untimed(told) == untimed(written(*arguments))
    jsonschema.validate(told, schema_of(arguments[0]))


PAGES: dict[str, tuple[Made, Sequence[str]]] = {
    "run": (lambda: api.run(KNOB, runs=50, sets=[SET]), ["run", KNOB, "--runs", "50", "--set", SET]),
    "compare": (
        lambda: api.compare(KNOB, with_=[LARGER], runs=50),
        ["compare", KNOB, "--with", LARGER, "--runs", "50"],
    ),
    "sweep": (
        lambda: api.sweep(KNOB, "filter.capacitor=47 nF, 100 nF", runs=50),
        ["sweep", KNOB, "--vary", "filter.capacitor=47 nF, 100 nF", "--runs", "50"],
    ),
    "choose": (
        lambda: api.choose(KNOB, target="1 in 2 steps", vary={"filter.capacitor": ["100 nF"]}, runs=150),
        ["choose", KNOB, "--target", "1 in 2 steps", "--vary", "filter.capacitor=100 nF", "--runs", "150"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", PAGES)
def test_the_page_is_that_of_the_verb(here: pathlib.Path, case: str) -> None:
    make, arguments = PAGES[case]
    done = CliRunner().invoke(steptally, [*arguments, "--html", "theirs.html"])
    assert done.exit_code in (0, 1), done.output
    result = make()
    result.save_page("ours.html")
    assert pathlib.Path("ours.html").read_bytes() == pathlib.Path("theirs.html").read_bytes()
    assert getattr(result, "gallery", None) is None


def test_no_result_overwrites_its_scenario(here: pathlib.Path) -> None:
    before = pathlib.Path(KNOB).read_bytes()
    for save in (
        api.run(KNOB, runs=1).save_page,
        api.compare(KNOB, with_=[LARGER], runs=1).save_page,
        api.sweep(KNOB, "filter.capacitor=47 nF, 100 nF", runs=1).save_page,
        api.trace(KNOB, run=0).save_csv,
    ):
        with pytest.raises(api.BadInput, match="it is the file that is read"):
            save(KNOB)
    assert pathlib.Path(KNOB).read_bytes() == before


def test_a_ledger_keeps_runs_and_tells_of_them(here: pathlib.Path) -> None:
    first = api.run(KNOB, runs=40, ledger=pathlib.Path("kept.ledger"))
    again = api.run(KNOB, runs=40, ledger="kept.ledger")
    assert untimed(json.loads(again.json())) == untimed(json.loads(first.json()))
    found = api.ledger("kept.ledger", check=True)
    assert json.loads(found.json()) == written("ledger", "kept.ledger", "--check")
    assert (found.runs, found.file) == (40, "kept.ledger")
    assert [row["runs"] for row in found.table("cells")] == [40]
    assert not pathlib.Path("own.ledger").exists()
    api.sweep(KNOB, "filter.capacitor=47 nF, 100 nF", runs=20)
    assert api.ledger().runs == 40


def test_without_a_ledger_of_its_own_a_sweep_warns_and_goes_on(
    here: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STEPTALLY_LEDGER", str(here / "missing" / "own.ledger"))
    with pytest.warns(RuntimeWarning, match="Without a ledger: "):
        assert api.sweep(KNOB, "filter.capacitor=47 nF, 100 nF", runs=20).complete


@pytest.mark.parametrize(
    ("option", "save"), [("vcd", "save_vcd"), ("csv", "save_csv"), ("csv-steps", "save_csv_steps")]
)
def test_the_files_of_a_trace_are_those_of_the_verb(here: pathlib.Path, option: str, save: str) -> None:
    done = CliRunner().invoke(steptally, ["trace", KNOB, "--run", "3", f"--{option}", "theirs"])
    assert done.exit_code == 0, done.output
    getattr(api.trace(KNOB, run=3), f"save_{option.replace('-', '_')}")(pathlib.Path("ours"))
    assert pathlib.Path("ours").read_bytes() == pathlib.Path("theirs").read_bytes()


@pytest.mark.parametrize(
    ("goal", "met"),
    [({}, None), ({"target.wrong": "1 in 2 steps"}, True), ({"target.wrong": "1 in 1000000 steps"}, False)],
)
def test_a_target(here: pathlib.Path, goal: dict[str, str], met: bool | None) -> None:
    assert api.run(KNOB, runs=30, sets=goal).target_met is met


FUNCTIONS: dict[str, Callable[..., Any]] = {
    "run": api.run, "check": api.check, "trace": api.trace, "replay": api.replay, "list": api.list_,
    "compare": api.compare, "sweep": api.sweep, "choose": api.choose, "ledger": api.ledger,
}  # fmt: skip


def test_every_verb_with_a_result_is_held_against_its_function() -> None:
    """But `show`, whose function overrides values as well."""
    assert set(FUNCTIONS) == set(RESULTS) - {"show"}


@pytest.mark.parametrize("verb", FUNCTIONS)
def test_arguments_are_the_options_of_the_verb(verb: str) -> None:
    """A new option of a verb must be offered here too, or be of the terminal only; defaults are alike."""
    command = steptally.get_command(click.Context(steptally), verb)
    assert command is not None
    options = {
        OTHER_NAMES.get(each.name or "", each.name or ""): each
        for each in command.params
        if each.name not in FOR_THE_TERMINAL
    }
    taken = dict(inspect.signature(FUNCTIONS[verb]).parameters)
    taken.pop("progress", None)
    assert set(taken) == set(options)
    for name, option in options.items():
        default = taken[name].default
        if isinstance(default, (str, int)) and not isinstance(default, bool):
            assert str(default) == str(option.default)


def test_every_verb_that_has_results_is_a_function() -> None:
    from reports.cli.group import VERBS

    assert {"list_" if verb == "list" else verb for verb in VERBS} - {"new", "completion"} <= set(api.__all__)
