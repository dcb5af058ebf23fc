"""The result of ``steptally compare``."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal, Self, cast

from pydantic import Field, PrivateAttr

from reports.documents.compare_words import SHARED_UNITS, comparison_sentence, headline, several_note
from reports.results.building import rate, step_rate, versions, without_bias
from reports.results.common import (
    ASSUMPTIONS,
    CAUSES,
    CAUTIONS,
    EXACT_RUNS,
    SCENARIO,
    SECONDS,
    SEED,
    SIGNAL_PATH,
    SPURIOUS,
    TITLE,
    WRONG,
    WRONG_RATE,
    Amount,
    Count,
    EngineName,
    Flag,
    Frozen,
    GestureSteps,
    Level,
    Positive,
    Rate,
    Record,
    ResolvedScenario,
    Result,
    RootCause,
    Row,
    Share,
    SignalBox,
    SignalValue,
    Texts,
    Verdict,
    VerdictCounts,
    VerdictRates,
    Versions,
    flat,
)
from reports.results.compare_gallery import ComparisonGallery
from reports.words.commands import NamedScenario, compare_command, ending_words, trace_command
from reports.words.sentences import ASSUMPTIONS as RUN_ASSUMPTIONS
from reports.words.sentences import LASTING as LIMITATIONS
from reports.words.signal_path import signal_path
from reports.words.summary import met
from scenarios.loading.messages import listed

if TYPE_CHECKING:
    from reports.documents.document import Document
    from scenarios.loading.comparison import ComparisonDesign
    from simcore.campaigns.campaign import Outcome
    from simcore.campaigns.pairing import PairedSums
    from simcore.statistics.exact import Interval

DIFFERENCE = (
    "The other design's rate minus the first one's, with its interval for this comparison alone; below 0 "
    "favours the other design where fewer is better."
)


class DesignValue(SignalValue):
    """One value of a box of a design."""

    differs: Flag = Field(description="Whether the value, or its tolerance, differs between the designs.")


class DesignBox(SignalBox):
    """One box of the block diagram of a design."""

    values: tuple[DesignValue, ...] = Field(description="Its plain values that are not zero.")
    differs: Flag = Field(description="Whether its kind differs between the designs.")


class DesignGesture(GestureSteps):
    """The wrong steps of one gesture in a design."""

    wrong: Count = Field(description=WRONG)
    wrong_rate: Rate = Field(description="Wrong steps of the gesture over its steps.")


class DesignResult(Record):
    """What became of the steps in one design."""

    name: str = Field(description="Its name in the comparison.")
    title: str = Field(description="Title of its scenario.")
    source: str = Field(description="The ready scenario, or the file.")
    sets: Texts = Field(description="The values that override those of the scenario, as PATH=VALUE.")
    signal_path: tuple[DesignBox, ...] = Field(description=SIGNAL_PATH)
    scenario: ResolvedScenario = Field(description=SCENARIO)
    verdicts: VerdictCounts = Field(description="All steps by verdict; they add up to steps.")
    verdict_rates: VerdictRates = Field(description="The share of all steps that each verdict has.")
    wrong: Count = Field(description=WRONG)
    wrong_rate: Rate = Field(description=WRONG_RATE)
    by_gesture: tuple[DesignGesture, ...] = Field(min_length=1, description="Wrong steps by gesture.")
    spurious: Count = Field(description=SPURIOUS)
    exact_runs: Count = Field(description=EXACT_RUNS)
    exact_share: Rate = Field(description="Exact runs over runs.")
    causes: Frozen[str, Positive] = Field(description=CAUSES)


class DesignDifference(Record):
    """A value of the scenario that differs between the designs."""

    path: str = Field(description='Its path, as --set takes it; "stages" is the order of the stages.')
    values: tuple[str | None, ...] = Field(
        min_length=2, description="Its value in each design as text; null where it has none."
    )


class PairedCount(Record):
    """One quantity of the same steps in both designs."""

    only_first: Count = Field(description="Steps that have it in the first design only.")
    only_other: Count = Field(description="Steps that have it in the other design only.")
    difference: Rate = Field(description=DIFFERENCE)


class PairedVerdicts(Record):
    """Every verdict, and the wrong ones together, of the same steps in both designs."""

    right: PairedCount = Field(description="Right steps.")
    flickered: PairedCount = Field(description="Flickered steps.")
    missed: PairedCount = Field(description="Missed steps.")
    doubled: PairedCount = Field(description="Doubled steps.")
    reversed: PairedCount = Field(description="Reversed steps.")
    wrong: PairedCount = Field(description=WRONG)


class PairedGesture(PairedCount, GestureSteps):
    """The wrong steps of one gesture in both designs: the gesture comes first, then its counts."""


class PairedSpurious(Record):
    """Counts that no movement caused, compared run by run."""

    only_first: Count = Field(
        description="Counts that runs have more of in the first design, summed over runs."
    )
    only_other: Count = Field(
        description="Counts that runs have more of in the other design, summed over runs."
    )
    difference: Rate = Field(
        description="Spurious counts per step of the other design minus those of the first one, with its "
        "interval."
    )


class PairedRuns(Record):
    """Runs by whether they are without a wrong step, and McNemar's test on those that differ."""

    both_right: Count = Field(description="Runs without a wrong step in both designs.")
    only_first_right: Count = Field(description="Runs without a wrong step in the first design only.")
    only_other_right: Count = Field(description="Runs without a wrong step in the other design only.")
    both_wrong: Count = Field(description="Runs with a wrong step in both designs.")
    p_value: Share = Field(description="Two-sided P value of the exact test, for this comparison alone.")
    mid_p_value: Share = Field(description="The same by the mid-P method.")
    p_value_among_all: Share = Field(description="p_value adjusted for several comparisons by Holm's method.")


