"""Designs to compare: several scenarios, a file and its variants, or one scenario with other values; and the
values that differ between them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from scenarios.loading.load import Scenario
from scenarios.loading.messages import Problem, ScenarioError, one_line, quoted, sentence, shown
from scenarios.loading.overrides import AS_IT_STANDS, PATH_VALUE, VARIANT, Setting, setting_of
from scenarios.loading.pipeline import read_scenario
from scenarios.loading.sources import Source, find_source
from scenarios.loading.written import inline

Tables = Mapping[str, Any]
ELECTRIC = ("supply", "stage", "counter")
"""Sections in which designs with the same hand may differ."""
ORDER = "stages"
"""The path of the stages' order."""


def leaves(resolved: Tables, sections: Sequence[str] = ELECTRIC) -> dict[str, str]:
    """Path and value, as text, of every single value in some sections of a resolved scenario."""
    return dict(_leaves(resolved, sections))


def _leaves(resolved: Tables, sections: Sequence[str]) -> Iterator[tuple[str, str]]:
    for section in sections:
        value = resolved.get(section)
        if isinstance(value, list):
            prefix = "" if section == "stage" else f"{section}."
            for item in value:
                yield from _of_table(f"{prefix}{item['name']}", item)
        elif isinstance(value, Mapping):
            yield from _of_table(section, value)


def _of_table(prefix: str, table: Tables) -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _of_table(f"{prefix}.{key}", value)
        elif key != "name":
            yield f"{prefix}.{key}", one_line(_text(value))


def _text(value: Any) -> str:
    if isinstance(value, list) and all(isinstance(each, str) for each in value):
        return ", ".join(value)
    return value if isinstance(value, str) else inline(value)


def differing(designs: Sequence[Tables], sections: Sequence[str] = ELECTRIC) -> list[str]:
    """Paths whose values differ among some resolved scenarios, in the order of the first one."""
    found = [leaves(design, sections) for design in designs]
    paths = dict.fromkeys(path for each in found for path in each)
    return [path for path in paths if len({each.get(path) for each in found}) > 1]


def difference_rows(designs: Sequence[Tables]) -> list[tuple[str, list[str | None]]]:
    """For each path that differs the value in each design, None where it has none; the order of the
    stages first, if it differs.

    Of a stage that not every design has, what is 0 or off in those that have it is left out.
    """
    found = [leaves(design) for design in designs]
    rows: list[tuple[str, list[str | None]]] = []
    orders = [", ".join(item["name"] for item in design.get("stage", [])) for design in designs]
    if len(set(orders)) > 1:
        rows.append((ORDER, [order or None for order in orders]))
    for path in differing(designs):
        values = [each.get(path) for each in found]
        if None not in values or any(
            value not in (None, "", "false") and value.split()[0] != "0" for value in values
        ):
            rows.append((path, values))
    return rows


MOST_DESIGNS = 20
SHARED = ("encoder", "contacts", "hand")
"""Sections in which the designs of a comparison must be equal."""
RATINGS = ("contacts.most_current", "contacts.least_current", "contacts.most_energy")
"""Paths in them that nothing simulated depends on."""
COMMON = "all designs of a comparison have the same {word}; use --{word}"
REFUSED = {
    "seed": COMMON.format(word="seed"),
    "runs": COMMON.format(word="runs"),
    "stop": "a comparison does not use [stop]: it takes all its runs",
    "target": "a comparison does not use [target]: it compares designs with each other",
}
"""Why one design alone cannot set what begins so."""
MOST_SHOWN = 4
WITH = "--with"
Group = str | tuple[str, ...]
"""Settings that make a design together: "PATH=VALUE, PATH=VALUE", or each by itself."""

_PIECE = re.compile(
    r"""(?: "(?:[^"\\]|\\.)*" | '[^']*' | (?P<open>[\[{]) | (?P<close>[\]}]) | (?P<comma>,) | . )""",
    re.VERBOSE | re.DOTALL,
)


