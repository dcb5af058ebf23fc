"""One result, whatever happened on the way to it.

The result is the JSON of `run` but for the time it took.  Equal to that of a run straight through: killed
many times and gone on with, on one thread or two, two processes at once on one ledger, blocks of any size.
"""

from __future__ import annotations

import json
import os
import pathlib
import signal
import time
from dataclasses import replace
from typing import Any

import pytest

from reports.results.run import Context, RunResult
from reports.words.commands import NamedScenario
from scenarios.ledger import LedgerFile
from scenarios.loading.load import load_scenario
from simcore.campaigns.campaign import run_campaign
from simcore.statistics.stopping import ALL_RUNS, ENOUGH_ERRORS, PRECISE, Stop
from tests.hostile.processes import TOOK, kept_runs, killed_often, result, started
from tests.reports.running import ANSWER_WITHIN, KNOB, steptally
from tests.reports.test_interrupts import started as heeding

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
LEDGER = "ledger.sqlite"


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    """A folder with the tests' scenario in it."""
    folder = tmp_path_factory.mktemp("hostile")
    (folder / "knob.toml").write_text(KNOB, encoding="utf-8")
    return folder


def asked(runs: int) -> tuple[str, ...]:
    return ("run", "knob.toml", "--runs", str(runs), "--json", "-")


RUNS = 20_000


@pytest.fixture(scope="module")
def straight(place: pathlib.Path) -> dict[str, Any]:
    """The result without a ledger, on one thread."""
    return result(started(place, *asked(RUNS), "--threads", "1"))


def test_killed_and_gone_on_with(place: pathlib.Path, straight: dict[str, Any]) -> None:
    ledger = "killed.sqlite"
    kept = killed_often(place, asked(RUNS), ledger, 3, 1)
    assert kept[-1] < RUNS
    assert result(started(place, *asked(RUNS), "--ledger", ledger)) == straight
    assert kept_runs(place / ledger) == RUNS
    assert steptally(place, "ledger", ledger, "--check").returncode == 0


def test_threads_and_two_processes_at_once_on_one_ledger(
    place: pathlib.Path, straight: dict[str, Any]
) -> None:
    ledger = "shared.sqlite"
    both = [started(place, *asked(RUNS), "--ledger", ledger, "--threads", threads) for threads in ("1", "2")]
    assert [result(process) for process in both] == [straight, straight]
    assert kept_runs(place / ledger) == RUNS
    again = steptally(place, *asked(RUNS), "--ledger", ledger)
    assert {**json.loads(again.stdout), TOOK: 0} == {**straight, TOOK: 0}
    assert again.stderr == f"{RUNS:,} of {RUNS:,} runs were in the ledger.\n"


def test_blocks_of_any_size(place: pathlib.Path, straight: dict[str, Any]) -> None:
    """What one size has left, the next goes on with; the last takes all of it."""
    scenario = load_scenario(str(place / "knob.toml"))
    named = NamedScenario("knob.toml")
    with LedgerFile(place / "sizes.sqlite") as ledger:
        for runs, block in ((700, 13), (5_000, None), (9_000, 100), (RUNS, 64), (RUNS, None)):
            outcome = run_campaign(
                scenario.design, seed=scenario.seed, runs=runs, block=block, ledger=ledger, threads=2
            )
    assert outcome.kept == RUNS
    found = json.loads(RunResult.of(Context(scenario, named, (), outcome, Stop(RUNS))).json())
    told = {key: value for key, value in straight.items() if key not in ("name", "title")}
    assert {key: found[key] for key in told} == told


@pytest.mark.parametrize("rules", [{"errors": 60}, {"precision": 0.15}])
def test_an_early_end_is_the_same_with_a_ledger_that_has_more(
    place: pathlib.Path, rules: dict[str, Any]
) -> None:
    scenario = load_scenario(str(place / "knob.toml"))
    stop = Stop(RUNS, **rules)
    with LedgerFile(place / "more.sqlite") as ledger:
        plain, kept, whole, more = (
            run_campaign(scenario.design, seed=scenario.seed, runs=0, stop=each, ledger=using)
            for each, using in ((stop, None), (stop, ledger), (Stop(RUNS), ledger), (stop, ledger))
        )
    assert plain.ended_by in (ENOUGH_ERRORS, PRECISE)
    assert (whole.ended_by, whole.tally.runs) == (ALL_RUNS, RUNS)
    assert plain.tally.runs < RUNS
    named = NamedScenario("knob.toml")
    told = [
        RunResult.of(Context(scenario, named, (), replace(each, seconds=0.0), stop)).json()
        for each in (plain, kept, more)
    ]
    assert told[0] == told[1] == told[2]


def test_ctrl_c_keeps_what_was_finished(place: pathlib.Path) -> None:
    ledger, many = "pressed.sqlite", 10**8
    process = heeding(place, *asked(many), "--ledger", ledger)
    while kept_runs(place / ledger) < 2_000:
        assert process.poll() is None
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    output, errors = process.communicate(timeout=ANSWER_WITHIN)
    assert process.returncode == 130, errors
    cut = json.loads(output)
    assert steptally(place, "ledger", ledger, "--check").returncode == 0
    assert kept_runs(place / ledger) >= cut["runs"] > 0
    again = result(started(place, *asked(cut["runs"]), "--ledger", ledger))
    assert again["wrong_rate"] == cut["wrong_rate"]
    assert again["margins"] == cut["margins"]


@pytest.mark.campaign
def test_killed_fifty_times(place: pathlib.Path) -> None:
    runs, ledger = 300_000, "fifty.sqlite"
    kept = killed_often(place, asked(runs), ledger, 50, 2)
    print(f"runs in the ledger after each of 50 kills: {kept}")
    assert result(started(place, *asked(runs), "--ledger", ledger, "--threads", "2")) == result(
        started(place, *asked(runs), "--threads", "1")
    )
    assert steptally(place, "ledger", ledger, "--check").returncode == 0
