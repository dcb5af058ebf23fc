"""Ctrl-C at any time: exit code 130, no traceback, and what was finished is reported."""

from __future__ import annotations

import json
import os
import pathlib
import signal
import subprocess
import sys
from typing import Any

import jsonschema
import pytest

from reports.cli import main
from reports.results import schema_of
from tests.reports.running import ANSWER_WITHIN, environment, names, steptally

ENDLESS = "100000000"
COUNTS = ("steps", "verdicts", "causes", "final_errors", "wrong_rate", "by_gesture", "by_spacing")

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")


HEED = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
"""Ctrl-C as a terminal would have it, even if these tests run in the background, where it is ignored."""
HERE = "import runpy; runpy.run_module('reports', run_name='__main__', alter_sys=True)\n"


def started(
    folder: pathlib.Path, *arguments: str, changes: dict[str, str] | None = None, **streams: Any
) -> subprocess.Popen[str]:
    piped = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **streams}
    return subprocess.Popen(
        [sys.executable, "-c", HEED + HERE, *arguments],
        cwd=folder, env=environment(changes), text=True, encoding="utf-8", **piped,
    )  # fmt: skip


def interrupted(process: subprocess.Popen[str], awaited: str) -> tuple[str, str]:
    """Send Ctrl-C once standard error has shown ``awaited``; returns both outputs."""
    assert process.stderr is not None
    seen = ""
    for line in process.stderr:
        seen += line
        if awaited in line:
            break
    process.send_signal(signal.SIGINT)
    output, errors = process.communicate(timeout=ANSWER_WITHIN)
    return output, seen + errors


def test_what_was_finished_is_reported_and_is_that_of_the_first_so_many_runs(folder: pathlib.Path) -> None:
    process = started(folder, "run", "knob.toml", "--runs", ENDLESS, "--json", "out.json")
    output, errors = interrupted(process, "runs done")
    assert process.returncode == 130
    assert "Traceback" not in errors
    assert "ended by: interrupted" in " ".join(output.split())
    cut = json.loads((folder / "out.json").read_text(encoding="utf-8"))
    jsonschema.validate(cut, schema_of("run"))
    assert cut["ended_by"] == "interrupted"
    assert 0 < cut["runs"] < cut["runs_asked"] == int(ENDLESS)
    assert names(folder) == ["knob.toml", "out.json"]
    again = json.loads(
        steptally(folder, "run", "knob.toml", "--runs", str(cut["runs"]), "--json", "-").stdout
    )
    assert {key: cut[key] for key in COUNTS} == {key: again[key] for key in COUNTS}


def test_ctrl_c_while_compiling(folder: pathlib.Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    cold = {"STEPTALLY_CACHE": str(tmp_path_factory.mktemp("cold"))}
    process = started(folder, "run", "knob.toml", "--runs", ENDLESS, "--json", "-", changes=cold)
    output, errors = interrupted(process, "compiling")
    assert process.returncode == 130
    assert "Traceback" not in errors
    cut = json.loads(output)
    jsonschema.validate(cut, schema_of("run"))
    assert cut["runs"] == 0


def test_ctrl_c_while_loading(folder: pathlib.Path) -> None:
    code = (
        "import os, signal, sys, time, scenarios.loading.load\n"
        "def slow(*_):\n"
        "    os.kill(os.getpid(), signal.SIGINT)\n"
        "    time.sleep(60)\n"
        "scenarios.loading.load.load_source = slow\n"
        "from reports.cli import main\n"
        "sys.exit(main(['run', 'knob.toml']))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", HEED + code], cwd=folder, env=environment(), capture_output=True, text=True,
        timeout=ANSWER_WITHIN, check=False,
    )  # fmt: skip
    assert done.returncode == 130
    assert done.stdout == ""
    assert done.stderr.strip() == "Interrupted."


def test_a_second_ctrl_c_ends_it_at_once(folder: pathlib.Path) -> None:
    code = (
        "import os, signal, sys, time\n"
        "from reports import interrupts\n"
        "interrupts.install()\n"
        "with interrupts.at_stake():\n"
        "    os.kill(os.getpid(), signal.SIGINT)\n"
        "    time.sleep(0)\n"
        "    print('still here, requested:', interrupts.stop_requested(), flush=True)\n"
        "    os.kill(os.getpid(), signal.SIGINT)\n"
        "    time.sleep(60)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", HEED + code], cwd=folder, env=environment(), capture_output=True, text=True,
        timeout=ANSWER_WITHIN, check=False,
    )  # fmt: skip
    assert done.returncode == 130
    assert done.stdout == "still here, requested: True\n"


def test_ctrl_c_while_a_file_is_written_leaves_it_whole_and_no_neighbour(tmp_path: pathlib.Path) -> None:
    code = (
        "import os, signal, time\n"
        "from reports import interrupts, output\n"
        "interrupts.install()\n"
        "def press(number):\n"
        "    os.kill(os.getpid(), signal.SIGINT)\n"
        "    time.sleep(0)\n"
        "os.fsync = press\n"
        "output.write_file('out.json', 'whole')\n"
        "print('not reached', flush=True)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", HEED + code], cwd=tmp_path, env=environment(), capture_output=True, text=True,
        timeout=ANSWER_WITHIN, check=False,
    )  # fmt: skip
    assert done.returncode == 130
    assert (done.stdout, done.stderr.strip()) == ("", "Interrupted.")
    assert names(tmp_path) == ["out.json"]
    assert (tmp_path / "out.json").read_text() == "whole"


def test_a_keyboard_interrupt_from_elsewhere_is_code_130(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def press(*_: object) -> None:
        raise KeyboardInterrupt

    left: list[int] = []
    monkeypatch.setattr("scenarios.loading.sources.find_source", press)
    monkeypatch.setattr("reports.interrupts.install", lambda: None)
    monkeypatch.setattr("reports.interrupts.leave", left.append)
    assert main(["run", "knob.toml"]) == 130
    assert left == [130]
    assert "Interrupted." in capsys.readouterr().err


def test_a_terminal_gets_a_bar_with_the_time_left_and_the_report_stays_clean(folder: pathlib.Path) -> None:
    import pty

    mine, theirs = pty.openpty()
    process = started(folder, "run", "knob.toml", "--runs", ENDLESS, stderr=theirs, changes={"TERM": "xterm"})
    os.close(theirs)
    seen = ""
    while "time left" not in seen:
        seen += os.read(mine, 4096).decode(errors="replace")
    process.send_signal(signal.SIGINT)
    output, _ = process.communicate(timeout=ANSWER_WITHIN)
    os.close(mine)
    assert process.returncode == 130
    assert "\x1b" not in output
    assert f"of {int(ENDLESS):,} runs" in seen