@dataclass(frozen=True)
class ComparisonDesign:
    """One design of a comparison: its ``name`` in it, the scenario, and what a command line says to name it
    alone: a scenario and the "PATH=VALUE" that override it.
    """

    name: str
    scenario: Scenario
    named: str
    sets: tuple[str, ...]


@dataclass(frozen=True)
class DesignSource:
    """The source of a design: how the command line names it, ``sets`` of its own that override it, and what
    it is ``called``; "" for the name of its scenario.
    """

    source: Source
    named: str
    sets: tuple[str, ...] = ()
    called: str = ""


def load_compared(
    names: Sequence[str], groups: Sequence[str] = (), sets: Sequence[str] = ()
) -> tuple[ComparisonDesign, ...]:
    """The designs of a comparison, the reference first; ``sets`` ("PATH=VALUE") override values in all.

    Several ``names`` (ready scenarios or files) are a design each.  One name is that scenario unchanged,
    followed by one design for each of ``groups`` ("PATH=VALUE, PATH=VALUE"), or without any by its
    variants.  ScenarioError with all mistakes at once, also where the designs have nothing to compare.
    """
    _require_few(names, groups)
    return compared_of([DesignSource(find_source(name), name) for name in names], groups, sets)


def compared_of(
    designs: Sequence[DesignSource], groups: Sequence[Group] = (), sets: Sequence[str] = ()
) -> tuple[ComparisonDesign, ...]:
    """The same of designs whose sources are known; a group may be split already."""
    _require_few(designs, groups)
    found = _of_several(designs, sets) if len(designs) > 1 else _of_one(designs[0], groups, sets)
    if not 2 <= len(found) <= MOST_DESIGNS:
        raise _wrong_number(len(found))
    _require_shared(found)
    return found


def _refused(message: str, file: str = "") -> ScenarioError:
    return ScenarioError([Problem(file, "", "", message)])


def _wrong_number(count: int, file: str = "") -> ScenarioError:
    return ScenarioError([Problem(file, "", str(count), f"expected 2 to {MOST_DESIGNS} designs")])


def _require_few(designs: Sequence[str | DesignSource], groups: Sequence[Group]) -> None:
    """Raise ScenarioError, before anything is read, for more designs than there may be."""
    if groups and len(designs) > 1:
        raise _refused(f"{WITH} is for one scenario, and there are {len(designs)}; leave out either")
    if len(designs) > MOST_DESIGNS:
        raise _wrong_number(len(designs))


def _of_several(designs: Sequence[DesignSource], sets: Sequence[str]) -> tuple[ComparisonDesign, ...]:
    """Each of them a design; equal names, such as of files in two folders, are made different."""
    scenarios = _all_read([(each.source, (*each.sets, *sets)) for each in designs])
    taken: list[str] = []
    for design, scenario in zip(designs, scenarios, strict=True):
        name = design.called or scenario.name
        taken.append(_free(name if name not in taken else scenario.source, taken))
    return tuple(
        ComparisonDesign(name, scenario, design.named, (*design.sets, *sets))
        for name, scenario, design in zip(taken, scenarios, designs, strict=True)
    )


def _free(first: str, taken: Sequence[str]) -> str:
    name, number = first, 1
    while name in taken:
        number += 1
        name = f"{first} ({number})"
    return name


