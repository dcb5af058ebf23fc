"""`sweep`: a scenario over ranges of its values, as ``steptally sweep`` does."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from reports.api.errors import refusing
from reports.api.fragment import Part, line, more, strong, table
from reports.api.given import Chosen, Given, Sets, taken, warn, warn_of_plugins
from reports.api.options import parsed, switched
from reports.api.result import Export, Paged, Row, flat
from reports.api.working import Progress, finished, silent, working

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

    from reports.sweep_export import Wish
    from reports.verbs.sweep import Settings
    from scenarios.loading.sweeps import Sweep as Cells

Ranges = str | Mapping[str, str | Sequence[object]] | Iterable[str]
"""What is varied: ``{"filter.capacitor": "10n..1u:E6"}``, ``{"filter.capacitor": ["47 nF", "100 nF"]}``, or
texts as ``--vary`` takes them."""


@dataclass(frozen=True, repr=False, eq=False)
class Sweep(Paged):
    """What a scenario counts at every combination of the values varied; each of them is a cell."""

    _chosen: Chosen

    @property
    def headline(self) -> str:
        """Where the window is, or how many cells meet the target, or where the lowest rate is."""
        from reports.sweep_words import headline

        return headline(self.export)

    @property
    def paths(self) -> tuple[str, ...]:
        """What is varied."""
        return tuple(axis["path"] for axis in self.export["axes"])

    @property
    def complete(self) -> bool:
        """Whether every cell was finished."""
        return bool(self.export["complete"])

    @property
    def meeting(self) -> tuple[Mapping[str, str], ...]:
        """The values of the cells that are shown to meet the target, path by path."""
        return tuple(cell["values"] for cell in self.export["cells"] if cell["meets_target"] == "yes")

    @property
    def lowest(self) -> Mapping[str, str] | None:
        """The values of the cell whose wrong rate has the lowest upper bound; None without a cell."""
        from reports.sweep_words import lowest_cell

        cell = lowest_cell(self.export["cells"])
        return None if cell is None else cell["values"]

    @property
    def command(self) -> str:
        """The command that gives the same numbers."""
        return str(self.export["command"])

    def page(self) -> str:
        """The page that ``--html`` writes."""
        from reports.page.sweep import page

        return page(self.export)

    def _read(self) -> Sequence[str]:
        return self._chosen.files

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        return cell_tables(self.export)

    def _blocks(self, console: Console) -> Iterable[RenderableType]:
        from reports.terminal.sweep import blocks

        return blocks(self.export, console)

    def _parts(self) -> Sequence[Part]:
        return [strong(self.export["title"]), *_shown(self.export)]

    def _line(self) -> str:
        return f"{self.export['name']} over {', '.join(self.paths)}: {self.headline}"


def cell_tables(export: Export) -> dict[str, Iterable[Row]]:
    """The cells as plain tables; each row begins with the values of its cell."""
    cells = export["cells"]
    left_out = ("values", "by_gesture", "causes", "stop", "cautions")
    return {
        "cells": [
            {**cell["values"], **flat({key: each for key, each in cell.items() if key not in left_out})}
            for cell in cells
        ],
        "gestures": [{**cell["values"], **flat(each)} for cell in cells for each in cell["by_gesture"]],
        "causes": [
            {**cell["values"], "cause": cause, "steps": steps}
            for cell in cells
            for cause, steps in cell["causes"].items()
        ],
        "windows": [flat(each) for each in export["window"]],
    }


def _shown(export: Export) -> Iterator[Part]:
    from reports.sentences import LASTING
    from reports.sweep_words import axes_line, headline

    yield line(axes_line(export))
    yield line(export["simulated"])
    yield strong(headline(export))
    yield from (line(each) for each in export["cautions"] if each not in LASTING)
    yield from cell_parts(export)
    yield more("Mind", *(line(each) for each in LASTING))


def cell_parts(export: Export) -> Iterator[Part]:
    """The windows and the cells; of many cells, on demand."""
    from reports.page import sweep_tables as tables
    from reports.terminal.sweep import LISTED

    if not export["cells"]:
        return
    if export["window"]:
        yield table(tables.window_table(export))
        yield line(export["window_rule"])
    cells = table(tables.cell_table(export))
    yield cells if len(export["cells"]) <= LISTED else more("Cells", cells)
    yield line(export["rule"])
    if len(export["axes"]) == 1:
        yield more("Wrong steps of each gesture", table(tables.gesture_table(export)))


def sweep(
    scenario: Given,
    vary: Ranges,
    *,
    sets: Sets = (),
    target: str | None = None,
    runs: int | None = None,
    precision: str | None = None,
    all_runs: bool = False,
    each_gesture: bool = False,
    seed: int | None = None,
    threads: int | None = None,
    ledger: str | os.PathLike[str] | None = None,
    use_ledger: bool = True,
    progress: Progress = silent,
) -> Sweep:
    """Run a scenario at every combination of the values given.

    ``vary`` is what ``--vary`` takes (see `Ranges`); ``use_ledger=False`` is ``--no-ledger``; the other
    arguments are options of ``steptally sweep`` as well.  ``progress`` is called with runs that need not
    be simulated any more, and runs at most.  Raises BadInput, and Interrupted with the finished cells.
    """
    from reports.verbs import sweep as verb

    with refusing():
        ranges = range_words(vary)
        read = parsed(
            verb.sweep, varied=ranges, target=target, runs=runs, precision=precision, all_runs=all_runs,
            each_gesture=each_gesture, seed=seed, threads=threads, ledger=ledger,
        )  # fmt: skip
        settings = _settings(read, switched("use_ledger", use_ledger))
        verb.require_sense(settings)
        chosen = taken(scenario, sets)
        cells = loaded_cells(chosen, ranges)
        wish = verb.wish_of(cells, settings, ranges)
        with working() as stopped:
            export = _simulated(cells, wish, settings, progress)
    return finished(Sweep(export, chosen), stopped)


def range_words(vary: Ranges) -> tuple[str, ...]:
    """Each range as ``--vary`` has it."""
    if isinstance(vary, str):
        return (vary,)
    if isinstance(vary, Mapping):
        return tuple(f"{path}={_values(values)}" for path, values in vary.items())
    if not isinstance(vary, Iterable):
        from reports.exits import UserError
        from scenarios.loading.messages import shown

        raise UserError(f"vary: read {shown(vary)}; allowed are values by their paths, or texts")
    return tuple(str(each) for each in vary)


def _values(values: object) -> str:
    """The values of one path as a list; one alone stands for itself."""
    if isinstance(values, str) or not isinstance(values, Iterable):
        return str(values)
    return ", ".join(str(each) for each in values)


def loaded_cells(chosen: Chosen, ranges: Sequence[str]) -> Cells:
    """The cells of a scenario.  Raises ScenarioError."""
    from scenarios.loading.sweeps import sweep_of

    try:
        found = sweep_of(chosen.source, ranges, chosen.sets)
    finally:
        warn_of_plugins()
    return replace(found, scenario=chosen.loaded)


def _settings(read: Mapping[str, Any], use_ledger: bool) -> Settings:
    from reports.verbs.sweep import Settings

    names = (
        "runs", "seed", "target", "all_runs", "each_gesture", "precision", "threads", "ledger", "json",
        "html", "quiet",
    )  # fmt: skip
    return Settings(**{name: read[name] for name in names}, use_ledger=use_ledger, colour=False)


def _simulated(cells: Cells, wish: Wish, settings: Settings, progress: Progress) -> Export:
    from reports.ledger_use import not_kept
    from reports.sweep_export import sweep_export
    from reports.sweeping import Campaigns, swept
    from reports.verbs.sweep import ledger_of, request_of

    with ledger_of(settings.ledger, settings.use_ledger, lambda text: warn([text])) as kept:
        found = swept(Campaigns(request_of(cells, wish, settings.threads, kept)), progress)
        warn(not_kept(kept))
    return sweep_export(cells, wish, found)