class StepEnd(Record):
    """How a step ended in one design."""

    verdict: Verdict = Field(description="Its verdict.")
    cause: RootCause | None = Field(description="Its root cause; null unless it is wrong.")


class DivergentSteps(Record):
    """Steps that ended one way in the first design and another way in the other."""

    first: StepEnd = Field(description="How they ended in the first design.")
    other: StepEnd = Field(description="How they ended in the other design.")
    steps: Positive = Field(description="Number of such steps.")
    run: Count = Field(description="Run of the first of them.")
    step: Positive = Field(description="Its number in the run, from 1.")
    commands: tuple[str, str] = Field(
        description="Commands that explain this step in the first and in the other design, for a POSIX shell."
    )


ComparisonVerdict = Literal["better", "worse", "unsettled", "same"]


class PairedComparison(Record):
    """One design compared with the first, on the same simulated units."""

    design: str = Field(description="Name of the design.")
    verdict: ComparisonVerdict = Field(
        description="The design compared with the first, by wrong steps; same: no step was wrong in one of "
        "them only."
    )
    decided_at: Level = Field(
        description="Level at which an interval had to exclude 0 for this design, raised for several "
        "comparisons by Holm's method."
    )
    more_runs: Count | None = Field(
        description="How many more runs would be expected to settle it; null where it is settled, or where "
        "there are too few differences to estimate that."
    )
    difference: Rate = Field(description=DIFFERENCE)
    by_verdict: PairedVerdicts = Field(
        description='Every verdict, and "wrong" for missed, doubled and reversed together.'
    )
    by_gesture: tuple[PairedGesture, ...] = Field(min_length=1, description="Wrong steps by gesture.")
    spurious: PairedSpurious = Field(description="Counts that no movement caused, compared run by run.")
    runs_table: PairedRuns = Field(
        description="Runs by whether they are without a wrong step, and McNemar's test on those that differ."
    )
    partings: tuple[DivergentSteps, ...] = Field(
        description="Steps that ended one way in the first design and another way in the other, by these "
        "ways, the most frequent first."
    )
    sentence: str = Field(description="Which is better, by how much, how sure, in a sentence.")


