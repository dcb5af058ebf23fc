"""The command line on a ledger, killed at any moment and begun again."""

from __future__ import annotations

import json
import math
import pathlib
import random
import signal
import subprocess
import time
from typing import Any

from scenarios.ledger import LedgerError, LedgerFile, cells_of
from tests.reports.running import ANSWER_WITHIN, command, environment

TOOK = "seconds"
"""The key of the result that may differ."""
MORE = 2500
"""At most so many more runs are waited for before a kill."""


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
    """Begin the command and kill it, so many times: now and then wherever it is (that may be before it has
    kept, or even made, anything), mostly once it has kept some more runs; how many runs the ledger had after
    each.
    """
    generator, kept = random.Random(seed), list[int]()
    path = folder / ledger
    while len(kept) < kills:
        before = kept_runs(path)
        process = started(folder, *arguments, "--ledger", ledger)
        if generator.random() < 0.3:
            wanted, end = before + MORE, time.monotonic() + generator.uniform(0.0, 3.0)
        else:
            wanted, end = before + generator.randrange(MORE), math.inf
        while kept_runs(path) <= wanted and process.poll() is None and time.monotonic() < end:
            time.sleep(0.02)
        time.sleep(generator.uniform(0.0, 0.03))
        assert process.poll() is None, "it ended before it was killed; let it simulate more runs"
        process.send_signal(signal.SIGKILL)
        process.communicate()
        kept.append(kept_runs(path))
        assert kept[-1] >= before
    return kept
