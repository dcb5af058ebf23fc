"""A scenario over ranges of its values: the axes, and a cell for each of their combinations."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from scenarios.loading.building import UNWRITTEN
from scenarios.loading.load import Scenario
from scenarios.loading.messages import Problem, ScenarioError, shown
from scenarios.loading.pipeline import read_scenario
from scenarios.loading.ranges import EXAMPLE, MOST_VALUES, Axis, axis_of, document_of, reader_at_path
from scenarios.loading.sources import Source, find_source
from scenarios.quantities import QuantityError
from scenarios.schema.document import ScenarioDocument

MOST_CELLS = MOST_VALUES
"""Cells of one sweep."""
MOST_AXES = 4
"""Keys that are varied at once."""
OWN = {
    "seed": "all cells share one seed, so that hands and bounce are the same; see --seed",
    "runs": "--runs says how many runs a cell has at most",
    "title": "a title changes no number",
    "target.wrong": "all cells have one target; see --target",
    **dict.fromkeys(UNWRITTEN["stop"], "a sweep ends its cells by its own rule"),
}
"""Paths that cannot be varied, and why."""


@dataclass(frozen=True)
class Cell:
    """One combination of values, in the order of the axes, and the settings that make it."""

    number: int
    values: tuple[str, ...]
    sets: tuple[str, ...]


@dataclass(frozen=True)
class Sweep:
    """A checked scenario, with ``sets`` overriding values, and the axes over which it is swept.

    Cells count through the last axis first.
    """

    scenario: Scenario
    source: Source
    sets: tuple[str, ...]
    axes: tuple[Axis, ...]

    @property
    def count(self) -> int:
        return math.prod(len(axis.values) for axis in self.axes)

    def cells(self) -> Iterator[Cell]:
        paths = [axis.path for axis in self.axes]
        for number, values in enumerate(itertools.product(*(axis.values for axis in self.axes))):
            yield Cell(number, values, tuple(f"{p}={v}" for p, v in zip(paths, values, strict=True)))

    def scenario_of(self, cell: Cell) -> Scenario:
        """The scenario of one cell, made by the ordinary loader; ScenarioError names the cell."""
        try:
            return read_scenario(self.source, [*self.sets, *cell.sets])
        except ScenarioError as error:
            raise ScenarioError([_of_cell(error.problems[0], cell, self.source.label)]) from None


def load_sweep(name_or_file: str, varied: Sequence[str], sets: Sequence[str] = ()) -> Sweep:
    """The sweep of a ready scenario or a file over ``varied`` ("PATH=VALUES"), every cell checked.

    ScenarioError for mistakes in the scenario, its options or any cell.
    """
    return sweep_of(find_source(name_or_file), varied, sets)


def sweep_of(source: Source, varied: Sequence[str], sets: Sequence[str] = ()) -> Sweep:
    """The same of a scenario's source."""
    scenario = read_scenario(source, sets)
    document = document_of(scenario.resolved)
    varied_keys = [_split(text, source.label) for text in varied]
    _check_paths(varied_keys, sets, source.label)
    axes = tuple(_axis(source, sets, document, path, given) for path, given in varied_keys)
    sweep = Sweep(scenario, source, tuple(sets), axes)
    _check_size(sweep)
    for cell in sweep.cells():
        sweep.scenario_of(cell)
    return sweep


def _refusal(label: str, option: str, message: str, read: str = "") -> ScenarioError:
    return ScenarioError([Problem(label, option, read, message)])


def _option(path: str, given: str) -> str:
    return "--vary " + shown(f"{path}={given}")[1:-1]


def _split(text: str, label: str) -> tuple[str, str]:
    head, sign, given = text.partition("=")
    words = [word.strip() for word in head.split(".")]
    if not sign or not all(words):
        message = f"expected PATH=VALUES, the values such as {EXAMPLE}"
        raise _refusal(label, f"--vary {shown(text)[1:-1]}", message)
    return ".".join(words), given.strip()


def _check_paths(varied_keys: Sequence[tuple[str, str]], sets: Sequence[str], label: str) -> None:
    """Each path once, none that is set as well, none that cannot be varied."""
    if not 1 <= len(varied_keys) <= MOST_AXES:
        raise _refusal(label, "--vary", f"expected 1 to {MOST_AXES} varied keys", f"{len(varied_keys)}")
    fixed = {".".join(word.strip() for word in each.partition("=")[0].split(".")) for each in sets}
    seen: set[str] = set()
    for path, given in varied_keys:
        if path in OWN:
            raise _refusal(label, _option(path, given), f'"{path}" cannot be varied: {OWN[path]}')
        if path in seen:
            message = f'"{path}" is varied twice; put all its values into one --vary'
            raise _refusal(label, _option(path, given), message)
        if path in fixed:
            message = f'"{path}" is also given by --set; expected one of the two'
            raise _refusal(label, _option(path, given), message)
        seen.add(path)


def _axis(source: Source, sets: Sequence[str], document: ScenarioDocument, path: str, given: str) -> Axis:
    """One axis.  A key that has no values of its own (a part, a kind), or that does not exist, is left
    to the loader.
    """
    reader = reader_at_path(document, path.split("."))
    try:
        axis = axis_of(path, given, reader)
    except QuantityError as error:
        raise _refusal(source.label, _option(path, given), error.message, error.read) from None
    for value in axis.values if reader is None else ():
        text = f"{path}={value}"
        try:
            read_scenario(source, [*sets, text])
        except ScenarioError as error:
            # Keys that must change with it may be varied as well: whole cells are checked later.
            own = [each for each in error.problems if each.place == _set_option(text)]
            if own:
                raise _refusal(source.label, _option(path, given), own[0].message, own[0].read) from None
    return axis


def _set_option(text: str) -> str:
    return f"--set {shown(text)[1:-1]}"


def _check_size(sweep: Sweep) -> None:
    if sweep.count > MOST_CELLS:
        product = " x ".join(str(len(axis.values)) for axis in sweep.axes)
        message = f"expected at most {MOST_CELLS:,} cells"
        raise _refusal(sweep.source.label, "--vary", message, f"{product} = {sweep.count:,}")


def _of_cell(problem: Problem, cell: Cell, label: str) -> Problem:
    where = f"cell {', '.join(cell.sets)}"
    if problem.place and problem.place not in map(_set_option, cell.sets):
        where += f", {problem.place}"
    return Problem(label, where, problem.read, problem.message)
