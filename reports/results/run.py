"""The result of ``steptally run``."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, Self, cast

from pydantic import Field, PrivateAttr

from reports.results.building import design_checks, gesture_tallies, group_tally, rate, step_rate, versions
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
from reports.words.commands import NamedScenario, ending_words, exact_command
from reports.words.sentences import ASSUMPTIONS as ASSUMPTIONS_HELD
from reports.words.sentences import LASTING as LIMITATIONS
from reports.words.sentences import cause_sentence
from reports.words.signal_path import signal_path
from reports.words.summary import simulated

if TYPE_CHECKING:
    from reports.documents.document import Document
    from scenarios.loading.load import Scenario
    from simcore.campaigns.campaign import Outcome
    from simcore.engines.gauging import Probe
    from simcore.judging.margins import Margins
    from simcore.statistics.stopping import Stop


@dataclass(frozen=True)
class Context:
    """What a result was made from: the scenario, how commands name it, the files that it was read from, the
    campaign's outcome, and the rules that it ran under.
    """

    scenario: Scenario
    named: NamedScenario
    read: tuple[str, ...]
    outcome: Outcome
    stop: Stop


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


class WorstError(ToleranceRange):
    """The largest final error of any run, in either direction."""

    counts: Count = Field(description="The error in counts.")


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
        description="Largest error of the quantile of a voltage between -1 and 1.3 times the nominal "
        "supply (V)."
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

    _context: Context = PrivateAttr()

    @classmethod
    def of(cls, context: Context) -> RunResult:
        """The result of a finished or interrupted campaign."""
        scenario, outcome, stop = context.scenario, context.outcome, context.stop
        tally = outcome.tally
        result = cls(
            name=scenario.name,
            title=scenario.title,
            simulated=simulated(scenario, outcome),
            command=_command(context),
            signal_path=signal_path(scenario),
            scenario=scenario.resolved,
            seed=outcome.seed,
            first_run=outcome.first_run,
            runs=tally.runs,
            runs_asked=stop.runs,
            engine=cast(EngineName, outcome.engine),
            stop=StopRules(errors=stop.errors, precision=stop.precision, seconds=stop.seconds),
            ended_by=cast(RunEnding, outcome.ended_by),
            seconds=outcome.seconds,
            estimate_method="hits over trials" if outcome.rates is None else "without the last block",
            **_overall(outcome),
            driven=_driven(outcome),
            by_gesture=gesture_tallies(outcome),
            by_spacing=_by_spacing(outcome),
            excursions=tuple(tally.excursions),
            cut_bursts=tally.cut,
            margins=_margins(outcome),
            target=_target(scenario, outcome),
            assumptions=ASSUMPTIONS_HELD,
            cautions=(*scenario.cautions, *LIMITATIONS),
            checks=design_checks(scenario, suggest=False),
            gallery=None,
            versions=versions(),
        )
        result._context = context
        result.made_from(context.read, outcome.kept)
        return result

    @property
    def kept(self) -> int:
        """Runs that were taken from a ledger."""
        return self._kept or 0

    def with_gallery(self) -> Self:
        """The same result with what only a page shows: single wrong steps, and values with which failing
        checks would pass.  It takes a moment.
        """
        if self.gallery is not None:
            return self
        context, outcome = self._context, self._context.outcome
        return self.model_copy(
            update={
                "checks": design_checks(context.scenario),
                "gallery": StepGallery.of(
                    outcome.design, outcome.tally, outcome.seed, outcome.first_run, context.named
                ),
            }
        )

    def document(self) -> Document:
        from reports.documents.run import document

        return document(self)

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


def _command(context: Context) -> str:
    """The command that gives the same numbers; one that time or a person ended is told by its runs alone."""
    from simcore.statistics.stopping import INTERRUPTED, TIME_UP

    outcome, stop, stated = context.outcome, context.stop, context.scenario.stop
    cut = outcome.ended_by in (INTERRUPTED, TIME_UP)
    runs = max(outcome.tally.runs, 1) if cut else stop.runs
    return exact_command(
        context.named, runs, outcome.seed, outcome.first_run, ending_words(stated, stop, by_runs=cut)
    )


def _overall(outcome: Outcome) -> dict[str, Any]:
    from simcore.statistics.estimates import count_interval, share_interval

    tally = outcome.tally
    # Until spurious counts are seen, as many may come together as a run has steps.
    per_run_steps = tally.steps / tally.runs if tally.runs else math.nan
    squared = int(tally.sums.spurious[1])
    per_run = count_interval(tally.spurious, squared, tally.runs, assumed_effect=per_run_steps)
    per_step = 1.0 / per_run_steps if tally.steps else math.nan
    return {
        "steps": tally.steps,
        "verdicts": VerdictCounts(**tally.verdicts),
        "verdict_rates": VerdictRates(**{name: step_rate(outcome, name) for name in tally.verdicts}),
        "wrong": tally.wrong,
        "wrong_rate": step_rate(outcome, "wrong"),
        "spurious": tally.spurious,
        "spurious_rate": rate(per_run, per_step),
        "spurious_origins": tally.strays,
        "exact_runs": tally.exact_runs,
        "exact_share": rate(share_interval(tally.exact_runs, tally.runs)),
        "final_errors": {error: tally.errors[error] for error in sorted(tally.errors)},
        "causes": tally.causes,
        "cause_sentences": {cause: cause_sentence(cause) for cause in tally.causes},
    }


def _driven(outcome: Outcome) -> DrivenResistance | None:
    """What one count, and the worst final error, are in ohm."""
    from simcore.counters.driven import counts_in_ohms

    driven, positions = outcome.design.driven, outcome.design.range.positions
    if driven is None:
        return None
    worst = max((abs(error) for error in outcome.tally.errors), default=None)
    return DrivenResistance(
        end_to_end=driven.end_to_end.nominal,
        wiper=driven.wiper.nominal,
        one_count=ToleranceRange(**counts_in_ohms(driven, positions, 1)._asdict()),
        worst_error=None
        if worst is None
        else WorstError(counts=worst, **counts_in_ohms(driven, positions, worst)._asdict()),
    )


def _by_spacing(outcome: Outcome) -> tuple[SpacingClass, ...]:
    from simcore.judging.sums import SPACING_MS

    tally, geometry = outcome.tally, outcome.design.geometry
    edges_per_turn = 4.0 * geometry.cycles_per_step * geometry.steps_per_turn
    borders = zip((0.0, *SPACING_MS), (*SPACING_MS, None), strict=True)
    return tuple(
        SpacingClass(
            low_ms=low,
            high_ms=high,
            slowest_rpm=60_000.0 / (high * edges_per_turn) if high else 0.0,
            fastest_rpm=60_000.0 / (low * edges_per_turn) if low else None,
            **group_tally(outcome, tally.spacing_group(number)),
        )
        for number, (low, high) in enumerate(borders)
    )


def _target(scenario: Scenario, outcome: Outcome) -> RunTarget | None:
    target = scenario.target
    if target is None:
        return None
    high = step_rate(outcome, "wrong").high
    return RunTarget(rate=target.rate, text=target.text, met=high is not None and high <= target.rate)


SHARES = {"one_in_1000": 0.001, "one_in_100": 0.01, "median": 0.5}
BEYOND = 10
"""A quantile is given only if so many values are as bad or worse: with fewer it is mere chance."""
WHY_NOT = {
    "no clock line": "the counter has no clock line",
    "no voltage": "that contact is read as a logic level, without a voltage",
    "not last": "other stages stand between that line's input and the counter",
    "not steady": "that voltage is not one exponential between two edges of its contact",
}


def _margins(outcome: Outcome) -> RunMargins | None:
    """The margins of all runs, None if they were left out."""
    from simcore.engines.gauging import REASONS, why_not
    from simcore.judging.margins import QUANTITIES, TIME_RESOLUTION, VOLTS_RESOLUTION

    design, margins = outcome.design, outcome.tally.margins
    if margins is None:
        return None
    reasons = why_not(design, design.chain)
    named = zip(QUANTITIES, _margin_labels(outcome), _margin_limits(outcome), strict=True)
    return RunMargins(
        time_resolution=TIME_RESOLUTION,
        voltage_resolution=VOLTS_RESOLUTION * design.supply.nominal,
        values_beyond=BEYOND,
        quantities=tuple(
            Margin.model_validate(
                {
                    "quantity": name,
                    "label": label,
                    **_margin_numbers(margins, number, design.supply.nominal),
                    "asked": limit,
                    "missed": int(margins.missed[number]),
                    "why_not": WHY_NOT.get(REASONS[reasons[number]]),
                }
            )
            for number, (name, label, limit) in enumerate(named)
        ),
    )


def _margin_numbers(margins: Margins, quantity: int, supply: float) -> dict[str, Any]:
    """Worst value and quantiles, in seconds or volts, None where there are too few values."""
    from simcore.base.ticks import TICKS_PER_SECOND
    from simcore.judging.margins import MICROVOLTS, MOST_IS_WORST, VOLTAGES, microvolts, quantile, values

    count = values(margins, quantity)
    unit = MICROVOLTS if quantity in VOLTAGES else TICKS_PER_SECOND
    most = quantity in MOST_IS_WORST
    worst = float((margins.most if most else margins.least)[quantity]) / unit if count else None

    def at(share: float) -> float | None:
        # A share such as 0.001 is a little more than itself as a float.
        enough = count > 0 and share * count >= BEYOND * (1.0 - 1.0e-12)
        return quantile(margins, quantity, share, microvolts(supply)) / unit if enough else None

    return {
        "unit": "V" if quantity in VOLTAGES else "s",
        "worst_is": "most" if most else "least",
        "values": count,
        "worst": worst,
        **{name: at(share) for name, share in SHARES.items()},
    }


def _margin_labels(outcome: Outcome) -> list[str]:
    """What each quantity is, in words that name the lines."""
    from simcore.base.records import LINE_NAMES
    from simcore.counters.facts import NO_CLOCK, counter_timing

    timing = counter_timing(outcome.design.counter)
    if timing.clock == NO_CLOCK:
        clocked = ["set-up time", "hold time", "clock low", "clock high"]
        voltage = "set-up voltage"
    else:
        clock, direction = LINE_NAMES[timing.clock], LINE_NAMES[1 - timing.clock]
        moves = "rises" if timing.active else "falls"
        clocked = [
            f"{direction} steady before {clock} {moves}", f"{direction} steady after {clock} {moves}",
            f"{clock} low", f"{clock} high",
        ]  # fmt: skip
        voltage = f"{direction} past its threshold"
    levels = [f"{line} {level} level" for line in LINE_NAMES for level in ("low", "high")]
    return [*clocked, "edges of A and B apart", voltage, *levels]


def _margin_limits(outcome: Outcome) -> list[float | None]:
    """The limit of each quantity, in seconds or volts: what the counter states, nominal thresholds."""
    from simcore.base.ticks import seconds
    from simcore.counters.facts import counter_timing
    from simcore.engines.gauging import GATHERED, probes, why_not
    from simcore.judging.margins import SETUP_VOLTS

    design = outcome.design
    chain, timing = design.chain, counter_timing(design.counter)
    limits = (timing.setup, timing.hold, timing.low, timing.high, timing.apart)
    setup_volts = 0.0 if why_not(design, chain)[SETUP_VOLTS] == GATHERED else None
    levels = [level for probe in probes(chain) for level in _thresholds(probe, design.supply.nominal)]
    return [*(seconds(limit) if limit else None for limit in limits), setup_volts, *levels]


def _thresholds(probe: Probe | None, supply: float) -> tuple[float | None, float | None]:
    """Falling and rising threshold (V), nominal."""
    from simcore.networks.inputs import input_thresholds

    if probe is None:
        return None, None
    nominal = input_thresholds(probe.spec.logic, supply, (0.5, 0.5, 0.5, 0.5))
    return nominal.falling, nominal.rising
