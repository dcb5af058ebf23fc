"""The sentences of a comparison: which design is better, by how much, how sure.

A difference is another design's rate minus that of the first one, so one below 0 is in its favour.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from reports.words.numbers import PER, Ends, counted, decimals, estimate_text, whole
from scenarios.loading.messages import listed

if TYPE_CHECKING:
    from reports.results.common import Rate
    from reports.results.compare import DesignResult, PairedComparison, StepEnd

SMALLEST_P = 1.0e-4
"""Smaller P values are given as a bound."""
SHARED_UNITS = (
    "All designs meet the same hands, encoders and contacts, run by run and movement by movement, and parts "
    "with the same tolerances where a stage has the same name and kind (common random numbers); a step is "
    "compared with itself."
)
CI = "95 % confidence interval"


def difference_text(rate: Ends) -> str:
    """A difference per thousand with its sign; "no data" without."""
    if rate.estimate is None:
        return "no data"
    return _signed(rate.estimate * PER, _places(rate))


def difference_interval_text(rate: Ends) -> str:
    """Low and high per thousand with signs and "to" between."""
    if rate.low is None or rate.high is None:
        return ""
    places = _places(rate)
    return f"{_signed(rate.low * PER, places)} to {_signed(rate.high * PER, places)}"


def side(rate: Ends) -> int:
    """1 where the whole interval is above 0, -1 where it is below; else 0."""
    if rate.low is None or rate.high is None:
        return 0
    return int(rate.low > 0.0) - int(rate.high < 0.0)


def outcome_text(outcome: StepEnd) -> str:
    return outcome.verdict if outcome.cause is None else f"{outcome.verdict} ({outcome.cause})"


def p_text(value: float) -> str:
    """A P value in two digits: "0.013", "< 0.0001", "1"."""
    if value < SMALLEST_P:
        return f"< {SMALLEST_P:.4f}"
    return "1" if value > 0.995 else f"{float(f'{value:.2g}'):.10g}"


def comparison_sentence(
    first: DesignResult, other: DesignResult, comparison: PairedComparison, steps: int, count: int
) -> str:
    """One of ``count`` designs and the first, on so many steps: which is better, by how much, how sure."""
    one, two = _quoted(first.name), _quoted(other.name)
    if not steps:
        return f"{two} compared with {one}: no data, because no step was simulated."
    rate, interval = comparison.difference, difference_interval_text(comparison.difference)
    if comparison.verdict == "same":
        same = (
            f"none of {counted(steps, 'step')} was wrong in only one of them"
            if comparison.partings
            else f"all {counted(steps, 'step')} had the same outcome"
        )
        text = f"{two} and {one} show no difference: {same} ({CI} of the difference per {PER:,}: {interval})."
    elif comparison.verdict == "unsettled":
        text = (
            f"Undecided whether {two} or {one} has fewer wrong steps: the difference is "
            f"{difference_text(rate)} per {PER:,} ({CI} {interval})"
        )
        if side(rate):
            text += f", which is significant alone, but not as one of {count} comparisons"
        if comparison.more_runs is None:
            text += "; too few differences to estimate the runs needed."
        else:
            runs = counted(_rounded(comparison.more_runs), "more run")
            text += f"; about {runs} would be expected to decide it."
    else:
        sign, word = (-1, "fewer") if comparison.verdict == "better" else (1, "more")
        contrary = (first.spurious or other.spurious) and side(comparison.spurious.difference) == -sign
        verb = f"has {word} wrong steps" if contrary else f"is {comparison.verdict}"
        now, before = estimate_text(other.wrong_rate), estimate_text(first.wrong_rate)
        text = f"{two} {verb} than {one}: {_by(rate)}, {now} instead of {before}."
    spurious = _spurious_sentence(first, other, comparison.spurious.difference)
    return f"{text} {spurious}" if spurious else text


def _spurious_sentence(first: DesignResult, other: DesignResult, rate: Rate) -> str:
    """What is known of spurious counts, which belong to no step; "" without any."""
    if not (first.spurious or other.spurious):
        return ""
    lead = f"Spurious counts: {whole(other.spurious)} instead of {whole(first.spurious)}"
    if side(rate):
        amount, word, interval = _away(rate)
        return f"{lead}, {amount} {word} per {PER:,} steps ({interval})."
    interval = difference_interval_text(rate)
    return f"{lead}, which is not significant ({CI} of the difference per {PER:,} steps {interval})."


def headline(
    designs: Sequence[DesignResult], comparisons: Sequence[PairedComparison], best: Sequence[str]
) -> str:
    """The result in one sentence: of two designs theirs, of more the best of all (none without a step)."""
    if len(comparisons) == 1 or not best:
        return comparisons[0].sentence
    first = designs[0].name
    fewest = estimate_text(next(design.wrong_rate for design in designs if design.name == best[0]))
    text = (
        f"Of {len(designs)} designs, {listed([_quoted(name) for name in best], 'and')} "
        f"{'has' if len(best) == 1 else 'have'} the fewest wrong steps, {fewest} per {PER:,}"
    )
    if first in best:
        worse = sum(each.verdict == "worse" for each in comparisons)
        return f"{text}; {worse} of the {len(comparisons)} others {'is' if worse == 1 else 'are'} worse."
    against = next(each for each in comparisons if each.design == best[0])
    if against.verdict == "better":
        return f"{text}: {_by(against.difference)} than {_quoted(first)}."
    return f"{text}, but it is undecided whether it is better than {_quoted(first)}."


def several_note(count: int) -> str:
    """How intervals and tests treat several comparisons; "" for one."""
    if count == 1:
        return ""
    return (
        f"{count} designs are compared with the first. Each confidence interval is for its comparison alone. "
        "A design counts as better or worse only if its interval excludes 0 at a level raised for the number "
        "of comparisons, and P values among all are adjusted likewise (both by Holm's method), so that the "
        "chance of any false decision stays at 5 %. The others are not compared with each other."
    )


def runs_sentence(comparison: PairedComparison, count: int) -> str:
    """What McNemar's test says of the runs, for one of ``count`` comparisons."""
    table = comparison.runs_table
    discordant = table.only_first_right + table.only_other_right
    text = (
        f"{counted(discordant, 'run')} had a wrong step in one design only. If the designs were equally "
        f"good, a split at least this uneven would have P {_equals(table.p_value)} (McNemar's exact test)"
    )
    if count > 1:
        text += f"; adjusted for {count} comparisons, P {_equals(table.p_value_among_all)}"
    return f"{text}."


