"""The sentences of a comparison: which design is better, by how much, how sure."""

from __future__ import annotations

from typing import Any

from reports.numbers import PER, Rate, counted, decimals, estimate_text, whole
from reports.sentences import SPURIOUS
from scenarios.loading.messages import listed

Export = dict[str, Any]
SHOWN = ("wrong", "missed", "doubled", "reversed", "flickered", "right")
"""What becomes of steps, what matters first."""
SMALLEST_P = 1.0e-4
"""Smaller P values are told as a bound."""


def difference_text(rate: Rate, scale: float = PER) -> str:
    """A difference times ``scale`` with its sign; "no data" without."""
    if rate["estimate"] is None:
        return "no data"
    return _signed(rate["estimate"] * scale, _places(rate, scale))


def difference_interval_text(rate: Rate, scale: float = PER) -> str:
    """Low and high with signs and "to" between, times ``scale``."""
    if rate["low"] is None or rate["high"] is None:
        return ""
    places = _places(rate, scale)
    return f"{_signed(rate['low'] * scale, places)} to {_signed(rate['high'] * scale, places)}"


def _places(rate: Rate, scale: float) -> int:
    low, high = rate["low"], rate["high"]
    return 0 if low is None or high is None else decimals(0.5 * (high - low) * scale)


def _signed(value: float, places: int) -> str:
    text = f"{value:+,.{places}f}"
    return text if float(text.replace(",", "")) else text[1:]


def p_text(value: float) -> str:
    """A P value in two digits: "0.013", "< 0.0001", "1"."""
    if value < SMALLEST_P:
        return f"< {SMALLEST_P:.4f}"
    return "1" if value > 0.995 else f"{float(f'{value:.2g}'):.10g}"


def outcome_text(outcome: Export) -> str:
    """A verdict, and the root cause of a wrong one."""
    return outcome["verdict"] if outcome["cause"] is None else f"{outcome['verdict']} ({outcome['cause']})"


def verdict_rows(export: Export, comparison: Export) -> list[tuple[str, Export]]:
    """What becomes of steps in either design, and the counts that belong to none, if there are any."""
    rows = [(name, comparison["by_verdict"][name]) for name in SHOWN]
    if any(design["spurious"] for design in export["designs"]):
        rows.append((SPURIOUS, comparison["spurious"]))
    return rows


def design_of(export: Export, name: str) -> Export:
    """A design of a comparison by its name."""
    found: Export = next(design for design in export["designs"] if design["name"] == name)
    return found


def sentence(export: Export, comparison: Export) -> str:
    """One design against the first: which is better, by how much, how sure."""
    return " ".join(filter(None, (_on_steps(export, comparison), spurious_sentence(export, comparison))))


def spurious_sentence(export: Export, comparison: Export) -> str:
    """The same of counts that no movement caused, which belong to no step; "" without any."""
    counts = [design_of(export, each)["spurious"] for each in (export["reference"], comparison["design"])]
    if not any(counts) or not export["steps"]:
        return ""
    rate = comparison["spurious"]["difference"]
    lead = f"Counts that no movement caused: {whole(counts[1])} against {whole(counts[0])} in all"
    if _side(rate):
        amount, word, interval = _away(rate)
        return f"{lead}, {amount} per {PER:,} steps {word} ({interval})."
    interval = f"95 % interval of the difference per {PER:,} steps {difference_interval_text(rate)}"
    return f"{lead}, which settles nothing ({interval})."


def _side(rate: Export) -> int:
    """On which side of nought the whole interval lies; 0 for neither."""
    return int(rate["low"] > 0.0) - int(rate["high"] < 0.0)


def _on_steps(export: Export, comparison: Export) -> str:
    """Of wrong steps."""
    name, first = _quoted(comparison["design"]), _quoted(export["reference"])
    if not export["steps"]:
        return f"{name} against {first}: no data, for no step was simulated."
    if comparison["verdict"] == "same":
        return _same(export, comparison)
    if comparison["verdict"] == "unsettled":
        return _unsettled(export, comparison)
    told, before = (
        estimate_text(design_of(export, each)["wrong_rate"])
        for each in (comparison["design"], export["reference"])
    )
    return f"{name} {_is(export, comparison)} than {first}: {_by(comparison)}, {told} instead of {before}."


def _is(export: Export, comparison: Export) -> str:
    """What may be said of a design: not that it is better, if it has more counts that no movement caused."""
    sign, word = (-1, "fewer") if comparison["verdict"] == "better" else (1, "more")
    if spurious_sentence(export, comparison) and _side(comparison["spurious"]["difference"]) == -sign:
        return f"has {word} wrong steps"
    return f"is {comparison['verdict']}"


