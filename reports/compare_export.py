"""The object that ``compare --json`` writes; page and terminal are drawn from it.

Its keys are described, one by one, in ``schemas/compare.schema.json``.  A difference is always another
design's rate minus the first one's, so one below nought is in its favour.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from reports.compare_words import headline, sentence, together
from reports.exact_command import Asked, compare_command, trace_command
from reports.exports import rate, step_rate, without_bias
from reports.sentences import ASSUMPTIONS, LASTING, MET_ALIKE
from reports.signal_path import signal_path
from reports.stop_options import stop_words
from reports.summary import met
from reports.versions import versions
from scenarios.words import listed

if TYPE_CHECKING:
    from scenarios.comparison import Compared
    from simcore.campaign import Outcome
    from simcore.deciding import Decision
    from simcore.estimates import Interval
    from simcore.pairing import PairedSums, StepOutcome

Export = dict[str, Any]
INTERIM = (
    "Up to {} interim analyses share the error allowance of 5 %. Verdicts and the intervals of differences "
    "allow for that; estimates do not: a comparison that ended early overstates the difference somewhat."
)


def compare_export(designs: Sequence[Compared], found: Outcome, command: Sequence[str]) -> Export:
    """Everything that is known about a finished or interrupted comparison.

    ``command`` is the command line's words after ``compare``, without runs, seed and rules of ending.
    """
    from scenarios.differences import difference_rows

    rows = difference_rows([each.scenario.resolved for each in designs])
    export = {
        "title": _title(designs),
        "met": met(designs[0].scenario, found.tallies[0]),
        "command": _command(found, command),
        "reference": designs[0].name,
        "seed": found.seed,
        "first_run": found.first_run,
        "runs": found.runs,
        "runs_asked": found.options.stop.runs,
        "engine": found.engine,
        "stop": _stop(found),
        "ended_by": found.ended_by,
        "kept": found.kept,
        "seconds": found.seconds,
        "steps": found.tallies[0].steps,
        "designs": [
            _design(each, found, number, [path for path, _ in rows]) for number, each in enumerate(designs)
        ],
        "differences": [{"path": path, "values": values} for path, values in rows],
        "comparisons": _comparisons(designs, found),
        "assumptions": [MET_ALIKE, *ASSUMPTIONS],
        "cautions": _cautions(designs, found.analyses),
        "gallery": None,
        "versions": versions(),
    }
    export["best"] = _best(export)
    return {**export, **_words(export)}


def _title(designs: Sequence[Compared]) -> str:
    """The scenario's title, or the names of several."""
    first = designs[0].scenario
    if all(design.scenario.source == first.source for design in designs):
        return first.title or first.name
    return f"{designs[0].name} against {listed([design.name for design in designs[1:]], 'and')}"


def _words(export: Export) -> Export:
    """What the figures come to, in sentences."""
    for each in export["comparisons"]:
        each["sentence"] = sentence(export, each)
    return {"headline": headline(export), "together": together(export)}


def _best(export: Export) -> list[str]:
    """The designs with the fewest wrong steps; none without a step."""
    fewest = min(design["wrong"] for design in export["designs"])
    return [design["name"] for design in export["designs"] if design["wrong"] == fewest and export["steps"]]


def _stop(found: Outcome) -> Export:
    """When it was to end, and how many interim analyses share the error allowance of what is settled."""
    stop = found.options.stop
    return {
        "errors": stop.errors,
        "precision": stop.precision,
        "seconds": stop.seconds,
        "settled": stop.settled,
        "analyses": found.analyses,
    }


def _command(found: Outcome, command: Sequence[str]) -> str:
    """The command that gives the same numbers: by its runs alone where time or a person ended it."""
    from simcore.stopping import INTERRUPTED, TIME_UP, Stop

    cut, stop = found.ended_by in (INTERRUPTED, TIME_UP), found.options.stop
    words = [*stop_words(Stop(stop.runs), stop, by_runs=cut), *(["--settled"] if stop.settled else [])]
    runs = max(found.runs, 1) if cut else stop.runs
    return compare_command([*command, *words], runs, found.seed)


def _design(design: Compared, found: Outcome, number: int, differing: Sequence[str]) -> Export:
    from simcore.estimates import share_interval

    scenario, tally = design.scenario, found.tallies[number]
    return {
        "name": design.name,
        "title": scenario.title,
        "source": scenario.source,
        "sets": list(design.sets),
        "signal_path": _marked(signal_path(scenario), differing),
        "scenario": scenario.resolved,
        "verdicts": tally.verdicts,
        "verdict_rates": {name: step_rate(found, name, 0, number) for name in tally.verdicts},
        "wrong": tally.wrong,
        "wrong_rate": step_rate(found, "wrong", 0, number),
        "by_gesture": _by_gesture(scenario.design.hand, found, number),
        "spurious": tally.spurious,
        "exact_runs": tally.exact_runs,
        "exact_share": rate(share_interval(tally.exact_runs, tally.runs)),
        "causes": tally.causes,
    }


def _by_gesture(hand: Sequence[Any], found: Outcome, number: int) -> list[Export]:
    tally = found.tallies[number]
    groups = [tally.gesture_group(gesture) for gesture in range(len(hand))]
    return [
        {
            "name": entry.name,
            "kind": entry.kind,
            "steps": tally.group_steps(group),
            "wrong": tally.cluster("wrong", group).y,
            "wrong_rate": step_rate(found, "wrong", group, number),
        }
        for entry, group in zip(hand, groups, strict=True)
    ]