def _places(rate: Ends) -> int:
    return 0 if rate.low is None or rate.high is None else decimals(0.5 * (rate.high - rate.low) * PER)


def _signed(value: float, places: int) -> str:
    text = f"{value:+,.{places}f}"
    return text if float(text.replace(",", "")) else text[1:]


def _quoted(name: str) -> str:
    return f'"{name}"'


def _by(rate: Rate) -> str:
    """A decided difference of wrong steps."""
    amount, word, interval = _away(rate)
    return f"{amount} {word} wrong steps per {PER:,} ({interval})"


def _away(rate: Rate) -> tuple[str, str, str]:
    """A difference away from 0 without its sign, "fewer" or "more", and the interval, in which a bound on
    the other side of 0 keeps a minus.
    """
    ends = [value for value in (rate.low, rate.estimate, rate.high) if value is not None]
    sign, word = (-1, "fewer") if ends[1] < 0.0 else (1, "more")
    low, amount, high = (
        _signed(value * PER, _places(rate)).removeprefix("+")
        for value in sorted(sign * each for each in ends)
    )
    return amount, word, f"{CI} {low} to {high}"


def _rounded(runs: int) -> int:
    """Two digits, upward: more would claim to know it well."""
    unit: int = 10 ** max(0, len(str(runs)) - 2)
    return -(-runs // unit) * unit


def _equals(value: float) -> str:
    text = p_text(value)
    return text if text.startswith("<") else f"= {text}"
