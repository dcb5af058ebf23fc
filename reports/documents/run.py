"""The report of ``steptally run``."""

from __future__ import annotations

from importlib.metadata import version
from typing import TYPE_CHECKING

from reports.documents.document import (
    Block,
    Column,
    Document,
    Figure,
    Group,
    Items,
    Section,
    Sentence,
    Table,
    sentences,
)
from reports.documents.gallery import gallery_section
from reports.documents.rates import (
    CI,
    VERDICT_MEANINGS,
    against,
    error_rows,
    group_columns,
    rate_columns,
    rate_sentence,
    rpm_text,
    spacing_text,
)
from reports.documents.shared import (
    PAGE_FILE,
    again_section,
    checks_section,
    design_section,
    failing_checks,
    limitations_section,
)
from reports.words.numbers import (
    PER,
    counted,
    duration_text,
    estimate_text,
    interval_text,
    on_the_point,
    share_text,
    whole,
)
from reports.words.sentences import BOUND_NOTE, CUT_BURSTS, ENDING_NOTE, LASTING, MARGINS_NOTE, SPACING_NOTE

if TYPE_CHECKING:
    from reports.results.run import Margin, RunMargins, RunResult


def document(result: RunResult) -> Document:
    """The rate and the target, the steps by verdict, gesture and spacing, causes, margins, final position."""
    brief = [Sentence(headline(result), "headline")]
    if result.target is not None:
        brief.append(Sentence(target_line(result), "good" if result.target.met else "bad"))
    sections = [Section("result", "", _result(result, brief), "Result")]
    if result.runs:
        sections.append(Section("verdicts", "What became of the steps", _verdicts(result), "Steps"))
    sections.append(design_section(result.signal_path))
    if result.steps:
        sections += [
            Section("gestures", "By gesture", (gesture_table(result),), "Gestures"),
            Section("speed", "How fast may it be turned?", _speed(result), "Speed"),
            Section("causes", "Why steps went wrong", (_causes(result),), "Causes"),
        ]
    if result.gallery is not None:
        sections.append(gallery_section(result.gallery))
    if result.runs:
        sections += [
            Section("margins", "Margins", _margins(result.margins), "Margins", folded=True),
            checks_section(result.checks),
            Section("position", "Final position", _position(result), "Position", folded=True),
        ]
    else:
        sections.append(checks_section(result.checks))
    made = Sentence(made_line(result), "quiet", only=("terminal",))
    sections += [
        Section("remarks", "", (*_remarks(result), made), only=("terminal",)),
        limitations_section(result.assumptions, result.cautions, LASTING),
        again_section(
            _page_command(result),
            result.versions,
            {"The full scenario, with every value filled in": result.scenario},
            {
                "seed": str(result.seed),
                "runs": whole(result.runs),
                "first run": whole(result.first_run),
                "engine": result.engine,
                "ended by": result.ended_by,
                "plotly, which draws this page's charts": version("plotly"),
            },
        ),
    ]
    job = (Sentence(result.simulated),)
    return Document(result.title or result.name, "steps counted wrongly", job, tuple(sections), tuple(brief))


def headline(result: RunResult) -> str:
    if result.wrong_rate.estimate is None:
        return "Wrong steps: no data, for no step was simulated."
    unbiased = " without the bias of the ending" if _ended_by_errors(result) else ""
    rate = rate_sentence(result.wrong_rate)
    if unbiased:
        rate = rate.replace(f" per {PER:,} ", f" per {PER:,}{unbiased} ")
    return f"Wrong steps: {rate}, {whole(result.wrong)} of {whole(result.steps)}."


def _ended_by_errors(result: RunResult) -> bool:
    return result.estimate_method == "without the last block"


def target_line(result: RunResult) -> str:
    target, rate = result.target, result.wrong_rate
    if target is None:
        return ""
    goal = f"Target ({target.text}): "
    if rate.estimate is None or rate.low is None:
        return goal + "undecided, for there is no data."
    if target.met:
        return goal + "met; the whole confidence interval lies within it."
    if rate.low > target.rate:
        return goal + "missed; the whole confidence interval lies above it."
    if rate.estimate > target.rate:
        return goal + "undecided; the estimate lies above it, though the confidence interval reaches below."
    return (
        goal + "undecided; the estimate lies within it, but the upper bound of the confidence interval does "
        "not. More runs may decide it."
    )


def _result(result: RunResult, brief: list[Sentence]) -> tuple[Block, ...]:
    own = [caution for caution in result.cautions if caution not in LASTING]
    failing = failing_checks(result.checks)
    title = "Checks at the worst corner of the tolerances (details: steptally check)"
    return (
        *brief,
        *sentences([ENDING_NOTE if _ended_by_errors(result) else ""], "quiet"),
        *sentences(own, "caution"),
        *([Group(title, (Items(tuple(failing)),))] if failing else []),
    )


