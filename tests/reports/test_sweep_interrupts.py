"""Ctrl-C in the middle of a sweep: the finished cells are reported, and are those of the whole sweep."""

from __future__ import annotations

import json
import os
import pathlib
import re
import signal
import subprocess

import jsonschema
import pytest

from reports import interrupts
from reports.choosing import Choice
from reports.exact_command import Asked
from reports.sweeping import Campaigns, Request, Swept
from scenarios.ledger import LedgerFile
from scenarios.loading.sweeps import load_sweep
from simcore.statistics.stopping import Stop, Target
from tests.reports.running import ANSWER_WITHIN, names, steptally
from tests.reports.test_exports import schema
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
    cut = json.loads((folder / "out.json").read_text(encoding="utf-8"))
    jsonschema.validate(cut, schema("sweep.schema.json"))
    assert not cut["complete"]
    assert 0 < len(cut["cells"]) < cut["cells_asked"] == 300
    assert all(cell["runs"] == 400 for cell in cut["cells"])
    values = ", ".join(cell["values"]["filter.capacitor"] for cell in cut["cells"])
    again = steptally(
        folder, "sweep", "knob.toml", "--vary", f"filter.capacitor={values}", *LONG[4:], "--json", "-",
        "--ledger", "own.sqlite",
    )  # fmt: skip
    assert again.stderr.splitlines()[-1].startswith(f"{400 * len(cut['cells']):,} of ")
    told = json.loads(again.stdout)["cells"]
    assert [dict(cell, number=0) for cell in told] == [dict(cell, number=0) for cell in cut["cells"]]
    assert {"knob.toml", "out.json", "own.sqlite"} <= {*names(folder)}


def test_ctrl_c_before_the_first_cell(folder: pathlib.Path) -> None:
    process = started(folder, *LONG[:4], "--runs", "100000000", "--all-runs", "--no-ledger", "--json", "-")
    output, errors = interrupted(process, 0)
    assert process.returncode == 130
    assert "Traceback" not in errors
    cut = json.loads(output)
    jsonschema.validate(cut, schema("sweep.schema.json"))
    assert (cut["cells"], cut["window"]) == ([], [])


def campaigns(place: pathlib.Path) -> tuple[LedgerFile, Campaigns]:
    """Three cells of 40 runs, and their ledger."""
    ledger = LedgerFile(place / "own.sqlite")
    cells = load_sweep("panel-knob", ["filter.capacitor=47n, 68n, 100n"])
    return ledger, Campaigns(Request(cells, 1, Stop(40), None, 1, Asked("panel-knob"), ledger))


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
    assert (len(cut.cells), cut.kept, cut.complete) == (2, 80, False)


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
    monkeypatch.setattr(interrupts, "_wished", True)
    cells = load_sweep("panel-knob", ["filter.capacitor=47n"])
    request = Request(cells, 1, Stop(40), 0.1, 1, Asked("panel-knob"))

    def watched(campaigns: Campaigns, word: str) -> Swept:
        return Swept([], not (word != "searching" and interrupts.wished()), 0, 0.0)

    assert not Choice(request, Target(0.1, each=True, joint=True), watched).find().complete
