"""The result of ``steptally compare``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from pydantic import Field

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
    DirectionOrRest,
    EngineName,
    Flag,
    Frozen,
    GestureSteps,
    Integer,
    Level,
    Pair,
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
from reports.results.gallery import DiagramEvent, DiagramTrack

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


class PairedComparison(Record):
    """One design compared with the first, on the same simulated units."""

    design: str = Field(description="Name of the design.")
    verdict: Literal["better", "worse", "unsettled", "same"] = Field(
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


class ComparedSide(Record):
    """What became of a step in one of two designs."""

    verdict: Verdict = Field(description="The step's verdict.")
    sentence: str | None = Field(description="What its root cause means; null unless it is wrong.")
    wanted: Integer = Field(description="Net counts that were expected.")
    counted: Integer = Field(description="Net counts received.")
    why: Texts = Field(description="Why the count went wrong, in sentences; empty unless it did.")
    command: str = Field(description="The command that explains the step in full.")


class ComparedTrack(DiagramTrack):
    """One track of a timing diagram of two designs."""

    design: str = Field(
        description='Number of its design; "" for a contact, which is the same in both designs.'
    )


class ComparedEvent(DiagramEvent):
    """Something that happened in the window of a diagram of two designs."""

    design: str = Field(
        validation_alias="in",
        serialization_alias="in",
        description='Number of the design in which it happened, or "both".',
    )


class ComparedStep(Record):
    """A step that went wrong in one of two designs only; its times count from its beginning."""

    designs: tuple[str, str] = Field(description="Names of the two designs.")
    numbers: tuple[Positive, Positive] = Field(description="Their numbers among all, from 1.")
    run: Count = Field(description="Number of the run.")
    step: Positive = Field(description="Number of the step in its run, from 1.")
    like_it: Positive = Field(description="Steps that ended in the same two ways.")
    gesture: str = Field(description="Name of the gesture.")
    direction: DirectionOrRest = Field(description="Direction in which the hand turned.")
    sides: tuple[ComparedSide, ComparedSide] = Field(
        description="The step in the first of the designs, and in the other."
    )
    window_us: Pair = Field(description="From and to (us): all that the step caused in either design.")
    moment_us: Pair = Field(
        description="From and to (us): where it was decided, in the design in which it went wrong."
    )
    tracks: tuple[ComparedTrack, ...] = Field(description="Tracks from top to bottom.")
    events: tuple[ComparedEvent, ...] = Field(
        description="What happened in the window, in order; at most 80 events of each design."
    )


class ComparisonGallery(Record):
    """Steps to look at, that went wrong in one design only."""

    steps: tuple[ComparedStep, ...] = Field(description="Steps, by design and by frequency.")
    left_out: Count = Field(description="Ways to differ for which there was no room.")


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
    ended_by: Literal["all runs done", "interrupted"] = Field(description="What ended the simulation.")
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

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the designs, the reference first."""
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
