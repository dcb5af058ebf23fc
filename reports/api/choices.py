"""`choose`: the values that meet a target with stated confidence, as ``steptally choose`` does."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from reports.api import options
from reports.api.given import Chosen, Given, Sets, taken
from reports.api.sweeps import Ranges, ledger_of, loaded_cells, range_words, simulated, target_of
from reports.api.working import Progress, finished, silent, warn, working
from reports.errors import BadInput, refusing

if TYPE_CHECKING:
    from reports.results.choose import ChoiceResult
    from reports.sweeping import Campaigns, Kept, Swept


def choose(
    scenario: Given,
    *,
    target: str | None = None,
    vary: Ranges = (),
    sets: Sets = (),
    runs: int | str | None = None,
    seed: int | str | None = None,
    threads: int | str | None = None,
    ledger: str | os.PathLike[str] | None = None,
    use_ledger: bool = True,
    progress: Progress = silent,
) -> ChoiceResult:
    """Choose values that meet a target at every gesture of the hand.

    Arguments are the options of ``steptally choose``; ``vary`` is as `sweep` has it, and what is varied
    without it is found by rule; ``use_ledger=False`` is ``--no-ledger``.  Raises BadInput, and Interrupted
    with what was finished.
    """
    from reports.choosing import Choice
    from reports.ledger_use import not_kept
    from reports.results.choose import ChoiceResult, cannot_be_shown
    from reports.sweeping import SweepRequest
    from simcore.campaigns import campaign, choosing
    from simcore.campaigns.options import RunOptions
    from simcore.statistics import stopping

    number, most, many = options.whole("--seed", seed), options.runs(runs), options.threads(threads)
    cache, given = ledger_of(ledger, use_ledger), range_words(vary)
    with refusing():
        chosen = taken(scenario, sets)
        loaded = chosen.loaded
        ranges = given or _usual(chosen)
        cells = loaded_cells(chosen, ranges)
    goal = target_of(loaded.target, target)
    if goal is None:
        raise BadInput(
            f"{loaded.source}: states no target; give one, as in --target '1 wrong in 10000 steps'"
        )
    rule = stopping.Target(goal.rate, each=True, joint=True)
    block = campaign.runs_per_block(loaded.design)
    fewest = choosing.fewest_runs(rule, block)
    if most is None:
        most = min(max(loaded.runs, choosing.AMPLE * fewest, block), options.MOST_RUNS)
    if most < fewest:
        warn(cannot_be_shown(goal.text, most, fewest))

    def watched(campaigns: Campaigns[Kept], word: str) -> Swept[Kept]:
        return simulated(campaigns, progress, word)

    with working(), cache as kept:
        request = SweepRequest(
            cells, chosen.named, ranges,
            RunOptions(
                loaded.seed if number is None else number, stopping.Stop(most, target=rule), threads=many,
                margins=False,
            ),
            goal, target, kept,
        )  # fmt: skip
        found = Choice(request, watched).find()
        result = ChoiceResult.of(request, found, fewest, by_rule=not given)
        result.made_from(chosen.files, None if kept is None else found.cached)
        return finished(result, not_kept(kept))


def _usual(chosen: Chosen) -> tuple[str, ...]:
    """The ranges of a scenario where the user gives none.  Raises BadInput where it has none."""
    from scenarios.choosing.choices import usual_ranges

    found = usual_ranges(chosen.loaded, chosen.sets)
    if not found:
        raise BadInput(
            f"{chosen.loaded.source}: its stages have no capacitor and no time to vary by rule; say what to "
            'vary, as in --vary "filter.capacitor=10n..1u:E6" (steptally show names the paths)'
        )
    return found
