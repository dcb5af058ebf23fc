"""All checks of a design, and for what fails or is tight a preferred value with which it would pass."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from simcore.base.draws import Part
from simcore.base.preferred import downward, series_for, upward
from simcore.design import Design
from simcore.limits.bench import Bench, bench_of, unit_of
from simcore.limits.currents import energy_at_closure, peak, wetting
from simcore.limits.filters import filter_checks
from simcore.limits.levels import LEVEL_CHECKS
from simcore.limits.order import direction_level, hold, order, set_up
from simcore.limits.records import FAIL, PASS, Change, Check
from simcore.limits.sections import Section, parts_of
from simcore.limits.timing import charge, discharge, ride_through, unbridged
from simcore.limits.values import value_checks
from simcore.stages.network import AcrossCapacitor, PullDownAcross, PullDownSeries, SeriesCapacitor

SECTION_CHECKS: tuple[Callable[[Bench, Section], Check], ...] = (
    peak, wetting, energy_at_closure, *LEVEL_CHECKS, charge, discharge, ride_through,
)  # fmt: skip
COUNTER_CHECKS: tuple[Callable[[Bench], Check], ...] = (set_up, direction_level, hold, order)

UP, DOWN = 1, -1
CAPACITORS = ("capacitor", "second_capacitor", "first_capacitor")
PULLS = ("pull_up", "pull_down")
SERIES_RESISTORS = ("series", "first_series")
REMEDIES: dict[Callable[..., Check], tuple[tuple[tuple[str, ...], int], ...]] = {
    peak: ((SERIES_RESISTORS, UP), (PULLS, UP)),
    wetting: ((PULLS, DOWN),),
    energy_at_closure: ((CAPACITORS, DOWN),),
    LEVEL_CHECKS[0]: ((("series",), DOWN), (PULLS, UP)),
    LEVEL_CHECKS[1]: ((PULLS, DOWN), (("series",), DOWN)),
    LEVEL_CHECKS[2]: ((CAPACITORS, DOWN),),
    charge: ((CAPACITORS, DOWN), (PULLS, DOWN)),
    discharge: ((CAPACITORS, DOWN), (SERIES_RESISTORS, DOWN)),
    ride_through: ((CAPACITORS, UP),),
    set_up: ((CAPACITORS, DOWN),),
    direction_level: ((CAPACITORS, DOWN),),
    hold: ((CAPACITORS, DOWN),),
    order: ((CAPACITORS, DOWN),),
}
"""What may be changed for each check, and which way."""
MOST_STEPS = 40
"""Values tried for one part."""
FINEST = 24
"""Suggestions come from E24 or a coarser series."""
BUFFERED = {AcrossCapacitor: "rc", PullDownAcross: "rc to supply"}
"""What a network without a resistor between capacitor and contact may become."""
FIRST_SERIES = 10.0
"""Smallest series resistor (ohm) that is suggested where there is none yet."""


def check_design(design: Design, suggest: bool = True) -> tuple[Check, ...]:
    """All checks of a design but those that need more than it knows; with ``suggest`` what would help."""
    bench = bench_of(design)
    plain = [check for _, _, check in _electrical(bench)]
    failing = frozenset(_key(check) for check in plain if check.verdict == FAIL)
    found = []
    for rule, section, check in _electrical(bench):
        if suggest and check.matters and rule in REMEDIES:
            check = _remedied(bench, rule, section, check, failing)
        found.append(check)
    bare = unbridged(bench)
    found += [] if bare is None else [bare]
    return (*found, *filter_checks(bench), *_once(value_checks(bench)))


def _once(checks: Iterator[Check]) -> tuple[Check, ...]:
    """A network of both lines with two inputs is still one network."""
    return tuple({check.subject: check for check in checks}.values())


def _key(check: Check) -> tuple[str, str]:
    return check.name, check.subject


def _electrical(bench: Bench) -> Iterator[tuple[Callable[..., Check], Section | None, Check]]:
    """The checks of sections and counter, each with its rule and its section."""
    for section in bench.sections:
        for rule in SECTION_CHECKS:
            yield rule, section, rule(bench, section)
    for whole in COUNTER_CHECKS:
        yield whole, None, whole(bench)


def _remedied(
    bench: Bench, rule: Callable[..., Check], section: Section | None, check: Check,
    failing: frozenset[tuple[str, str]],
) -> Check:  # fmt: skip
    """The check with the first change that passes and breaks nothing else, or else the first that passes."""
    fallback: Change | None = None
    done: set[tuple[str, str]] = set()
    for change, tried in _changes(bench, rule, section):
        part = (change.stage, change.key)
        again = None if part in done else _again(tried, rule, section, change.stage)
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
    """Names of the checks that fail with a change and did not before."""
    names = [c.name for _, _, c in _electrical(tried) if c.verdict == FAIL and _key(c) not in failing]
    return tuple(dict.fromkeys(names))


def _again(bench: Bench, rule: Callable[..., Check], section: Section | None, stage: str) -> Check | None:
    """The check computed anew."""
    if section is None:
        return rule(bench)
    found = next((s for s in bench.sections if s.network_name == stage and s.lines == section.lines), None)
    return None if found is None else rule(bench, found)


def _changes(
    bench: Bench, rule: Callable[..., Check], section: Section | None
) -> Iterator[tuple[Change, Bench]]:
    """What may be changed, nearest values first, with the design that comes of it."""
    chosen = bench.sections if section is None else (section,)
    for each in chosen:
        if each.assumed:
            continue
        if rule is peak and type(each.network) in BUFFERED:
            yield from _buffered(bench, each)
        for keys, sign in REMEDIES[rule]:
            for key, part in parts_of(each.network):
                if key in keys and part.nominal > 0.0:
                    yield from _values(bench, each.network_name, key, part, sign)


def _values(bench: Bench, stage: str, key: str, part: Part, sign: int) -> Iterator[tuple[Change, Bench]]:
    series = min(series_for(part.tolerance), FINEST)
    for _, value in zip(
        range(MOST_STEPS), (upward if sign > 0 else downward)(part.nominal, series), strict=False
    ):
        yield Change(stage, key, value, unit_of(key), series, math.nan), bench.with_part(stage, key, value)


def _buffered(bench: Bench, section: Section) -> Iterator[tuple[Change, Bench]]:
    """A series resistor where there is none."""
    for _, value in zip(range(2 * MOST_STEPS), upward(FIRST_SERIES, 12), strict=False):
        stage, kind = section.network_name, BUFFERED[type(section.network)]
        change = Change(stage, "series", value, unit_of("series"), 12, math.nan, kind=kind)
        yield change, bench.with_item(stage, lambda item, ohms=value: _with_series(item, ohms))


def _with_series(network: Any, ohms: float) -> Any:
    if isinstance(network, AcrossCapacitor):
        return SeriesCapacitor(network.pull_up, Part(ohms, 0.0), network.capacitor)
    return PullDownSeries(network.pull_down, Part(ohms, 0.0), network.capacitor)
