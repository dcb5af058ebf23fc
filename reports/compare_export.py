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
from reports.exports import rate
from reports.sentences import ASSUMPTIONS, LASTING, MET_ALIKE
from reports.signal_path import signal_path
from reports.summary import met
from reports.versions import versions
from scenarios.loading.messages import listed

if TYPE_CHECKING:
    from scenarios.loading.comparison import Compared
    from simcore.campaigns.comparing import Comparison
    from simcore.campaigns.pairing import Outcome, PairedSums
    from simcore.judging.tally import Tally
    from simcore.statistics.paired import Decision

Export = dict[str, Any]


def compare_export(
    designs: Sequence[Compared], found: Comparison, asked: int, command: Sequence[str]
) -> Export:
    """Everything that is known about a finished or interrupted comparison of ``asked`` runs.

    ``command`` is the command line's words after ``compare``, without runs and seed.
    """
    from scenarios.loading.comparison import difference_rows

    rows = difference_rows([each.scenario.resolved for each in designs])
    export = {
        "title": _title(designs),
        "met": met(designs[0].scenario, found.tallies[0]),
        "command": compare_command(command, max(found.runs, 1), found.seed),
        "reference": designs[0].name,
        "seed": found.seed,
        "first_run": found.first_run,
        "runs": found.runs,
        "runs_asked": asked,
        "engine": found.engine,
        "ended_by": found.ended_by,
        "seconds": found.seconds,
        "steps": found.tallies[0].steps,
        "designs": [
            _design(each, tally, [path for path, _ in rows])
            for each, tally in zip(designs, found.tallies, strict=True)
        ],
        "differences": [{"path": path, "values": values} for path, values in rows],
        "comparisons": _comparisons(designs, found),
        "assumptions": [MET_ALIKE, *ASSUMPTIONS],
        "cautions": _cautions(designs),
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


def _design(design: Compared, tally: Tally, differing: Sequence[str]) -> Export:
    from simcore.statistics.estimates import rate_interval, share_interval

    scenario = design.scenario
    return {
        "name": design.name,
        "title": scenario.title,
        "source": scenario.source,
        "sets": list(design.sets),
        "signal_path": _marked(signal_path(scenario), differing),
        "scenario": scenario.resolved,
        "verdicts": tally.verdicts,
        "verdict_rates": {name: rate(rate_interval(tally.cluster(name))) for name in tally.verdicts},
        "wrong": tally.wrong,
        "wrong_rate": rate(rate_interval(tally.cluster("wrong"))),
        "by_gesture": _by_gesture(scenario.design.hand, tally),
        "spurious": tally.spurious,
        "exact_runs": tally.exact_runs,
        "exact_share": rate(share_interval(tally.exact_runs, tally.runs)),
        "causes": tally.causes,
    }


def _by_gesture(hand: Sequence[Any], tally: Tally) -> list[Export]:
    from simcore.statistics.estimates import rate_interval

    clusters = [tally.cluster("wrong", tally.gesture_group(number)) for number in range(len(hand))]
    return [
        {
            "name": entry.name,
            "kind": entry.kind,
            "steps": cluster.x,
            "wrong": cluster.y,
            "wrong_rate": rate(rate_interval(cluster)),
        }
        for entry, cluster in zip(hand, clusters, strict=True)
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


def _comparisons(designs: Sequence[Compared], found: Comparison) -> list[Export]:
    from simcore.statistics.paired import decide, holm, mcnemar

    wrong = [pair.pair("wrong") for pair in found.pairs]
    decisions = decide(wrong)
    tests = [mcnemar(pair.a_wrong, pair.b_wrong) for pair in wrong]
    raised = holm([test.exact for test in tests])
    return [
        {
            "design": design.name,
            **_decided(decision),
            "by_verdict": _by_verdict(pairs),
            "by_gesture": _paired_gestures(found, pairs),
            "spurious": _spurious(found, pairs),
            "runs_table": _runs_table(pairs, test.exact, test.mid_p, among_all),
            "partings": _partings((designs[0], design), pairs, found.seed),
        }
        for design, decision, pairs, test, among_all in zip(
            designs[1:], decisions, found.pairs, tests, raised, strict=True
        )
    ]


def _decided(decision: Decision) -> Export:
    return {
        "verdict": decision.verdict,
        "decided_at": decision.level,
        "more_runs": decision.more_runs,
        "difference": rate(decision.interval),
    }


def _paired(pairs: PairedSums, quantity: str, group: int = 0) -> Export:
    from simcore.statistics.paired import difference_interval

    only_first, only_other = pairs.only(quantity, group)
    return {
        "only_first": only_first,
        "only_other": only_other,
        "difference": rate(difference_interval(pairs.pair(quantity, group))),
    }


def _by_verdict(pairs: PairedSums) -> dict[str, Export]:
    from simcore.judging.sums import QUANTITIES

    return {quantity: _paired(pairs, quantity) for quantity in QUANTITIES}


def _paired_gestures(found: Comparison, pairs: PairedSums) -> list[Export]:
    tally = found.tallies[0]
    return [
        {
            "name": entry.name,
            "kind": entry.kind,
            "steps": tally.group_steps(1 + number),
            **_paired(pairs, "wrong", 1 + number),
        }
        for number, entry in enumerate(found.designs[0].hand)
    ]


def _spurious(found: Comparison, pairs: PairedSums) -> Export:
    """Counts that no movement caused, of which a run has more in one design; their difference per step."""
    from simcore.statistics.paired import difference_interval

    tally, pair = found.tallies[0], pairs.spurious_pair()
    # Until such counts are seen, as many may come together as a run has steps; so has `run`.
    per_run = tally.steps / tally.runs if tally.steps else math.nan
    interval = difference_interval(pair, counts=True, alike=per_run)
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


def _outcome(outcome: Outcome) -> Export:
    verdict, cause = outcome
    return {"verdict": verdict, "cause": None if cause == "none" else cause}


def _cautions(designs: Sequence[Compared]) -> list[str]:
    """What all designs have in common as it is, the rest with the design's name; then what always holds."""
    own = [each.scenario.cautions for each in designs]
    common = [caution for caution in own[0] if all(caution in each for each in own)]
    named = [
        f"{design.name}: {caution}"
        for design, cautions in zip(designs, own, strict=True)
        for caution in cautions
        if caution not in common
    ]
    return [*common, *named, *LASTING]
