"""Other kinds of stage for a scenario, with values that follow by rule from its contacts and its hand.

The aim of every filter is the geometric mean of the longest return of a bouncing contact to its old state
and the shortest level of the fastest hand, of a lockout that of the longest burst and the level: as far, by
ratio, from letting chatter through as from swallowing an edge (common practice, no source).  Networks
get the preferred value of E6 nearest to that; the values stated for pull-ups and series resistors stay.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from scenarios.choosing.choices import times_of
from scenarios.loading.load import Scenario
from scenarios.loading.messages import ScenarioError
from scenarios.loading.pipeline import read_scenario
from scenarios.loading.sources import Source
from scenarios.loading.sweeps import Cell, Sweep
from scenarios.loading.written import as_toml
from scenarios.quantities import CAPACITANCE, RESISTANCE, TIME, Dimension, read_quantity, write_quantity
from simcore.base.compiling import handles
from simcore.base.preferred import nearest
from simcore.networks.inputs import input_thresholds
from simcore.networks.response import network_idle, network_parts
from simcore.stages.facts import Times

Tables = list[dict[str, Any]]
PLAIN_KINDS = ("plain input",)
TIMER_TOLERANCE = "10 %"
"""Of a time that a resistor and a capacitor set: common practice, no source."""
CLOCK_TOLERANCE = "2 %"
AGREEING = 4
SERIES = "1 kohm"
PULL_UP = "4.7 kohm"
"""Where the scenario states none: common practice, no source."""
SECOND = "4.7 kohm"


@dataclass(frozen=True)
class Alternative:
    """One other kind of stage: its ``name``, ``what`` it is with its values, its ``stages`` as TOML ready
    to be pasted, and the scenario that has them.
    """

    name: str
    what: str
    toml: str
    scenario: Scenario


@dataclass(frozen=True)
class Alternatives(Sweep):
    """All alternatives, as cells without values; ``refused`` names those that cannot be built, and why."""

    others: tuple[Alternative, ...] = ()
    refused: tuple[tuple[str, str], ...] = ()

    @property
    def count(self) -> int:
        return len(self.others)

    def cells(self) -> Iterator[Cell]:
        for number in range(len(self.others)):
            yield Cell(number, (), ())

    def scenario_of(self, cell: Cell) -> Scenario:
        return self.others[cell.number].scenario


@dataclass(frozen=True)
class Basis:
    """What an alternative is made from: the stages as they are, as tables and as ``items`` of the simulator,
    and the times it has to lie between.
    """

    stages: Tables
    items: tuple[Any, ...]
    times: Times

    @property
    def aim(self) -> float | None:
        """The time (s) of a filter, None if contacts or hand say too little."""
        return _middle(self.times.back, self.times.level)

    @property
    def network(self) -> dict[str, Any] | None:
        pairs = zip(self.stages, self.items, strict=True)
        return next((stage for stage, item in pairs if is_network(item)), None)

    def pull_up(self) -> str:
        network = self.network or {}
        return str(network.get("pull_up", PULL_UP))

    def tolerance(self, key: str, usual: str) -> str:
        return str((self.network or {}).get("tolerance", {}).get(key, usual))

    def after(self) -> int:
        """The place for a stage of logic levels: behind the networks and inputs."""
        front = [i for i, item in enumerate(self.items) if is_network(item) or is_input(item)]
        return max(front, default=-1) + 1

    def to_supply(self) -> bool:
        """Whether the contact closes to the supply, which these networks do not fit."""
        return any(is_network(item) and not network_idle(item) for item in self.items)


def is_input(item: Any) -> bool:
    """Whether a stage turns a voltage into a logic level."""
    return handles(input_thresholds, type(item))


def is_network(item: Any) -> bool:
    """Whether a stage lies between a contact and an input."""
    return handles(network_parts, type(item))


def _middle(low: float | None, high: float | None) -> float | None:
    return None if low is None or high is None or low >= high else math.sqrt(low * high)


Made = tuple[str, Tables]
Maker = Callable[[Basis], Made | None]


def alternatives_of(scenario: Scenario) -> Alternatives:
    items = tuple(entry.item for entry in scenario.design.stages)
    basis = Basis(scenario.resolved.get("stage", []), items, times_of(scenario.design))
    others, refused = [], []
    for name, maker in MAKERS.items():
        made = maker(basis)
        if made is None or made[1] == basis.stages:
            continue
        try:
            others.append(_alternative(name, *made, scenario))
        except ScenarioError as error:
            refused.append((name, error.problems[0].message))
    source = Source(scenario.name, scenario.source, scenario.text)
    return Alternatives(scenario, source, (), (), tuple(others), tuple(refused))


def _alternative(name: str, what: str, stages: Tables, scenario: Scenario) -> Alternative:
    tables = {**copy.deepcopy(scenario.resolved), "stage": stages}
    found = read_scenario(Source(scenario.name, scenario.source, as_toml(tables)))
    return Alternative(name, what, as_toml({"stage": stages}), found)


def _with(basis: Basis, network: dict[str, Any] | None, *after: dict[str, Any]) -> Tables:
    """The networks and inputs of a scenario with another ``network`` (None: unchanged), and stages after
    them in place of the present ones.
    """
    front = copy.deepcopy(basis.stages[: basis.after()])
    if network is not None:
        kept = [stage for stage, item in zip(front, basis.items, strict=False) if not is_network(item)]
        front = [{"name": "network", **network}, *kept]
    return [*front, *after]


def _text(value: float, dimension: Dimension, series: int = 6) -> str:
    return write_quantity(nearest(value, series), dimension)


def _ohms(*texts: str) -> float:
    return sum(read_quantity(text, RESISTANCE) for text in texts)


def _two_section(basis: Basis) -> Made | None:
    aim, pull_up = basis.aim, basis.pull_up()
    if aim is None or basis.to_supply() or basis.after() == 0:
        return None
    first = _text(0.5 * aim / _ohms(pull_up, SERIES), CAPACITANCE)
    second = _text(0.5 * aim / _ohms(pull_up, SERIES, SECOND), CAPACITANCE)
    resistors, capacitors = basis.tolerance("pull_up", "5 %"), basis.tolerance("capacitor", "20 %")
    network = {
        "kind": "two-section rc", "pull_up": pull_up, "first_series": SERIES, "first_capacitor": first,
        "second_series": SECOND, "second_capacitor": second,
        "tolerance": {
            "pull_up": resistors, "first_series": resistors, "first_capacitor": capacitors,
            "second_series": resistors, "second_capacitor": capacitors,
        },
    }  # fmt: skip
    return f"{SERIES} and {first}, then {SECOND} and {second}", _with(basis, network)


def _diode(basis: Basis, conducts: str) -> Made | None:
    """Slow one way, fast the other: the aim is that of the slow way."""
    aim, pull_up = basis.aim, basis.pull_up()
    if aim is None or basis.to_supply() or basis.after() == 0:
        return None
    slow = _ohms(SECOND) if conducts == "charging" else _ohms(pull_up, SECOND)
    capacitor = _text(aim / slow, CAPACITANCE)
    resistors = basis.tolerance("pull_up", "5 %")
    network = {
        "kind": "rc with diode", "pull_up": pull_up, "series": SECOND, "capacitor": capacitor,
        "conducts": conducts,
        "tolerance": {
            "pull_up": resistors, "series": resistors, "capacitor": basis.tolerance("capacitor", "20 %"),
        },
    }  # fmt: skip
    return f"{SECOND}, {capacitor}, the diode conducting while {conducts}", _with(basis, network)


def _bare(basis: Basis) -> dict[str, Any] | None:
    """A pull-up alone in place of the network; None leaves what there is."""
    if basis.network is None or basis.to_supply():
        return None
    tolerance = {"pull_up": basis.tolerance("pull_up", "5 %")}
    return {"kind": "pull-up", "pull_up": basis.pull_up(), "tolerance": tolerance}


def _timed(basis: Basis, kind: str, seconds: float | None, network: dict[str, Any] | None) -> Made | None:
    if seconds is None:
        return None
    time = _text(seconds, TIME)
    stage = {"name": kind, "kind": kind, "time": time, "tolerance": TIMER_TOLERANCE}
    return f"{time}, {_behind(network)}", _with(basis, network, stage)


def _behind(network: dict[str, Any] | None) -> str:
    return "behind the networks and inputs as they are" if network is None else "behind a pull-up alone"


def _lockout(basis: Basis) -> Made | None:
    return _timed(basis, "lockout", _middle(basis.times.burst, basis.times.level), _bare(basis))


def _agreeing(basis: Basis) -> Made | None:
    """The samples together last as long as a quiet time would."""
    if basis.aim is None:
        return None
    period = _text(basis.aim / AGREEING, TIME)
    stage = {
        "name": "agreeing samples", "kind": "agree", "samples": AGREEING, "period": period,
        "tolerance": {"period": CLOCK_TOLERANCE},
    }  # fmt: skip
    bare = _bare(basis)
    return f"{AGREEING} samples, {period} apart, {_behind(bare)}", _with(basis, bare, stage)


def _interlock(basis: Basis) -> Made | None:
    if any(stage["kind"] == "interlock" for stage in basis.stages):
        return None
    stages = [*copy.deepcopy(basis.stages), {"name": "interlock", "kind": "interlock"}]
    return "behind the stages as they are", stages


def _schmitt(basis: Basis) -> Made | None:
    """An input with hysteresis in place of each plain one."""
    stages, changed = copy.deepcopy(basis.stages), False
    for i, stage in enumerate(stages):
        if stage["kind"] in PLAIN_KINDS:
            # Typical shares of the supply, and the tolerance that keeps the least hysteresis: see the
            # part "cmos-schmitt".
            stages[i] = {
                "name": stage["name"], "kind": "schmitt input", "lines": stage["lines"],
                "rising": "52.4 %", "falling": "34 %",
                "tolerance": {"rising": "11 %", "falling": "11 %"},
            }  # fmt: skip
            changed = True
    return ("in place of the plain input", stages) if changed else None


MAKERS: dict[str, Maker] = {
    "input with hysteresis": _schmitt,
    "filter of two sections": _two_section,
    "filter with a diode, fast on closing": lambda basis: _diode(basis, "discharging"),
    "filter with a diode, fast on opening": lambda basis: _diode(basis, "charging"),
    "quiet time alone": lambda basis: _timed(basis, "quiet time", basis.aim, _bare(basis)),
    "quiet time behind the filter": lambda basis: (
        None if _bare(basis) is None else _timed(basis, "quiet time", basis.aim, None)
    ),
    "lockout alone": _lockout,
    "agreeing samples alone": _agreeing,
    "interlock behind the stages": _interlock,
}
"""The alternatives by name."""
