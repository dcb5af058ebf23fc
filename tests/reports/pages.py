"""Pages of short campaigns, and exports that try a page's limits."""

from __future__ import annotations

import copy
import functools
from typing import Any

from reports.exports import run_export
from reports.page.document import page

from reports.commands import NamedScenario
from reports.results.gallery import StepGallery
from tests.reports.samples import sample

Export = dict[str, Any]
HOSTILE = '<script>alert(1)</script></script><!-- & "quotes" \''


@functools.cache
def _shown(path: str, runs: int, sets: tuple[str, ...]) -> Export:
    scenario, outcome = sample(path, runs, *sets)
    named = NamedScenario(path, sets)
    export = run_export(scenario, outcome, runs, named, suggest=True)
    found = StepGallery.of(scenario.design, outcome.tally, outcome.seed, outcome.first_run, named)
    export["gallery"] = found.export
    return export


def shown(path: str, runs: int, *sets: str) -> Export:
    """The export that ``run --html`` makes; a copy, so that a test may change it."""
    return copy.deepcopy(_shown(path, runs, sets))


@functools.cache
def page_of(path: str, runs: int, *sets: str) -> str:
    """Its page."""
    return page(_shown(path, runs, sets))


def with_hostile_strings(export: Export) -> Export:
    """The same with every text that a scenario may choose replaced by one that holds markup."""
    hostile = copy.deepcopy(export)
    for key in ("title", "name", "simulated", "command"):
        hostile[key] = HOSTILE
    for group in hostile["by_gesture"]:
        group["name"] = HOSTILE
    for box in hostile["signal_path"]:
        box["name"] = box["kind"] = HOSTILE
        box["values"].append({"name": HOSTILE, "value": HOSTILE, "tolerance": HOSTILE})
    for item in hostile["gallery"]["steps"]:
        item["gesture"] = item["command"] = HOSTILE
    hostile["cautions"].insert(0, HOSTILE)
    hostile["scenario"]["title"] = HOSTILE
    if hostile["target"]:
        hostile["target"]["text"] = HOSTILE
    return hostile
