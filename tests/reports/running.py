"""Runs the command line in a process of its own, and the scenario that these tests use."""

from __future__ import annotations

import os
import pathlib
import subprocess
import sys
from collections.abc import Mapping

from tests.reports.forked import SETTINGS, forked

ANSWER_WITHIN = 300
"""Seconds; far above what any of these needs, compiling included."""

KNOB = """
title = "Volume knob [bold]in brackets[/bold]"
seed = 7
runs = 300

[encoder]
detents = 20
cycles = 20

[contacts]
kind = "wiping"

[[hand]]
name = "single clicks"
gesture = "click"
clicks = 4

[[hand]]
gesture = "twist"
direction = "down"

[[hand]]
gesture = "creep"
crossings = 2

[[stage]]
name = "filter"
kind = "rc"
pull_up = "4k7"
series = "1k"
capacitor = "47 nF"

[[stage]]
kind = "schmitt input"
rising = "1.9 V"
falling = "1.2 V"

[counter]
kind = "step-direction"
clock = "A falling"
positions = 32
"""


def environment(changes: Mapping[str, str] | None = None) -> dict[str, str]:
    """The environment of these tests without what changes the output, and with ``changes``."""
    kept = {name: value for name, value in os.environ.items() if name not in SETTINGS}
    return {**kept, "PYTHONUTF8": "1", **(changes or {})}


def command(*arguments: str) -> list[str]:
    """The command line as a list."""
    return [sys.executable, "-m", "reports", *arguments]


def steptally(
    folder: pathlib.Path, *arguments: str, changes: Mapping[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    """Run the command in ``folder`` with both outputs captured; where nothing is to be changed in its
    environment, in a copy of a process that has loaded the program already.
    """
    if changes is None and sys.platform == "linux":
        return forked(folder, arguments, environment(), ANSWER_WITHIN)
    return subprocess.run(
        command(*arguments),
        cwd=folder,
        env=environment(changes),
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=ANSWER_WITHIN,
        check=False,
    )


def names(folder: pathlib.Path) -> list[str]:
    """What lies in a folder, hidden files included, sorted."""
    return sorted(entry.name for entry in folder.iterdir())
