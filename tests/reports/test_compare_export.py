"""The JSON object of a comparison: its schema, its arithmetic, and that it is the comparison's."""

from __future__ import annotations

import json
import shlex

import jsonschema
import pytest
from scipy import stats

from reports.compare_export import compare_export
from reports.exports import as_json, run_export
from scenarios.loading.comparison import load_compared
from scenarios.loading.load import load_scenario
from simcore.campaigns.campaign import run_campaign
from simcore.campaigns.comparing import nothing_compared
from tests.reports.comparisons import LARGER, RUNS, SMALLER, Export, made
from tests.reports.test_exports import schema

SCHEMA = "compare.schema.json"
QUANTITIES = ("right", "flickered", "missed", "doubled", "reversed", "wrong")


@pytest.fixture(scope="module")
def export() -> Export:
    return made(LARGER, SMALLER)


def test_every_key_is_described() -> None:
    told = schema(SCHEMA)
    jsonschema.Draft202012Validator.check_schema(told)
    places = [told, *told["$defs"].values()]
    while places:
        place = places.pop()
        for key, described in place.get("properties", {}).items():
            assert described.get("description") or key in QUANTITIES, key
            places += [described, described.get("items", {})]


@pytest.mark.parametrize("groups", [(LARGER,), (LARGER, SMALLER), ("counter.positions=100",)])
def test_an_export_is_valid_with_pictures_and_without(groups: tuple[str, ...]) -> None:
    export = json.loads(as_json(made(*groups)))
    jsonschema.validate(export, schema(SCHEMA))
    jsonschema.validate({**export, "gallery": None}, schema(SCHEMA))


