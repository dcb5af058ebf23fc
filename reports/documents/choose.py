"""The report of ``steptally choose``."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from reports.documents.cells import MET, axes_line, value_columns, values_text
from reports.documents.document import (
    EVERYWHERE,
    Block,
    Code,
    Column,
    Document,
    Fold,
    Group,
    Items,
    Section,
    Sentence,
    Table,
    sentences,
)
from reports.documents.rates import CI, rate_columns, rate_sentence
from reports.documents.shared import design_section, limitations_section
from reports.documents.sweep import again, cautions, cell_sections
from reports.results.choose import cannot_be_shown
from reports.words.numbers import PER, counted, duration_text, estimate_text, interval_text, whole
from reports.words.sentences import LASTING

if TYPE_CHECKING:
    from reports.results.choose import (
        AlternativeKind,
        ChoiceResult,
        NeighbourValue,
        NeighbourValues,
        WorstGesture,
    )
    from reports.results.sweep import CellTally

VARIED_BY_RULE = (
    "Varied by rule: the resistors by one value of E3 on either side; capacitors and times so that the "
    "filter's time is from half the longest return of the contacts to their old state to twice the shortest "
    "level of the fastest hand. --vary overrides it."
)


def document(result: ChoiceResult) -> Document:
    """What to take, the limiting causes, the candidates ranked, other kinds of stage, and the search."""
    first, near = Sentence(headline(result), "headline"), sentences([closest_line(result)])
    by_rule = VARIED_BY_RULE if result.varied_by == "rule" else ""
    blocks: list[Block] = [first, *sentences([search_line(result)]), *near, *sentences([other_line(result)])]
    if not result.can_be_shown:
        few = cannot_be_shown(result.target.text, result.runs_asked, result.fewest_runs)
        blocks.append(Sentence(few, "caution"))
    blocks += cautions(result)
    if result.recommended is not None:
        causes = tuple(Sentence(limits(each), lead=each.path) for each in result.recommended.sides)
        blocks.append(Group("Limiting causes", (Items(causes),)))
    job = (Sentence(axes_line(result)), *sentences([result.simulated, by_rule], "quiet"))
    made = (
        f"Scenario {result.name}, seed {result.seed}, {whole(len(result.cells))} of "
        f"{counted(result.cells_asked, 'candidate')}, {counted(result.runs, 'run')}, "
        f"{duration_text(result.seconds)}{'' if result.complete else '; interrupted'}."
    )
    return Document(
        result.title or result.name,
        "values that meet the target",
        job,
        (
            Section("result", "", tuple(blocks), "Result"),
            *_ranked(result),
            *_alternatives(result),
            *cell_sections(result, "Candidates searched", measured_line(result)),
            design_section(result.signal_path),
            Section("made", "", (Sentence(made, "quiet"),), only=("terminal", "notebook")),
            limitations_section(result.assumptions, result.cautions, LASTING),
            again(result, {"new runs from": whole(result.first_fresh_run)}),
        ),
        brief=(first, *near),
    )  # fmt: skip


def headline(result: ChoiceResult) -> str:
    best = result.recommended
    if best is not None:
        return (
            f"Take {values_text(best.values)}: {good_rate(best, best.worst)}, on "
            f"{counted(best.runs, 'new run')}; margin {decades_text(best.margin)} decades."
        )
    if not result.cells:
        return "No candidate was finished."
    if not result.complete:
        return "Interrupted before any candidate was confirmed."
    return f"No candidate is shown to meet the target ({result.target.text})."


def good_rate(cell: CellTally, worst: WorstGesture) -> str:
    """The rate of all steps, and the interval of the gesture that may be worst."""
    at = f" at {worst.gesture}" if worst.gesture else ""
    return (
        f"wrong steps {rate_sentence(cell.wrong_rate)}, highest bound{at} ({interval_text(worst.wrong_rate)})"
    )


def decades_text(decades: float | None) -> str:
    """Decades with two places, rounded towards the worse."""
    return "-" if decades is None else f"{math.floor(decades * 100.0 + 1.0e-9) / 100.0:.2f}"


def search_line(result: ChoiceResult) -> str:
    found, ranked = result.search, result.ranked
    good = sum(each.verdict == "good" for each in ranked)
    tried = (
        f" Of those that meet it {whole(len(ranked))} {'was' if len(ranked) == 1 else 'were'} tried again on "
        f"new runs, and {whole(good)} confirmed."
        if ranked
        else ""
    )
    return (
        f"Of {counted(len(result.cells), 'candidate')}, {whole(found.good)} "
        f"{'meets' if found.good == 1 else 'meet'} the target, {whole(found.bad)} "
        f"{'misses' if found.bad == 1 else 'miss'} it, {whole(found.undecided)} "
        f"{'is' if found.undecided == 1 else 'are'} undecided.{tried}"
    )


def closest_line(result: ChoiceResult) -> str:
    found = result.closest
    if found is None:
        return ""
    return (
        f"Closest: {values_text(found.values)}, target {MET[found.meets_target]}; wrong steps "
        f"{rate_sentence(found.wrong_rate)}; {spoiling(found.worst, found.verdict)}."
    )


def other_line(result: ChoiceResult) -> str:
    if not result.alternatives:
        return ""
    good = [each.name for each in result.alternatives if each.verdict == "good"]
    if not good:
        return "None of the other kinds of stage that were tried is shown to meet the target either."
    return f"Another kind of stage is shown to meet the target: {'; '.join(good)}."


def spoiling(worst: WorstGesture, verdict: str | None) -> str:
    """Which gesture and which cause make a candidate miss the target, as a clause."""
    cause = worst.cause or "nothing went wrong, but the runs are too few"
    at = f" at {worst.gesture}" if worst.gesture else ""
    state = "" if verdict == "bad" else ", undecided"
    return f"{cause}{at} ({estimate_text(worst.wrong_rate)} per {PER:,}{state})"


def limits(sides: NeighbourValues) -> str:
    def told_of(side: NeighbourValue, where: str) -> str:
        if side.value is None:
            return f"{where}: every value tried meets the target."
        if side.spoiler is None:
            return f"{where}, at {side.value}: not finished."
        return f"{where}, at {side.value}: {spoiling(side.spoiler, side.verdict)}."

    return f"{told_of(sides.below, 'Down')} {told_of(sides.above, 'Up')}"


def _ranked(result: ChoiceResult) -> list[Section]:
    if not result.ranked:
        return []
    where: dict[str, list[str]] = {}
    for place, each in enumerate(result.ranked, start=1):
        for name in each.checks_failed:
            where.setdefault(name, []).append(str(place))
    failed = [f"Fails a check: {name}, at rank {', '.join(places)}" for name, places in where.items()]
    note = Sentence(f"From the new runs alone. {result.margin_rule}", "quiet")
    blocks: tuple[Block, ...] = (ranked_table(result), *sentences(failed, "caution"), note)
    return [Section("ranked", "Candidates tried again", blocks, "Ranking")]


def ranked_table(result: ChoiceResult) -> Table:
    cells = result.ranked
    failed = [str(len(cell.checks_failed)) for cell in cells]
    wrong, interval = rate_columns([cell.wrong_rate for cell in cells], f"wrong per\n{PER:,}")
    return Table(
        "Candidates tried again, the best first; all figures from the new runs",
        (
            Column("rank", [str(place) for place in range(1, len(cells) + 1)], sort="name"),
            *(Column(each.head, each.cells) for each in value_columns(result.axes, cells)),
            Column("target", [MET[cell.meets_target] for cell in cells], sort="short"),
            Column("margin\n(decades)", [decades_text(cell.margin) for cell in cells]),
            Column("of\nrate", [decades_text(cell.decades) for cell in cells], rank=2),
            Column("of\nvalues", [decades_text(cell.room) for cell in cells], rank=2),
            Column("runs", [whole(cell.runs) for cell in cells], rank=5),
            wrong,
            Column(interval.head, interval.cells, rank=1),
            Column("worst\ngesture", [cell.worst.gesture or "-" for cell in cells], rank=3, sort="short"),
            Column("spurious", [whole(cell.spurious) for cell in cells], rank=4),
            Column("checks\nfailed", failed, rank=1),
        ),
    )


def _alternatives(result: ChoiceResult) -> list[Section]:
    if not result.alternatives:
        return []
    stages = [
        Fold(
            f"{each.name}: stages to paste",
            (Code(each.toml.rstrip(), f"Stages: {each.name}", only=EVERYWHERE),),
            only=EVERYWHERE if each.verdict == "good" else ("page",),
        )
        for each in result.alternatives
    ]
    table = other_table(result)
    return [Section("others", "Other kinds of stage", (table, *stages), "Other stages")]


def other_table(result: ChoiceResult) -> Table:
    cells = result.alternatives
    failed = [", ".join(each.checks_failed) or "none" for each in cells]
    return Table(
        "Other kinds of stage, each simulated and judged by the same rule",
        (
            Column("kind", [each.name for each in cells], sort="name"),
            Column("values", [each.what for each in cells], rank=2, sort="text"),
            Column("target", [MET[each.meets_target] for each in cells], sort="short"),
            Column("runs", [whole(each.runs) for each in cells], rank=5),
            Column(f"wrong per\n{PER:,}", [estimate_text(each.wrong_rate) for each in cells]),
            Column(CI, [interval_text(each.wrong_rate) for each in cells], rank=3),
            Column("limiting cause", [_limiting_cause(each) for each in cells], rank=1, sort="text"),
            Column("failed checks", failed, rank=4, sort="text"),
        ),
    )  # fmt: skip


def _limiting_cause(kind: AlternativeKind) -> str:
    if kind.verdict == "good" or kind.worst.cause is None:
        return "-"
    at = f" at {kind.worst.gesture}" if kind.worst.gesture else ""
    return f"{kind.worst.cause}{at}"


def measured_line(result: ChoiceResult) -> str:
    found, unseen = result.measured.at_target, result.measured.unseen
    return (
        "Measured: of designs just at the target the search alone accepted "
        f"{100.0 * found.worst_share:.1f} % at the worst of {found.cases} cases, "
        f"{whole(found.repetitions)} repetitions of each; and {100.0 * unseen.worst_share:.1f} % where half "
        "of the wrong steps cluster in units so rare that often none was built."
    )
