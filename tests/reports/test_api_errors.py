"""Bad input to the Python interface: one exception, in the words of the command line, and nothing printed."""

from __future__ import annotations

import os
import pathlib
import subprocess
import sys
import tomllib
from collections.abc import Callable, Sequence
from typing import Any

import pytest
from click.testing import CliRunner

from reports import api
from reports.cli.group import steptally
from tests.reports.running import ANSWER_WITHIN, environment, names
from tests.scenarios.samples import SMALL, changed

KNOB = "panel-knob"
Call = Callable[[], Any]

SAME: dict[str, tuple[Call, Sequence[str]]] = {
    "name": (lambda: api.run("panel-nob"), ["run", "panel-nob"]),
    "folder": (lambda: api.check("."), ["check", "."]),
    "unit": (
        lambda: api.check(KNOB, sets={"filter.capacitor": "1 nH"}),
        ["check", KNOB, "--set", "filter.capacitor=1 nH"],
    ),
    "path": (
        lambda: api.check(KNOB, sets=["filtr.capacitor=1 nF"]),
        ["check", KNOB, "--set", "filtr.capacitor=1 nF"],
    ),
    "several": (
        lambda: api.check(KNOB, sets=["filter.capacitor=1 nH", "seed=x", "oops"]),
        ["check", KNOB, "--set", "filter.capacitor=1 nH", "--set", "seed=x", "--set", "oops"],
    ),
    "no run": (lambda: api.run(KNOB, runs=0), ["run", KNOB, "--runs", "0"]),
    "half a run": (lambda: api.run(KNOB, runs=2.5), ["run", KNOB, "--runs", "2.5"]),  # type: ignore[arg-type]
    "seed": (lambda: api.run(KNOB, seed=-1), ["run", KNOB, "--seed", "-1"]),
    "last run": (lambda: api.run(KNOB, first_run=2**63 - 1), ["run", KNOB, "--first-run", str(2**63 - 1)]),
    "engine": (lambda: api.run(KNOB, engine="fast"), ["run", KNOB, "--engine", "fast"]),
    "threads": (lambda: api.run(KNOB, threads=0), ["run", KNOB, "--threads", "0"]),
    "trace of nothing": (lambda: api.trace(KNOB), ["trace", KNOB]),
    "step": (lambda: api.trace(KNOB, run=1, step=400), ["trace", KNOB, "--run", "1", "--step", "400"]),
    "cause": (lambda: api.trace(KNOB, worst="chater"), ["trace", KNOB, "--worst", "chater"]),
    "run and worst": (lambda: api.trace(KNOB, worst=True, run=1), ["trace", KNOB, "--worst", "--run", "1"]),
    "recording": (lambda: api.replay("none.csv", KNOB), ["replay", "none.csv", KNOB]),
    "settle": (lambda: api.replay("x.csv", KNOB, settle="1 V"), ["replay", "x.csv", KNOB, "--settle", "1 V"]),
    "closed": (lambda: api.replay("x.csv", KNOB, closed="up"), ["replay", "x.csv", KNOB, "--closed", "up"]),
    "unit of time": (lambda: api.replay("x.csv", KNOB, unit="h"), ["replay", "x.csv", KNOB, "--unit", "h"]),
    "threshold": (
        lambda: api.replay("x.csv", KNOB, threshold="x"), ["replay", "x.csv", KNOB, "--threshold", "x"],
    ),
    "range": (
        lambda: api.sweep(KNOB, "filter.capacitor=1u..1n:E3"),
        ["sweep", KNOB, "--vary", "filter.capacitor=1u..1n:E3"],
    ),
    "nothing to vary": (lambda: api.sweep(KNOB, []), ["sweep", KNOB]),
    "two rules": (
        lambda: api.sweep(KNOB, "runs=1, 2", all_runs=True, precision="5 %"),
        ["sweep", KNOB, "--vary", "runs=1, 2", "--all-runs", "--precision", "5 %"],
    ),
    "two ledgers": (
        lambda: api.choose(KNOB, ledger="x", use_ledger=False),
        ["choose", KNOB, "--ledger", "x", "--no-ledger"],
    ),
    "no target": (lambda: api.choose(KNOB), ["choose", KNOB]),
    "one design": (lambda: api.compare(KNOB), ["compare", KNOB]),
    "other hands": (lambda: api.compare(KNOB, "fast-twist"), ["compare", KNOB, "fast-twist"]),
    "a group": (lambda: api.compare(KNOB, with_=["x"]), ["compare", KNOB, "--with", "x"]),
    "no ledger": (lambda: api.ledger("none"), ["ledger", "none"]),
    "kinds": (lambda: api.list_("countres"), ["list", "countres"]),
}  # fmt: skip


