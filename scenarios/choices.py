"""What may be chosen of a scenario: the values that are varied where nobody says which, and a part of a
sweep's cells.

The values are preferred ones (IEC 60063): the resistors next to those stated, and capacitors or times
between bounds.  A filter must outlast the longest return of a bouncing contact to its old state, and be
done within the shortest level of the fastest hand; so its time runs from half the former to twice the
latter (common practice, no source).  What the scenario states is always among them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from scenarios.checking import readers_of
from scenarios.load import Scenario
from scenarios.quantities import Dimension, write_quantity
from scenarios.scales import document_of
from scenarios.schema.kinds import StageTable
from scenarios.schema.readers import QuantityReader
from scenarios.sweeps import MOST_AXES, Cell, Sweep
from simcore.design import Design
from simcore.limits.chatter import chatter_of
from simcore.limits.hand import fastest
from simcore.preferred import above, below, between, nearest

MOST_TRIED = 9
"""Capacitors or times of a stage; if E6 has more between the bounds, E3 is taken."""
USUAL_CELLS = 100
"""Combinations tried where nobody says what to vary."""
WIDE = 10.0
"""Where contacts or hand say nothing, bounds lie so many times below and above what is stated."""


@dataclass(frozen=True)
class Times:
    """Seconds: the longest return of a contact to its old state, its longest burst, the shortest level and
    the closest edges of the fastest hand (see simcore.limits); None where nothing is known of it.
    """

    back: float | None
    burst: float | None
    level: float | None
    closest: float | None


def times_of(design: Design) -> Times:
    """The times between which a filter has to lie."""
    chatter, hand = chatter_of(design), fastest(design)
    back, burst = (None, None) if chatter is None else (chatter.back, chatter.burst)
    return Times(*map(_known, (back, burst, hand.shortest_level().seconds, hand.closest().seconds)))


def _known(seconds: float | None) -> float | None:
    return seconds if seconds is not None and 0.0 < seconds < math.inf else None


@dataclass(frozen=True)
class Picked(Sweep):
    """Some cells of a sweep, with the numbers they have there."""

    picked: tuple[Cell, ...] = ()

    @property
    def count(self) -> int:
        """How many."""
        return len(self.picked)

    def cells(self) -> Iterator[Cell]:
        """They, in the order of picking."""
        yield from self.picked


def picked(sweep: Sweep, numbers: Sequence[int]) -> Picked:
    """The cells of these numbers, in their order."""
    every = {cell.number: cell for cell in sweep.cells() if cell.number in set(numbers)}
    chosen = tuple(every[number] for number in numbers)
    return Picked(sweep.scenario, sweep.source, sweep.sets, sweep.axes, chosen)


def usual_ranges(scenario: Scenario, sets: Sequence[str]) -> tuple[str, ...]:
    """Ranges, as "PATH=VALUES", for what a scenario's filters have, none that ``sets`` fixes; the capacitors
    and times first, at most MOST_AXES and USUAL_CELLS combinations.
    """
    fixed = {each.partition("=")[0].strip() for each in sets}
    times = times_of(scenario.design)
    found = [item for stage in document_of(scenario.resolved).stage for item in _of_stage(stage, times)]
    free = [(rank, f"{path}={values}") for rank, path, values in found if path not in fixed]
    kept: list[str] = []
    cells = 1
    for _, text in sorted(free, key=lambda item: item[0])[:MOST_AXES]:
        cells *= text.count(",") + 1
        if cells > USUAL_CELLS:
            break
        kept.append(text)
    return tuple(kept)


Ranked = tuple[int, str, str]


def _of_stage(stage: StageTable, times: Times) -> Iterator[Ranked]:
    """Rank, path and values of what may be varied of one stage; nothing if no time can be set by it."""
    varied = [each for each in stage.description.varied if each.among or getattr(stage, each.key) > 0.0]
    if all(each.seconds_per is None and not each.around for each in varied):
        return
    for each in varied:
        stated = getattr(stage, each.key)
        path = f"{stage.name}.{each.key}"
        reader = readers_of(type(stage))[each.key]
        if each.among:
            yield each.rank, path, ", ".join(map(str, sorted({*each.among, stated})))
        elif not isinstance(reader, QuantityReader):
            raise TypeError(f"{each.key} is no quantity")
        elif each.around:
            bounds = stated / each.around, stated * each.around
            yield each.rank, path, _listed(stated, bounds, reader.dimension, 3)
        elif each.seconds_per is None:
            near = (below(stated, 3), stated, above(stated, 3))
            yield each.rank, path, ", ".join(map(reader.write, near))
        elif each.seconds_per(stage) > 0.0:
            bounds = _bounds(stated, (times.back, times.level), each.seconds_per(stage))
            yield each.rank, path, _listed(stated, bounds, reader.dimension)


def _bounds(
    stated: float, times: tuple[float | None, float | None], seconds_per: float
) -> tuple[float, float]:
    """From half the first time to twice the second, at ``seconds_per`` unit of the value, with what is
    stated between them.
    """
    least, most = times
    low = stated / WIDE if least is None else 0.5 * least / seconds_per
    high = stated * WIDE if most is None else 2.0 * most / seconds_per
    return min(low, stated), max(high, stated)


def _listed(stated: float, bounds: tuple[float, float], dimension: Dimension, series: int = 6) -> str:
    """Preferred values between bounds and what is stated, rising."""
    low, high = nearest(bounds[0], series), nearest(bounds[1], series)
    found = {*between(low, high, series), stated}
    if len(found) > MOST_TRIED and series > 3:
        return _listed(stated, bounds, dimension, 3)
    return ", ".join(write_quantity(value, dimension) for value in sorted(found))
