"""The result of ``steptally run``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from pydantic import Field

from reports.results.common import (
    ASSUMPTIONS,
    CAUSES,
    CAUTIONS,
    EXACT_RUNS,
    NAME,
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
    DesignCheck,
    EngineName,
    Flag,
    Frozen,
    GestureTally,
    Number,
    Positive,
    Rate,
    Record,
    ResolvedScenario,
    Result,
    Row,
    RunEnding,
    SignalBox,
    TargetRate,
    VerdictCounts,
    VerdictRates,
    Versions,
    flat,
)
from reports.results.gallery import StepGallery

MarginName = Literal[
    "set-up time", "hold time", "clock low", "clock high", "closest edges", "set-up voltage",
    "low level of A", "high level of A", "low level of B", "high level of B",
]  # fmt: skip


class StopRules(Record):
    """What ends the simulation before all runs are done; null for a rule that was not used."""

    errors: Positive | None = Field(description="So many wrong steps.")
    precision: Amount | None = Field(
        description="An interval within this share of the rate of wrong steps, on either side."
    )
    seconds: Amount | None = Field(description="So much time (s).")


class ToleranceRange(Record):
    """A resistance with the extremes that the tolerances give it."""

    nominal: Amount = Field(description="With every part at its nominal value (ohm).")
    low: Amount = Field(description="Least within tolerances (ohm).")
    high: Amount = Field(description="Most within tolerances (ohm).")


class WorstError(Record):
    """The largest final error of any run, in either direction."""

    counts: Count = Field(description="The error in counts.")
    nominal: Amount = Field(description="With every part at its nominal value (ohm).")
    low: Amount = Field(description="Least within tolerances (ohm).")
    high: Amount = Field(description="Most within tolerances (ohm).")


class DrivenResistance(Record):
    """What the counter drives, in ohm."""

    end_to_end: Amount = Field(description="Resistance from end to end, nominal (ohm).")
    wiper: Amount = Field(description="Resistance of the wiper, nominal (ohm).")
    one_count: ToleranceRange = Field(description="The change that one count makes (ohm).")
    worst_error: WorstError | None = Field(
        description="The largest final error of any run, in either direction; null if no run was finished."
    )


class SpacingClass(Record):
    """Steps whose closest two edges lie within a range of spacings."""

    low_ms: Amount = Field(description="Lower border (ms), included.")
    high_ms: Amount | None = Field(description="Upper border (ms), excluded; null for the last class.")
    slowest_rpm: Amount = Field(
        description="Equivalent steady speed with edges high_ms apart (rpm); 0 for the last class."
    )
    fastest_rpm: Amount | None = Field(
        description="Equivalent steady speed with edges low_ms apart (rpm); null for the first class."
    )
    steps: Count = Field(description="Steps of this class.")
    verdicts: VerdictCounts = Field(description="The steps of this class by verdict.")
    wrong: Count = Field(description=WRONG)
    wrong_rate: Rate = Field(description="Wrong steps of the class over its steps.")


class Margin(Record):
    """How close one time or voltage came to its limit, over all runs."""

    quantity: MarginName = Field(
        description="Which quantity: time since the direction line last changed, and until it next changes, "
        "at each active edge of the clock line; how long the clock line stayed low, and high; time between "
        "neighbouring edges of different lines; how far the direction line's voltage was beyond the "
        "threshold that it must have passed, at each active clock edge; the voltage that a line's node "
        "reached before its contact moved on."
    )
    label: str = Field(description="The quantity in words that name the lines.")
    unit: Literal["s", "V"] = Field(description="Unit of worst, the quantiles and asked.")
    worst_is: Literal["least", "most"] = Field(
        description="Whether the smallest or the largest value is the worst."
    )
    values: Count = Field(description="Number of values in all runs.")
    worst: Number | None = Field(description="The worst value, exact; null without values.")
    one_in_1000: Number | None = Field(
        description="0.1 % of the values were this bad or worse; null where those are fewer than "
        "values_beyond."
    )
    one_in_100: Number | None = Field(description="The same for 1 %.")
    median: Number | None = Field(description="The same for 50 %.")
    asked: Number | None = Field(
        description="The limit: what the counter states, the nominal threshold of the input, or 0 V beyond "
        "the threshold; null where none is stated."
    )
    missed: Count = Field(
        description="Values on the wrong side of their limit: of the counter's, or of the own thresholds of "
        "each built unit."
    )
    why_not: str | None = Field(description="Why the quantity does not apply; null if it does.")


class RunMargins(Record):
    """How close edges and voltages came to the limits of the counter and the inputs."""

    time_resolution: Amount = Field(
        description="Largest error of the quantile of a time between 1 ns and 140 s, as a share of it."
    )
    voltage_resolution: Amount = Field(
        description="Largest error of the quantile of a voltage between -1 and 1.3 times the nominal supply "
        "(V)."
    )
    values_beyond: Positive = Field(
        description="A quantile is given only if at least so many values are as bad or worse."
    )
    quantities: tuple[Margin, ...] = Field(
        min_length=10, max_length=10, description="One entry for each quantity, always in the same order."
    )


class RunTarget(TargetRate):
    """The scenario's target, and whether it is met."""

    met: Flag = Field(description="Whether wrong_rate.high is at most rate.")