def _of_one(
    design: DesignSource, groups: Sequence[Group], sets: Sequence[str]
) -> tuple[ComparisonDesign, ...]:
    source, name, sets = design.source, design.named, (*design.sets, *sets)
    base = read_scenario(source, sets)
    if groups:
        made = [
            (one_line(", ".join(piece.strip() for piece in _pieces(group))), tuple(_settings(group)))
            for group in groups
        ]
    else:
        made = [(variant.name, variant.settings) for variant in base.variants]
    if not made:
        raise _refused(
            f'there is one design only; name another scenario, or give {WITH} "PATH=VALUE", or write '
            f"[{VARIANT}.NAME] tables into the file",
            source.label,
        )
    if len(made) >= MOST_DESIGNS:
        raise _wrong_number(len(made) + 1, source.label)
    settings = [tuple(_checked(each)) for _, each in made]
    scenarios = _all_read([(source, (*sets, *each)) for each in settings])
    found = [ComparisonDesign(AS_IT_STANDS, base, name, tuple(sets))]
    taken = [AS_IT_STANDS]
    for (first, _), each, scenario in zip(made, settings, scenarios, strict=True):
        taken.append(_free(first, taken))
        texts = tuple(setting.text for setting in each)
        found.append(ComparisonDesign(taken[-1], scenario, name, (*sets, *texts)))
    return tuple(found)


def _all_read(wanted: Sequence[tuple[Source, Sequence[str | Setting]]]) -> list[Scenario]:
    """Every scenario; ScenarioError with the mistakes of all, each once."""
    scenarios, problems = list[Scenario](), list[Problem]()
    for source, settings in wanted:
        try:
            scenarios.append(read_scenario(source, settings))
        except ScenarioError as error:
            problems += error.problems
    if problems:
        raise ScenarioError(dict.fromkeys(problems))
    return scenarios


def _checked(settings: Sequence[Setting]) -> Iterator[Setting]:
    """The settings of one design; those that must be common to all become mistakes."""
    for setting in settings:
        reason = setting.reason or REFUSED.get(next(iter(setting.words), ""), "")
        yield Setting(setting.option, setting.words, setting.value, reason)


def _settings(group: Group) -> Iterator[Setting]:
    for piece in _pieces(group):
        setting = setting_of(piece.strip(), WITH)
        if setting.reason:
            place = f"{WITH} {shown(group if isinstance(group, str) else ', '.join(group))[1:-1]}".rstrip()
            reason = sentence(f"expected {PATH_VALUE}; commas separate several", shown(piece.strip()))
            setting = Setting(place, (), None, reason)
        yield setting


def _pieces(group: Group) -> list[str]:
    """A group split at its commas, except those in quotes, lists and tables."""
    if not isinstance(group, str):
        return [*group]
    pieces, depth = [""], 0
    for match in _PIECE.finditer(group):
        depth += (match["open"] is not None) - (match["close"] is not None)
        if match["comma"] and depth <= 0:
            pieces.append("")
        else:
            pieces[-1] += match.group()
    return pieces


def _require_shared(designs: Sequence[ComparisonDesign]) -> None:
    """Raise ScenarioError unless all designs have the same hand, encoder and contacts."""
    first, problems = designs[0], list[Problem]()
    for other in designs[1:]:
        paths = _apart(first.scenario.resolved, other.scenario.resolved)
        if paths:
            problems.append(
                Problem(
                    other.name, "", "",
                    f"a comparison needs the hand, the encoder and the contacts of {quoted([first.name])}; "
                    f"other here: {_listed(paths, first.scenario.resolved, other.scenario.resolved)}",
                )
            )  # fmt: skip
    if problems:
        raise ScenarioError(problems)


def _apart(one: Mapping[str, Any], other: Mapping[str, Any]) -> list[str]:
    """Paths in the shared sections that differ; the order of gestures counts."""
    paths = [path for path in differing([one, other], SHARED) if path not in RATINGS]
    orders = [[gesture["name"] for gesture in tables["hand"]] for tables in (one, other)]
    return paths or (["hand"] if orders[0] != orders[1] else [])


def _listed(paths: Sequence[str], one: Mapping[str, Any], other: Mapping[str, Any]) -> str:
    mine, theirs = leaves(one, SHARED), leaves(other, SHARED)
    shown_paths = [
        f"{path} ({theirs.get(path, 'nothing')}, not {mine.get(path, 'nothing')})"
        for path in paths[:MOST_SHOWN]
    ]
    more = [f"{len(paths) - MOST_SHOWN} more"] if len(paths) > MOST_SHOWN else []
    return ", ".join([*shown_paths, *more])
