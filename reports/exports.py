"""The object that ``--json`` writes; the tables in the terminal are drawn from it as well.

Its keys are described, one by one, in ``schemas/run.schema.json``.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from reports.checks_export import checks_of
from reports.exact_command import Asked, exact_command
from reports.margins import margins_export
from reports.numbers import Rate
from reports.sentences import ASSUMPTIONS, PLAIN, WITHOUT_LAST, cause_sentence, cautions
from reports.signal_path import signal_path
from reports.stop_options import stop_words
from reports.summary import simulated
from reports.versions import versions

if TYPE_CHECKING:
    from scenarios.loading.load import Scenario
    from simcore.campaigns.course import Outcome
    from simcore.statistics.exact import Interval
    from simcore.statistics.stopping import Stop

Export = dict[str, Any]


def as_json(export: Export) -> str:
    """The text of an export.  Raises ValueError if a NaN or an infinity has slipped in."""
    return json.dumps(export, indent=2, allow_nan=False) + "\n"


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


def step_rate(outcome: Outcome, quantity: str, group: int = 0) -> Rate:
    """The rate of a verdict, or of "wrong", among the steps of a group; where the campaign's ending would
    bend it, the one without that, kept within the interval.
    """
    from simcore.judging.sums import QUANTITIES
    from simcore.statistics.estimates import rate_interval

    interval = rate_interval(outcome.tally.cluster(quantity, group))
    if outcome.rates is not None:
        unbent = float(outcome.rates[group, QUANTITIES.index(quantity)])
        if math.isfinite(unbent):
            interval = replace(interval, estimate=min(max(unbent, interval.low), interval.high))
    return rate(interval)


def run_export(
    scenario: Scenario,
    outcome: Outcome,
    asked: int,
    named: Asked | None = None,
    stop: Stop | None = None,
    *,
    suggest: bool = False,
) -> Export:
    """Everything that is known about a finished or interrupted run of ``asked`` runs.

    ``named`` is how the command line named the scenario, by default its source, as it stands; ``stop`` are
    the rules that it ran under, by default the scenario's.  ``suggest`` looks for values with which failing
    checks would pass.
    """
    tally = outcome.tally
    named = named or Asked(scenario.source)
    stop = stop or replace(scenario.stop, runs=asked)
    return {
        "name": scenario.name,
        "title": scenario.title,
        "simulated": simulated(scenario, outcome),
        "command": _command(scenario, outcome, named, stop),
        "signal_path": signal_path(scenario),
        "scenario": scenario.resolved,
        "seed": outcome.seed,
        "first_run": outcome.first_run,
        "runs": tally.runs,
        "runs_asked": asked,
        "engine": outcome.engine,
        "stop": {"errors": stop.errors, "precision": stop.precision, "seconds": stop.seconds},
        "ended_by": outcome.ended_by,
        "seconds": outcome.seconds,
        "estimate_method": PLAIN if outcome.rates is None else WITHOUT_LAST,
        **_overall(outcome),
        "driven": _driven(outcome),
        "by_gesture": _by_gesture(outcome),
        "by_spacing": _by_spacing(outcome),
        "excursions": list(tally.excursions),
        "cut_bursts": tally.cut,
        "margins": margins_export(outcome),
        "target": _target(scenario, outcome),
        "assumptions": list(ASSUMPTIONS),
        "cautions": cautions(scenario.cautions),
        "checks": checks_of(scenario, suggest=suggest),
        "gallery": None,
        "versions": versions(),
    }


def _command(scenario: Scenario, outcome: Outcome, named: Asked, stop: Stop) -> str:
    from simcore.statistics.stopping import INTERRUPTED, TIME_UP

    cut = outcome.ended_by in (INTERRUPTED, TIME_UP)
    runs = max(outcome.tally.runs, 1) if cut else stop.runs
    words = stop_words(scenario.stop, stop, by_runs=cut)
    return exact_command(named, runs, outcome.seed, outcome.first_run, words)


def _overall(outcome: Outcome) -> Export:
    from simcore.statistics.estimates import count_interval, share_interval

    tally = outcome.tally
    # Until spurious counts are seen, as many may come together as a run has steps.
    per_run_steps = tally.steps / tally.runs if tally.runs else math.nan
    squared = int(tally.sums.spurious[1])
    per_run = count_interval(tally.spurious, squared, tally.runs, alike=per_run_steps)
    per_step = 1.0 / per_run_steps if tally.steps else math.nan
    return {
        "steps": tally.steps,
        "verdicts": tally.verdicts,
        "verdict_rates": {name: step_rate(outcome, name) for name in tally.verdicts},
        "wrong": tally.wrong,
        "wrong_rate": step_rate(outcome, "wrong"),
        "spurious": tally.spurious,
        "spurious_rate": rate(per_run, per_step),
        "spurious_origins": tally.strays,
        "exact_runs": tally.exact_runs,
        "exact_share": rate(share_interval(tally.exact_runs, tally.runs)),
        "final_errors": {str(error): tally.errors[error] for error in sorted(tally.errors)},
        "causes": tally.causes,
        "cause_sentences": {cause: cause_sentence(cause) for cause in tally.causes},
    }


def _driven(outcome: Outcome) -> Export | None:
    """What one count, and the worst final error, are in ohm."""
    from simcore.counters.driven import counts_in_ohms

    driven, positions = outcome.design.driven, outcome.design.range.positions
    if driven is None:
        return None
    worst = max((abs(error) for error in outcome.tally.errors), default=None)
    ohms = None if worst is None else counts_in_ohms(driven, positions, worst)._asdict()
    return {
        "end_to_end": driven.end_to_end.nominal,
        "wiper": driven.wiper.nominal,
        "one_count": counts_in_ohms(driven, positions, 1)._asdict(),
        "worst_error": None if ohms is None else {"counts": worst, **ohms},
    }


def _group(outcome: Outcome, group: int) -> Export:
    tally = outcome.tally
    return {
        "steps": tally.group_steps(group),
        "verdicts": tally.group_verdicts(group),
        "wrong": tally.cluster("wrong", group).y,
        "wrong_rate": step_rate(outcome, "wrong", group),
    }


def _by_gesture(outcome: Outcome) -> list[Export]:
    tally = outcome.tally
    return [
        {"name": entry.name, "kind": entry.kind, **_group(outcome, tally.gesture_group(number))}
        for number, entry in enumerate(outcome.design.hand)
    ]


def _by_spacing(outcome: Outcome) -> list[Export]:
    from simcore.judging.sums import SPACING_MS

    tally, geometry = outcome.tally, outcome.design.geometry
    edges_per_turn = 4.0 * geometry.cycles_per_step * geometry.steps_per_turn
    lows = (0.0, *SPACING_MS)
    highs = (*SPACING_MS, None)
    return [
        {
            "low_ms": low,
            "high_ms": high,
            "slowest_rpm": 60_000.0 / (high * edges_per_turn) if high else 0.0,
            "fastest_rpm": 60_000.0 / (low * edges_per_turn) if low else None,
            **_group(outcome, tally.spacing_group(number)),
        }
        for number, (low, high) in enumerate(zip(lows, highs, strict=True))
    ]


def _target(scenario: Scenario, outcome: Outcome) -> Export | None:
    target = scenario.target
    if target is None:
        return None
    high = step_rate(outcome, "wrong")["high"]
    return {"rate": target.rate, "text": target.text, "met": high is not None and high <= target.rate}
