"""Results of short campaigns, and what the renderers make of them, for tests that start no process."""

from __future__ import annotations

import functools
import json
from collections.abc import Mapping
from typing import Any

import numpy as np

from reports import api
from reports.documents.document import Document
from reports.output import layout
from reports.render import terminal
from reports.results.common import Rate
from reports.results.run import RunResult
from tests.reports.page_reading import HOSTILE
from tests.reports.running import KNOB

PANEL = "panel-knob"
NO_DATA = {"estimate": None, "low": None, "high": None, "level": 0.95, "method": "no data"}


@functools.cache
def ran(scenario: str = KNOB, runs: int = 200, *sets: str) -> RunResult:
    """What ``run`` gives for the tests' scenario, or for another."""
    return api.run(scenario, runs=runs, sets=sets)


@functools.cache
def paged(scenario: str = PANEL, runs: int = 400, *sets: str) -> RunResult:
    """What ``run --html`` gives."""
    return ran(scenario, runs, *sets).with_gallery()


def changed(result: RunResult, **keys: Any) -> RunResult:
    """The same result with other values of some keys of its JSON."""
    return RunResult.model_validate({**json.loads(result.json()), **keys})


def enlarged(result: RunResult, factor: int) -> RunResult:
    """The same result with every count times ``factor``, to try wide tables."""

    def grow(value: Any, key: str = "") -> Any:
        if isinstance(value, Mapping):
            return {name: grow(each, name) for name, each in value.items()}
        if isinstance(value, list):
            return [grow(each, key) for each in value]
        same = isinstance(value, (bool, str, float)) or value is None or key in ("seed", "first_run")
        return value if same else int(np.int64(value) * factor)

    told = json.loads(result.json())
    kept = ("scenario", "versions", "driven", "margins", "checks")
    grown = {key: grow(value, key) for key, value in told.items() if key not in kept}
    return changed(result, **grown)


def with_hostile_strings(result: RunResult) -> RunResult:
    """The same with every text that a scenario may choose replaced by one that holds markup."""
    hostile = json.loads(result.json())
    for key in ("title", "name", "simulated", "command"):
        hostile[key] = HOSTILE
    for group in hostile["by_gesture"]:
        group["name"] = HOSTILE
    for box in hostile["signal_path"]:
        box["name"] = box["kind"] = HOSTILE
        box["values"].append({"name": HOSTILE, "value": HOSTILE, "tolerance": HOSTILE})
    for item in hostile["gallery"]["steps"]:
        item["gesture"] = item["command"] = item["tracks"][0]["name"] = HOSTILE
        item["tracks"][0]["sort"] = "count"
    hostile["cautions"].insert(0, HOSTILE)
    hostile["scenario"]["title"] = HOSTILE
    if hostile["target"]:
        hostile["target"]["text"] = HOSTILE
    return RunResult.model_validate(hostile)


def rate(low: float, estimate: float, high: float) -> Rate:
    """A rate as a share of one."""
    return Rate(low=low, estimate=estimate, high=high, level=0.95, method="by hand")


def drawn(document: Document, width: int = 160, *, encoding: str = "utf-8", brief: bool = False) -> str:
    """A document in a terminal of a width, without colour."""
    return terminal.text(document, layout(width, encoding), brief=brief)


def text_of(result: RunResult, width: int = 160) -> str:
    """The report of a run in such a terminal."""
    return drawn(result.document(), width)
