"""What may be chosen of a scenario: the values that are varied by default, and a part of a sweep's cells.

The values come from the kinds of stages (`simcore.stages.facts.values_to_vary`); what the scenario states is
always among them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from scenarios.loading.load import Scenario
from scenarios.loading.sweeps import MOST_AXES, Cell, Sweep
from scenarios.quantities import CAPACITANCE, RESISTANCE, TIME, VOLTAGE, write_quantity
from simcore.base.check import FARAD, OHM, SECOND, VOLT
from simcore.checks.context import chatter_of
from simcore.checks.fastest import fastest
from simcore.design import Design
from simcore.stages.facts import Times, Variation, values_to_vary

USUAL_CELLS = 100
"""Combinations tried by default."""
DIMENSIONS = {OHM: RESISTANCE, FARAD: CAPACITANCE, SECOND: TIME, VOLT: VOLTAGE}


def times_of(design: Design) -> Times:
    """The times between which a filter has to lie."""
    chatter, hand = chatter_of(design), fastest(design)
    back, burst = (None, None) if chatter is None else (chatter.back, chatter.burst)
    return Times(*map(_known, (back, burst, hand.shortest_level().seconds, hand.closest().seconds)))


def _known(seconds: float | None) -> float | None:
    return seconds if seconds is not None and 0.0 < seconds < math.inf else None


@dataclass(frozen=True)
class CellSelection(Sweep):
    """Some cells of a sweep, with the numbers they have there."""

    picked: tuple[Cell, ...] = ()

    @property
    def count(self) -> int:
        return len(self.picked)

    def cells(self) -> Iterator[Cell]:
        yield from self.picked


def picked(sweep: Sweep, numbers: Sequence[int]) -> CellSelection:
    every = {cell.number: cell for cell in sweep.cells() if cell.number in set(numbers)}
    chosen = tuple(every[number] for number in numbers)
    return CellSelection(sweep.scenario, sweep.source, sweep.sets, sweep.axes, chosen)


def usual_ranges(scenario: Scenario, sets: Sequence[str]) -> tuple[str, ...]:
    """Ranges, as "PATH=VALUES", for what a scenario's filters have, none that ``sets`` fixes; the capacitors
    and times first, at most MOST_AXES and USUAL_CELLS combinations.
    """
    fixed = {each.partition("=")[0].strip() for each in sets}
    times = times_of(scenario.design)
    found = [(e.name, each) for e in scenario.design.stages for each in values_to_vary(e.item, times)]
    free = [
        (each.rank, f"{name}.{each.key}={', '.join(_texts(each))}")
        for name, each in found
        if f"{name}.{each.key}" not in fixed
    ]
    kept: list[str] = []
    cells = 1
    for _, text in sorted(free, key=lambda item: item[0])[:MOST_AXES]:
        cells *= text.count(",") + 1
        if cells > USUAL_CELLS:
            break
        kept.append(text)
    return tuple(kept)


def _texts(variation: Variation) -> list[str]:
    if not variation.unit:
        return [f"{value:g}" for value in variation.values]
    return [write_quantity(value, DIMENSIONS[variation.unit]) for value in variation.values]
