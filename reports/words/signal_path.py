"""What stands between the hand and the count, box by box, for a block diagram."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from reports.results.common import SignalBox, SignalValue
from reports.words.summary import UNTOLD, says_something

if TYPE_CHECKING:
    from scenarios.loading.load import Scenario
    from simcore.design import Design

BOTH = ["A", "B"]
COUNTER_DEFAULTS = {"prescale": 1, "start": 0, "ends": "stop"}
CONTACT_DEFAULTS = {"wear": 1, "resistance_per": "unit"}
"""Values that say nothing new."""


def signal_path(scenario: Scenario) -> tuple[SignalBox, ...]:
    """Hand, encoder, contacts, stages and counter, in the order of the signal, and the supply.

    A box says its ``role``, ``name``, ``kind``, the ``lines`` that it serves, whether it is ``joint``
    (one thing that sees both lines) or stands on each line by itself, and its ``values``.
    """
    told, design = scenario.resolved, scenario.design
    return (
        _box("hand", "hand", "", _hand(design), joint=True),
        _box("encoder", "encoder", "", _values(told["encoder"]), joint=True),
        _box("contacts", "contact", told["contacts"].get("kind", ""), _contacts(told["contacts"])),
        *_stages(told.get("stage", []), design),
        _box("counter", "counter", told["counter"].get("kind", ""), _counter(told["counter"]), joint=True),
        _box("supply", "supply", "", _values(told["supply"]), joint=True),
    )


def _box(
    role: str,
    name: str,
    kind: str,
    values: list[SignalValue],
    lines: Iterable[str] = BOTH,
    *,
    joint: bool = False,
) -> SignalBox:
    return SignalBox.model_validate(
        {"role": role, "name": name, "kind": kind, "lines": lines, "joint": joint, "values": values}
    )


def _hand(design: Design) -> list[SignalValue]:
    return [_value(entry.name, entry.words or entry.kind) for entry in design.hand]


def _stages(tables: list[Mapping[str, Any]], design: Design) -> Iterable[SignalBox]:
    from simcore.base.compiling import handles
    from simcore.stages.pair import pair_build

    for table, entry in zip(tables, design.stages, strict=True):
        joint = handles(pair_build, type(entry.item))
        name = table.get("name", entry.name)
        yield _box(
            "stage", name, table.get("kind", ""), _values(table), table.get("lines", BOTH), joint=joint
        )


def _contacts(table: Mapping[str, Any]) -> list[SignalValue]:
    values = _values(_without(table, CONTACT_DEFAULTS))
    if table.get("bad_pad"):
        values.append(_value("bad pad", f"number {table['bad_pad']['pad']} of each turn"))
    return values


def _without(table: Mapping[str, Any], defaults: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in table.items() if key not in defaults or defaults[key] != value}


def _counter(table: Mapping[str, Any]) -> list[SignalValue]:
    values = _values(_without(table, COUNTER_DEFAULTS))
    if "resistance" in table:
        values.append(_value("drives", f"{table['resistance']['end_to_end']} from end to end"))
    return values


def _values(table: Mapping[str, Any]) -> list[SignalValue]:
    """Plain values that are not zero; tables and lists are left to the full listing."""
    tolerance = table.get("tolerance")
    found: list[SignalValue] = []
    for key, value in table.items():
        if key in UNTOLD or key in ("tolerance", "lines") or not says_something(value):
            continue
        within = tolerance.get(key, "") if isinstance(tolerance, Mapping) else ""
        if isinstance(tolerance, str) and not found:
            within = tolerance
        text = "yes" if value is True else f"{value:.6g}" if isinstance(value, float) else str(value)
        found.append(_value(key.replace("_", " "), text, within if says_something(within) else ""))
    return found


def _value(name: str, text: str, tolerance: str = "") -> SignalValue:
    return SignalValue(name=name, value=text, tolerance=tolerance)