def _verdicts(result: RunResult) -> tuple[Block, ...]:
    counts = {**result.verdicts.export, "wrong": result.wrong, "spurious": result.spurious}
    rates = [
        *(getattr(result.verdict_rates, name) for name in result.verdicts.export),
        result.wrong_rate,
        result.spurious_rate,
    ]
    table = Table(
        "Steps by verdict; wrong: missed, doubled or reversed",
        (
            Column("verdict", list(counts), sort="name"),
            Column("steps", [whole(count) for count in counts.values()]),
            *rate_columns(rates, "per 1,000\nsteps"),
            Column("meaning", [VERDICT_MEANINGS[name] for name in counts], rank=1, sort="text", tone="quiet"),
        ),
    )
    unseen = any(rate.estimate == 0.0 for rate in rates[:-2])
    remarks = [Sentence(each.text, only=("page", "notebook")) for each in _remarks(result)]
    return (table, *sentences([BOUND_NOTE if unseen else ""], "quiet"), *remarks)


def gesture_table(result: RunResult) -> Table:
    groups = result.by_gesture
    return Table(
        "Steps by gesture of the hand",
        (
            Column("gesture", [group.name for group in groups], sort="name"),
            Column("kind", [group.kind for group in groups], rank=4, sort="short"),
            *group_columns(groups),
        ),
    )


def _speed(result: RunResult) -> tuple[Block, ...]:
    from reports.figures.run import spacing_figure, spacing_summary

    groups = [group for group in result.by_spacing if group.steps]
    shares = [share_text(group.steps, result.steps) for group in groups]
    columns = [
        Column("edges apart\n(ms)", [spacing_text(group) for group in groups], sort="name"),
        Column("equivalent steady\nspeed (rpm)", [rpm_text(group) for group in groups], rank=1),
        Column("share of\nsteps", shares, rank=6),
        *group_columns(groups),
    ]
    if result.target is not None:
        verdicts = [against(group.wrong_rate, result.target) for group in groups]
        columns.append(Column("target", verdicts, rank=1, sort="short"))
    return (
        Figure("chart-spacing", lambda: spacing_figure(result), spacing_summary(result)),
        Table("Wrong steps by the closest spacing of edges within a step", tuple(columns)),
        Sentence(SPACING_NOTE, "quiet"),
    )


def _causes(result: RunResult) -> Block:
    from reports.figures.causes import CAUSE_LOOKS

    causes = result.causes
    if not causes:
        return Sentence("No step went wrong.")
    most = max(causes.values())
    return Table(
        "Wrong steps by root cause",
        (
            Column("root cause", list(causes), sort="name"),
            Column("steps", [whole(count) for count in causes.values()]),
            Column(
                "share of\nwrong steps", [share_text(count, result.wrong) for count in causes.values()],
                sort="bar", bars=[count / most for count in causes.values()],
                looks=[CAUSE_LOOKS[cause] for cause in causes],
            ),
            Column("what happened", [result.cause_sentences[cause] for cause in causes], sort="text"),
        ),
    )  # fmt: skip


def _margins(margins: RunMargins | None) -> tuple[Block, ...]:
    if margins is None:
        return (Sentence("Margins were left out.", only=("terminal",)),)
    rows = [each for each in margins.quantities if each.why_not is None]

    def values(name: str) -> list[str]:
        return [_margin_text(getattr(each, name), each.unit) for each in rows]

    table = Table(
        "How close edges and voltages came to their limits",
        (
            Column("quantity", [each.label for each in rows], sort="name"),
            Column("worst", values("worst"), tone="strong"),
            Column("0.1 %", values("one_in_1000"), rank=2),
            Column("1 %", values("one_in_100"), rank=3),
            Column("median", values("median"), rank=4),
            Column("limit", [_limit_text(each) for each in rows], rank=1),
            Column("outcome", [_met_text(each) for each in rows], sort="short"),
        ),
    )
    reasons: dict[str, list[str]] = {}
    for each in margins.quantities:
        if each.why_not is not None:
            reasons.setdefault(each.why_not, []).append(each.label)
    left_out = [f"Not applicable: {', '.join(labels)}; {reason}." for reason, labels in reasons.items()]
    note = Sentence(MARGINS_NOTE.format(least=margins.values_beyond), "quiet")
    return (table, *sentences(left_out), note)


def _margin_text(value: float | None, unit: str) -> str:
    """A time to three digits, a voltage to hundredths of a volt."""
    from scenarios.quantities import TIME, write_quantity

    if value is None:
        return "-"
    # 0.0 is added so that nothing reads as minus zero.
    return f"{round(value, 2) + 0.0:.2f} V" if unit == "V" else write_quantity(value, TIME, 3)


def _limit_text(margin: Margin) -> str:
    if margin.asked is None:
        return "-"
    side = "at most" if margin.worst_is == "most" else "at least"
    return f"{side} {_margin_text(margin.asked, margin.unit)}"


def _met_text(margin: Margin) -> str:
    if margin.values == 0:
        return "did not occur"
    if margin.asked is None:
        return "no limit stated"
    if margin.missed == 0:
        return "met"
    share = PER * margin.missed / margin.values
    return f"not met in {float(f'{share:.2g}'):,.10g} per {PER:,}"


