"""How pieces of results are made from what was computed: rates, checks, versions."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from reports.results.common import (
    CheckNumber,
    DesignCheck,
    GestureTally,
    Rate,
    SuggestedChange,
    VerdictCounts,
    Versions,
)

if TYPE_CHECKING:
    from scenarios.loading.load import Scenario
    from simcore.base.check import Change, Check
    from simcore.campaigns.campaign import Outcome
    from simcore.statistics.exact import Interval


def rate(interval: Interval, scale: float = 1.0) -> Rate:
    """An interval, times ``scale``, with None where there is no data."""

    def number(value: float) -> float | None:
        return value * scale if math.isfinite(value * scale) else None

    return Rate(
        estimate=number(interval.estimate),
        low=number(interval.low),
        high=number(interval.high),
        level=interval.level,
        method=interval.method,
    )


def step_rate(outcome: Outcome, quantity: str, group: int = 0, design: int = 0) -> Rate:
    """The rate of one of `simcore.judging.sums.QUANTITIES` over steps, free of the bias of an ending by
    errors; ``design`` numbers those of a comparison.
    """
    from simcore.judging.sums import QUANTITIES
    from simcore.statistics.estimates import rate_interval

    interval = rate_interval(outcome.tallies[design].cluster(quantity, group))
    if outcome.all_rates is None:
        return rate(interval)
    return rate(without_bias(interval, float(outcome.all_rates[design, group, QUANTITIES.index(quantity)])))


def without_bias(interval: Interval, estimate: float) -> Interval:
    """The interval with another estimate, if there is one, which is kept within it."""
    if not math.isfinite(estimate):
        return interval
    return replace(interval, estimate=min(max(estimate, interval.low), interval.high))


def group_tally(outcome: Outcome, group: int) -> dict[str, Any]:
    """The fields of a group of steps: counts by verdict and the rate of wrong ones."""
    tally = outcome.tally
    return {
        "steps": tally.group_steps(group),
        "verdicts": VerdictCounts(**tally.group_verdicts(group)),
        "wrong": tally.cluster("wrong", group).y,
        "wrong_rate": step_rate(outcome, "wrong", group),
    }


def gesture_tallies(outcome: Outcome) -> tuple[GestureTally, ...]:
    return tuple(
        GestureTally(
            name=entry.name, kind=entry.kind, **group_tally(outcome, outcome.tally.gesture_group(number))
        )
        for number, entry in enumerate(outcome.design.hand)
    )


def design_checks(scenario: Scenario, *, suggest: bool = True) -> tuple[DesignCheck, ...]:
    """All checks of a scenario; ``suggest`` looks for values that would pass."""
    from scenarios.checks import check_scenario

    return tuple(map(_check, check_scenario(scenario, suggest)))


def _check(check: Check) -> DesignCheck:
    """One check; what is infinite is None, and its ``why`` tells."""
    return DesignCheck.model_construct(
        name=check.name,
        subject=check.subject,
        verdict=check.verdict,
        rule=check.rule,
        formula=check.formula,
        numbers=tuple(CheckNumber(name=n.name, value=_finite(n.value), unit=n.unit) for n in check.numbers),
        corner=check.corner,
        result=_finite(check.result),
        relation=check.relation,
        limit=_finite(check.limit),
        unit=check.unit,
        source=check.source,
        why=check.why,
        advice=check.advice if check.matters else "",
        change=None if check.change is None else suggested_change(check.change),
    )


def _finite(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def suggested_change(change: Change) -> SuggestedChange:
    """A suggested value, with what ``--set`` would take."""
    from reports.words.quantities import quantity

    text = quantity(change.value, change.unit)
    sets = (f"{change.stage}.kind={change.kind}",) if change.kind else ()
    return SuggestedChange(
        stage=change.stage,
        key=change.key,
        value=change.value,
        unit=change.unit,
        text=text,
        series=f"E{change.series}",
        result=change.result,
        costs=change.costs,
        sets=(*sets, f"{change.stage}.{change.key}={text}"),
    )


def versions() -> Versions:
    """Versions of the program, the model and the libraries that compute, and processor features.

    The features matter because an exponential may differ in its last bit between processors.
    """
    import platform
    from importlib.metadata import version

    import simcore

    return Versions(
        steptally=version("steptally"),
        model=simcore.MODEL_VERSION,
        python=platform.python_version(),
        numpy=version("numpy"),
        numba=version("numba"),
        scipy=version("scipy"),
        machine=platform.machine(),
        processor_features=_processor_features(),
    )


def _processor_features() -> tuple[str, ...]:
    """The vector extensions that numpy found, none when it does not say."""
    import numpy as np

    try:
        shown: Any = np.show_config(mode="dicts")
        extensions = shown["SIMD Extensions"]
        return tuple(sorted({*extensions.get("baseline", []), *extensions.get("found", [])}))
    except (KeyError, TypeError):
        return ()
