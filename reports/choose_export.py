"""The object behind ``choose --json``; the tables in the terminal and on the page are drawn from it as well.

Its keys are described, one by one, in ``schemas/choose.schema.json``.  What concerns the search is that of
a sweep.
"""

from __future__ import annotations

import json
import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from reports.choose_words import CHOOSE_ASSUMPTIONS, margin_rule, search_rule
from reports.choosing import closest
from reports.exact_command import set_words
from reports.sweep_export import Wish, sweep_export

if TYPE_CHECKING:
    from reports.choosing import Found
    from scenarios.loading.sweeps import Sweep
    from simcore.statistics.stopping import Target

Export = dict[str, Any]


@dataclass(frozen=True)
class Plan:
    """What a choice goes by: the ``target`` of its rule, the ``fewest`` runs that can show it, whether the
    user said what to vary (``named``) and how many runs to simulate (``told``).
    """

    target: Target
    fewest: int
    named: bool
    told: bool


def measured() -> Export:
    """What the recorded campaign found of false acceptance (tests/theory/acceptance.py writes it)."""
    text = files("reports").joinpath("measured", "acceptance.json").read_text(encoding="utf-8")
    found: Export = json.loads(text)
    return found


def choose_export(sweep: Sweep, wish: Wish, plan: Plan, found: Found) -> Export:
    """Everything that is known about a finished or interrupted choice."""
    base = sweep_export(sweep, wish, found.search)
    best = found.recommended[0] if found.recommended else None
    shown = wish.stop.runs >= plan.fewest
    return {
        **base,
        "command": choose_command(wish, plan),
        "complete": found.complete,
        "seconds": found.seconds,
        "varied_by": "the user" if plan.named else "rule",
        "confidence": plan.target.confidence,
        "fewest_runs": plan.fewest,
        "can_be_shown": shown,
        "first_fresh_run": wish.stop.runs,
        "search": _totals(base["cells"]),
        "recommended": best,
        "ranked": found.retried,
        "closest": None if best else closest(base["cells"]),
        "alternatives": found.others,
        "refused": found.refused,
        "rule": search_rule(wish, plan),
        "margin_rule": margin_rule(),
        "measured": measured(),
        "assumptions": [*base["assumptions"][:-2], *CHOOSE_ASSUMPTIONS],
    }


def _totals(cells: Sequence[Export]) -> Export:
    """How many candidates have each verdict, and the runs that it took."""
    names = ("good", "bad", "undecided")
    counts = {name: sum(cell["verdict"] == name for cell in cells) for name in names}
    return {**counts, "runs": sum(cell["runs"] for cell in cells)}


def choose_command(wish: Wish, plan: Plan) -> str:
    """The command that gives the choice again, in one line for a POSIX shell."""
    words = ["steptally", "choose", wish.named.scenario]
    words += [word for each in wish.varied for word in ("--vary", each)]
    words += ["--runs", str(wish.stop.runs), "--seed", str(wish.seed)]
    if wish.own_target is not None:
        words += ["--target", wish.own_target]
    return shlex.join(words + set_words(wish.named))
