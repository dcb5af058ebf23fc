"""`compare`: designs on the same simulated units, as ``steptally compare`` does."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from reports.api import options
from reports.api.given import Chosen, Given, Sets, set_words, taken
from reports.api.runs import ended, simulated
from reports.api.working import Progress, finished, silent, working
from reports.errors import BadInput, refusing

if TYPE_CHECKING:
    from reports.results.compare import ComparisonResult
    from scenarios.comparison import Group, Named


def compare(
    *designs: Given,
    with_: Sequence[str | Mapping[str, object]] = (),
    sets: Sets = (),
    runs: int | str | None = None,
    seed: int | str | None = None,
    errors: int | str | None = None,
    precision: str | None = None,
    time: str | None = None,
    settled: bool = False,
    ledger: str | os.PathLike[str] | None = None,
    threads: int | str | None = None,
    progress: Progress = silent,
) -> ComparisonResult:
    """Compare designs with the first of them, on the same hands, contacts and parts.

    Several scenarios are a design each; one is compared with its variants, or with what each entry of
    ``with_`` makes of it, as ``--with`` does: ``{"filter.capacitor": "220 nF"}`` or such a text.  With
    ``settled`` it ends once every other design is shown to be better or worse than the first.  The other
    arguments are those of `run`; the scenarios' own rules of ending do not count here.  Raises BadInput,
    and Interrupted as `run` does.
    """
    from reports.ledger_use import announced_pairs, ledger_at, not_kept
    from reports.results.compare import ComparisonResult
    from scenarios.comparison import compared_of
    from simcore.estimates import LEVEL
    from simcore.options import RunOptions
    from simcore.stopping import Stop

    place = options.file("--ledger", ledger)
    given_seed, given_runs, many = options.whole("--seed", seed), options.runs(runs), options.threads(threads)
    if not designs:
        raise BadInput("compare: expected at least one scenario, got none")
    groups = tuple(each if isinstance(each, str) else set_words(each) for each in with_)
    common = set_words(sets)
    with refusing():
        chosen = [taken(each, ()) for each in designs]
        compared = compared_of([_named(each) for each in chosen], groups, common)
    first, level = compared[0].scenario, LEVEL if options.switch("settled", settled) else None
    most = given_runs or first.runs
    stop = ended(Stop(most, settled=level), most, errors, precision, time)
    how = RunOptions(first.seed if given_seed is None else given_seed, stop, threads=many, margins=False)
    with working(), ledger_at(place) as kept:
        announced_pairs(kept, [each.scenario for each in compared], how.seed)
        found = simulated([each.scenario.design for each in compared], how, kept, progress)
        result = ComparisonResult.of(compared, found, _words(chosen, groups, common))
        result.made_from(tuple(file for each in chosen for file in each.files))
        return finished(result, not_kept(kept))


def _named(chosen: Chosen) -> Named:
    from scenarios.comparison import Named

    called = f"{chosen.loaded.name} with {', '.join(chosen.sets)}" if chosen.sets else ""
    return Named(chosen.source, chosen.named.scenario, chosen.sets, called)


def _words(chosen: Sequence[Chosen], groups: tuple[Group, ...], sets: tuple[str, ...]) -> list[str]:
    """The words of the command line that name the designs; of several, one that is no name or file as it
    stands is called ``design-2.toml`` and so on.
    """
    from scenarios.given import Handed

    if len(chosen) == 1:
        names, sets = [chosen[0].named.scenario], (*chosen[0].sets, *sets)
    else:
        names = [
            f"design-{number}.toml" if each.sets or isinstance(each.source, Handed) else each.named.scenario
            for number, each in enumerate(chosen, start=1)
        ]
    pairs = [*(("--with", _group_text(each)) for each in groups), *(("--set", each) for each in sets)]
    return [*names, *(word for pair in pairs for word in pair)]


def _group_text(group: Group) -> str:
    """A group as the command line has it; a value that holds a comma stands in quotes."""
    from scenarios.written import inline

    if isinstance(group, str):
        return group
    pieces = [each.partition("=") for each in group]
    return ", ".join(
        f"{path}={inline(value) if ',' in value and value[0] not in '[{' else value}"
        for path, _, value in pieces
    )
