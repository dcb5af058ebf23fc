"""The twenty lines that DEVELOPERS.md shows for a new stage do work in both engines."""

from __future__ import annotations

import pathlib
import re
from typing import Any

import numpy as np

from simcore.components import stage_begins, stage_takes_edge, stage_wakes
from simcore.edges import Edges, edges_of_runs, empty_edges
from simcore.stages.base import drive_stage
from simcore.ticks import NEVER

PAGE = pathlib.Path(__file__).parents[2] / "DEVELOPERS.md"
HEADER = """
from typing import NamedTuple
from simcore.compiling import member
from simcore.stages.base import *
from simcore.ticks import NEVER, ticks
"""


def load_example(tmp_path: pathlib.Path, monkeypatch: Any) -> Any:
    """Import the page's example as a module of its own."""
    found = re.search(r"## Add a stage.*?```python\n(.*?)```", PAGE.read_text(), re.DOTALL)
    assert found
    (tmp_path / "quiet_example.py").write_text(HEADER + found.group(1))
    monkeypatch.syspath_prepend(str(tmp_path))
    import importlib

    return importlib.import_module("quiet_example")


def by_events(spec: Any, times: list[int]) -> list[int]:
    """Output ticks, scheduled by hand the way the event engine does it."""
    params, state, shown, wake = stage_begins(spec, 1, 0, 0, 0)
    out = []
    for level, time in zip([1, 0] * len(times), [*times, NEVER], strict=False):
        while wake < time:
            at = wake
            state, seen, wake = stage_wakes(params, state, at)
            if seen != shown:
                out.append(at)
                shown = seen
        if time != NEVER:
            state, _, wake = stage_takes_edge(params, state, time, level)
    return out


def test_the_example_runs_in_both_engines(tmp_path: pathlib.Path, monkeypatch: Any) -> None:
    quiet = load_example(tmp_path, monkeypatch).Quiet(5e-12)
    times = [10, 12, 14, 30, 33, 38, 50, 60]
    source: Edges = edges_of_runs([(0, times, [0] * len(times))])
    out = empty_edges(64, 1)
    assert drive_stage(quiet, 1, 0, 0, source, out) == 1
    # It follows 5 ticks after the last change of each burst; 14 + 5, 38 is a tie that an input
    # edge wins over the wake-up at 33 + 5, and so on.
    expected = [19, 43, 55, 65]
    assert list(out.times[: out.offsets[1]]) == expected
    assert by_events(quiet, times) == expected
    assert np.all(out.first == 0)
