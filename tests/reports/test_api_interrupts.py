"""Ctrl-C in a script that uses the Python interface: what was finished is kept, and nothing runs on."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from typing import Any

import pytest

from reports import api
from tests.reports.running import ANSWER_WITHIN, environment

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")

START = (
    "import json, os, signal, threading, time\n"
    "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
    "from reports import api\n"
    "def press():\n"
    "    os.kill(os.getpid(), signal.SIGINT)\n"
    "def idle():\n"
    "    end = time.monotonic() + 240\n"
    "    while any(each.name == 'campaign' for each in threading.enumerate()) and time.monotonic() < end:\n"
    "        time.sleep(0.05)\n"
    "    return time.monotonic() < end\n"
)
ONCE_STARTED = (
    "def pressing(done, asked):\n"
    "    if done > 0 and not pressed:\n"
    "        pressed.append(done)\n"
    "        press()\n"
    "pressed = []\n"
    "try:\n"
    "    api.run('panel-knob', runs=100_000_000, progress=pressing)\n"
    "except api.Interrupted as stop:\n"
    "    result = stop.result\n"
    "    ended_by = result.ended_by\n"
    "    print(json.dumps([result.runs, result.verdicts.export, dict(result.causes), ended_by, idle()]))\n"
)
WHILE_COMPILING = (
    "def pressing(done, asked):\n"
    "    if not pressed:\n"
    "        pressed.append(done)\n"
    "        press()\n"
    "pressed = []\n"
    "try:\n"
    "    api.run('panel-knob', runs=100_000_000, progress=pressing)\n"
    "except api.Interrupted as stop:\n"
    "    print(json.dumps([stop.result.runs, stop.result.wrong_rate.estimate]))\n"
    "print(json.dumps(api.check('panel-knob').passed))\n"
)
FAULT_OF_THE_CALLER = (
    "def failing(done, asked):\n"
    "    raise RuntimeError('of the caller')\n"
    "try:\n"
    "    api.run('panel-knob', runs=100_000_000, progress=failing)\n"
    "except RuntimeError as error:\n"
    "    print(json.dumps([str(error), idle()]))\n"
)


def told(code: str, **changes: str) -> list[Any]:
    """What a script prints, line by line; it must end well and say nothing else."""
    done = subprocess.run(
        [sys.executable, "-c", START + code], env=environment(changes), capture_output=True, text=True,
        timeout=ANSWER_WITHIN, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    return [json.loads(line) for line in done.stdout.splitlines()]


def test_the_exception_holds_the_runs_that_were_finished() -> None:
    ((runs, verdicts, causes, ended_by, idle),) = told(ONCE_STARTED)
    assert 0 < runs < 100_000_000
    assert (ended_by, idle) == ("interrupted", True)
    again = api.run("panel-knob", runs=runs)
    assert (again.verdicts.export, again.causes) == (verdicts, causes)


def test_while_compiling_there_is_nothing_yet_and_life_goes_on(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """What was given up ends by itself; a later call does not wake it."""
    cold = str(tmp_path_factory.mktemp("cold"))
    later = "print(json.dumps([api.run('panel-knob', runs=20).runs, idle()]))\n"
    assert told(WHILE_COMPILING + later, STEPTALLY_CACHE=cold) == [[0, None], False, [20, True]]


def test_a_fault_of_the_caller_leaves_nothing_running() -> None:
    assert told(FAULT_OF_THE_CALLER) == [["of the caller", True]]


SWEEPING = (
    "def pressing(done, asked):\n"
    "    if done >= 200 and not pressed:\n"
    "        pressed.append(done)\n"
    "        press()\n"
    "pressed = []\n"
    "try:\n"
    "    api.sweep('panel-knob', 'filter.capacitor=10n..1u:E24', runs=200, progress=pressing,\n"
    "              use_ledger=False, all_runs=True)\n"
    "except api.Interrupted as stop:\n"
    "    print(json.dumps([stop.result.complete, len(stop.result.table('cells')), idle()]))\n"
)


def test_a_sweep_keeps_its_finished_cells() -> None:
    ((complete, cells, idle),) = told(SWEEPING)
    assert (complete, idle) == (False, True)
    assert 0 < cells < 49


def test_it_is_a_keyboard_interrupt() -> None:
    """So that a script stops which expects none, and nothing that catches Exception goes on with half."""
    assert issubclass(api.Interrupted, KeyboardInterrupt)
    assert not issubclass(api.Interrupted, Exception)
