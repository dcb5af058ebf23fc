"""Parts that the documents of several verbs share: checks, limitations, and how to make a result again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from reports.documents.document import (
    Block,
    Box,
    Code,
    Column,
    Fold,
    Group,
    Items,
    Section,
    Sentence,
    SignalPath,
    Table,
    Tone,
    Value,
)
from reports.words.quantities import compared, quantity

if TYPE_CHECKING:
    from reports.results.common import DesignCheck, SignalBox, Versions

PAGE_FILE = "report.html"
"""The file in the command on a page, so that the page does not depend on its own name."""
CHECK_TONES: Mapping[str, Tone] = {
    "fail": "bad",
    "tight": "caution",
    "pass": "plain",
    "does not apply": "quiet",
}
CHECK_WORDS = {
    "fail": ("fails", "fail"),
    "tight": ("is tight", "are tight"),
    "pass": ("passes", "pass"),
    "does not apply": ("does not apply", "do not apply"),
}
"""A check's verdict as a verb, for one check and for several; the worst first."""
CHECK_METHOD = (
    "Each check is made at the worst corner of the stated tolerances; what is drawn without bounds (the pace "
    "of the hand, the resistance of a contact) is taken at the value that one in a thousand exceeds. Tight: "
    "nearer to the limit than a tenth of it; where the direction or the order of A and B is concerned, "
    "than a tenth of the edges' spacing or of the supply. Nothing is simulated."
)
PART_NOUNS = {"pull": "pull resistor", "series": "series resistor", "capacitor": "capacitor"}
"""What the key of a part is called in a remedy, by a word of the key."""


def totals_line(checks: Sequence[DesignCheck]) -> str:
    counts = {verdict: sum(check.verdict == verdict for check in checks) for verdict in CHECK_WORDS}
    parts = [f"{count} {CHECK_WORDS[verdict][count > 1]}" for verdict, count in counts.items() if count]
    return f"{', '.join(parts)}."


def outcome(check: DesignCheck) -> str:
    result, limit = compared(check.result, check.limit, check.unit)
    return f"{result}, {check.relation} {limit}" if limit else result


def remedy(check: DesignCheck) -> str:
    """What would help, with a value that would pass and the option that tries it; "" for no advice."""
    change = check.change
    if change is None:
        return check.advice
    words = change.key.split("_")
    named = any(noun in check.advice for word, noun in PART_NOUNS.items() if word in words)
    text = f"{check.advice}{': ' if named else '; or else '}{' '.join(words)} {change.text} ({change.series})"
    if change.unit != check.unit or check.result != change.result:
        text += f" gives {quantity(change.result, check.unit, 3)}"
    costs = f"; but then this fails: {', '.join(change.costs)}" if change.costs else ""
    options = " ".join(f"--set {each!r}" if " " in each else f"--set {each}" for each in change.sets)
    return f"{text}{costs}; {options}"


def applying(checks: Iterable[DesignCheck]) -> list[DesignCheck]:
    """The checks that apply, what fails first."""
    order = {"fail": 0, "tight": 1}
    rows = [check for check in checks if check.verdict != "does not apply"]
    return sorted(rows, key=lambda check: order.get(check.verdict, 2))


def failing_checks(checks: Iterable[DesignCheck]) -> list[Sentence]:
    """A line for each check that fails or is tight, failures first."""
    return [
        Sentence(
            f"{check.name} ({check.subject}): {outcome(check)}",
            CHECK_TONES[check.verdict],
            CHECK_WORDS[check.verdict][0],
        )
        for check in applying(checks)
        if check.verdict in ("fail", "tight")
    ]


def check_table(checks: Sequence[DesignCheck]) -> Table:
    """The checks that apply, with result and limit."""
    rows = applying(checks)
    pairs = [compared(check.result, check.limit, check.unit) for check in rows]
    limits = [f"{check.relation} {limit}" for check, (_, limit) in zip(rows, pairs, strict=True)]
    names = [check.name for check in rows]
    told = [each.name if names.count(each.name) == 1 else f"{each.name}, {each.subject}" for each in rows]
    return Table(
        "Electrical checks at the worst corner of all tolerances",
        (
            Column("check", told, sort="name"),
            Column("verdict", [CHECK_WORDS[check.verdict][0] for check in rows], sort="short", tone="strong"),
            Column("on", [check.subject for check in rows], rank=1, sort="short"),
            Column("result", [result for result, _ in pairs]),
            Column("limit", limits, sort="short"),
            Column("remedy", [remedy(check) for check in rows], rank=2, sort="text"),
        ),
        tones=[CHECK_TONES[check.verdict] for check in rows],
    )


