"""The result of a run: its arithmetic, that it is the tally's, its margins, and its errors in ohms."""

from __future__ import annotations

import itertools
import json
import math
from dataclasses import replace

import jsonschema
import numpy as np
import pytest
from scipy import stats

from reports.results import schema_of
from reports.results.building import rate
from reports.results.common import frozen
from reports.results.run import BEYOND, WHY_NOT, Context, Margin, RunResult
from reports.words.commands import NamedScenario
from reports.words.sentences import CAUSES, LASTING, cause_sentence
from scenarios.loading.load import Scenario, load_source
from scenarios.loading.sources import text_source
from simcore.campaigns.campaign import Outcome, run_campaign
from simcore.engines.gauging import GATHERED, REASONS
from simcore.judging import sums
from simcore.judging.margins import QUANTITIES, SETUP, Margins, enter_time, no_margins
from simcore.statistics.exact import Interval
from simcore.statistics.stopping import Stop
from tests.reports.running import KNOB
from tests.reports.samples import ran, text_of

POTENTIOMETER = 'counter.resistance={ end_to_end = "31 kohm", wiper = "100 ohm", step_error = "10 %" }'
"""32 positions, 31 steps: a nominal kilohm each."""
TOLERANT = "counter.resistance.tolerance={ end_to_end = '20 %' }"
SCHEMA = schema_of("run")


@pytest.fixture(scope="module")
def result() -> RunResult:
    return ran()


def loaded(*sets: str) -> Scenario:
    return load_source(text_source(KNOB), sets)


def result_of(scenario: Scenario, outcome: Outcome, runs: int) -> RunResult:
    return RunResult.of(Context(scenario, NamedScenario("knob.toml"), (), outcome, Stop(runs)))


def valid(result: RunResult) -> None:
    jsonschema.validate(json.loads(result.json()), SCHEMA)


def no_run(*sets: str) -> RunResult:
    scenario = loaded(*sets)
    return result_of(scenario, run_campaign(scenario.design, seed=1, runs=0), 5)


@pytest.mark.parametrize("goal", [(), ("target.wrong=1 in 100 steps",)])
def test_a_result_fits_its_schema(goal: tuple[str, ...]) -> None:
    result = ran(KNOB, 200, *goal)
    valid(result)
    assert (result.target is None) == (goal == ())


@pytest.mark.parametrize("sets", [(), (POTENTIOMETER,)])
def test_no_run_has_no_rates_and_no_worst_error(sets: tuple[str, ...]) -> None:
    none = no_run(*sets)
    valid(none)
    assert (none.runs, none.wrong_rate.high, none.spurious_rate.high) == (0, None, None)
    assert none.driven is None or none.driven.worst_error is None


