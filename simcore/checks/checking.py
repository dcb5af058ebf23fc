"""All checks of a design, and for what fails or is tight a preferred value with which it would pass."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any, NamedTuple

from simcore.base.check import (
    EQUAL,
    FAIL,
    FARAD,
    INSERT,
    OHM,
    PASS,
    TIGHT,
    UP,
    Change,
    Check,
    Number,
    Remedy,
    not_applicable,
)  # fmt: skip
from simcore.base.compiling import handles
from simcore.base.draws import Part
from simcore.base.preferred import downward, is_preferred, nearest, series_for, series_of, upward
from simcore.checks.context import CheckContext, context_of
from simcore.checks.counter import COUNTER_CHECKS, sampling
from simcore.checks.networks import SECTION_CHECKS, unbridged
from simcore.checks.sections import NetworkSection, lines_words, parts_of
from simcore.counters.facts import counter_checks
from simcore.design import Design, StageEntry
from simcore.networks.response import network_parts
from simcore.stages.facts import Component, parts_list, stage_checks, with_resistor

MOST_STEPS = 40
"""Values tried for one part."""
FINEST = 24
"""Suggestions come from E24 or a coarser series."""
FIRST_SERIES = 10.0
"""Smallest series resistor (ohm) that is suggested where there is none yet."""


class Finding(NamedTuple):
    """A check, the ``stages`` (name, record) whose values its remedies may change, and how to make it
    ``again`` for a context where that of one name has been changed.
    """

    check: Check
    stages: tuple[tuple[str, Any], ...]
    again: Callable[[CheckContext, str], Check | None]


def check_design(design: Design, suggest: bool = True) -> tuple[Check, ...]:
    """All checks of a design but those that need more than it knows; with ``suggest`` what would help."""
    context = context_of(design)
    bare = unbridged(context)
    findings = [*electrical(context), *([] if bare is None else [alone(bare)]), *of_stages(context)]
    failing = frozenset(_key(each.check) for each in findings if each.check.verdict == FAIL)
    found = [_remedied(context, each, failing) if suggest else each.check for each in findings]
    counter = counter_checks(context.design.counter, context.around("counter"))
    return (*found, sampling(context), *counter, *value_checks(context))


def _key(check: Check) -> tuple[str, str]:
    return check.name, check.subject


def alone(check: Check) -> Finding:
    return Finding(check, (), lambda context, stage: None)


def electrical(context: CheckContext) -> Iterator[Finding]:
    """The checks of the sections, and of the counter behind them."""
    networks = tuple((each.network_name, each.network) for each in context.sections if not each.assumed)
    for section in context.sections:
        own = () if section.assumed else ((section.network_name, section.network),)
        for rule in SECTION_CHECKS:
            yield Finding(rule(context, section), own, _of_section(rule, section.lines))
    for whole in COUNTER_CHECKS:
        yield Finding(whole(context), networks, _of_design(whole))


def _of_section(
    rule: Callable[[CheckContext, NetworkSection], Check], lines: tuple[int, ...]
) -> Callable[[CheckContext, str], Check | None]:
    def again(context: CheckContext, stage: str) -> Check | None:
        found = next((s for s in context.sections if s.network_name == stage and s.lines == lines), None)
        return None if found is None else rule(context, found)

    return again


def _of_design(rule: Callable[[CheckContext], Check]) -> Callable[[CheckContext, str], Check | None]:
    return lambda context, stage: rule(context)


def of_stages(context: CheckContext) -> Iterator[Finding]:
    """What the kinds of stages check of themselves."""
    for number, entry in enumerate(context.design.stages):
        for check in _checks_of(context, entry):
            yield Finding(check, ((entry.name, entry.item),), _of_stage(number, check))


def _checks_of(context: CheckContext, entry: StageEntry) -> tuple[Check, ...]:
    around = context.around(f"{entry.name}, {lines_words(entry.lines)}", entry.lines)
    return tuple(stage_checks(entry.item, around))


def _of_stage(number: int, check: Check) -> Callable[[CheckContext, str], Check | None]:
    def again(context: CheckContext, stage: str) -> Check | None:
        checks = _checks_of(context, context.design.stages[number])
        return next((each for each in checks if _key(each) == _key(check)), None)

    return again


def _remedied(context: CheckContext, finding: Finding, failing: frozenset[tuple[str, str]]) -> Check:
    """The check with the first change that passes and breaks nothing else, or else the first that passes."""
    check = finding.check
    fallback: Change | None = None
    done: set[tuple[str, str]] = set()
    for change, tried in _changes(context, finding) if check.matters else ():
        part = (change.stage, change.key)
        again = None if part in done else finding.again(tried, change.stage)
        if again is None or again.verdict != PASS or again.result is None or math.isinf(again.result):
            continue
        done.add(part)
        costs = _costs(tried, failing)
        change = replace(change, result=again.result, costs=costs)
        if not costs:
            return replace(check, change=change)
        fallback = fallback or change
    return replace(check, change=fallback)


def _costs(tried: CheckContext, failing: frozenset[tuple[str, str]]) -> tuple[str, ...]:
    findings = (*electrical(tried), *of_stages(tried))
    fail = [each.check for each in findings if each.check.verdict == FAIL]
    return tuple(dict.fromkeys(check.name for check in fail if _key(check) not in failing))


def _changes(context: CheckContext, finding: Finding) -> Iterator[tuple[Change, CheckContext]]:
    """What may be changed, nearest values first, with the design that comes of it."""
    for name, item in finding.stages:
        for remedy in finding.check.remedies:
            if remedy.direction == INSERT:
                yield from _inserted(context, name, item, remedy)
                continue
            for key, part in parts_of(item):
                if key in remedy.keys and part.nominal > 0.0:
                    yield from _values(context, name, key, part, remedy)


def _values(
    context: CheckContext, stage: str, key: str, part: Part, remedy: Remedy
) -> Iterator[tuple[Change, CheckContext]]:
    series = min(series_for(part.tolerance), FINEST)
    values = (upward if remedy.direction == UP else downward)(part.nominal, series)
    for _, value in zip(range(MOST_STEPS), values, strict=False):
        yield Change(stage, key, value, remedy.unit, series, math.nan), context.with_part(stage, key, value)


def _inserted(
    context: CheckContext, stage: str, item: Any, remedy: Remedy
) -> Iterator[tuple[Change, CheckContext]]:
    """A series resistor where there is none, in a kind that can take one in."""
    for _, value in zip(range(2 * MOST_STEPS), upward(FIRST_SERIES, 12), strict=False):
        other = with_resistor(item, value)
        if other is None:
            return
        kind, record = other
        change = Change(stage, remedy.keys[0], value, remedy.unit, 12, math.nan, kind=kind)
        yield change, context.with_item(stage, lambda before, record=record: record)


def value_checks(context: CheckContext) -> tuple[Check, ...]:
    """One check for each resistor and capacitor: of the networks that are read, then of all other stages."""
    stages = [(each.network_name, each.network) for each in context.sections if not each.assumed]
    others = [entry for entry in context.design.stages if not handles(network_parts, type(entry.item))]
    found: dict[str, Check] = {}
    for name, item in (*stages, *((entry.name, entry.item) for entry in others)):
        for component in parts_list(item):
            if component.part is not None and component.unit in (OHM, FARAD):
                check = preferred_value(name, component, component.part)
                found[check.subject] = check  # a network of both lines with two inputs is still one
    return tuple(found.values())


def preferred_value(stage: str, component: Component, part: Part) -> Check:
    """A value that is in the series of its tolerance passes; one of a finer series only is tight."""
    series, word, unit = series_for(part.tolerance), component.name, component.unit
    check = Check(
        "preferred value", f"{stage}, {word}",
        "The value is one of the series that goes with its tolerance; one of a finer series may have to be "
        "ordered, and others are not made.",
        f"E{series} for {100.0 * part.tolerance:g} %" if part.tolerance else "E24, no tolerance is stated",
        numbers=(Number(word, part.nominal, unit),), unit=unit, relation=EQUAL,
        result=part.nominal, source="IEC 60063",
    )  # fmt: skip
    if part.nominal <= 0.0:
        return not_applicable(replace(check, result=None), "there is no such part")
    found, near = series_of(part.nominal), nearest(part.nominal, series)
    # Values of E24 are made in close tolerances too, though most of them are not in E48 to E192.
    if is_preferred(part.nominal, series) or (series > 24 and found is not None and found <= 24):
        return replace(check, verdict=PASS, limit=part.nominal, why=f"in E{found}")
    check = replace(
        check, limit=near, change=Change(stage, component.key, near, unit, series, near),
        advice=f"the nearest value of E{series}",
    )  # fmt: skip
    if found is not None:
        return replace(check, verdict=TIGHT, why=f"in E{found}, which is finer than its tolerance asks for")
    return replace(check, verdict=FAIL, why="in no series; a resistor within a chip need not be")