ComparisonEnding = Literal[
    "all runs done", "every difference is settled", "enough wrong steps seen", "precise enough", "time is up",
    "interrupted",
]  # fmt: skip


class ComparisonRules(Record):
    """What ends a comparison before its last run; null for a rule that was not used."""

    errors: Positive | None = Field(description="So many wrong steps of every design.")
    precision: Amount | None = Field(
        description="Intervals of all differences within this share of them, on either side."
    )
    seconds: Amount | None = Field(description="So much time (s).")
    settled: Level | None = Field(description="Confidence at which all differences together are settled.")
    analyses: Positive = Field(
        description="Planned interim analyses, the last one included, that share the error allowance of what "
        "is settled; 1 where there is but one at the end."
    )


class ComparisonResult(Result):
    """Designs compared with the first of them, the reference, on the same simulated units."""

    title: str = Field(description=f"{TITLE[:-1]}, or the names of several designs.")
    met: str = Field(
        description="What all designs have in common: runs, hand, encoder, contacts, in one sentence."
    )
    command: str = Field(
        description="The command that gives the same numbers, for a POSIX shell, with runs and seed written "
        "out."
    )
    reference: str = Field(description="Name of the first design, with which the others are compared.")
    seed: Count = Field(description=SEED)
    first_run: Count = Field(description="Number of the first run.")
    runs: Count = Field(description="Runs that were finished, numbered from first_run on without gaps.")
    runs_asked: Positive = Field(description="Runs that were requested.")
    engine: EngineName = Field(description="The engine that ran; both give the same numbers.")
    stop: ComparisonRules = Field(description="What was to end the comparison before its last run.")
    ended_by: ComparisonEnding = Field(description="What ended the simulation.")
    kept: Count = Field(description="Runs that a ledger had already.")
    seconds: Amount = Field(description=SECONDS)
    steps: Count = Field(description="Steps simulated, the same in every design.")
    designs: tuple[DesignResult, ...] = Field(min_length=2, description="The designs, the reference first.")
    differences: tuple[DesignDifference, ...] = Field(
        description="Values of the scenario that differ between the designs."
    )
    comparisons: tuple[PairedComparison, ...] = Field(
        min_length=1, description="Each other design compared with the first."
    )
    assumptions: Texts = Field(min_length=1, description=ASSUMPTIONS)
    cautions: Texts = Field(min_length=1, description=CAUTIONS)
    gallery: ComparisonGallery | None = Field(
        description="Steps to look at; null unless --html asks for them, or if there was no step."
    )
    versions: Versions = Field(description="What the result was made with.")
    best: Texts = Field(description="Names of the designs with the fewest wrong steps; none without a step.")
    headline: str = Field(description="The result in one sentence.")
    together: str = Field(
        description='How intervals and tests treat several comparisons; "" for one comparison.'
    )

    _designs: tuple[ComparisonDesign, ...] = PrivateAttr()

    @classmethod
    def of(
        cls, designs: Sequence[ComparisonDesign], found: Outcome, command: Sequence[str]
    ) -> ComparisonResult:
        """The result of a finished or interrupted comparison.

        ``command`` is the command line's words after ``compare``, without runs, seed and rules of ending.
        """
        from scenarios.loading.comparison import difference_rows

        rows = difference_rows([each.scenario.resolved for each in designs])
        paths = {path for path, _ in rows}
        results = tuple(_design(each, found, number, paths) for number, each in enumerate(designs))
        comparisons = _comparisons(designs, results, found)
        steps = found.tallies[0].steps
        fewest = min(each.wrong for each in results)
        best = tuple(each.name for each in results if each.wrong == fewest and steps)
        result = cls(
            title=_title(designs),
            met=met(designs[0].scenario, found.tallies[0]),
            command=_command(found, command),
            reference=designs[0].name,
            seed=found.seed,
            first_run=found.first_run,
            runs=found.runs,
            runs_asked=found.options.stop.runs,
            engine=cast(EngineName, found.engine),
            stop=_stop(found),
            ended_by=cast(ComparisonEnding, found.ended_by),
            kept=found.kept,
            seconds=found.seconds,
            steps=steps,
            designs=results,
            differences=tuple(DesignDifference(path=path, values=tuple(values)) for path, values in rows),
            comparisons=comparisons,
            assumptions=(SHARED_UNITS, *RUN_ASSUMPTIONS),
            cautions=_cautions(designs, found.analyses),
            gallery=None,
            versions=versions(),
            best=best,
            headline=headline(results, comparisons, best),
            together=several_note(len(comparisons)),
        )
        result._designs = tuple(designs)
        return result

    def with_gallery(self) -> Self:
        """The same result with single steps to look at, as a page shows them.  It takes a moment."""
        if self.gallery is not None:
            return self
        gallery = ComparisonGallery.of(self._designs, self.comparisons, self.seed)
        return self.model_copy(update={"gallery": gallery})

    def document(self) -> Document:
        from reports.documents.compare import document

        return document(self)

    def __repr__(self) -> str:
        return f"<ComparisonResult {', '.join(self.names)}: {self.headline}>"

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(each.name for each in self.designs)

    @property
    def wrong_rates(self) -> Mapping[str, Rate]:
        """The rate of wrong steps, by design."""
        return {each.name: each.wrong_rate for each in self.designs}

    @property
    def rate_differences(self) -> Mapping[str, Rate]:
        """The wrong rate of each other design minus that of the reference; below 0 it is better."""
        return {each.design: each.difference for each in self.comparisons}

    @property
    def verdicts(self) -> Mapping[str, str]:
        """Of each other design compared with the reference: better, worse, unsettled or same."""
        return {each.design: each.verdict for each in self.comparisons}

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        nested = ("signal_path", "scenario", "by_gesture", "causes", "verdict_rates")
        return {
            "designs": [flat(each, without=nested) for each in self.designs],
            "differences": [
                {"path": each.path, **dict(zip(self.names, each.values, strict=True))}
                for each in self.differences
            ],
            "verdicts": [
                flat(paired, design=each.design, verdict=name)
                for each in self.comparisons
                for name, paired in each.by_verdict
            ],
            "gestures": [
                flat(paired, design=each.design) for each in self.comparisons for paired in each.by_gesture
            ],
            "runs": [flat(each.runs_table, design=each.design) for each in self.comparisons],
            "partings": [
                flat(steps, design=each.design) for each in self.comparisons for steps in each.partings
            ],
        }


