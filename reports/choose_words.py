"""The sentences of a choice: what is recommended, what binds, what comes closest, and how it was decided."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.numbers import PER, counted, estimate_text, interval_text, whole
from reports.sweep_words import BRIEF, RARE, rate_text, values_text

if TYPE_CHECKING:
    from reports.choose_export import Plan
    from reports.sweep_export import Wish

Export = dict[str, Any]
CHOOSE_ASSUMPTIONS = (
    "All candidates share one seed: in the search they meet the same hands, the same bounce and the same "
    "luck with their parts; those tried again meet new ones.",
    "The target counts wrong steps: missed, doubled and reversed. Spurious counts, which no movement caused, "
    "are shown but not held against it.",
)
SPOILT = {**BRIEF, "swallowed": "edges are swallowed", "swapped order": "the order of A and B is swapped"}
"""What spoils a candidate, as a clause."""


def search_rule(wish: Wish, plan: Plan) -> str:
    """How a candidate is judged, in a few sentences."""
    from reports.choosing import MOST_CHECKED
    from simcore.campaigns.choosing import CONFIRMED

    target = "" if wish.target is None else wish.target.text
    error = f"{100.0 * (1.0 - plan.target.confidence):.0f} %"
    runs = whole(wish.stop.runs)
    return (
        "A candidate is good if the upper bounds of its wrong rate, of all steps and of every gesture of "
        f"the hand, are at or below the target ({target}), bad once a lower bound is above it, and undecided "
        f"after {counted(wish.stop.runs, 'run')}. The looks share the chance of an error, and no candidate "
        "is good with fewer runs than would show it without any wrong step. Up to "
        f"{CONFIRMED} of the good ones (of the {MOST_CHECKED} with most room, those without a failed "
        "electrical check before those with one) are tried again on as many new runs (from number "
        f"{runs} on). What is shown of them comes from those alone, and they are ranked by failed checks, "
        "then by margin. The chance that any of them is confirmed and yet misses the target is at most "
        f"{error}, however many were searched; more {RARE}."
    )


def measured_line(export: Export) -> str:
    """What is known of false acceptance."""
    found, unseen = export["measured"]["at_target"], export["measured"]["unseen"]
    return (
        "Measured: of designs just at the target the search alone called "
        f"{100.0 * found['worst_share']:.1f} % good at the worst of {found['cases']} cases, "
        f"{whole(found['repetitions'])} repetitions of each; and {100.0 * unseen['worst_share']:.1f} % where "
        "half of the wrong steps fill runs of units so rare that often none was built."
    )


def margin_rule() -> str:
    """What the margin is, in one sentence."""
    return (
        "Margin: the smaller of two distances in decades (a factor of ten is 1), from the upper bound of the "
        "worst gesture's wrong rate down to the target, and from the varied values to the nearest value that "
        "is not good (beyond the last one tried, the next counts as not good)."
    )


def decades_text(decades: float | None) -> str:
    """Decades with two places, rounded towards the worse."""
    import math

    return "-" if decades is None else f"{math.floor(decades * 100.0 + 1.0e-9) / 100.0:.2f}"


def beforehand(export: Export) -> str:
    """What is known before anything is simulated, or "" if the target can be shown."""
    if export["can_be_shown"]:
        return ""
    return cannot_be_shown(export["target"]["text"], export["runs_asked"], export["fewest_runs"])


def cannot_be_shown(target: str, runs: int, fewest: int) -> str:
    """That so many runs can never show a target, and how many can."""
    return (
        f"{whole(runs)} runs can never show a rate of {target}, not even without a wrong step: that takes "
        f"{whole(fewest)} runs at least (--runs {fewest}). No candidate will be called good."
    )


def headline(export: Export) -> str:
    """What to take, or that there is nothing."""
    best = export["recommended"]
    if best is not None:
        return (
            f"Take {values_text(best['values'])}: {good_rate(best)}, on "
            f"{counted(best['runs'], 'new run')}; margin {decades_text(best['margin'])} decades."
        )
    if not export["cells"]:
        return "No candidate was finished."
    if not export["complete"]:
        return "Interrupted before any candidate was confirmed."
    return f"No candidate is shown to meet the target ({export['target']['text']})."


def good_rate(cell: Export) -> str:
    """The rate of all steps, and the interval of the gesture that may be worst."""
    worst = cell["worst"]
    at = f" at {worst['gesture']}" if worst["gesture"] else ""
    bound = f"highest bound{at} ({interval_text(worst['wrong_rate'])})"
    return f"wrong steps {rate_text(cell['wrong_rate'])}, {bound}"


def search_line(export: Export) -> str:
    """What became of the candidates."""
    found, ranked = export["search"], export["ranked"]
    confirmed = sum(each["verdict"] == "good" for each in ranked)
    tried = (
        f" Of the good ones {whole(len(ranked))} {'was' if len(ranked) == 1 else 'were'} tried again on new "
        f"runs, and {whole(confirmed)} confirmed."
        if ranked else ""
    )  # fmt: skip
    return (
        f"Of {counted(len(export['cells']), 'candidate')}, {whole(found['good'])} good, "
        f"{whole(found['bad'])} bad, {whole(found['undecided'])} undecided.{tried}"
    )


def varied_line(export: Export) -> str:
    """What was varied, if a rule chose it."""
    if export["varied_by"] != "rule":
        return ""
    return (
        "Varied by rule: the resistors by one value of E3 to either side; capacitors and times so that the "
        "filter's time runs from half the contacts' longest return to their old state to twice the shortest "
        "level of the fastest hand. --vary says otherwise."
    )


def spoilt(side: Export) -> str:
    """Which gesture and which cause spoil a candidate, as a clause."""
    found = side["spoiler"]
    if found is None:
        return "not finished"
    cause = SPOILT.get(found["cause"], found["cause"] or "nothing went wrong, but too few runs tell")
    at = f" at {found['gesture']}" if found["gesture"] else ""
    state = "" if side["verdict"] == "bad" else ", undecided"
    return f"{cause}{at} ({estimate_text(found['wrong_rate'])} per {PER:,}{state})"


def side_text(path: str, side: Export, where: str) -> str:
    """What binds in one direction."""
    if side["value"] is None:
        return f"{where}: every value tried is good."
    return f"{where} {side['value']}: {spoilt(side)}."


def binding(best: Export) -> list[tuple[str, str]]:
    """For each varied key what binds: "down to 150 nF ...", "up to 330 nF ..."."""
    return [
        (
            each["path"],
            f"{side_text(each['path'], each['below'], 'down, at' if each['below']['value'] else 'down')} "
            f"{side_text(each['path'], each['above'], 'up, at' if each['above']['value'] else 'up')}",
        )
        for each in best["sides"]
    ]


def closest_line(export: Export) -> str:
    """What comes closest where none is good."""
    found = export["closest"]
    if found is None:
        return ""
    side = {"spoiler": found["worst"], "verdict": found["verdict"]}
    return (
        f"Closest: {values_text(found['values'])}, {found['verdict']}; wrong steps "
        f"{rate_text(found['wrong_rate'])}; {spoilt(side)}."
    )


def other_line(export: Export) -> str:
    """Which other kind of stage would do."""
    good = [each["name"] for each in export["alternatives"] if each["verdict"] == "good"]
    if not export["alternatives"]:
        return ""
    if not good:
        return "None of the other kinds of stage that were tried is shown to meet the target either."
    return f"Another kind of stage is shown to meet the target: {'; '.join(good)}."
