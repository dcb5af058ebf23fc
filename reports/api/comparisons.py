"""`compare`: designs on the same simulated units, as ``steptally compare`` does."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from reports.api import options
from reports.api.inputs import SAVED, ScenarioInput, Sets, files_read, set_words, source_of, warn_of_plugins
from reports.api.runs import ended, simulated
from reports.api.working import Progress, finished, silent, working
from reports.errors import BadInput, refusing

if TYPE_CHECKING:
    from reports.results.compare import ComparisonResult
    from scenarios.loading.comparison import DesignSource, Group


def compare(
    *designs: ScenarioInput,
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
    from reports.api.ledger_use import announced_pairs, ledger_at, not_kept
    from reports.results.compare import ComparisonResult
    from scenarios.loading.comparison import compared_of
    from scenarios.loading.sources import ProgramSource
    from simcore.campaigns.options import RunOptions
    from simcore.statistics.exact import LEVEL
    from simcore.statistics.stopping import Stop

    place = options.file("--ledger", ledger)
    given_seed, given_runs, many = options.whole("--seed", seed), options.runs(runs), options.threads(threads)
    if not designs:
        raise BadInput("compare: expected at least one scenario, got none")
    groups = tuple(each if isinstance(each, str) else set_words(each) for each in with_)
    common = set_words(sets)
    with refusing():
        named = [_named(each) for each in designs]
        try:
            compared = compared_of(named, groups, common)
        finally:
            warn_of_plugins()
    first, level = compared[0].scenario, LEVEL if options.switch("settled", settled) else None
    most = given_runs or first.runs
    stop = ended(Stop(most, settled=level), most, errors, precision, time)
    how = RunOptions(first.seed if given_seed is None else given_seed, stop, threads=many, margins=False)
    with working(), ledger_at(place) as kept:
        announced_pairs(kept, [each.scenario for each in compared], how.seed)
        found = simulated([each.scenario.design for each in compared], how, kept, progress)
        result = ComparisonResult.of(compared, found, _words(named, groups, common))
        files = [each.named for each in named if not isinstance(each.source, ProgramSource)]
        result.made_from(tuple(file for each in files for file in files_read(each)))
        return finished(result, not_kept(kept))


def _named(given: ScenarioInput) -> DesignSource:
    from scenarios.loading.comparison import DesignSource
    from scenarios.loading.sources import ProgramSource

    source, sets = source_of(given)
    called = f"{source.name} with {', '.join(sets)}" if sets else ""
    return DesignSource(source, SAVED if isinstance(source, ProgramSource) else source.label, sets, called)


def _words(named: Sequence[DesignSource], groups: tuple[Group, ...], sets: tuple[str, ...]) -> list[str]:
    """The words of the command line that name the designs; of several, one that is no name or file as it
    stands is called ``design-2.toml`` and so on.
    """
    from scenarios.loading.sources import ProgramSource

    if len(named) == 1:
        names, sets = [named[0].named], (*named[0].sets, *sets)
    else:
        names = [
            f"design-{number}.toml" if each.sets or isinstance(each.source, ProgramSource) else each.named
            for number, each in enumerate(named, start=1)
        ]
    pairs = [*(("--with", _group_text(each)) for each in groups), *(("--set", each) for each in sets)]
    return [*names, *(word for pair in pairs for word in pair)]


def _group_text(group: Group) -> str:
    """A group as the command line has it; a value that holds a comma stands in quotes."""
    from scenarios.loading.written import inline

    if isinstance(group, str):
        return group
    pieces = [each.partition("=") for each in group]
    return ", ".join(
        f"{path}={inline(value) if ',' in value and value[0] not in '[{' else value}"
        for path, _, value in pieces
    )
