"""A source's text to a Scenario: parse, lay options over it, merge parts, check, build."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from scenarios.loading.building import build_design, paths_of, resolve
from scenarios.loading.cautions import cautions_of
from scenarios.loading.crosschecks import cross_check
from scenarios.loading.load import Scenario, StatedTarget
from scenarios.loading.merging import give_names, merge_parts, name_members
from scenarios.loading.messages import Fault, KeyPath, Problem, ScenarioError, one_line
from scenarios.loading.overrides import Override, Setting, Variant, apply_sets, take_variants
from scenarios.loading.places import key_lines, line_of
from scenarios.loading.recordings import merge_library
from scenarios.loading.sources import Source, parse
from scenarios.loading.validation import validate
from scenarios.schema.document import ScenarioDocument, Stopping
from simcore.design import Design

MOST_PROBLEMS = 1000
"""Mistakes listed one by one."""


def read_scenario(source: Source, sets: Sequence[str | Setting] = ()) -> Scenario:
    """The checked scenario of a source; ScenarioError with all mistakes at once."""
    raw = parse(source)
    variants, unusable = take_variants(raw, source)
    faults = give_names(raw)
    overrides, problems = apply_sets(raw, sets, source.label)
    chosen = {override.path for override in overrides}
    faults += name_members(raw) + merge_parts(raw, chosen)
    more, others = merge_library(raw, source, chosen)
    faults += more
    document, found = validate(raw)
    faulty = {str(fault.path[0]) for fault in [*faults, *found]}
    faults += _own(found, faults)
    design = build_design(document)
    faults += cross_check(document, design, faulty)
    if faults or problems or others or unusable:
        order = {problem: (True, number) for problem, number in problems.items()}
        order |= dict.fromkeys(others, (False, 0))
        order |= {problem: (False, line) for problem, line in unusable.items()}
        order |= _placed(faults, raw, overrides, source)
        raise _error(sorted(order, key=lambda problem: order[problem]), source)
    return _scenario(source, document, design, variants)


def _error(problems: list[Problem], source: Source) -> ScenarioError:
    """All problems, at most MOST_PROBLEMS of them one by one."""
    more = len(problems) - MOST_PROBLEMS
    if more > 0:
        problems = [*problems[:MOST_PROBLEMS], Problem(source.label, "", "", f"and {more} more mistakes")]
    return ScenarioError(problems)


def _scenario(
    source: Source, document: ScenarioDocument, design: Design, variants: tuple[Variant, ...]
) -> Scenario:
    resolved = resolve(document, design)
    target = document.target
    return Scenario(
        name=source.name,
        title=document.title or source.name,
        source=source.label,
        text=source.text,
        seed=document.seed,
        runs=document.runs,
        stop=(document.stop or Stopping()).build(document.runs),
        target=None if target is None else StatedTarget(target.wrong.rate, target.wrong.text),
        design=design,
        resolved=resolved,
        paths=paths_of(resolved),
        figures=tuple(
            (stage.name, figure) for stage in document.stage for figure in stage.description.figures(stage)
        ),
        cautions=cautions_of(design, detents=document.encoder.detents > 0),
        variants=variants,
    )


def _own(found: Sequence[Fault], earlier: Sequence[Fault]) -> list[Fault]:
    """Faults without keys that are missing only because their part is unknown."""
    tables = {cause.path[:-1] for cause in earlier if cause.path[-1] in ("part", "kind")}
    return [
        fault
        for fault in found
        if fault.read or not any(fault.path[:depth] in tables for depth in range(1, len(fault.path)))
    ]


def _placed(
    faults: Sequence[Fault], raw: dict[str, Any], overrides: Sequence[Override], source: Source
) -> dict[Problem, tuple[bool, int]]:
    """Faults as problems, each once, with what orders them: the line, and after all lines the option."""
    lines = key_lines(source.text) if source.lined else {}
    numbers = {
        (section, item.get("name")): number
        for section in ("stage", "hand")
        for number, item in enumerate(raw[section])
        if isinstance(item.get("name"), str)
    }
    rows: dict[Problem, tuple[bool, int]] = {}
    for fault in faults:
        path = _numbered(fault.path, numbers)
        override = _override_at(path, fault.wide, overrides)
        line = line_of(lines, path)
        if override is not None:
            place, order = override.option, (True, override.number)
        else:
            words = ("" if line is None else f"line {line}", one_line(_dotted(path, raw)))
            place, order = ", ".join(word for word in words if word), (False, line or 0)
        rows.setdefault(Problem(source.label, place, fault.read, fault.message), order)
    return rows


def _numbered(path: KeyPath, numbers: Mapping[Any, int]) -> KeyPath:
    """A path with the number of its stage or gesture in place of the name."""
    number = numbers.get(path[:2]) if len(path) > 1 else None
    return path if number is None else (path[0], number, *path[2:])


def _override_at(path: KeyPath, wide: bool, overrides: Sequence[Override]) -> Override | None:
    """The last option that set the value at ``path`` or, for a wide fault, one in its table."""
    table = path[:-1] if len(path) > 1 and isinstance(path[-1], str) else path
    for override in reversed(overrides):
        inside = override.path[: len(table)] == table
        if path[: len(override.path)] == override.path or (wide and inside):
            return override
    return None


def _dotted(path: KeyPath, raw: dict[str, Any]) -> str:
    words = [str(part) for part in path]
    if len(path) > 1 and path[0] in ("stage", "hand") and isinstance(path[1], int):
        item = raw[path[0]][path[1]]
        name = item.get("name") if isinstance(item, dict) else None
        words[1] = str(name) if isinstance(name, str) else f"number {path[1] + 1}"
        if path[0] == "stage":
            words = words[1:]
    return ".".join(words)
