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
from typing import Any

from scenarios.loading.load import Scenario
from scenarios.loading.sweeps import MOST_AXES, Cell, Sweep
from scenarios.quantities import CAPACITANCE, RESISTANCE, TIME, Dimension, read_quantity, write_quantity
from simcore.base.preferred import above, below, between, nearest
from simcore.design import Design
from simcore.limits.chatter import chatter_of
from simcore.limits.hand import fastest

MOST_TRIED = 9
"""Capacitors or times of a stage; if E6 has more between the bounds, E3 is taken."""
USUAL_CELLS = 100
"""Combinations tried where nobody says what to vary."""
WIDE = 10.0
"""Where contacts or hand say nothing, bounds lie so many times below and above what is stated."""
SAMPLES = (2, 3, 4, 6, 8)
PULLS = ("pull_up", "pull_down")
SERIES_RESISTORS = ("series", "first_series", "second_series")
CAPACITORS = ("capacitor", "first_capacitor", "second_capacitor")
TIMED = ("quiet time", "lockout")
SAMPLED = ("agree", "integrate")


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
    found = [item for stage in scenario.resolved.get("stage", ()) for item in _of_stage(stage, times)]
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


def _of_stage(stage: dict[str, Any], times: Times) -> Iterator[Ranked]:
    """Rank, path and values of what may be varied of one stage."""
    kind, name = stage["kind"], stage["name"]
    if kind in TIMED:
        bounds = _bounds(_number(stage, "time", TIME), (times.back, times.level), 1.0)
        yield 0, f"{name}.time", _listed(_number(stage, "time", TIME), bounds, TIME)
    elif kind in SAMPLED:
        yield 0, f"{name}.samples", ", ".join(map(str, sorted({*SAMPLES, stage["samples"]})))
        stated = _number(stage, "period", TIME)
        yield 1, f"{name}.period", _listed(stated, (stated / 5.0, stated * 5.0), TIME, 3)
    elif kind == "majority":
        stated = _number(stage, "period", TIME)
        yield 1, f"{name}.period", _listed(stated, (stated / 5.0, stated * 5.0), TIME, 3)
    elif kind == "one-shot":
        ohms = _number(stage, "resistor", RESISTANCE) * float(stage["factor"])
        stated = _number(stage, "capacitor", CAPACITANCE)
        bounds = _bounds(stated, (times.back, times.level), ohms)
        yield 0, f"{name}.capacitor", _listed(stated, bounds, CAPACITANCE)
    else:
        yield from _of_network(stage, times)


def _of_network(stage: dict[str, Any], times: Times) -> Iterator[Ranked]:
    """The capacitors and resistors of a network."""
    resistors = [key for key in (*PULLS, *SERIES_RESISTORS) if key in stage]
    ohms = sum(_number(stage, key, RESISTANCE) for key in resistors)
    capacitors = [key for key in CAPACITORS if key in stage and _number(stage, key, CAPACITANCE) > 0.0]
    for key in capacitors if ohms > 0.0 else ():
        stated = _number(stage, key, CAPACITANCE)
        yield (
            0,
            f"{stage['name']}.{key}",
            _listed(stated, _bounds(stated, (times.back, times.level), ohms), CAPACITANCE),
        )
    for rank, keys in ((1, PULLS), (2, SERIES_RESISTORS)):
        for key in keys if capacitors else ():
            stated = _number(stage, key, RESISTANCE) if key in stage else 0.0
            if stated > 0.0:
                near = (below(stated, 3), stated, above(stated, 3))
                texts = (write_quantity(value, RESISTANCE) for value in near)
                yield rank, f"{stage['name']}.{key}", ", ".join(texts)


def _number(stage: dict[str, Any], key: str, dimension: Dimension) -> float:
    return read_quantity(stage[key], dimension)


def _bounds(stated: float, times: tuple[float | None, float | None], ohms: float) -> tuple[float, float]:
    """From half the first time to twice the second, over ``ohms``, with what is stated between them."""
    least, most = times
    low = stated / WIDE if least is None else 0.5 * least / ohms
    high = stated * WIDE if most is None else 2.0 * most / ohms
    return min(low, stated), max(high, stated)


def _listed(stated: float, bounds: tuple[float, float], dimension: Dimension, series: int = 6) -> str:
    """Preferred values between bounds and what is stated, rising."""
    low, high = nearest(bounds[0], series), nearest(bounds[1], series)
    found = {*between(low, high, series), stated}
    if len(found) > MOST_TRIED and series > 3:
        return _listed(stated, bounds, dimension, 3)
    return ", ".join(write_quantity(value, dimension) for value in sorted(found))
