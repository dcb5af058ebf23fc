"""What was simulated, in one line that a person can check against the drawing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from reports.words.numbers import counted

if TYPE_CHECKING:
    from scenarios.loading.load import Scenario
    from simcore.campaigns.campaign import Outcome
    from simcore.design import Design, HandEntry
    from simcore.judging.tally import Tally

UNTOLD = ("name", "kind", "part", "gesture")
"""Keys whose values are told in another way."""
COUNTER_KEYS = (
    "clock", "direction", "decoding", "period", "pulse", "rest", "double_change", "up_when", "positions",
)  # fmt: skip


def simulated(scenario: Scenario, outcome: Outcome) -> str:
    """Runs, hand, encoder, contacts, stages, counter and supply with their main values."""
    return f"{_amount(outcome.tally)}: {design_words(scenario)}."


def design_words(scenario: Scenario) -> str:
    """Hand, encoder, contacts, stages, counter and supply with their main values."""
    told = scenario.resolved
    pieces = [
        _met(scenario),
        *(_stage(stage) for stage in told.get("stage", [])),
        _counter(told.get("counter", {})),
        f"supply {told['supply']['voltage']}",
    ]
    return "; ".join(pieces)


def met(scenario: Scenario, tally: Tally) -> str:
    """What a design meets: runs, hand, encoder, contacts."""
    return f"{_amount(tally)}: {_met(scenario)}"


def _met(scenario: Scenario) -> str:
    design = scenario.design
    return "; ".join([_hand(design), _encoder(design), _contacts(scenario.resolved.get("contacts", {}))])


def _amount(tally: Tally) -> str:
    runs, steps = tally.runs, tally.steps
    if runs and steps % runs == 0:
        return f"{counted(runs, 'run')} of {counted(steps // runs, 'step')}"
    return f"{counted(runs, 'run')}, {counted(steps, 'step')}"


def _hand(design: Design) -> str:
    return ", ".join(_gesture(entry) for entry in design.hand)


def _gesture(entry: HandEntry) -> str:
    """The name, and how many movements of how many steps each."""
    return f"{entry.name} {entry.words}".rstrip()


def _encoder(design: Design) -> str:
    geometry = design.geometry
    cycles = geometry.steps_per_turn * geometry.cycles_per_step
    return f"encoder with {geometry.steps_per_turn:g} steps and {cycles:g} cycles a turn"


def _contacts(table: Mapping[str, Any]) -> str:
    words = f"{_kind(table)} contacts"
    bad = table.get("bad_pad")
    if bad is not None:
        words += f", of which pad {bad['pad']} of each turn is worn {bad['factor']:g} times as much"
    return words


def _kind(table: Mapping[str, Any]) -> str:
    return str(table.get("kind", "unnamed"))


def _stage(table: Mapping[str, Any]) -> str:
    values = _values(table, [key for key in table if key not in UNTOLD])
    kind, name = _kind(table), table.get("name", "")
    lead = kind if name in (kind, "") else f"{name} ({kind})"
    lines = table.get("lines", ["A", "B"])
    only = f" on line {lines[0]} only" if len(lines) == 1 else ""
    return f"{lead}{only}{': ' if values else ''}{values}"


def _counter(table: Mapping[str, Any]) -> str:
    keys = [*COUNTER_KEYS, *(["prescale", "prescale_phase"] if table.get("prescale", 1) > 1 else [])]
    values = _values(table, keys)
    drives = table.get("resistance")
    driven = f", driving {drives['end_to_end']} from end to end" if drives else ""
    return f"{_kind(table)} counter{': ' if values else ''}{values}{driven}"


def _values(table: Mapping[str, Any], keys: Iterable[str]) -> str:
    """Plain values with their keys; tables, lists and zeros are left to the full listing."""
    told = []
    for key in keys:
        value, word = table.get(key), key.replace("_", " ")
        if not says_something(value):
            continue
        if value is True:
            told.append(word)
        else:
            told.append(f"{word} {value:.6g}" if isinstance(value, float) else f"{word} {value}")
    return ", ".join(told)


def says_something(value: Any) -> bool:
    """Whether a value is plain and not zero: neither 0, nor "0 A", nor empty, nor a table or a list."""
    if isinstance(value, str):
        return value != "" and value.split()[0] != "0"
    return isinstance(value, (int, float)) and bool(value)
