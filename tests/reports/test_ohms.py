"""Errors in ohms: the JSON object and the table of final positions."""

from __future__ import annotations

import io
import json
import pathlib

import jsonschema
import pytest
from rich.console import Console

from reports.exports import as_json, run_export
from reports.terminal.page import page
from reports.terminal.runs import ohm_line
from scenarios.loading.load import load_scenario
from simcore.campaigns.campaign import run_campaign
from tests.reports.samples import Export, export_of
from tests.reports.test_exports import schema

POTENTIOMETER = 'counter.resistance={ end_to_end = "31 kohm", wiper = "100 ohm", step_error = "10 %" }'
"""32 positions, 31 steps: a nominal kilohm each."""
TOLERANT = "counter.resistance.tolerance={ end_to_end = '20 %' }"


@pytest.fixture
def export(folder: pathlib.Path) -> Export:
    return export_of(str(folder / "knob.toml"), 200, POTENTIOMETER, TOLERANT)


def test_the_json_gives_one_count_and_the_worst_error_in_ohms(export: Export) -> None:
    jsonschema.validate(json.loads(as_json(export)), schema("run.schema.json"))
    driven = export["driven"]
    assert (driven["end_to_end"], driven["wiper"]) == (31e3, 100.0)
    assert driven["one_count"] == pytest.approx({"nominal": 1e3, "low": 720.0, "high": 1320.0})
    worst = max(abs(int(error)) for error in export["final_errors"])
    assert worst > 0
    assert driven["worst_error"]["counts"] == worst
    assert driven["worst_error"]["nominal"] == pytest.approx(1e3 * worst)
    assert driven["worst_error"]["high"] == pytest.approx(1320.0 * worst)


def test_without_a_resistance_there_are_no_ohms(folder: pathlib.Path) -> None:
    plain = export_of(str(folder / "knob.toml"), 200)
    assert plain["driven"] is None
    assert ohm_line(plain) == ""
    assert "ohm)" not in drawn(plain)


def drawn(export: Export) -> str:
    return page(export, Console(file=io.StringIO(), width=160, highlight=False, markup=False, emoji=False))


def test_the_table_of_final_positions_shows_ohms(export: Export) -> None:
    section = drawn(export).partition("Final position")[2].partition("Mind")[0]
    assert "nominal" in section
    rows = [line.split() for line in section.splitlines()]
    for error, runs in export["final_errors"].items():
        if -5 < int(error) < 5 and int(error):
            assert [f"{int(error):+d}", f"{1000 * int(error):+,d}", f"{runs:,}"] in [row[:3] for row in rows]
    worst = export["driven"]["worst_error"]["counts"]
    assert "One count is 1 kohm (720 ohm to 1.32 kohm with its tolerances)" in section
    assert f"{worst} counts" in section or "1 count," in section


def test_an_exact_run_has_no_worst_error(folder: pathlib.Path) -> None:
    clean = export_of(str(folder / "knob.toml"), 20, POTENTIOMETER, "contacts.kind=clean")
    assert clean["driven"]["worst_error"]["counts"] == 0
    assert ohm_line(clean) == "One count is 1 kohm (900 ohm to 1.1 kohm with its tolerances)."


def test_no_run_has_no_worst_error(folder: pathlib.Path) -> None:
    scenario = load_scenario(str(folder / "knob.toml"), [POTENTIOMETER])
    none = run_export(scenario, run_campaign(scenario.design, seed=1, runs=0), 5)
    jsonschema.validate(json.loads(as_json(none)), schema("run.schema.json"))
    assert none["driven"]["worst_error"] is None


def test_the_counter_is_summed_up(folder: pathlib.Path) -> None:
    export = export_of(str(folder / "knob.toml"), 20, POTENTIOMETER, "counter.prescale=2")
    assert "prescale 2, driving 31 kohm from end to end" in export["simulated"]
    assert "prescale" not in export_of(str(folder / "knob.toml"), 200)["simulated"]
