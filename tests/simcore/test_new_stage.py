"""The new stage that DEVELOPERS.md shows works in both engines."""

from __future__ import annotations

import os
import pathlib
import re
import subprocess
import sys

PAGE = pathlib.Path(__file__).parents[2] / "DEVELOPERS.md"
HEADER = """
from typing import NamedTuple
from simcore.base.description import *
from simcore.base.compiling import member
from simcore.stages.base import *
from simcore.base.ticks import NEVER, ticks
"""
TRIAL = """
import sys
import types
import numpy as np
from quiet_example import QUIET
from simcore.engines.events import stage_begins, stage_takes_edge, stage_wakes
from simcore.base.records import edges_of_runs, empty_edges
from simcore.stages.base import drive_stage
from simcore.base.ticks import NEVER

spec, times = QUIET.build(types.SimpleNamespace(time=5e-12)), [10, 12, 14, 30, 33, 38, 50, 60]
out = empty_edges(64, 1)
assert drive_stage(spec, 1, 0, 0, edges_of_runs([(0, times, [0] * 8)]), np.array([60]), out) == 1
print(*out.times[: out.offsets[1]])

params, state, shown, wake = stage_begins(spec, 1, 0, 0, 0)
scheduled = []
for number, time in enumerate([*times, NEVER]):
    while wake < time:
        at = wake
        state, seen, wake, _ = stage_wakes(params, state, at, 0)
        if seen != shown:
            scheduled.append(at)
            shown = seen
    if time != NEVER:
        state, _, wake, _ = stage_takes_edge(params, state, time, (number + 1) % 2, 0)
print(*scheduled)
"""


def test_the_example_runs_in_both_engines(tmp_path: pathlib.Path) -> None:
    section = PAGE.read_text().partition("## Recipe 1")[2].partition("\n### ")[0]
    found = re.findall(r"```python\n(.*?)```", section, re.DOTALL)
    assert len(found) == 2
    (tmp_path / "quiet_example.py").write_text(HEADER + "\n".join(found))
    (tmp_path / "trial.py").write_text(TRIAL)
    # A process and a cache of its own: compiled code that knows this module must not outlive it.
    paths = os.pathsep.join([str(tmp_path), str(PAGE.parent)])
    environment = os.environ | {"STEPTALLY_CACHE": str(tmp_path / "cache"), "PYTHONPATH": paths}
    command = [sys.executable, str(tmp_path / "trial.py")]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    # It follows 5 ticks after the last change of each burst.  At 38 the input edge wins the tie
    # with the wake-up at 33 + 5, so the level is back before the output follows.
    assert done.stdout.split("\n")[:2] == ["19 43 55 65"] * 2
