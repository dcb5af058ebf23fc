"""The object behind ``sweep --json``; the tables in the terminal and on the page are drawn from it as well.

Its keys are described, one by one, in ``schemas/sweep.schema.json``.
"""

from __future__ import annotations

import copy
import shlex
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from reports.exact_command import Asked, set_words
from reports.sentences import ASSUMPTIONS, cautions
from reports.signal_path import signal_path
from reports.summary import design_words
from reports.sweep_words import SWEEP_ASSUMPTIONS, axis_text, ending_rule, stop_cautions, window_rule
from reports.versions import versions
from reports.window_export import windows_of

if TYPE_CHECKING:
    from reports.sweeping import Swept
    from scenarios.loading.load import Scenario, Target
    from scenarios.loading.ranges import Axis
    from scenarios.loading.sweeps import Sweep
    from simcore.statistics.stopping import Stop

Export = dict[str, Any]
WHOLE = ("part", "kind")
"""Keys that bring all the other values of their stage with them."""


@dataclass(frozen=True)
class Wish:
    """What the command line asked for: how the scenario was ``named``, the ``varied`` options as they
    stand, the ``seed``, when a cell ends (``stop``), what it is held against (``target``), and that target
    as an option of the command (``own_target``), None where the scenario states it.
    """

    named: Asked
    varied: Sequence[str]
    seed: int
    stop: Stop
    target: Target | None
    own_target: str | None = None


def sweep_export(sweep: Sweep, wish: Wish, swept: Swept) -> Export:
    """Everything that is known about a finished or interrupted sweep."""
    scenario, axes = sweep.scenario, sweep.axes
    target, ranged = wish.target, _ranged(scenario, axes)
    return {
        "name": scenario.name,
        "title": scenario.title,
        "simulated": f"{design_words(ranged)}.",
        "command": sweep_command(wish),
        "signal_path": signal_path(ranged),
        "scenario": scenario.resolved,
        "seed": wish.seed,
        "runs_asked": wish.stop.runs,
        "cells_asked": sweep.count,
        "complete": swept.complete,
        "axes": [_axis(axis) for axis in axes],
        "target": None if target is None else {"rate": target.rate, "text": target.text},
        "ending": {
            "target": wish.stop.target is not None,
            "each_gesture": wish.stop.target is not None and wish.stop.target.each,
            "precision": wish.stop.precision,
        },
        "rule": ending_rule(wish.stop, None if target is None else target.text),
        "cells": swept.cells,
        "window": windows_of(axes, swept.cells, None if target is None else target.rate),
        "window_rule": window_rule(
            None if target is None else target.text,
            each=_decides_each(wish),
            looks=wish.stop.target is not None,
        ),
        "seconds": swept.seconds,
        "assumptions": [*ASSUMPTIONS, *SWEEP_ASSUMPTIONS],
        "cautions": [*stop_cautions(scenario.stop), *cautions(scenario.cautions)],
        "versions": versions(),
    }


def _decides_each(wish: Wish) -> bool:
    """Whether cells go on until each gesture is decided; those that do all their runs do no less."""
    stop = wish.stop
    return (stop.target is not None and stop.target.each) or (stop.target is None and stop.precision is None)


def _axis(axis: Axis) -> Export:
    return {
        "path": axis.path,
        "given": axis.given,
        "values": list(axis.values),
        "numbers": None if axis.numbers is None else list(axis.numbers),
        "unit": axis.unit,
    }


def _ranged(scenario: Scenario, axes: Sequence[Axis]) -> Scenario:
    """The scenario with the ranges of its varied values in place of the values."""
    resolved = copy.deepcopy(scenario.resolved)
    for axis in axes:
        place, key = _place(resolved, axis.path)
        text = axis_text(axis.values, numeric=axis.numbers is not None)
        if key in WHOLE and any(place is stage for stage in resolved.get("stage", [])):
            _stand_for_all(place, text)
        elif key in place:
            place[key] = text
    return replace(scenario, resolved=resolved)


def _stand_for_all(stage: Export, text: str) -> None:
    """Keep of a stage what its kinds or parts share: the values of one are not those of the others."""
    kept: Export = {key: stage[key] for key in ("name", "lines") if key in stage}
    stage.clear()
    stage.update(kept, kind=text)


def _place(resolved: Export, path: str) -> tuple[Export, str]:
    """The table that a path leads into, and the key in it; an empty one where there is no such table."""
    first, *words = path.split(".")
    named = {stage["name"]: stage for stage in resolved.get("stage", [])}
    if first == "hand":
        named = {gesture["name"]: gesture for gesture in resolved["hand"]}
        first, *words = words
    table: Any = named.get(first, resolved.get(first))
    for word in words[:-1]:
        table = table.get(word) if isinstance(table, dict) else None
    return (table, words[-1]) if isinstance(table, dict) and words else ({}, "")


def sweep_command(wish: Wish) -> str:
    """The command that gives the sweep again, in one line for a POSIX shell."""
    from scenarios.schema_stop import PRECISION

    words = ["steptally", "sweep", wish.named.scenario]
    words += [word for each in wish.varied for word in ("--vary", each)]
    words += ["--runs", str(wish.stop.runs), "--seed", str(wish.seed)]
    if wish.own_target is not None:
        words += ["--target", wish.own_target]
    if wish.stop.precision is not None:
        words += ["--precision", PRECISION.write(wish.stop.precision)]
    elif wish.stop.target is None:
        words.append("--all-runs")
    if wish.stop.target is not None and wish.stop.target.each:
        words.append("--each-gesture")
    return shlex.join(words + set_words(wish.named))