def test_a_missing_key_or_a_new_one_breaks_the_schema(export: Export) -> None:
    for broken in ({**export, "extra": 1}, {key: export[key] for key in export if key != "headline"}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(broken, schema(SCHEMA))


def test_an_export_of_no_run_is_valid() -> None:
    designs = load_compared(["panel-knob"], [LARGER, SMALLER])
    nothing = nothing_compared([each.scenario.design for each in designs], 1, 0.5)
    export = json.loads(as_json(compare_export(designs, nothing, 50, ["panel-knob"])))
    jsonschema.validate(export, schema(SCHEMA))
    assert (export["runs"], export["runs_asked"], export["best"]) == (0, 50, [])
    assert export["headline"].endswith("no data, for no step was simulated.")


def test_each_design_has_the_figures_that_run_gives(export: Export) -> None:
    for design in export["designs"]:
        scenario = load_scenario("panel-knob", design["sets"])
        outcome = run_campaign(scenario.design, seed=1, runs=RUNS)
        alone = run_export(scenario, outcome, RUNS)
        for key in (
            "verdicts",
            "verdict_rates",
            "wrong",
            "wrong_rate",
            "exact_runs",
            "exact_share",
            "causes",
        ):
            assert design[key] == alone[key]
        for mine, theirs in zip(design["by_gesture"], alone["by_gesture"], strict=True):
            assert mine == {key: theirs[key] for key in mine}
        assert design["scenario"] == scenario.resolved


def test_differences_are_those_of_the_designs(export: Export) -> None:
    first = export["designs"][0]
    for design, each in zip(export["designs"][1:], export["comparisons"], strict=True):
        assert each["design"] == design["name"]
        assert each["difference"] == each["by_verdict"]["wrong"]["difference"]
        for name in QUANTITIES:
            counts = [
                told["wrong"] if name == "wrong" else told["verdicts"][name] for told in (first, design)
            ]
            row = each["by_verdict"][name]
            assert row["only_other"] - row["only_first"] == counts[1] - counts[0]
            assert row["difference"]["estimate"] == pytest.approx((counts[1] - counts[0]) / export["steps"])
            assert row["difference"]["low"] <= row["difference"]["estimate"] <= row["difference"]["high"]
        for key in ("only_first", "only_other"):
            assert sum(row[key] for row in each["by_gesture"]) == each["by_verdict"]["wrong"][key]
        assert sum(row["steps"] for row in each["by_gesture"]) == export["steps"]


def test_partings_are_the_discordant_steps(export: Export) -> None:
    for each in export["comparisons"]:
        for name in QUANTITIES[:5]:
            only_first = sum(
                row["steps"]
                for row in each["partings"]
                if row["first"]["verdict"] == name and row["other"]["verdict"] != name
            )
            assert only_first == each["by_verdict"][name]["only_first"]
        counts = [row["steps"] for row in each["partings"]]
        assert counts == sorted(counts, reverse=True)
        for row in each["partings"]:
            for side in ("first", "other"):
                assert (row[side]["cause"] is not None) == (row[side]["verdict"] in QUANTITIES[2:5])


def test_the_test_on_runs_is_mcnemars(export: Export) -> None:
    """A two-sided binomial test with one half, by scipy; Holm's method raises the smaller P twofold."""
    tables = [each["runs_table"] for each in export["comparisons"]]
    for table in tables:
        assert (
            sum(table[key] for key in ("both_right", "only_first_right", "only_other_right", "both_wrong"))
            == RUNS
        )
        apart = [table["only_first_right"], table["only_other_right"]]
        assert table["p_value"] == pytest.approx(stats.binomtest(apart[0], sum(apart)).pvalue)
        assert table["mid_p_value"] < table["p_value"]
    low, high = sorted(tables, key=lambda table: float(table["p_value"]))
    assert low["p_value_among_all"] == pytest.approx(min(1.0, 2.0 * low["p_value"]))
    assert high["p_value_among_all"] == pytest.approx(max(low["p_value_among_all"], high["p_value"]))


def test_a_design_that_is_the_same_is_told_to_be() -> None:
    export = made("counter.positions=100")
    (each,) = export["comparisons"]
    assert export["differences"] == []
    assert (each["verdict"], each["partings"], each["more_runs"]) == ("same", [], None)
    assert each["runs_table"]["p_value"] == each["runs_table"]["mid_p_value"] == 1.0
    assert {row["difference"]["estimate"] for row in each["by_verdict"].values()} == {0.0}
    assert export["best"] == [design["name"] for design in export["designs"]]
    assert "every one of" in export["headline"]


def test_commands_name_each_design_alone(export: Export) -> None:
    assert shlex.split(export["command"]) == [
        "steptally", "compare", "panel-knob", "--with", LARGER, "--with", SMALLER,
        "--runs", str(RUNS), "--seed", "1",
    ]  # fmt: skip
    row = export["comparisons"][1]["partings"][0]
    plain, other = (shlex.split(command) for command in row["commands"])
    assert plain == [
        "steptally", "trace", "panel-knob", "--seed", "1",
        "--run", str(row["run"]), "--step", str(row["step"]),
    ]  # fmt: skip
    assert other == [*plain, "--set", "filter.capacitor=47 nF", "--set", "filter.series=2k2"]


def test_boxes_say_what_differs(export: Export) -> None:
    for design in export["designs"]:
        marked = [
            f"{box['name']}.{value['name']}"
            for box in design["signal_path"]
            for value in box["values"]
            if value["differs"]
        ]
        assert marked == ["filter.series", "filter.capacitor"]
        assert not any(box["differs"] for box in design["signal_path"])


def test_the_kind_and_the_tolerance_of_a_part_may_differ() -> None:
    export = made("counter.kind=quadrature, counter.decoding=x1, filter.tolerance.series=1 %", runs=20)
    boxes = {box["name"]: box for box in export["designs"][1]["signal_path"]}
    assert boxes["counter"]["differs"]
    assert [value["name"] for value in boxes["filter"]["values"] if value["differs"]] == ["series"]


def test_cautions_of_one_design_bear_its_name() -> None:
    export = made("counter.up_when=low", runs=20)
    assert any(text.startswith("counter.up_when=low: The counter counts down") for text in export["cautions"])


def test_counts_that_no_movement_caused_are_compared_as_well() -> None:
    export = made(names=("long-leads", "long-leads-quiet"), runs=60)
    jsonschema.validate(json.loads(as_json(export)), schema(SCHEMA))
    (each,) = export["comparisons"]
    counts = [design["spurious"] for design in export["designs"]]
    assert counts[0] > 1000 > counts[1]
    row = each["spurious"]
    assert row["only_other"] - row["only_first"] == counts[1] - counts[0]
    assert row["difference"]["estimate"] == pytest.approx((counts[1] - counts[0]) / export["steps"])
    assert row["difference"]["high"] < 0.0
    assert f"Counts that no movement caused: {counts[1]:,} against {counts[0]:,} in all" in export["headline"]


def test_the_title_is_the_scenarios_or_the_names_of_several() -> None:
    assert made(LARGER)["title"] == load_scenario("panel-knob").title
    several = made(names=("panel-knob", "no-filter", "plain-input"), runs=20)
    assert several["title"] == "panel-knob against no-filter and plain-input"
    assert several["designs"][1]["title"] == load_scenario("no-filter").title
