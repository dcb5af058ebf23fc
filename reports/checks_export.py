"""The object behind ``steptally check --json``; its table is drawn from it as well."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from reports.drawing import networks
from reports.versions import versions

if TYPE_CHECKING:
    from scenarios.loading.load import Scenario
    from simcore.limits.records import Change, Check

Export = dict[str, Any]


def checks_of(scenario: Scenario, *, suggest: bool = True) -> list[Export]:
    """All checks of a scenario as plain tables; ``suggest`` looks for values that would pass."""
    from scenarios.checks import check_scenario

    return [check_export(check) for check in check_scenario(scenario, suggest)]


def check_export(check: Check) -> Export:
    """One check; what is infinite is None, and its ``why`` tells."""
    return {
        "name": check.name,
        "subject": check.subject,
        "verdict": check.verdict,
        "rule": check.rule,
        "formula": check.formula,
        "numbers": [
            {"name": each.name, "value": float(each.value), "unit": each.unit} for each in check.numbers
        ],
        "corner": check.corner,
        "result": _finite(check.result),
        "relation": check.relation,
        "limit": _finite(check.limit),
        "unit": check.unit,
        "source": check.source,
        "why": check.why,
        "advice": check.advice if check.matters else "",
        "change": None if check.change is None else change_export(check.change),
    }


def _finite(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def change_export(change: Change) -> Export:
    """A suggested value, with what ``--set`` would take."""
    text = quantity(change.value, change.unit)
    sets = [f"{change.stage}.kind={change.kind}"] if change.kind else []
    return {
        "stage": change.stage,
        "key": change.key,
        "value": change.value,
        "unit": change.unit,
        "text": text,
        "series": f"E{change.series}",
        "result": change.result,
        "costs": list(change.costs),
        "sets": [*sets, f"{change.stage}.{change.key}={text}"],
    }


def totals(checks: Sequence[Export]) -> dict[str, int]:
    """How many checks have each verdict, the worst first."""
    from simcore.limits.records import VERDICTS

    return {verdict: sum(check["verdict"] == verdict for check in checks) for verdict in VERDICTS}


def whole_export(scenario: Scenario) -> Export:
    """Everything that the verb shows."""
    checks = checks_of(scenario)
    return {
        "name": scenario.name,
        "title": scenario.title,
        "scenario": scenario.resolved,
        "networks": networks(scenario.design),
        "totals": totals(checks),
        "checks": checks,
        "versions": versions(),
    }


YEAR = 3.156e7
"""Seconds."""


def quantity(value: float, unit: str, digits: int | None = None) -> str:
    """A number with its unit, to so many significant digits if they are given."""
    from scenarios import quantities as q

    dimensions = {
        "ohm": q.RESISTANCE, "F": q.CAPACITANCE, "s": q.TIME, "V": q.VOLTAGE, "A": q.CURRENT,
        "J": q.ENERGY, "deg": q.ANGLE,
    }  # fmt: skip
    if unit == "s" and abs(value) > 0.1 * YEAR:
        return f"{value / YEAR:.3g} years"
    if unit in dimensions:
        return q.write_quantity(value, dimensions[unit], digits)
    return f"{value:.{digits or 6}g} {unit}".rstrip()


def compared(result: float | None, limit: float | None, unit: str) -> tuple[str, str]:
    """Result and limit with as few digits as tell them apart; "never" for what is not finite."""
    if result is None or limit is None:
        return ("never" if result is None else quantity(result, unit, 3)), (
            "" if limit is None else quantity(limit, unit, 3)
        )
    for digits in (3, 4, 5, 6, 9, 12):
        texts = quantity(result, unit, digits), quantity(limit, unit, digits)
        if texts[0] != texts[1] or result == limit:
            break
    return texts


NOUNS = {"pull": "pull resistor", "series": "series resistor", "capacitor": "capacitor"}
"""What the key of a part is called in an advice, by a word of the key."""


def advice_text(check: Export) -> str:
    """What would help, with a value that would pass and the option that tries it; "" for no advice."""
    change = check["change"]
    if change is None:
        return str(check["advice"])
    words = change["key"].split("_")
    named = any(noun in check["advice"] for word, noun in NOUNS.items() if word in words)
    text = f"{check['advice']}{': ' if named else '; or else '}{' '.join(words)} {change['text']}"
    text += f" ({change['series']})"
    if change["unit"] != check["unit"] or check["result"] != change["result"]:
        text += f" gives {quantity(change['result'], check['unit'], 3)}"
    costs = f"; but then this fails: {', '.join(change['costs'])}" if change["costs"] else ""
    options = " ".join(f"--set {each!r}" if " " in each else f"--set {each}" for each in change["sets"])
    return f"{text}{costs}; {options}"


STYLES = {"fail": "bold red", "tight": "yellow", "pass": "green", "does not apply": "dim"}
"""The look of each verdict, beside its word."""


def outcome(check: Export) -> str:
    """Result against limit, in words."""
    result, limit = compared(check["result"], check["limit"], check["unit"])
    return f"{result}, {check['relation']} {limit}" if limit else result


def summary_lines(checks: Sequence[Export]) -> list[tuple[str, str, str]]:
    """For what fails or is tight, failures first: verdict, one line, and style."""
    found = []
    for verdict in ("fail", "tight"):
        for check in checks:
            if check["verdict"] == verdict:
                line = f"{check['name']} ({check['subject']}): {outcome(check)}"
                found.append((verdict, line, STYLES[verdict]))
    return found