def _title(designs: Sequence[ComparisonDesign]) -> str:
    """The scenario's title, or the names of several."""
    first = designs[0].scenario
    if all(design.scenario.source == first.source for design in designs):
        return first.title or first.name
    return f"{designs[0].name} against {listed([design.name for design in designs[1:]], 'and')}"


def _stop(found: Outcome) -> ComparisonRules:
    stop = found.options.stop
    return ComparisonRules(
        errors=stop.errors,
        precision=stop.precision,
        seconds=stop.seconds,
        settled=stop.settled,
        analyses=found.analyses,
    )


def _command(found: Outcome, command: Sequence[str]) -> str:
    """The command that gives the same numbers: by its runs alone where time or a person ended it."""
    from simcore.statistics.stopping import INTERRUPTED, TIME_UP, Stop

    cut, stop = found.ended_by in (INTERRUPTED, TIME_UP), found.options.stop
    words = [*ending_words(Stop(stop.runs), stop, by_runs=cut), *(["--settled"] if stop.settled else [])]
    return compare_command([*command, *words], max(found.runs, 1) if cut else stop.runs, found.seed)


def _design(design: ComparisonDesign, found: Outcome, number: int, differing: set[str]) -> DesignResult:
    from simcore.statistics.estimates import share_interval

    scenario, tally = design.scenario, found.tallies[number]

    def own_rate(quantity: str, group: int = 0) -> Rate:
        return step_rate(found, quantity, group, number)

    return DesignResult(
        name=design.name,
        title=scenario.title,
        source=scenario.source,
        sets=design.sets,
        signal_path=tuple(_marked(box, differing) for box in signal_path(scenario)),
        scenario=scenario.resolved,
        verdicts=VerdictCounts(**tally.verdicts),
        verdict_rates=VerdictRates(**{name: own_rate(name) for name in tally.verdicts}),
        wrong=tally.wrong,
        wrong_rate=own_rate("wrong"),
        by_gesture=tuple(
            DesignGesture(
                name=entry.name,
                kind=entry.kind,
                steps=tally.group_steps(group),
                wrong=tally.cluster("wrong", group).y,
                wrong_rate=own_rate("wrong", group),
            )
            for gesture, entry in enumerate(scenario.design.hand)
            for group in [tally.gesture_group(gesture)]
        ),
        spurious=tally.spurious,
        exact_runs=tally.exact_runs,
        exact_share=rate(share_interval(tally.exact_runs, tally.runs)),
        causes=tally.causes,
    )


