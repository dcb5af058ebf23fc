"""Comparisons for the tests: short ones, and results made by hand."""

from __future__ import annotations

import copy
import functools
from typing import Any

from reports.compare_export import compare_export
from reports.compare_gallery import gallery
from reports.page.comparison import page
from scenarios.loading.comparison import load_compared
from simcore.campaigns.comparing import compare_designs
from tests.reports.pages import HOSTILE

Export = dict[str, Any]
KNOB = "panel-knob"
LARGER = "filter.capacitor=150 nF"
SMALLER = "filter.capacitor=47 nF, filter.series=2k2"
RUNS = 400


@functools.cache
def _made(names: tuple[str, ...], groups: tuple[str, ...], runs: int) -> Export:
    designs = load_compared(names, groups)
    found = compare_designs([each.scenario.design for each in designs], seed=1, runs=runs)
    words = [*names, *(word for group in groups for word in ("--with", group))]
    export = compare_export(designs, found, runs, words)
    export["gallery"] = gallery(designs, export)
    return export


def made(*groups: str, names: tuple[str, ...] = (KNOB,), runs: int = RUNS) -> Export:
    """What ``compare --html`` makes of a short comparison; a copy, so that a test may change it."""
    return copy.deepcopy(_made(names, groups, runs))


@functools.cache
def page_of(*groups: str) -> str:
    """Its page."""
    return page(made(*groups))


def with_hostile_strings(export: Export) -> Export:
    """The same with every text that a scenario or a user may choose replaced by one that holds markup."""
    hostile = copy.deepcopy(export)
    for key in ("title", "met", "command", "reference", "headline"):
        hostile[key] = HOSTILE
    for design in hostile["designs"]:
        design["name"] = design["title"] = HOSTILE
        design["scenario"]["title"] = HOSTILE
        for box in design["signal_path"]:
            box["name"] = box["kind"] = HOSTILE
            box["values"].append({"name": HOSTILE, "value": HOSTILE, "tolerance": HOSTILE, "differs": True})
    for row in hostile["differences"]:
        row["path"], row["values"] = HOSTILE, [HOSTILE] * len(row["values"])
    for each in hostile["comparisons"]:
        each["design"] = each["sentence"] = HOSTILE
        for gesture in each["by_gesture"]:
            gesture["name"] = HOSTILE
    for item in hostile["gallery"]["steps"]:
        item["gesture"], item["designs"] = HOSTILE, [HOSTILE] * 2
        item["tracks"][-1]["design"] = item["events"][0]["what"] = HOSTILE
        for side in item["sides"]:
            side["command"] = HOSTILE
    hostile["cautions"].insert(0, HOSTILE)
    return hostile


def rate(low: float, estimate: float, high: float) -> Export:
    """A rate or a difference per step, from values per thousand."""
    return {"low": low / 1e3, "estimate": estimate / 1e3, "high": high / 1e3, "level": 0.95, "method": ""}


def against(
    name: str, verdict: str, difference: Export, *, more_runs: int | None = None, parted: int = 1
) -> Export:
    """One design against the first, with what sentences need."""
    return {
        "design": name,
        "verdict": verdict,
        "difference": difference,
        "more_runs": more_runs,
        "partings": [{"steps": parted}] if parted else [],
        "runs_table": {
            "only_first_right": 30, "only_other_right": 12, "p_value": 0.0088, "p_value_among_all": 0.0176,
        },
    }  # fmt: skip


def by_hand(rates: dict[str, Export], *comparisons: Export, steps: int = 90_000) -> Export:
    """A comparison of designs with these rates of wrong steps, the first being the reference."""
    designs = [
        {"name": name, "wrong_rate": each, "wrong": round(each["estimate"] * steps), "spurious": 0}
        for name, each in rates.items()
    ]
    fewest = min(design["wrong"] for design in designs)
    return {
        "reference": next(iter(rates)),
        "steps": steps,
        "designs": designs,
        "comparisons": list(comparisons),
        "best": [design["name"] for design in designs if design["wrong"] == fewest],
    }
