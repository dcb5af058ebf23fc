"""Ctrl-C in the middle of a sweep: the finished cells are reported, and are those of the whole sweep."""

from __future__ import annotations

import os
import pathlib
import re
import signal
import subprocess
from dataclasses import replace

import pytest

from reports import interrupts
from reports.api.choices import CandidateSearch
from reports.api.sweeps import Campaigns, CellT, SweepOutcome, SweepRequest
from reports.results.sweep import SweepCell, SweepResult
from reports.words.commands import NamedScenario
from scenarios.ledger import LedgerFile
from scenarios.loading.sweeps import load_sweep
from simcore.campaigns.options import RunOptions
from simcore.statistics.stopping import Stop, Target
from tests.reports.running import ANSWER_WITHIN, names, steptally
from tests.reports.test_interrupts import started

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")

LONG = ("sweep", "knob.toml", "--vary", "filter.capacitor=47n..1u:300", "--runs", "400", "--all-runs")
FAR = re.compile(r"(\d+) of 300 cells")


def interrupted(process: subprocess.Popen[str], least: int) -> tuple[str, str]:
    """Send Ctrl-C once so many cells were told as finished; returns both outputs."""
    assert process.stderr is not None
    seen = ""
    for line in process.stderr:
        seen += line
        found = FAR.search(line)
        if found and int(found[1]) >= least:
            break
    process.send_signal(signal.SIGINT)
    output, errors = process.communicate(timeout=ANSWER_WITHIN)
    return output, seen + errors


def test_finished_cells_are_reported_and_the_ledger_goes_on_from_them(folder: pathlib.Path) -> None:
    process = started(folder, *LONG, "--json", "out.json", "--ledger", "own.sqlite")
    output, errors = interrupted(process, 1)
    assert process.returncode == 130
    assert "Traceback" not in errors
    assert "interrupted" in " ".join(output.split())
    cut = SweepResult.model_validate_json((folder / "out.json").read_text(encoding="utf-8"))
    assert not cut.complete
    assert 0 < len(cut.cells) < cut.cells_asked == 300
    assert all(cell.runs == 400 for cell in cut.cells)
    values = ", ".join(cell.values["filter.capacitor"] for cell in cut.cells)
    again = steptally(
        folder, "sweep", "knob.toml", "--vary", f"filter.capacitor={values}", *LONG[4:], "--json", "-",
        "--ledger", "own.sqlite",
    )  # fmt: skip
    assert again.stderr.splitlines()[-1].startswith(f"{400 * len(cut.cells):,} of ")
    told = SweepResult.model_validate_json(again.stdout)
    assert [dict(cell) | {"number": 0} for cell in told.cells] == [
        dict(cell) | {"number": 0} for cell in cut.cells
    ]
    assert {"knob.toml", "out.json", "own.sqlite"} <= {*names(folder)}


def test_ctrl_c_before_the_first_cell(folder: pathlib.Path) -> None:
    process = started(folder, *LONG[:4], "--runs", "100000000", "--all-runs", "--no-ledger", "--json", "-")
    output, errors = interrupted(process, 0)
    assert process.returncode == 130
    assert "Traceback" not in errors
    cut = SweepResult.model_validate_json(output)
    assert (cut.cells, cut.window) == ((), ())


def campaigns(place: pathlib.Path) -> tuple[LedgerFile, Campaigns[SweepCell]]:
    """Three cells of 40 runs, and their ledger."""
    ledger = LedgerFile(place / "own.sqlite")
    request = requested("filter.capacitor=47n, 68n, 100n", Stop(40))
    return ledger, Campaigns(replace(request, ledger=ledger), SweepCell.of)


def requested(vary: str, stop: Stop) -> SweepRequest:
    options = RunOptions(1, stop, threads=1, margins=False)
    return SweepRequest(load_sweep("panel-knob", [vary]), NamedScenario("panel-knob"), (vary,), options, None)


def test_cells_that_a_ledger_has_whole_can_be_interrupted_too(folder: pathlib.Path) -> None:
    told: list[int] = []
    ledger, first = campaigns(folder)
    with ledger:
        assert first.outcome(lambda done, asked: None).complete

    def note(done: int, asked: int) -> None:
        told.append(done)
        if done == 80:
            raise KeyboardInterrupt

    ledger, again = campaigns(folder)
    with ledger:
        cut = again.outcome(note)
    assert told == [40, 80]
    assert (len(cut.cells), cut.cached, cut.complete) == (2, 80, False)


def test_ctrl_c_after_the_last_cell_interrupts_nothing(folder: pathlib.Path) -> None:
    def note(done: int, asked: int) -> None:
        if done == asked:
            raise KeyboardInterrupt

    ledger, all_of_them = campaigns(folder)
    with ledger:
        found = all_of_them.outcome(note)
    assert (len(found.cells), found.complete) == (3, True)


def test_ctrl_c_before_other_kinds_are_tried_is_an_interruption(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first note of the campaigns that follow ends them."""
    monkeypatch.setattr(interrupts, "_requested", True)
    target = Target(0.1, each=True, joint=True)
    request = requested("filter.capacitor=47n", Stop(40, target=target))

    def watched(campaigns: Campaigns[CellT], word: str) -> SweepOutcome[CellT]:
        return SweepOutcome([], not (word != "searching" and interrupts.stop_requested()), 0, 0.0)

    assert not CandidateSearch(request, watched).find().complete
