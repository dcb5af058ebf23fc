"""Comparisons for the tests: short ones, and results made by hand."""

from __future__ import annotations

import functools
import json
from typing import Any

from reports.documents.compare_words import comparison_sentence, headline
from reports.results.common import Rate
from reports.results.compare import (
    ComparisonResult,
    DesignResult,
    DivergentSteps,
    PairedComparison,
    PairedRuns,
    PairedSpurious,
)
from scenarios.loading.comparison import load_compared
from simcore.campaigns.campaign import run_designs
from simcore.campaigns.options import RunOptions
from simcore.statistics.stopping import Stop
from tests.reports.page_reading import HOSTILE

KNOB = "panel-knob"
LARGER = "filter.capacitor=150 nF"
SMALLER = "filter.capacitor=47 nF, filter.series=2k2"
RUNS = 400


@functools.cache
def made(*groups: str, names: tuple[str, ...] = (KNOB,), runs: int = RUNS) -> ComparisonResult:
    """What ``compare --html`` makes of a short comparison."""
    designs = load_compared(names, groups)
    found = run_designs([each.scenario.design for each in designs], RunOptions(1, Stop(runs)))
    words = [*names, *(word for group in groups for word in ("--with", group))]
    return ComparisonResult.of(designs, found, words).with_gallery()


def with_hostile_strings(result: ComparisonResult) -> ComparisonResult:
    """The same with every text that a scenario or a user may choose replaced by one that holds markup."""
    hostile = json.loads(result.json())
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
    return ComparisonResult.model_validate(hostile)


def rate(low: float, estimate: float, high: float) -> Rate:
    """A rate or a difference per step, from values per thousand."""
    return Rate(low=low / 1e3, estimate=estimate / 1e3, high=high / 1e3, level=0.95, method="")


def against(
    name: str, verdict: str, difference: Rate, *, more_runs: int | None = None, diverged: int = 1,
    spurious: Rate | None = None,
) -> PairedComparison:  # fmt: skip
    """One design compared with the first, with what sentences need."""
    return PairedComparison.model_construct(
        design=name,
        verdict=verdict,
        difference=difference,
        more_runs=more_runs,
        partings=(DivergentSteps.model_construct(steps=diverged),) if diverged else (),
        runs_table=PairedRuns.model_construct(
            only_first_right=30, only_other_right=12, p_value=0.0088, p_value_among_all=0.0176
        ),
        spurious=PairedSpurious.model_construct(difference=spurious),
    )


def design(name: str, wrong_rate: Rate, spurious: int = 0) -> DesignResult:
    """A design with what sentences need."""
    return DesignResult.model_construct(name=name, wrong_rate=wrong_rate, spurious=spurious)


def told(rates: dict[str, Rate], *comparisons: PairedComparison, steps: int = 90_000) -> str:
    """The headline of a comparison of designs with these rates of wrong steps, the first the reference."""
    designs = [design(name, each) for name, each in rates.items()]
    fewest = min(each.estimate or 0.0 for each in rates.values())
    best = [name for name, each in rates.items() if (each.estimate or 0.0) == fewest and steps]
    sentences: list[Any] = [
        each.model_copy(
            update={"sentence": comparison_sentence(designs[0], other, each, steps, len(comparisons))}
        )
        for other, each in zip(designs[1:], comparisons, strict=True)
    ]
    return headline(designs, sentences, best)
