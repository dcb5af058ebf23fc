"""A cell of a sweep as plain data: what is kept of a finished campaign once its tally is gone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.exact_command import Asked, exact_command
from reports.exports import step_rate
from reports.stop_options import stop_words
from simcore.campaigns.choosing import Standing

if TYPE_CHECKING:
    from simcore.campaigns.course import Outcome, Plan
    from simcore.statistics.stopping import Stop

Export = dict[str, Any]
MEETS = {Standing.WITHIN: "yes", Standing.OUTSIDE: "no", Standing.OPEN: "undecided"}
"""Whether a cell meets the target."""


def cell_export(plan: Plan, outcome: Outcome, goal: float | None) -> Export:
    """What one campaign came to, held against a rate of wrong steps (``goal``), if there is one."""
    from simcore.campaigns.choosing import goal_level
    from simcore.campaigns.course import runs_per_block

    tally = outcome.tally
    level = goal_level(plan.stop, runs_per_block(plan.design))
    return {
        "runs": tally.runs,
        **_group(outcome, 0, goal, level),
        "spurious": tally.spurious,
        "exact_runs": tally.exact_runs,
        "causes": tally.causes,
        "by_gesture": [
            {
                "name": entry.name,
                "kind": entry.kind,
                **_group(outcome, tally.gesture_group(number), goal, level),
                "causes": tally.gesture_causes(number),
            }
            for number, entry in enumerate(plan.design.hand)
        ],
        "ended_by": outcome.ended_by,
    }


def _group(outcome: Outcome, group: int, goal: float | None, level: float) -> Export:
    """Steps, verdicts and the rate of wrong ones in a group of the tally."""
    from simcore.campaigns.choosing import standing

    tally = outcome.tally
    cluster = tally.cluster("wrong", group)
    return {
        "steps": tally.group_steps(group),
        "verdicts": tally.group_verdicts(group),
        "wrong": cluster.y,
        "wrong_rate": step_rate(outcome, "wrong", group),
        "meets_target": None if goal is None else MEETS[standing(cluster, goal, level)],
    }


def cell_command(named: Asked, sets: tuple[str, ...], outcome: Outcome, stated: Stop) -> str:
    """The command that gives a cell's numbers again, alone; ``stated`` are the scenario's own rules of
    ending, which must not end it earlier.
    """
    runs = max(outcome.tally.runs, 1)
    words = stop_words(stated, stated, by_runs=True)
    return exact_command(
        Asked(named.scenario, [*named.sets, *sets]), runs, outcome.seed, outcome.first_run, words
    )


def main_cause(group: Export) -> tuple[str, int] | None:
    """The root cause behind most of a group's wrong steps, and how many; None where none went wrong."""
    return next(iter(group["causes"].items()), None)
