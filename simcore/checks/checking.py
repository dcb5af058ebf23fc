"""All checks of a design, and for what fails or is tight a preferred value with which it would pass."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any, NamedTuple

from simcore.base.check import FAIL, INSERT, PASS, UP, Change, Check, Remedy
from simcore.base.draws import Part
from simcore.base.preferred import downward, series_for, upward
from simcore.checks.bench import Bench, bench_of
from simcore.checks.counter import COUNTER_CHECKS, looks
from simcore.checks.networks import SECTION_CHECKS, unbridged
from simcore.checks.sections import Section, lines_words, parts_of
from simcore.checks.values import value_checks
from simcore.counters.facts import counter_checks
from simcore.design import Design, StageEntry
from simcore.stages.facts import stage_checks, with_resistor

MOST_STEPS = 40
"""Values tried for one part."""
FINEST = 24
"""Suggestions come from E24 or a coarser series."""
FIRST_SERIES = 10.0
"""Smallest series resistor (ohm) that is suggested where there is none yet."""


class Finding(NamedTuple):
    """A check, the ``stages`` (name, record) whose values its remedies may change, and how to make it
    ``again`` for a bench where that of one name has been changed.
    """

    check: Check
    stages: tuple[tuple[str, Any], ...]
    again: Callable[[Bench, str], Check | None]


def check_design(design: Design, suggest: bool = True) -> tuple[Check, ...]:
    """All checks of a design but those that need more than it knows; with ``suggest`` what would help."""
    bench = bench_of(design)
    bare = unbridged(bench)
    findings = [*electrical(bench), *([] if bare is None else [alone(bare)]), *of_stages(bench)]
    failing = frozenset(_key(each.check) for each in findings if each.check.verdict == FAIL)
    found = [_remedied(bench, each, failing) if suggest else each.check for each in findings]
    counter = counter_checks(bench.design.counter, bench.around("counter"))
    return (*found, looks(bench), *counter, *value_checks(bench))


def _key(check: Check) -> tuple[str, str]:
    return check.name, check.subject


def alone(check: Check) -> Finding:
    return Finding(check, (), lambda bench, stage: None)


def electrical(bench: Bench) -> Iterator[Finding]:
    """The checks of the sections, and of the counter behind them."""
    networks = tuple((each.network_name, each.network) for each in bench.sections if not each.assumed)
    for section in bench.sections:
        own = () if section.assumed else ((section.network_name, section.network),)
        for rule in SECTION_CHECKS:
            yield Finding(rule(bench, section), own, _of_section(rule, section.lines))
    for whole in COUNTER_CHECKS:
        yield Finding(whole(bench), networks, _of_bench(whole))


def _of_section(
    rule: Callable[[Bench, Section], Check], lines: tuple[int, ...]
) -> Callable[[Bench, str], Check | None]:
    def again(bench: Bench, stage: str) -> Check | None:
        found = next((s for s in bench.sections if s.network_name == stage and s.lines == lines), None)
        return None if found is None else rule(bench, found)

    return again


def _of_bench(rule: Callable[[Bench], Check]) -> Callable[[Bench, str], Check | None]:
    return lambda bench, stage: rule(bench)


def of_stages(bench: Bench) -> Iterator[Finding]:
    """What the kinds of stages check of themselves."""
    for number, entry in enumerate(bench.design.stages):
        for check in _checks_of(bench, entry):
            yield Finding(check, ((entry.name, entry.item),), _of_stage(number, check))


def _checks_of(bench: Bench, entry: StageEntry) -> tuple[Check, ...]:
    around = bench.around(f"{entry.name}, {lines_words(entry.lines)}", entry.lines)
    return tuple(stage_checks(entry.item, around))


def _of_stage(number: int, check: Check) -> Callable[[Bench, str], Check | None]:
    def again(bench: Bench, stage: str) -> Check | None:
        checks = _checks_of(bench, bench.design.stages[number])
        return next((each for each in checks if _key(each) == _key(check)), None)

    return again


def _remedied(bench: Bench, finding: Finding, failing: frozenset[tuple[str, str]]) -> Check:
    """The check with the first change that passes and breaks nothing else, or else the first that passes."""
    check = finding.check
    fallback: Change | None = None
    done: set[tuple[str, str]] = set()
    for change, tried in _changes(bench, finding) if check.matters else ():
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


def _costs(tried: Bench, failing: frozenset[tuple[str, str]]) -> tuple[str, ...]:
    findings = (*electrical(tried), *of_stages(tried))
    fail = [each.check for each in findings if each.check.verdict == FAIL]
    return tuple(dict.fromkeys(check.name for check in fail if _key(check) not in failing))


def _changes(bench: Bench, finding: Finding) -> Iterator[tuple[Change, Bench]]:
    """What may be changed, nearest values first, with the design that comes of it."""
    for name, item in finding.stages:
        for remedy in finding.check.remedies:
            if remedy.direction == INSERT:
                yield from _inserted(bench, name, item, remedy)
                continue
            for key, part in parts_of(item):
                if key in remedy.keys and part.nominal > 0.0:
                    yield from _values(bench, name, key, part, remedy)


def _values(bench: Bench, stage: str, key: str, part: Part, remedy: Remedy) -> Iterator[tuple[Change, Bench]]:
    series = min(series_for(part.tolerance), FINEST)
    values = (upward if remedy.direction == UP else downward)(part.nominal, series)
    for _, value in zip(range(MOST_STEPS), values, strict=False):
        yield Change(stage, key, value, remedy.unit, series, math.nan), bench.with_part(stage, key, value)


def _inserted(bench: Bench, stage: str, item: Any, remedy: Remedy) -> Iterator[tuple[Change, Bench]]:
    """A series resistor where there is none, in a kind that can take one in."""
    for _, value in zip(range(2 * MOST_STEPS), upward(FIRST_SERIES, 12), strict=False):
        other = with_resistor(item, value)
        if other is None:
            return
        kind, record = other
        change = Change(stage, remedy.keys[0], value, remedy.unit, 12, math.nan, kind=kind)
        yield change, bench.with_item(stage, lambda before, record=record: record)
