"""The command line on a ledger, killed at any moment and begun again."""

from __future__ import annotations

import json
import pathlib
import random
import signal
import subprocess
import time
from typing import Any

from scenarios.ledger_cells import cells_of
from scenarios.ledgers import LedgerError, LedgerFile
from tests.reports.running import ANSWER_WITHIN, command, environment

TOOK = "seconds"
"""The key of the result that may differ."""


def started(folder: pathlib.Path, *arguments: str) -> subprocess.Popen[str]:
    """The command, at work, its result and its complaints to be read."""
    return subprocess.Popen(
        command(*arguments), cwd=folder, env=environment(),
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8",
    )  # fmt: skip


def result(process: subprocess.Popen[str]) -> dict[str, Any]:
    """What a process that wrote JSON to standard output came to, but for the time it took."""
    output, errors = process.communicate(timeout=ANSWER_WITHIN)
    assert process.returncode == 0, errors
    found: dict[str, Any] = json.loads(output)
    assert found.pop(TOOK) >= 0.0
    return found


def kept_runs(path: pathlib.Path) -> int:
    """Runs that a ledger keeps; 0 as long as there is none."""
    try:
        with LedgerFile(path, write=False) as ledger:
            return sum(cell.runs for cell in cells_of(ledger))
    except LedgerError as error:
        if "no such ledger" in str(error) or "is empty" in str(error):
            return 0
        raise


def killed_often(
    folder: pathlib.Path, arguments: tuple[str, ...], ledger: str, kills: int, seed: int
) -> list[int]:
    """Begin the command and kill it, so many times, at moments up to a while after it first kept
    something; how many runs the ledger had after each.
    """
    generator, kept = random.Random(seed), list[int]()
    path = folder / ledger
    while len(kept) < kills:
        process = started(folder, *arguments, "--ledger", ledger)
        before, began = kept_runs(path), time.monotonic()
        if generator.random() < 0.3:
            time.sleep(generator.uniform(0.0, 3.0))
        else:
            while kept_runs(path) == before and process.poll() is None:
                time.sleep(0.02)
            time.sleep(generator.uniform(0.0, 0.4))
        assert process.poll() is None, "it ended before it was killed; let it simulate more runs"
        assert time.monotonic() - began < ANSWER_WITHIN
        process.send_signal(signal.SIGKILL)
        process.communicate()
        kept.append(kept_runs(path))
        assert kept[-1] >= before
    return kept
