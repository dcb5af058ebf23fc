"""Exports made by hand or by a short campaign, for tests that start no process."""

from __future__ import annotations

import copy
import functools
from typing import Any

import numpy as np

from reports.exports import run_export
from scenarios.loading.load import Scenario, load_scenario
from simcore.campaigns.campaign import run_campaign
from simcore.campaigns.course import Outcome

Export = dict[str, Any]


@functools.cache
def sample(path: str, runs: int, *sets: str) -> tuple[Scenario, Outcome]:
    """A scenario file and the outcome of some of its runs."""
    scenario = load_scenario(path, sets)
    return scenario, run_campaign(scenario.design, seed=scenario.seed, runs=runs)


def export_of(path: str, runs: int, *sets: str) -> Export:
    """The export of a short campaign; a copy, so that a test may change it."""
    scenario, outcome = sample(path, runs, *sets)
    return copy.deepcopy(run_export(scenario, outcome, runs))


def enlarged(export: Export, factor: int) -> Export:
    """The same export with every count times ``factor``, to try wide tables."""

    def grow(value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            return {name: grow(each, name) for name, each in value.items()}
        if isinstance(value, list):
            return [grow(each, key) for each in value]
        kept = isinstance(value, (bool, str, float)) or value is None or key in ("seed", "first_run")
        return value if kept else int(np.int64(value) * factor)

    grown = {key: grow(value, key) for key, value in export.items() if key not in ("scenario", "versions")}
    return {**export, **grown}
