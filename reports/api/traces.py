"""`trace`: explain single runs step by step, as ``steptally trace`` does."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.api import options
from reports.api.inputs import ScenarioInput, Sets, load_input
from reports.api.working import Progress, silent, warn_of_interpreted
from reports.errors import BadInput, refusing

if TYPE_CHECKING:
    from reports.results.trace import TraceResult, TraceSearch
    from scenarios.loading.load import Scenario
    from simcore.tracing.tracing import TracedRun

ALL = "all"
"""In place of the word for one root cause."""


def trace(
    scenario: ScenarioInput,
    *,
    sets: Sets = (),
    run: int | str | None = None,
    step: int | str | None = None,
    worst: bool | str | None = None,
    runs: int | str | None = None,
    seed: int | str | None = None,
    progress: Progress = silent,
) -> TraceResult:
    """Explain one run step by step, or search for what is worth looking at.

    Arguments are the options of ``steptally trace``: ``run`` says which run, or ``worst`` searches, True
    for each root cause and a word for the one that it names.  ``progress`` is called with runs searched
    and runs to search.  Raises BadInput.
    """
    from reports.results.trace import TraceResult

    number, chosen_step = options.whole("--run", run), options.whole("--step", step, 1)
    most, seed = options.runs(runs), options.whole("--seed", seed)
    cause = _cause(number, chosen_step, worst, most)
    with refusing():
        chosen = load_input(scenario, sets)
    loaded = chosen.loaded
    seed = loaded.seed if seed is None else seed
    if cause is not None:
        searched = _searched(loaded, seed, most or loaded.runs, cause, progress)
        hits = {word: hit for word, hit in searched.found.items() if cause in (ALL, word)}
        explained = [(_traced(loaded, seed, hit.run, hit.step), hit.step, word) for word, hit in hits.items()]
        result = TraceResult.of(loaded, searched, explained)
    else:
        traced = _traced(loaded, seed, number or 0, chosen_step)
        result = TraceResult.of(loaded, None, [(traced, chosen_step, None)], overview=chosen_step is None)
    result._read = chosen.files
    warn_of_interpreted()
    return result


def _cause(run: int | None, step: int | None, worst: bool | str | None, runs: int | None) -> str | None:
    """The root cause to search for, or ALL; None for no search.  Raises BadInput where options do not fit
    together.
    """
    if worst is None or worst is False:
        if run is None:
            raise BadInput("give the run to explain with --run N, or let --worst search for one")
        if runs is not None:
            raise BadInput("--runs is for --worst: how many runs to search")
        return None
    if run is not None or step is not None:
        raise BadInput("--worst searches for run and step itself; leave out --run and --step")
    from reports.words.sentences import SPURIOUS
    from simcore.judging.sums import CAUSES

    words = (*CAUSES[1:], SPURIOUS)
    word = ALL if worst is True else str(worst).strip().lower()
    spaced = word if word in words else word.replace("-", " ").replace("_", " ")
    return ALL if spaced == ALL else options.word("--worst", spaced, words)


def _searched(scenario: Scenario, seed: int, runs: int, cause: str, progress: Progress) -> TraceSearch:
    """What a search of so many runs finds."""
    from reports.results.trace import SearchHit, TraceSearch
    from reports.words.sentences import SPURIOUS
    from simcore.tracing.worst import search

    found = search(scenario.design, seed, runs, 0, progress)
    hits = {word: SearchHit(run=run, step=step) for word, (run, step) in found.steps.items()}
    if found.spurious is not None:
        hits[SPURIOUS] = SearchHit(run=found.spurious, step=None)
    wanted = None if cause == ALL else cause
    return TraceSearch.model_validate(
        {"seed": seed, "first_run": 0, "runs": runs, "wanted": wanted, "found": hits}
    )


def _traced(scenario: Scenario, seed: int, run: int, step: int | None) -> TracedRun:
    from simcore.tracing.tracing import trace_run

    traced = trace_run(scenario.design, seed, run)
    if step is not None and step > len(traced.steps):
        raise BadInput(f"--step {step}: run {run} of seed {seed} has steps 1 to {len(traced.steps)}")
    return traced
