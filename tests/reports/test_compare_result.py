"""The result of a comparison: its schema, its arithmetic, and that it is the comparison's."""

from __future__ import annotations

import json
import shlex
from dataclasses import replace

import jsonschema
import numpy as np
import pytest
from scipy import stats

from reports import api
from reports.results import schema_of
from reports.results.compare import ComparisonResult, PairedCount
from scenarios.loading.comparison import load_compared
from scenarios.loading.load import load_scenario
from simcore.campaigns.campaign import Campaign, run_designs
from simcore.campaigns.options import RunOptions
from simcore.judging.sums import WRONG as WRONG_COLUMN
from simcore.statistics.stopping import Stop
from tests.reports.comparisons import LARGER, RUNS, SMALLER, made

QUANTITIES = ("right", "flickered", "missed", "doubled", "reversed", "wrong")
WRONG = ("missed", "doubled", "reversed")


@pytest.fixture(scope="module")
def result() -> ComparisonResult:
    return made(LARGER, SMALLER)


def require_valid(result: ComparisonResult) -> None:
    """The JSON is what the schema says, and reads back as the same result."""
    loaded = json.loads(result.json())
    jsonschema.validate(loaded, schema_of("compare"))
    assert ComparisonResult.model_validate(loaded).json() == result.json()


@pytest.mark.parametrize("groups", [(LARGER,), (LARGER, SMALLER), ("counter.positions=100",)])
def test_the_json_is_valid_with_pictures_and_without(groups: tuple[str, ...]) -> None:
    require_valid(made(*groups))
    require_valid(made(*groups).model_copy(update={"gallery": None}))


def test_the_result_of_no_run_is_valid() -> None:
    designs = load_compared(["panel-knob"], [LARGER, SMALLER])
    nothing = Campaign([each.scenario.design for each in designs], RunOptions(1, Stop(50))).outcome()
    result = ComparisonResult.of(designs, nothing, ["panel-knob"])
    require_valid(result)
    assert (result.runs, result.runs_asked, result.best) == (0, 50, ())
    assert result.headline.endswith("no data, because no step was simulated.")


def test_estimates_are_those_without_the_bias_of_an_ending() -> None:
    """Pretended: the first design's rates are one hundredth higher without it."""
    designs = load_compared(["panel-knob"], [LARGER])
    found = run_designs([each.scenario.design for each in designs], RunOptions(1, Stop(RUNS)))
    sums = [tally.sums for tally in found.tallies]
    with np.errstate(invalid="ignore"):
        rates = np.stack([each.total / each.size[:, np.newaxis] for each in sums])
    rates[0] *= 1.01
    result = ComparisonResult.of(designs, replace(found, all_rates=rates), ["panel-knob"])
    wrong = [each.total[0, WRONG_COLUMN] / each.size[0] for each in sums]
    told = [design.wrong_rate.estimate for design in result.designs]
    assert told == pytest.approx([1.01 * wrong[0], wrong[1]], rel=1e-12)
    (comparison,) = result.comparisons
    for each in (comparison, comparison.by_verdict.wrong):
        assert each.difference.estimate == pytest.approx(wrong[1] - 1.01 * wrong[0], rel=1e-12)


def test_each_design_has_the_figures_that_run_gives(result: ComparisonResult) -> None:
    for design in result.designs:
        alone = api.run("panel-knob", sets=design.sets, seed=1, runs=RUNS)
        for key in (
            "verdicts",
            "verdict_rates",
            "wrong",
            "wrong_rate",
            "exact_runs",
            "exact_share",
            "causes",
        ):
            assert getattr(design, key) == getattr(alone, key)
        for mine, theirs in zip(design.by_gesture, alone.by_gesture, strict=True):
            assert mine.export == {key: theirs.export[key] for key in mine.export}
        assert dict(design.scenario) == dict(alone.scenario)


def test_differences_are_those_of_the_designs(result: ComparisonResult) -> None:
    first = result.designs[0]
    for design, each in zip(result.designs[1:], result.comparisons, strict=True):
        assert each.design == design.name
        assert each.difference == each.by_verdict.wrong.difference
        for name in QUANTITIES:
            counts = [
                told.wrong if name == "wrong" else getattr(told.verdicts, name) for told in (first, design)
            ]
            row: PairedCount = getattr(each.by_verdict, name)
            assert row.only_other - row.only_first == counts[1] - counts[0]
            low, estimate, high = row.difference.low, row.difference.estimate, row.difference.high
            assert estimate == pytest.approx((counts[1] - counts[0]) / result.steps)
            assert low is not None and estimate is not None and high is not None  # noqa: PT018
            assert low <= estimate <= high
        wrong = each.by_verdict.wrong
        assert sum(row.only_first for row in each.by_gesture) == wrong.only_first
        assert sum(row.only_other for row in each.by_gesture) == wrong.only_other
        assert sum(row.steps for row in each.by_gesture) == result.steps