def _quoted(name: str) -> str:
    return f'"{name}"'


def _by(comparison: Export) -> str:
    """A settled difference of wrong steps."""
    amount, word, interval = _away(comparison["difference"])
    return f"{amount} wrong steps per {PER:,} {word} ({interval})"


def _away(rate: Export) -> tuple[str, str, str]:
    """A difference away from nought without its sign, "fewer" or "more", and the interval, in which a bound
    on the other side of nought keeps a minus.
    """
    sign, word = (-1, "fewer") if rate["estimate"] < 0.0 else (1, "more")
    places = decimals(0.5 * (rate["high"] - rate["low"]) * PER)
    low, amount, high = (
        _signed(value * PER, places).removeprefix("+")
        for value in sorted(sign * rate[key] for key in ("low", "estimate", "high"))
    )
    return amount, word, f"95 % interval {low} to {high}"


def _unsettled(export: Export, comparison: Export) -> str:
    rate, more, count = comparison["difference"], comparison["more_runs"], len(export["comparisons"])
    text = (
        f"It is not settled whether {_quoted(comparison['design'])} or {_quoted(export['reference'])} has "
        f"fewer wrong steps: the difference is {difference_text(rate)} per {PER:,} (95 % interval "
        f"{difference_interval_text(rate)})"
    )
    if _side(rate):
        text += f", which alone would settle it, but not as one of {count} comparisons"
    if more is None:
        return f"{text}, and nothing tells yet how many runs would settle it."
    return f"{text}; about {counted(_rounded(more), 'more run')} would be expected to settle it."


def _rounded(runs: int) -> int:
    """Two digits, upward: more would claim to know it well."""
    unit: int = 10 ** max(0, len(str(runs)) - 2)
    return -(-runs // unit) * unit


def _same(export: Export, comparison: Export) -> str:
    """No step was wrong in one of the two only."""
    steps = counted(export["steps"], "step")
    if comparison["partings"]:
        alike = f"of {steps} none was wrong in one of them only"
    else:
        alike = f"every one of {steps} came out alike"
    interval = difference_interval_text(comparison["difference"])
    return (
        f"{_quoted(comparison['design'])} and {_quoted(export['reference'])} are not told apart by their "
        f"wrong steps: {alike} (difference per {PER:,}: 95 % interval {interval})."
    )


def headline(export: Export) -> str:
    """The result in one sentence: of two designs theirs, of more the best of all."""
    comparisons = export["comparisons"]
    if len(comparisons) == 1 or not export["steps"]:
        return str(comparisons[0]["sentence"])
    best = export["best"]
    fewest = estimate_text(design_of(export, best[0])["wrong_rate"])
    text = (
        f"Of {len(export['designs'])} designs {listed([_quoted(name) for name in best], 'and')} "
        f"{'has' if len(best) == 1 else 'have'} the fewest wrong steps, {fewest} per {PER:,}"
    )
    if export["reference"] in best:
        worse = sum(each["verdict"] == "worse" for each in comparisons)
        is_or_are = f"{whole(worse)} of the {len(comparisons)} others {'is' if worse == 1 else 'are'}"
        return f"{text}; {is_or_are} settled to be worse."
    against = next(each for each in comparisons if each["design"] == best[0])
    first = _quoted(export["reference"])
    if against["verdict"] == "better":
        return f"{text}: {_by(against)} than {first}."
    return f"{text}, but that it is better than {first} is not settled."


def together(export: Export) -> str:
    """How intervals and tests treat several comparisons; "" for one."""
    count = len(export["comparisons"])
    if count == 1:
        return ""
    return (
        f"{count} designs are held against the first. Each interval is for its comparison alone. A design "
        "counts as settled only if its interval leaves out nought at a level raised for their number, and P "
        "values among all are raised likewise (both by Holm's method), so that the chance of any false "
        "decision stays at 5 %. The others are not held against each other."
    )


def runs_line(export: Export, comparison: Export) -> str:
    """What McNemar's test says of the runs, and how many more would settle the rates."""
    table = comparison["runs_table"]
    apart = table["only_first_right"] + table["only_other_right"]
    text = (
        f"{counted(apart, 'run')} without a wrong step in one design only. Were the designs equally good, a "
        f"split as uneven would come with P {_equals(table['p_value'])} (McNemar's exact test)"
    )
    count = len(export["comparisons"])
    if count > 1:
        raised = _equals(table["p_value_among_all"])
        text += f"; raised for being one of {count} comparisons, P {raised}"
    return f"{text}."


def _equals(value: float) -> str:
    text = p_text(value)
    return text if text.startswith("<") else f"= {text}"