@pytest.mark.parametrize("case", SAME)
def test_the_message_is_the_command_lines(
    case: str, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    call, arguments = SAME[case]
    done = CliRunner().invoke(steptally, list(arguments))
    assert done.exit_code == 2
    told = [line for line in done.stderr.splitlines() if line.startswith("Error: ")]
    capfd.readouterr()
    with pytest.raises(api.BadInput) as caught:
        call()
    assert isinstance(caught.value, ValueError)
    assert caught.value.__cause__ is None
    assert [f"Error: {line}" for line in caught.value.lines] == told
    assert capfd.readouterr() == ("", "")
    assert names(tmp_path) == []


def file(name: str) -> str:
    return os.path.join("missing", name)


OWN: dict[str, tuple[Call, Sequence[str]]] = {
    "number": (lambda: api.run(5), ["got 5", "a name, a path, a TOML text"]),  # type: ignore[arg-type]
    "bytes": (lambda: api.run(b"panel-knob"), ["scenario: expected a name", "a name, a path"]),  # type: ignore[arg-type]
    "margins": (lambda: api.run(KNOB, margins="no"), ["margins: expected True or False, got", '"no"']),  # type: ignore[arg-type]
    "TOML": (lambda: api.check(changed('"4k7"', '"4x7"')), ["scenario text, line 16, filter.pull_up", "4x7"]),
    "no TOML": (lambda: api.check("[encoder\nx"), ["scenario text, line 1", "not valid TOML"]),
    "surrogate": (lambda: api.check("title = '\ud800'\n"), ["scenario text", "UTF-8"]),
    "large": (lambda: api.check("\n" + "#" * 1_000_000), ["scenario text", "too large"]),
    "nothing": (lambda: api.check({}), ["scenario tables, encoder", "scenario tables, hand"]),
    "None": (lambda: api.check({"title": None}), ["scenario tables, title: expected", "got nothing"]),
    "key": (lambda: api.check({"counter": {3: 4}}), ["scenario tables, counter: expected a text", "got 3"]),
    "set of tables": (lambda: api.check(KNOB, sets={"filter": {}}), ["--set.filter: ", "got a table"]),
    "set of nothing": (lambda: api.check(KNOB, sets={"runs": None}), ["--set.runs: expected", "got nothing"]),
    "set without a path": (lambda: api.check(KNOB, sets={3: 4}), ["--set", "got 3", "a path"]),  # type: ignore[dict-item]
    "no design": (lambda: api.compare(), ["compare: expected at least one scenario, got none"]),
    "one value": (lambda: api.sweep(KNOB, {"filter.capacitor": 5}), ["unit is missing"]),
    "no values": (lambda: api.sweep(KNOB, 5), ["vary: expected values by their paths, or texts, got 5"]),  # type: ignore[arg-type]
    "nothing to choose from": (lambda: api.choose(KNOB, target="1 in 9", vary=5), ["vary: expected values"]),  # type: ignore[arg-type]
    "ledger": (lambda: api.run(KNOB, runs=1, ledger=5), ["--ledger: expected a text or a path, got 5"]),  # type: ignore[arg-type]
    "not a switch": (lambda: api.sweep(KNOB, "a=1", all_runs=1), ["all_runs: expected True or False, got 1"]),  # type: ignore[arg-type]
    "table": (lambda: api.check(KNOB).table("check"), ['got "check"', 'did you mean "checks"?']),
    "page": (lambda: api.run(KNOB, runs=1).save_page(file("x")), ["x: cannot be written", "no folder"]),
    "page in a folder": (lambda: api.run(KNOB, runs=1).save_page("."), ["a page: expected the name"]),
    "dump": (lambda: api.trace(KNOB, run=1).save_vcd(file("x")), ["no folder 'missing'"]),
    "dump to nowhere": (lambda: api.trace(KNOB, run=1).save_csv("-"), ["--csv: expected the name of a file"]),
    "dump of nothing": (
        lambda: api.trace("well-filtered", worst=True, runs=2).save_csv("x"),
        ["one run is needed, and the search found none"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", OWN)
def test_messages_of_its_own(
    case: str, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    call, words = OWN[case]
    with pytest.raises(api.BadInput) as caught:
        call()
    for word in words:
        assert word in str(caught.value)
    assert str(caught.value).replace("\n", "").isprintable()
    assert capfd.readouterr() == ("", "")
    assert names(tmp_path) == []


def test_a_mistake_in_tables_has_its_path_and_no_line() -> None:
    """Lines would be those of a text that nobody has seen."""
    stage = {"kind": "rc", "name": "filter", "pull_up": "4x7", "series": "1k", "capacitor": "1 nF"}
    with pytest.raises(api.BadInput) as caught:
        api.check({**tomllib.loads(SMALL), "stage": [stage]})
    assert 'scenario tables, filter.pull_up: "x" is not a unit of resistance' in str(caught.value)
    assert "line " not in str(caught.value)


QUIET = (
    "from reports import api\n"
    "api.list_(); api.check('panel-knob'); api.trace('panel-knob', worst=True, runs=5)\n"
    "run = api.run('panel-knob', runs=30); run.tables(), run.page(), run._repr_html_(), repr(run)\n"
)


def test_nothing_is_printed() -> None:
    """Nor while it compiles, which the tests of Ctrl-C see."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", QUIET], env=environment({}), capture_output=True, text=True,
        timeout=ANSWER_WITHIN, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