def test_different_outcomes_are_the_discordant_steps(result: ComparisonResult) -> None:
    for each in result.comparisons:
        for name in QUANTITIES[:5]:
            rows = [row for row in each.partings if row.first.verdict == name != row.other.verdict]
            assert sum(row.steps for row in rows) == getattr(each.by_verdict, name).only_first
        counts = [row.steps for row in each.partings]
        assert counts == sorted(counts, reverse=True)
        for row in each.partings:
            for end in (row.first, row.other):
                assert (end.cause is not None) == (end.verdict in WRONG)


def test_the_test_on_runs_is_mcnemars(result: ComparisonResult) -> None:
    """A two-sided binomial test with one half, by scipy; Holm's method raises the smaller P twofold."""
    tables = [each.runs_table for each in result.comparisons]
    for table in tables:
        split = [table.only_first_right, table.only_other_right]
        assert table.both_right + sum(split) + table.both_wrong == RUNS
        assert table.p_value == pytest.approx(stats.binomtest(split[0], sum(split)).pvalue)
        assert table.mid_p_value < table.p_value
    low, high = sorted(tables, key=lambda table: table.p_value)
    assert low.p_value_among_all == pytest.approx(min(1.0, 2.0 * low.p_value))
    assert high.p_value_among_all == pytest.approx(max(low.p_value_among_all, high.p_value))


def test_a_design_that_is_the_same_is_told_to_be() -> None:
    result = made("counter.positions=100")
    (each,) = result.comparisons
    assert result.differences == ()
    assert (each.verdict, each.partings, each.more_runs) == ("same", (), None)
    assert each.runs_table.p_value == each.runs_table.mid_p_value == 1.0
    assert {row.difference.estimate for _, row in each.by_verdict} == {0.0}
    assert result.best == result.names
    assert "had the same outcome" in result.headline


def test_commands_name_each_design_alone(result: ComparisonResult) -> None:
    assert shlex.split(result.command) == [
        "steptally", "compare", "panel-knob", "--with", LARGER, "--with", SMALLER,
        "--runs", str(RUNS), "--seed", "1",
    ]  # fmt: skip
    row = result.comparisons[1].partings[0]
    plain, other = (shlex.split(command) for command in row.commands)
    assert plain == [
        "steptally", "trace", "panel-knob", "--seed", "1", "--run", str(row.run), "--step", str(row.step),
    ]  # fmt: skip
    assert other == [*plain, "--set", "filter.capacitor=47 nF", "--set", "filter.series=2k2"]


def test_boxes_say_what_differs(result: ComparisonResult) -> None:
    for design in result.designs:
        marked = [
            f"{box.name}.{each.name}" for box in design.signal_path for each in box.values if each.differs
        ]
        assert marked == ["filter.series", "filter.capacitor"]
        assert not any(box.differs for box in design.signal_path)


def test_the_kind_and_the_tolerance_of_a_part_may_differ() -> None:
    result = made("counter.kind=quadrature, counter.decoding=x1, filter.tolerance.series=1 %", runs=20)
    boxes = {box.name: box for box in result.designs[1].signal_path}
    assert boxes["counter"].differs
    assert [value.name for value in boxes["filter"].values if value.differs] == ["series"]


def test_cautions_of_one_design_bear_its_name() -> None:
    result = made("counter.up_when=low", runs=20)
    assert any(text.startswith("counter.up_when=low: The counter counts down") for text in result.cautions)


def test_spurious_counts_are_compared_as_well() -> None:
    result = made(names=("long-leads", "long-leads-quiet"), runs=60)
    require_valid(result)
    counts = [design.spurious for design in result.designs]
    assert counts[0] > 1000 > counts[1]
    row = result.comparisons[0].spurious
    assert row.only_other - row.only_first == counts[1] - counts[0]
    assert row.difference.estimate == pytest.approx((counts[1] - counts[0]) / result.steps)
    assert row.difference.high is not None
    assert row.difference.high < 0.0
    assert f"Spurious counts: {counts[1]:,} instead of {counts[0]:,}" in result.headline


def test_the_title_is_the_scenarios_or_the_names_of_several() -> None:
    assert made(LARGER).title == load_scenario("panel-knob").title
    several = made(names=("panel-knob", "no-filter", "plain-input"), runs=20)
    assert several.title == "panel-knob against no-filter and plain-input"
    assert several.designs[1].title == load_scenario("no-filter").title
