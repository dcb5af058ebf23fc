"""Properties of a kind of stage besides its rules, all optional: checks, delays, parts, drawing, values to
vary.

Each function below is chosen by the record of the specification: ``@stage_checks.register`` above a
function whose first argument is annotated with the record.  What a kind does not register has the default
that the function itself gives.  None of this is compiled.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import singledispatch
from typing import Any, NamedTuple

from simcore.base.check import FARAD, OHM, Check, Surroundings
from simcore.base.draws import Part
from simcore.base.preferred import above, below, between, nearest

PULLS = ("pull_up", "pull_down")
"""Keys of the resistors from a line to a rail."""
MOST_TRIED = 9
"""Values of one key that are tried; if E6 has more between the bounds, E3 is taken."""
WIDE = 10.0
"""Where contacts or hand are unknown, bounds lie so many times below and above what is stated."""


class Delays(NamedTuple):
    """The shortest and the longest delay (s) of an edge."""

    least: float
    most: float


class Component(NamedTuple):
    """One entry of a parts list, for one line (of a stage that joins both lines, for both): its ``name``, how
    many, and for a part with a value that value with its tolerance (``part``), its ``unit`` and the ``key``
    that states it.  A part of value 0 is not fitted.
    """

    name: str
    quantity: int
    part: Part | None = None
    unit: str = ""
    key: str = ""


class StageDrawing(NamedTuple):
    """How a stage is wired.

    Each of ``branches`` is a way through it: nodes ("supply", "ground", "contact", "input", "output",
    "node") and keys of parts by turns; any other word is a box.  ``shunts`` are pairs of a node and the key
    of a part from there to ground.  ``closes_to`` is where the contact leads, "" if that does not matter.
    ``note`` adds a sentence, with the values of parts by their keys in braces.
    """

    branches: tuple[tuple[str, ...], ...]
    shunts: tuple[tuple[str, str], ...] = ()
    closes_to: str = ""
    note: str = ""


class Times(NamedTuple):
    """Seconds: the longest return of a contact to its old state, its longest burst, the shortest level and
    the closest edges of the fastest hand; None where nothing is known of it.
    """

    back: float | None
    burst: float | None
    level: float | None
    closest: float | None


class Variation(NamedTuple):
    """Values of a ``key`` worth trying, rising, what is stated among them, in ``unit`` ("" for whole
    numbers); of several keys that of the lowest ``rank`` is the most worth it.
    """

    rank: int
    key: str
    values: tuple[float, ...]
    unit: str


@singledispatch
def stage_checks(item: Any, around: Surroundings) -> Iterable[Check]:
    """Electrical checks of the stage by itself."""
    return ()


@singledispatch
def stage_delay(item: Any) -> Delays | None:
    """What it adds to the delay of an edge; None where it does more than delay."""
    return None


@singledispatch
def bridges_openings(item: Any) -> bool:
    """Whether it holds chatter back as a logic level, so that no capacitor need bridge an open gap."""
    return False


@singledispatch
def makes_pulses(item: Any) -> bool:
    """Whether it makes pulses of its own, two edges for one change of the contact."""
    return False


@singledispatch
def own_changes(item: Any) -> float:
    """Changes per second that it makes of its own on one line, with nothing moving."""
    return 0.0


@singledispatch
def own_origins(item: Any) -> dict[int, str]:
    """The origins (see simcore.base.records) of changes that no contact makes, each with its cause in
    words that end a sentence.
    """
    return {}


@singledispatch
def parts_list(item: Any) -> tuple[Component, ...]:
    """What the stage is built from.  Values in ohm and F are expected to be preferred ones."""
    return ()


@singledispatch
def values_to_vary(item: Any, times: Times) -> Iterable[Variation]:
    """What is worth varying, and the values."""
    return ()


@singledispatch
def drawing(item: Any) -> StageDrawing | None:
    """How it is wired; None for what is not drawn."""
    return None


@singledispatch
def with_resistor(item: Any, ohms: float) -> tuple[str, Any] | None:
    """The kind and record that a network becomes with a ``series`` resistor that it does not have; None
    where there is none such.
    """
    return None


@singledispatch
def with_source(item: Any, number: int) -> Any:
    """The record for the stage of this number in a design, for a kind that draws by it."""
    return item


def components(item: Any, **units: str) -> tuple[Component, ...]:
    """Entries of a parts list from the record's fields, each given with its unit."""
    return tuple(
        Component(key.replace("_", " "), 1, getattr(item, key), unit, key) for key, unit in units.items()
    )


def network_components(network: Any) -> tuple[Component, ...]:
    """The parts of a network whose record holds resistors and capacitors alone."""
    return components(
        network, **{key: FARAD if key.endswith("capacitor") else OHM for key in network._fields}
    )


def part_delay(part: Part, least: float = 1.0, most: float = 1.0) -> Delays:
    """``least`` to ``most`` times a time, at the ends of its tolerance."""
    return Delays(least * part.nominal * (1.0 - part.tolerance), most * part.nominal * (1.0 + part.tolerance))


def filter_bounds(stated: float, times: Times, ohms: float = 1.0) -> tuple[float, float]:
    """Least and most of a filter's time, or of its capacitor behind ``ohms``.

    A filter must outlast the longest return of a bouncing contact to its old state, and be done within the
    shortest level of the fastest hand; so its time runs from half the former to twice the latter (common
    practice, no source).
    """
    low = stated / WIDE if times.back is None else 0.5 * times.back / ohms
    high = stated * WIDE if times.level is None else 2.0 * times.level / ohms
    return min(low, stated), max(high, stated)


def preferred_between(stated: float, bounds: tuple[float, float], series: int = 6) -> tuple[float, ...]:
    """Preferred values between bounds (IEC 60063) and what is stated, rising."""
    low, high = nearest(bounds[0], series), nearest(bounds[1], series)
    found = {*between(low, high, series), stated}
    if len(found) > MOST_TRIED and series > 3:
        return preferred_between(stated, bounds, 3)
    return tuple(sorted(found))


def network_values(network: Any, times: Times) -> Iterator[Variation]:
    """Of a network with a capacitor: its capacitors, and the resistors next to those stated."""
    parts = [each for each in parts_list(network) if each.part is not None and each.part.nominal > 0.0]
    pulls = [each for each in parts if each.key in PULLS]
    series = [each for each in parts if each.unit == OHM and each.key not in PULLS]
    capacitors = [each for each in parts if each.unit == FARAD]
    ohms = sum(_nominal(each) for each in (*pulls, *series))
    if not capacitors:
        return
    for each in capacitors if ohms > 0.0 else ():
        values = preferred_between(_nominal(each), filter_bounds(_nominal(each), times, ohms))
        yield Variation(0, each.key, values, FARAD)
    for rank, resistors in ((1, pulls), (2, series)):
        for each in resistors:
            stated = _nominal(each)
            yield Variation(rank, each.key, (below(stated, 3), stated, above(stated, 3)), OHM)


def _nominal(component: Component) -> float:
    return 0.0 if component.part is None else component.part.nominal
