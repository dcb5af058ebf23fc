"""The JSON object: its schema, its arithmetic, and that it is the tally's."""

from __future__ import annotations

import itertools
import json
import math
import pathlib
from importlib.resources import files
from typing import Any

import jsonschema
import pytest
from scipy import stats

from reports.exports import as_json, rate, run_export
from scenarios.loading.load import load_scenario
from simcore.campaigns.campaign import run_campaign
from simcore.statistics.exact import Interval
from tests.reports.samples import Export, export_of, sample


def schema(name: str) -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(
        files("reports").joinpath("schemas", name).read_text(encoding="utf-8")
    )
    return loaded


@pytest.fixture
def export(folder: pathlib.Path) -> Export:
    return export_of(str(folder / "knob.toml"), 200)


def test_schemas_are_schemas_and_every_key_of_the_result_is_described() -> None:
    for name in ("run.schema.json", "list.schema.json", "show.schema.json"):
        jsonschema.Draft202012Validator.check_schema(schema(name))
    for key, described in schema("run.schema.json")["properties"].items():
        assert described.get("description"), key


@pytest.mark.parametrize("goal", [(), ("target.wrong=1 in 100 steps",)])
def test_an_export_is_valid(folder: pathlib.Path, goal: tuple[str, ...]) -> None:
    export = export_of(str(folder / "knob.toml"), 200, *goal)
    jsonschema.validate(json.loads(as_json(export)), schema("run.schema.json"))
    assert (export["target"] is None) == (goal == ())


def test_an_export_of_no_run_is_valid(folder: pathlib.Path) -> None:
    scenario = load_scenario(str(folder / "knob.toml"))
    outcome = run_campaign(scenario.design, seed=1, runs=0)
    export = json.loads(as_json(run_export(scenario, outcome, 5)))
    jsonschema.validate(export, schema("run.schema.json"))
    assert export["wrong_rate"]["high"] is None


def test_a_missing_key_or_a_new_one_breaks_the_schema(export: Export) -> None:
    for broken in ({**export, "extra": 1}, {key: export[key] for key in export if key != "steps"}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(broken, schema("run.schema.json"))


def test_counts_are_those_of_the_tally(folder: pathlib.Path) -> None:
    scenario, outcome = sample(str(folder / "knob.toml"), 200)
    export = run_export(scenario, outcome, 200)
    assert export["verdicts"] == outcome.tally.verdicts
    assert export["causes"] == outcome.tally.causes
    assert export["final_errors"] == {str(error): runs for error, runs in outcome.tally.errors.items()}
    assert export["scenario"] == scenario.resolved
    assert export["wrong"] > 0


def test_counts_add_up(export: Export) -> None:
    assert sum(export["verdicts"].values()) == export["steps"]
    assert sum(export["excursions"]) == export["steps"]
    assert sum(export["final_errors"].values()) == export["runs"]
    assert sum(export["causes"].values()) == export["wrong"]
    for groups in (export["by_gesture"], export["by_spacing"]):
        assert sum(group["steps"] for group in groups) == export["steps"]
        assert sum(group["wrong"] for group in groups) == export["wrong"]
        for verdict in export["verdicts"]:
            assert sum(group["verdicts"][verdict] for group in groups) == export["verdicts"][verdict]


def test_classes_of_spacing_touch_and_the_last_is_open(export: Export) -> None:
    groups = export["by_spacing"]
    assert groups[0]["low_ms"] == 0.0
    assert groups[-1]["high_ms"] is None
    for group, following in itertools.pairwise(groups):
        assert group["high_ms"] == following["low_ms"]


def test_the_share_of_exact_runs_has_a_binomial_interval(export: Export) -> None:
    """Fewer than half of the runs are exact here.  Up to where so few have what is left on a side
    (Clopper and Pearson 1934); down to where more, and half of just as many, have (Lancaster 1961).
    """
    share, runs, exact = export["exact_share"], export["runs"], export["exact_runs"]
    assert 0 < 2 * exact < runs
    assert share["estimate"] == exact / runs
    outside = stats.binomtest(exact, runs).proportion_ci(0.95, method="exact")
    assert share["high"] == pytest.approx(outside.high, rel=1e-9)
    law = stats.binom(runs, share["low"])
    assert law.sf(exact) + 0.5 * law.pmf(exact) == pytest.approx(0.025, rel=1e-6)


def test_spurious_counts_are_a_rate_of_steps(export: Export) -> None:
    """None seen in 200 runs: at most -ln(0.025) of them at 95 % (Garwood 1936) over all runs, since as
    many may come together as a run has steps.
    """
    assert export["spurious"] == 0
    assert export["spurious_rate"]["high"] == pytest.approx(-math.log(0.025) / export["runs"])


def test_a_target_is_met_only_if_the_upper_bound_is_within_it(folder: pathlib.Path) -> None:
    knob = str(folder / "knob.toml")
    high = export_of(knob, 200)["wrong_rate"]["high"]
    tight, loose = 0.999 * high, 1.001 * high
    assert export_of(knob, 200, f"target.wrong={100 * tight:.9f} %")["target"]["met"] is False
    assert export_of(knob, 200, f"target.wrong={100 * loose:.9f} %")["target"]["met"] is True


def test_nothing_that_is_no_number_reaches_the_json() -> None:
    empty = rate(Interval(math.nan, math.nan, math.nan, 0.95, "no data"))
    assert (empty["low"], empty["estimate"], empty["high"]) == (None, None, None)
    with pytest.raises(ValueError, match="JSON"):
        as_json({"x": math.nan})