def check_details(checks: Sequence[DesignCheck]) -> list[Block]:
    """How each check was made, and which do not apply."""
    rows = applying(checks)
    others = [check for check in checks if check.verdict == "does not apply"]
    found: list[Block] = []
    if rows:
        found.append(Fold("Details of each check", tuple(_detail(check) for check in rows)))
    if others:
        found.append(Fold("Does not apply", (Items(tuple(map(_not_applicable, others))),)))
    return found


def _detail(check: DesignCheck) -> Group:
    numbers = ", ".join(
        f"{each.name} {'infinite' if each.value is None else quantity(each.value, each.unit, 4)}"
        for each in check.numbers
    )
    lines = {
        "formula": check.formula,
        "with": numbers,
        "worst": check.corner,
        "gives": outcome(check) + (f"; {check.why}" if check.why else ""),
        "source": check.source,
        "remedy": remedy(check),
    }
    told = Items(tuple(Sentence(words, lead=lead) for lead, words in lines.items() if words))
    title = f"{check.name}, {check.subject}: {CHECK_WORDS[check.verdict][0]}"
    return Group(title, (Sentence(check.rule), told))


def _not_applicable(check: DesignCheck) -> Sentence:
    value = ""
    if check.result is not None and check.limit is None:
        value = f" It is {quantity(check.result, check.unit, 3)}."
    return Sentence(f"{check.name}: {check.why}.{value}")


def checks_section(checks: Sequence[DesignCheck]) -> Section:
    """All of a design's checks as a part of a larger report; a terminal shows only what fails, elsewhere."""
    blocks = (
        Sentence(totals_line(checks)),
        check_table(checks),
        *check_details(checks),
        Sentence(CHECK_METHOD, "quiet"),
    )
    return Section("checks", "Electrical checks", blocks, "Checks", folded=True, only=("page", "notebook"))


def boxes(path: Sequence[SignalBox]) -> tuple[Box, ...]:
    """The boxes of a block diagram, without the supply."""
    return tuple(
        Box(
            each.role, each.name, each.kind, each.lines, each.joint,
            tuple(Value(value.name, value.value, value.tolerance) for value in each.values),
        )
        for each in path
        if each.role != "supply"
    )  # fmt: skip


def supply_line(path: Sequence[SignalBox]) -> str:
    values = [value for each in path if each.role == "supply" for value in each.values]
    told = [f"{each.name} {each.value}{f' ± {each.tolerance}' if each.tolerance else ''}" for each in values]
    return f"Supply: {', '.join(told)}." if told else ""


def design_section(path: Sequence[SignalBox]) -> Section:
    note = (
        f"Line A is drawn solid, line B dashed. {supply_line(path)} Values that are zero, and those of "
        "chatter, are in the full scenario at the end."
    )
    diagram = SignalPath("From the hand to the count", boxes(path))
    return Section("design", "The design", (diagram, Sentence(note, "quiet")), "Design", only=("page",))


def limitations_section(
    assumptions: Sequence[str], cautions: Sequence[str], lasting: Sequence[str]
) -> Section:
    """What the figures rest on and leave out; a terminal and a notebook show what is ``lasting`` only."""

    def listed(lines: Sequence[str]) -> Items:
        return Items(tuple(map(Sentence, lines)))

    short = Items(tuple(map(Sentence, lasting)), only=("terminal", "notebook"))
    found = (
        short,
        Group("What the figures rest on", (listed(assumptions),), only=("page",)),
        Group("What is left out, and cautions", (listed(cautions),), only=("page",)),
    )
    return Section("limitations", "Limitations", found, folded=True)


def again_section(
    command: str,
    versions: Versions,
    scenarios: Mapping[str, Mapping[str, Any]],
    settings: Mapping[str, str],
    more: Sequence[Block] = (),
) -> Section:
    """How a page can be made again: the command, ``settings`` and versions, and the full scenarios by what
    each is called.
    """
    from scenarios.loading.written import as_toml

    told = versions.export
    features = told.pop("processor_features")
    rows = {
        **settings,
        **{name.replace("_", " "): str(value) for name, value in told.items()},
        "processor features": ", ".join(features) or "not known",
    }
    made_with = Table(
        "Seed and versions",
        (
            Column("what", list(rows), sort="name"),
            Column("value", list(rows.values()), sort="text"),
        ),
    )
    blocks: tuple[Block, ...] = (
        Sentence("This command gives it, with the same scenario and the versions below:"),
        Code(command, "Command"),
        *more,
        made_with,
        *(Fold(title, (Code(as_toml(resolved), "Scenario"),)) for title, resolved in scenarios.items()),
    )
    return Section("again", "The same page again", blocks, "Again", only=("page",))