def _position(result: RunResult) -> tuple[Block, ...]:
    from reports.figures.run import error_figure, error_summary
    from reports.results.building import rate
    from simcore.statistics.estimates import share_interval

    share = result.exact_share
    exact = (
        f"{whole(result.exact_runs)} of {counted(result.runs, 'run')} ended at the expected position, "
        f"{estimate_text(share, 100.0, 100.0)} % of them (95 % confidence interval "
        f"{interval_text(share, 100.0)})."
    )
    rows = error_rows(result.final_errors)
    counts = [runs for _, runs in rows]
    shares = [rate(share_interval(runs, result.runs)) for runs in counts]
    table = Table(
        "Runs by final position minus expected position",
        (
            Column("final error\n(counts)", [label for label, _ in rows]),
            *_ohm_column(result, rows),
            Column("runs", [whole(runs) for runs in counts]),
            Column("share (%)", on_the_point([estimate_text(each, 100.0, 100.0) for each in shares])),
            Column(f"{CI} (%)", [interval_text(each, 100.0) for each in shares], rank=2),
            Column(
                "distribution",
                [""] * len(rows),
                rank=3,
                sort="bar",
                bars=[runs / max(counts) for runs in counts],
            ),
        ),
    )
    chart = Figure("chart-errors", lambda: error_figure(result), error_summary(result))
    return (Sentence(exact), chart, table, *sentences([_ohm_line(result)]))


def _ohm_column(result: RunResult, rows: list[tuple[str, int]]) -> list[Column]:
    """The final errors in nominal ohms, if the counter drives a resistance."""
    if result.driven is None:
        return []
    texts = []
    for label, _ in rows:
        counts, _, more = label.partition(" ")
        ohms = signed_ohms(int(counts) * result.driven.one_count.nominal)
        texts.append(f"{ohms} {more}".rstrip())
    return [Column("nominal\n(ohm)", texts, rank=1)]


def signed_ohms(value: float) -> str:
    """A difference of resistances to three digits, 0 without a sign."""
    return f"{float(f'{value:.3g}'):+,.10g}" if value else "0"


def _ohm_line(result: RunResult) -> str:
    """What one count and the worst final error are in ohm, or "" if nothing is driven."""
    from scenarios.quantities import RESISTANCE, write_quantity

    def ohms(value: float) -> str:
        return write_quantity(value, RESISTANCE, 3)

    driven = result.driven
    if driven is None:
        return ""
    one, worst = driven.one_count, driven.worst_error
    text = f"One count is {ohms(one.nominal)}"
    if one.low < one.high:
        text += f" ({ohms(one.low)} to {ohms(one.high)} with its tolerances)"
    if worst is None or worst.counts == 0:
        return f"{text}."
    text += f"; the worst final error, {counted(worst.counts, 'count')}, is {ohms(worst.nominal)}"
    most = f", at most {ohms(worst.high)} with tolerances" if worst.nominal < worst.high else ""
    return f"{text}{most}."


def _remarks(result: RunResult) -> list[Sentence]:
    """Spurious counts, excursions and bursts that were cut off, as far as there were any."""
    origins = [f"{whole(count)} by {origin}" for origin, count in result.spurious_origins.items()]
    last = len(result.excursions) - 1
    astray = [
        f"by {counts} count{'' if counts == 1 else 's'}{' or more' if counts == last else ''} in "
        f"{counted(steps, 'step')}"
        for counts, steps in enumerate(result.excursions)
        if counts and steps
    ]
    return sentences(
        [
            f"Spurious counts: {', '.join(origins)}." if origins else "",
            f"On the way the count left its expected range: {', '.join(astray)}." if astray else "",
            CUT_BURSTS.format(count=whole(result.cut_bursts)) if result.cut_bursts else "",
        ]
    )


def made_line(result: RunResult) -> str:
    first, last = result.first_run, result.first_run + result.runs - 1
    numbers = ""
    if result.runs:
        numbers = f" (number {whole(first)})"
    if result.runs > 1:
        numbers = f" (numbers {whole(first)} to {whole(last)})"
    stop, rules = result.stop, []
    if stop.errors is not None:
        rules.append(f"at {counted(stop.errors, 'wrong step')}")
    if stop.precision is not None:
        rules.append(f"at a rate known within {100.0 * stop.precision:g} % of it")
    if stop.seconds is not None:
        rules.append(f"after {duration_text(stop.seconds)}")
    early = f"; to end early {' or '.join(rules)}" if rules else ""
    return (
        f"Scenario {result.name}, seed {result.seed}, {counted(result.runs, 'run')}{numbers}, "
        f"{result.engine} engine, {duration_text(result.seconds)}{early}; ended by: {result.ended_by}."
    )


def _page_command(result: RunResult) -> str:
    """The command of the page, with the options that change no number but what stands on it."""
    engine = "" if result.engine == "batch" else f" --engine {result.engine}"
    margins = " --no-margins" if result.margins is None else ""
    return f"{result.command}{engine}{margins} --html {PAGE_FILE}"