class RunResult(Result):
    """What became of the steps of all runs; a run is one built unit turned by one hand."""

    name: str = Field(description=NAME)
    title: str = Field(description=TITLE)
    simulated: str = Field(description="What was simulated, in one sentence.")
    command: str = Field(
        description="The command that gives the same numbers, for a POSIX shell, with runs and seed written "
        "out."
    )
    signal_path: tuple[SignalBox, ...] = Field(description=SIGNAL_PATH)
    scenario: ResolvedScenario = Field(description=SCENARIO)
    seed: Count = Field(description=SEED)
    first_run: Count = Field(description="Number of the first run.")
    runs: Count = Field(description="Runs that were finished, numbered from first_run on without gaps.")
    runs_asked: Positive = Field(description="Runs that were requested.")
    engine: EngineName = Field(description="The engine that ran; both give the same numbers.")
    stop: StopRules = Field(description="What was to end the simulation before all runs were done.")
    ended_by: RunEnding = Field(description="What ended the simulation.")
    seconds: Amount = Field(description=SECONDS)
    estimate_method: Literal["hits over trials", "without the last block"] = Field(
        description="How the rates of steps (wrong_rate, verdict_rates, those of groups) are estimated. "
        '"without the last block": a number of wrong steps ended the simulation, and the bias of that is '
        "removed by leaving out the last block of runs, averaged over the blocks that might have come last. "
        "Other rates are always hits over trials."
    )
    steps: Count = Field(description="Steps of all runs: detents that the hand meant to pass.")
    verdicts: VerdictCounts = Field(description="All steps by verdict; they add up to steps.")
    verdict_rates: VerdictRates = Field(description="The share of all steps that each verdict has.")
    wrong: Count = Field(description=WRONG)
    wrong_rate: Rate = Field(description=WRONG_RATE)
    spurious: Count = Field(description=SPURIOUS)
    spurious_rate: Rate = Field(description="Spurious counts over steps.")
    spurious_origins: Frozen[str, Positive] = Field(
        description="Spurious counts by what made them; origins that did not occur are left out."
    )
    exact_runs: Count = Field(description=EXACT_RUNS)
    exact_share: Rate = Field(description="Exact runs over runs.")
    final_errors: Frozen[int, Positive] = Field(
        description="Runs by final position minus expected position (counts)."
    )
    causes: Frozen[str, Positive] = Field(description=CAUSES)
    cause_sentences: Frozen[str, str] = Field(description="A sentence for each root cause that occurred.")
    driven: DrivenResistance | None = Field(
        description="What the counter drives, in ohm; null if the scenario does not say."
    )
    by_gesture: tuple[GestureTally, ...] = Field(description="The hand's gestures in the scenario's order.")
    by_spacing: tuple[SpacingClass, ...] = Field(
        description="Classes of the closest spacing of two neighbouring edges within a step, rising; a step "
        "with fewer than two edges counts in the last class."
    )
    excursions: tuple[Count, ...] = Field(
        min_length=9,
        max_length=9,
        description="Steps by how far the count strayed from its expected range on the way: 0, 1, ... 7 "
        "counts, and 8 or more.",
    )
    cut_bursts: Count = Field(
        description="Bursts of chatter still running when the same contact reached its next boundary, and "
        "cut off there."
    )
    margins: RunMargins | None = Field(
        description="How close edges and voltages came to the limits of the counter and the inputs; null if "
        "margins were left out."
    )
    target: RunTarget | None = Field(description="The scenario's target; null if it states none.")
    assumptions: tuple[str, ...] = Field(min_length=1, description=ASSUMPTIONS)
    cautions: tuple[str, ...] = Field(min_length=1, description=CAUTIONS)
    checks: tuple[DesignCheck, ...] = Field(
        min_length=1,
        description="All checks of steptally check. Values that would pass are looked for only for --html; "
        "else change is null throughout.",
    )
    gallery: StepGallery | None = Field(
        description="Wrong steps to look at, one for each root cause; null unless --html asks for them."
    )
    versions: Versions = Field(description="What the result was made with.")

    @property
    def target_met(self) -> bool | None:
        """Whether the scenario's target is shown to be met; None if it states none."""
        return None if self.target is None else self.target.met

    def _tables(self) -> Mapping[str, Iterable[Row]]:
        counts = {**self.verdicts.export, "wrong": self.wrong, "spurious": self.spurious}
        rates = {**dict(self.verdict_rates), "wrong": self.wrong_rate, "spurious": self.spurious_rate}
        margins = () if self.margins is None else self.margins.quantities
        return {
            "verdicts": [flat(rates[name], verdict=name, steps=count) for name, count in counts.items()],
            "gestures": [flat(each) for each in self.by_gesture],
            "spacing": [flat(each) for each in self.by_spacing],
            "causes": [
                {"cause": cause, "steps": steps, "sentence": self.cause_sentences[cause]}
                for cause, steps in self.causes.items()
            ],
            "final_errors": [{"counts": error, "runs": runs} for error, runs in self.final_errors.items()],
            "margins": [flat(each) for each in margins],
            "checks": [each.row() for each in self.checks],
        }