def test_a_missing_key_or_a_new_one_breaks_the_schema(result: RunResult) -> None:
    told = json.loads(result.json())
    for broken in ({**told, "extra": 1}, {key: told[key] for key in told if key != "steps"}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(broken, SCHEMA)


def test_counts_are_those_of_the_tally(result: RunResult) -> None:
    scenario = loaded()
    tally = run_campaign(scenario.design, seed=scenario.seed, runs=200).tally
    assert result.verdicts.export == tally.verdicts
    assert (result.causes, result.final_errors) == (tally.causes, tally.errors)
    assert result.scenario == frozen(scenario.resolved)
    assert result.wrong > 0


def test_counts_add_up(result: RunResult) -> None:
    assert sum(result.verdicts.export.values()) == result.steps
    assert sum(result.excursions) == result.steps
    assert sum(result.final_errors.values()) == result.runs
    assert sum(result.causes.values()) == result.wrong
    for groups in (result.by_gesture, result.by_spacing):
        assert sum(group.steps for group in groups) == result.steps
        assert sum(group.wrong for group in groups) == result.wrong
        for verdict, count in result.verdicts.export.items():
            assert sum(getattr(group.verdicts, verdict) for group in groups) == count


def test_classes_of_spacing_touch_and_the_last_is_open(result: RunResult) -> None:
    """20 cycles a turn: 12.5 ms between edges at 60 rpm (arithmetic: 60 s / 60 / 80 edges)."""
    groups = result.by_spacing
    assert (groups[0].low_ms, groups[-1].high_ms) == (0.0, None)
    for group, following in itertools.pairwise(groups):
        assert group.high_ms == following.low_ms
    twenty = next(group for group in groups if group.low_ms == 10.0)
    assert twenty.fastest_rpm == pytest.approx(60.0 * 12.5 / 10.0)
    assert twenty.slowest_rpm == pytest.approx(60.0 * 12.5 / 20.0)


def test_the_share_of_exact_runs_has_a_binomial_interval(result: RunResult) -> None:
    """Fewer than half of the runs are exact here.  Up to where so few have what is left on a side
    (Clopper and Pearson 1934); down to where more, and half of just as many, have (Lancaster 1961).
    """
    share, runs, exact = result.exact_share, result.runs, result.exact_runs
    assert 0 < 2 * exact < runs
    assert share.estimate == exact / runs
    outside = stats.binomtest(exact, runs).proportion_ci(0.95, method="exact")
    assert share.high == pytest.approx(outside.high, rel=1e-9)
    assert share.low is not None
    law = stats.binom(runs, share.low)
    assert law.sf(exact) + 0.5 * law.pmf(exact) == pytest.approx(0.025, rel=1e-6)


def test_spurious_counts_are_a_rate_of_steps(result: RunResult) -> None:
    """None seen in 200 runs: at most -ln(0.025) of them at 95 % (Garwood 1936) over all runs, since as
    many may come together as a run has steps.
    """
    assert result.spurious == 0
    assert result.spurious_rate.high == pytest.approx(-math.log(0.025) / result.runs)


def test_a_target_is_met_only_if_the_upper_bound_is_within_it(result: RunResult) -> None:
    high = result.wrong_rate.high
    assert high is not None
    for factor, met in ((0.999, False), (1.001, True)):
        assert ran(KNOB, 200, f"target.wrong={100 * factor * high:.9f} %").target_met is met


def test_nothing_that_is_no_number_reaches_the_json(result: RunResult) -> None:
    empty = rate(Interval(math.nan, math.nan, math.nan, 0.95, "no data"))
    assert (empty.low, empty.estimate, empty.high) == (None, None, None)
    with pytest.raises(ValueError, match="JSON"):
        result.model_copy(update={"seconds": math.nan}).json()


def test_every_root_cause_but_none_has_a_sentence_and_no_sentence_lacks_a_cause() -> None:
    assert set(CAUSES) == set(sums.CAUSES) - {"none"}
    assert all(sentence[0].isupper() and sentence.endswith(".") for sentence in CAUSES.values())
    assert cause_sentence("gremlins") == "gremlins"


def test_own_cautions_come_first_and_the_limitations_always() -> None:
    own = "A caution of the scenario."
    scenario = replace(loaded(), cautions=(own,))
    outcome = run_campaign(scenario.design, seed=1, runs=0)
    assert result_of(scenario, outcome, 5).cautions == (own, *LASTING)
    words = ("heat", "motion", "radiated power", "headphones", "independent limit", "local codes", "licensed")
    assert all(word in LASTING[-1] for word in words)


def margins_of(result: RunResult) -> dict[str, Margin]:
    assert result.margins is not None
    return {each.quantity: each for each in result.margins.quantities}


@pytest.mark.parametrize("name", ["panel-knob", "x4-no-filter", "slow-clock", "supply-dips", "interlock"])
def test_margins_of_ready_scenarios_are_valid(name: str) -> None:
    valid(ran(name, 20))


def test_margins_are_those_of_the_tally(result: RunResult) -> None:
    scenario = loaded()
    margins = run_campaign(scenario.design, seed=scenario.seed, runs=200).tally.margins
    assert margins is not None
    assert list(margins_of(result)) == list(QUANTITIES)
    for number, each in enumerate(margins_of(result).values()):
        assert (each.values, each.why_not) == (int(margins.counts[number].sum()), None)
        assert each.missed == int(margins.missed[number])
        worst = (margins.most if each.worst_is == "most" else margins.least)[number]
        assert each.worst == pytest.approx(worst * (1e-12 if each.unit == "s" else 1e-6), rel=1e-12)
        order = [
            value
            for value in (each.worst, each.one_in_1000, each.one_in_100, each.median)
            if value is not None
        ]
        assert order == sorted(order, reverse=each.worst_is == "most")
    assert set(WHY_NOT) == set(REASONS) - {REASONS[GATHERED]}


def test_limits_are_what_the_scenario_states() -> None:
    found = margins_of(ran(KNOB, 50, "counter.setup=3 us", "counter.minimum_low=2 us"))
    assert found["set-up time"].asked == pytest.approx(3e-6)
    assert found["clock low"].asked == pytest.approx(2e-6)
    assert (found["hold time"].asked, found["closest edges"].asked) == (None, None)
    assert found["set-up voltage"].asked == 0.0
    assert (found["low level of B"].asked, found["high level of B"].asked) == (1.2, 1.9)


def with_margins(margins: Margins | None) -> RunResult:
    scenario = loaded()
    outcome = run_campaign(scenario.design, seed=1, runs=5)
    tally = replace(outcome.tally, margins=margins)
    return result_of(scenario, replace(outcome, tallies=(tally,)), 5)


@pytest.mark.parametrize(("values", "shown"), [(9999, False), (10000, True)])
def test_a_rare_quantile_is_shown_only_if_enough_values_lie_beyond(values: int, shown: bool) -> None:
    margins = no_margins()
    for time in np.linspace(1e6, 1e9, values).astype(np.int64):
        enter_time(margins, SETUP, int(time), 0)
    row = margins_of(with_margins(margins))["set-up time"]
    assert BEYOND == 10
    assert (row.one_in_1000 is not None) == shown
    assert row.one_in_100 is not None
    assert row.worst == 1e-6


def test_margins_that_were_left_out_are_null() -> None:
    result = with_margins(None)
    valid(result)
    assert result.margins is None


def test_one_count_and_the_worst_error_in_ohms() -> None:
    result = ran(KNOB, 200, POTENTIOMETER, TOLERANT)
    driven = result.driven
    assert driven is not None
    assert (driven.end_to_end, driven.wiper) == (31e3, 100.0)
    assert driven.one_count.export == pytest.approx({"nominal": 1e3, "low": 720.0, "high": 1320.0})
    worst = max(abs(error) for error in result.final_errors)
    assert worst > 0
    assert driven.worst_error is not None
    assert driven.worst_error.export == pytest.approx(
        {"counts": worst, "nominal": 1e3 * worst, "low": 720.0 * worst, "high": 1320.0 * worst}
    )
    section = text_of(result).partition("Final position")[2].partition("Limitations")[0]
    rows = [line.split()[:3] for line in section.splitlines()]
    for error, runs in result.final_errors.items():
        if -5 < error < 5 and error:
            assert [f"{error:+d}", f"{1000 * error:+,d}", f"{runs:,}"] in rows
    assert "One count is 1 kohm (720 ohm to 1.32 kohm with its tolerances)" in section
    assert f"{worst} count" in section


def test_without_errors_or_a_resistance_there_are_no_ohms_to_tell() -> None:
    clean = ran(KNOB, 20, POTENTIOMETER, "contacts.kind=clean")
    assert clean.driven is not None
    assert clean.driven.worst_error is not None
    assert clean.driven.worst_error.counts == 0
    assert "One count is 1 kohm (900 ohm to 1.1 kohm with its tolerances).\n" in text_of(clean)
    assert ran().driven is None
    assert "ohm)" not in text_of(ran())


def test_the_counter_is_summed_up() -> None:
    words = ran(KNOB, 20, POTENTIOMETER, "counter.prescale=2").simulated
    assert "prescale 2, driving 31 kohm from end to end" in words
    assert "prescale" not in ran().simulated