def _marked(box: SignalBox, differing: set[str]) -> DesignBox:
    """A box of a design with a mark at each value that differs between the designs."""
    prefix = box.name if box.role == "stage" else box.role
    values = tuple(
        DesignValue(
            **dict(value),
            differs=not differing.isdisjoint({f"{prefix}.{key}", f"{prefix}.tolerance.{key}"}),
        )
        for value in box.values
        for key in [value.name.replace(" ", "_")]
    )
    return DesignBox(**{**dict(box), "values": values}, differs=f"{prefix}.kind" in differing)


def _comparisons(
    designs: Sequence[ComparisonDesign], results: Sequence[DesignResult], found: Outcome
) -> tuple[PairedComparison, ...]:
    from simcore.statistics.paired import decide, holm, mcnemar

    wrong = [pair.pair("wrong") for pair in found.pairs]
    decisions = decide(wrong, analyses=found.analyses)
    tests = [mcnemar(pair.a_wrong, pair.b_wrong) for pair in wrong]
    adjusted = holm([test.exact for test in tests])
    steps, count = found.tallies[0].steps, len(found.pairs)
    comparisons = []
    for number, pairs in enumerate(found.pairs):
        decision, test, pair = decisions[number], tests[number], wrong[number]
        comparison = PairedComparison(
            design=designs[number + 1].name,
            verdict=cast(ComparisonVerdict, decision.verdict),
            decided_at=decision.level,
            more_runs=decision.more_runs,
            difference=rate(_unbiased(found, number + 1, decision.interval)),
            by_verdict=_by_verdict(found, number + 1),
            by_gesture=_paired_gestures(found, number + 1),
            spurious=_spurious(found, pairs),
            runs_table=PairedRuns(
                both_right=pair.both_right,
                only_first_right=pair.b_wrong,
                only_other_right=pair.a_wrong,
                both_wrong=pair.both_wrong,
                p_value=test.exact,
                mid_p_value=test.mid_p,
                p_value_among_all=adjusted[number],
            ),
            partings=_divergent((designs[0], designs[number + 1]), pairs, found.seed),
            sentence="",
        )
        sentence = comparison_sentence(results[0], results[number + 1], comparison, steps, count)
        comparisons.append(comparison.model_copy(update={"sentence": sentence}))
    return tuple(comparisons)


def _unbiased(
    found: Outcome, number: int, interval: Interval, quantity: str = "wrong", group: int = 0
) -> Interval:
    """The interval of a difference, its estimate without the bias of an ending by errors."""
    from simcore.judging.sums import QUANTITIES

    if found.all_rates is None:
        return interval
    rates = found.all_rates[:, group, QUANTITIES.index(quantity)]
    return without_bias(interval, float(rates[number] - rates[0]))


