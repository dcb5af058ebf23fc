"""`choose`: the values that meet a target with stated confidence, as ``steptally choose`` does."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reports.api.errors import refusing
from reports.api.fragment import Part, line, more, strong, table
from reports.api.given import Chosen, Given, Sets, taken, warn
from reports.api.options import parsed, switched
from reports.api.result import Export, Paged, Row, flat
from reports.api.sweeps import Ranges, cell_parts, cell_tables, loaded_cells, range_words
from reports.api.working import Progress, finished, silent, working

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

    from reports.choose_export import Plan
    from reports.sweep_export import Wish
    from reports.sweeping import Campaigns
    from reports.verbs.choose import Settings
    from scenarios.loading.sweeps import Sweep as Cells


@dataclass(frozen=True, repr=False, eq=False)
class Choice(Paged):
    """The candidates that meet a target at every gesture of the hand, ranked; what binds; other stages."""

    _chosen: Chosen

    @property
    def headline(self) -> str:
        """What to take, or that nothing is shown to meet the target."""
        from reports.choose_words import headline

        return headline(self.export)

    @property
    def recommended(self) -> Mapping[str, str] | None:
        """The values to take, path by path; None if none is shown to meet the target."""
        best = self.export["recommended"]
        return None if best is None else best["values"]

    @property
    def complete(self) -> bool:
        """Whether the work was finished."""
        return bool(self.export["complete"])

    @property
    def command(self) -> str:
        """The command that gives the same numbers."""
        return str(self.export["command"])

    def page(self) -> str:
        """The page that ``--html`` writes."""
        from reports.page.choose import page

        return page(self.export)

    def _read(self) -> Sequence[str]:
        return self._chosen.files

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        ranked = self.export["ranked"]
        return {
            "ranked": [{"rank": rank, **_row(cell)} for rank, cell in enumerate(ranked, start=1)],
            "sides": [
                {"rank": rank, **flat(side)}
                for rank, cell in enumerate(ranked, start=1)
                for side in cell["sides"]
            ],
            "alternatives": [_row(cell) for cell in self.export["alternatives"]],
            **cell_tables(self.export),
        }

    def _blocks(self, console: Console) -> Iterable[RenderableType]:
        from reports.terminal.choose import blocks

        return blocks(self.export, console)

    def _parts(self) -> Sequence[Part]:
        return list(_shown(self.export))

    def _line(self) -> str:
        return f"{self.export['name']}: {self.headline}"


def _row(cell: Export) -> Row:
    """A candidate as a plain row, its values in front."""
    left_out = ("values", "by_gesture", "causes", "sides", "stop", "cautions", "toml")
    plain = flat({key: each for key, each in cell.items() if key not in left_out})
    return {**cell.get("values", {}), **plain}


def _shown(export: Export) -> Iterator[Part]:
    """What a notebook shows: what to take, what binds, the ranked; the search on demand."""
    from reports import choose_words as words
    from reports.page import choose_tables as tables
    from reports.sentences import LASTING

    yield strong(export["title"])
    yield line(export["simulated"])
    yield strong(words.headline(export))
    told = (words.search_line(export), words.closest_line(export), words.other_line(export))
    yield from (line(each) for each in (*told, words.beforehand(export)) if each)
    yield from (line(each) for each in export["cautions"] if each not in LASTING)
    if export["recommended"] is not None:
        yield from (line(f"{path}: {text}") for path, text in words.binding(export["recommended"]))
    if export["ranked"]:
        yield table(tables.ranked_table(export))
        yield line(export["margin_rule"])
    if export["alternatives"]:
        yield table(tables.other_table(export))
    yield more("The search", *cell_parts(export))
    yield more("Mind", *(line(each) for each in LASTING))


def choose(
    scenario: Given,
    *,
    target: str | None = None,
    vary: Ranges = (),
    sets: Sets = (),
    runs: int | None = None,
    seed: int | None = None,
    threads: int | None = None,
    ledger: str | os.PathLike[str] | None = None,
    use_ledger: bool = True,
    progress: Progress = silent,
) -> Choice:
    """Choose values that meet a target at every gesture of the hand.

    Arguments are the options of ``steptally choose``; ``vary`` is as `sweep` has it, and what is varied
    without it is found by rule; ``use_ledger=False`` is ``--no-ledger``.  Raises BadInput, and Interrupted
    with what was finished.
    """
    from reports.ledger_use import require_one_ledger
    from reports.verbs import choose as verb

    with refusing():
        given = range_words(vary)
        read = parsed(verb.choose, target=target, runs=runs, seed=seed, threads=threads, ledger=ledger)
        settings = _settings(read, switched("use_ledger", use_ledger))
        require_one_ledger(settings.ledger, settings.use_ledger)
        chosen = taken(scenario, sets)
        ranges = given or verb.usual(chosen.loaded, chosen.sets)
        cells = loaded_cells(chosen, ranges)
        wish, plan = verb.planned(cells, ranges, settings, named=bool(given))
        warn(filter(None, [verb.out_of_reach(wish, plan)]))
        with working() as stopped:
            export = _found(cells, wish, plan, settings, progress)
    return finished(Choice(export, chosen), stopped)


def _settings(read: Mapping[str, Any], use_ledger: bool) -> Settings:
    from reports.verbs.choose import Settings

    names = ("target", "runs", "seed", "threads", "ledger", "json", "html", "quiet")
    return Settings(**{name: read[name] for name in names}, use_ledger=use_ledger, colour=False)


def _found(cells: Cells, wish: Wish, plan: Plan, settings: Settings, progress: Progress) -> Export:
    from reports.choose_export import choose_export
    from reports.choosing import Choice as Search
    from reports.choosing import watched_by
    from reports.ledger_use import not_kept
    from reports.verbs.sweep import ledger_of, request_of

    @contextmanager
    def show(campaigns: Campaigns, word: str) -> Iterator[Progress]:
        yield progress

    with ledger_of(settings.ledger, settings.use_ledger, lambda text: warn([text])) as kept:
        request = request_of(cells, wish, settings.threads, kept)
        found = Search(request, plan.target, watched_by(show)).find()
        warn(not_kept(kept))
    return choose_export(cells, wish, plan, found)