def _marked(boxes: list[Export], differing: Sequence[str]) -> list[Export]:
    """The boxes of a design with a mark at each value that is not the same in all designs."""
    for box in boxes:
        prefix = box["name"] if box["role"] == "stage" else box["role"]
        for value in box["values"]:
            key = value["name"].replace(" ", "_")
            value["differs"] = {f"{prefix}.{key}", f"{prefix}.tolerance.{key}"} & {*differing} != set()
        box["differs"] = f"{prefix}.kind" in differing
    return boxes


def _comparisons(designs: Sequence[Compared], found: Outcome) -> list[Export]:
    from simcore.deciding import decide, holm
    from simcore.paired import mcnemar

    wrong = [pair.pair("wrong") for pair in found.pairs]
    decisions = decide(wrong, analyses=found.analyses)
    tests = [mcnemar(pair.a_wrong, pair.b_wrong) for pair in wrong]
    raised = holm([test.exact for test in tests])
    return [
        {
            "design": design.name,
            **_decided(decision),
            "difference": rate(_unbiased(found, number, decision.interval)),
            "by_verdict": _by_verdict(found, number),
            "by_gesture": _paired_gestures(found, number),
            "spurious": _spurious(found, pairs),
            "runs_table": _runs_table(pairs, test.exact, test.mid_p, among_all),
            "partings": _partings((designs[0], design), pairs, found.seed),
        }
        for number, (design, decision, pairs, test, among_all) in enumerate(
            zip(designs[1:], decisions, found.pairs, tests, raised, strict=True), start=1
        )
    ]


def _decided(decision: Decision) -> Export:
    return {
        "verdict": decision.verdict,
        "decided_at": decision.level,
        "more_runs": decision.more_runs,
    }


def _unbiased(
    found: Outcome, number: int, interval: Interval, quantity: str = "wrong", group: int = 0
) -> Interval:
    """The interval of a difference, its estimate without the bias of an ending by errors."""
    from simcore.sums import QUANTITIES

    if found.all_rates is None:
        return interval
    rates = found.all_rates[:, group, QUANTITIES.index(quantity)]
    return without_bias(interval, float(rates[number] - rates[0]))


def _paired(found: Outcome, number: int, quantity: str, group: int = 0) -> Export:
    from simcore.deciding import repeated_interval

    pairs = found.pairs[number - 1]
    interval = repeated_interval(pairs.pair(quantity, group), analyses=found.analyses)
    only_first, only_other = pairs.only(quantity, group)
    return {
        "only_first": only_first,
        "only_other": only_other,
        "difference": rate(_unbiased(found, number, interval, quantity, group)),
    }


def _by_verdict(found: Outcome, number: int) -> dict[str, Export]:
    from simcore.sums import QUANTITIES

    return {quantity: _paired(found, number, quantity) for quantity in QUANTITIES}


def _paired_gestures(found: Outcome, number: int) -> list[Export]:
    tally = found.tallies[0]
    return [
        {
            "name": entry.name,
            "kind": entry.kind,
            "steps": tally.group_steps(1 + gesture),
            **_paired(found, number, "wrong", 1 + gesture),
        }
        for gesture, entry in enumerate(found.designs[0].hand)
    ]


def _spurious(found: Outcome, pairs: PairedSums) -> Export:
    """Counts that no movement caused, of which a run has more in one design; their difference per step."""
    from simcore.deciding import repeated_interval

    tally, pair = found.tallies[0], pairs.spurious_pair()
    # Until such counts are seen, as many may come together as a run has steps; so has `run`.
    per_run = tally.steps / tally.runs if tally.steps else math.nan
    interval = repeated_interval(pair, analyses=found.analyses, counts=True, alike=per_run)
    return {"only_first": pair.m, "only_other": pair.p, "difference": rate(interval, 1.0 / per_run)}


def _runs_table(pairs: PairedSums, exact: float, mid_p: float, among_all: float) -> Export:
    """Runs without and with a wrong step, and McNemar's test on those in which the designs part."""
    pair = pairs.pair("wrong")
    return {
        "both_right": pair.both_right,
        "only_first_right": pair.b_wrong,
        "only_other_right": pair.a_wrong,
        "both_wrong": pair.both_wrong,
        "p_value": exact,
        "mid_p_value": mid_p,
        "p_value_among_all": among_all,
    }


def _partings(both: tuple[Compared, Compared], pairs: PairedSums, seed: int) -> list[Export]:
    """Where the designs part, the commonest first."""
    order = sorted(pairs.partings.items(), key=lambda item: (-item[1].steps, item[1].run, item[1].step))
    return [
        {
            "first": _outcome(first),
            "other": _outcome(other),
            "steps": parting.steps,
            "run": parting.run,
            "step": parting.step,
            "commands": [
                trace_command(Asked(design.named, design.sets), seed, parting.run, parting.step)
                for design in both
            ],
        }
        for (first, other), parting in order
    ]


def _outcome(outcome: StepOutcome) -> Export:
    verdict, cause = outcome
    return {"verdict": verdict, "cause": None if cause == "none" else cause}


def _cautions(designs: Sequence[Compared], analyses: int) -> list[str]:
    """What all designs have in common as it is, the rest with the design's name; then what always holds."""
    own = [each.scenario.cautions for each in designs]
    common = [caution for caution in own[0] if all(caution in each for each in own)]
    named = [
        f"{design.name}: {caution}"
        for design, cautions in zip(designs, own, strict=True)
        for caution in cautions
        if caution not in common
    ]
    interim = [INTERIM.format(analyses)] if analyses > 1 else []
    return [*interim, *common, *named, *LASTING]