def _paired(found: Outcome, number: int, quantity: str, group: int = 0) -> dict[str, Any]:
    """The fields of a quantity of the same steps in the first design and in another."""
    from simcore.statistics.paired import repeated_interval

    pairs = found.pairs[number - 1]
    interval = repeated_interval(pairs.pair(quantity, group), analyses=found.analyses)
    only_first, only_other = pairs.only(quantity, group)
    difference = rate(_unbiased(found, number, interval, quantity, group))
    return {"only_first": only_first, "only_other": only_other, "difference": difference}


def _by_verdict(found: Outcome, number: int) -> PairedVerdicts:
    from simcore.judging.sums import QUANTITIES

    counts = {quantity: PairedCount(**_paired(found, number, quantity)) for quantity in QUANTITIES}
    return PairedVerdicts(**counts)


def _paired_gestures(found: Outcome, number: int) -> tuple[PairedGesture, ...]:
    tally = found.tallies[0]
    return tuple(
        PairedGesture(
            name=entry.name,
            kind=entry.kind,
            steps=tally.group_steps(1 + gesture),
            **_paired(found, number, "wrong", 1 + gesture),
        )
        for gesture, entry in enumerate(found.design.hand)
    )


def _spurious(found: Outcome, pairs: PairedSums) -> PairedSpurious:
    """Spurious counts, of which a run has more in one design; their difference per step."""
    from simcore.statistics.paired import repeated_interval

    tally, pair = found.tallies[0], pairs.spurious_pair()
    # Until such counts are seen, as many may come together as a run has steps; so has `run`.
    per_run = tally.steps / tally.runs if tally.steps else math.nan
    interval = repeated_interval(pair, analyses=found.analyses, counts=True, assumed_effect=per_run)
    return PairedSpurious(only_first=pair.m, only_other=pair.p, difference=rate(interval, 1.0 / per_run))


def _divergent(
    both: tuple[ComparisonDesign, ComparisonDesign], pairs: PairedSums, seed: int
) -> tuple[DivergentSteps, ...]:
    """How steps differ, the most frequent way first."""
    order = sorted(pairs.partings.items(), key=lambda item: (-item[1].steps, item[1].run, item[1].step))
    return tuple(
        DivergentSteps(
            first=_end(*first),
            other=_end(*other),
            steps=parting.steps,
            run=parting.run,
            step=parting.step,
            commands=(
                _trace(both[0], seed, parting.run, parting.step),
                _trace(both[1], seed, parting.run, parting.step),
            ),
        )
        for (first, other), parting in order
    )


def _trace(design: ComparisonDesign, seed: int, run: int, step: int) -> str:
    return trace_command(NamedScenario(design.named, design.sets), seed, run, step)


def _end(verdict: str, cause: str) -> StepEnd:
    return StepEnd.model_validate({"verdict": verdict, "cause": None if cause == "none" else cause})


INTERIM = (
    "Up to {} interim analyses share the error allowance of 5 %. Verdicts and the confidence intervals of "
    "differences allow for that; estimates do not: a comparison that ended early overstates the difference "
    "somewhat."
)


def _cautions(designs: Sequence[ComparisonDesign], analyses: int) -> tuple[str, ...]:
    """What holds for all designs as it is, the rest with the design's name; then what always holds."""
    own = [each.scenario.cautions for each in designs]
    common = [caution for caution in own[0] if all(caution in each for each in own)]
    named = [
        f"{design.name}: {caution}"
        for design, cautions in zip(designs, own, strict=True)
        for caution in cautions
        if caution not in common
    ]
    interim = [INTERIM.format(analyses)] if analyses > 1 else []
    return (*interim, *common, *named, *LIMITATIONS)
