"""Margins in the JSON object and in the terminal: what is shown, what is not, and why."""

from __future__ import annotations

import io
import json
import pathlib
from dataclasses import replace
from importlib.resources import files
from typing import Any

import jsonschema
import numpy as np
import pytest
from rich.console import Console

from reports.exports import as_json, run_export
from reports.margins import BEYOND, WHY_NOT, margins_export
from reports.terminal.margins import asked_text, judged, not_gathered, quantity_text
from reports.terminal.page import page
from scenarios.loading.load import load_scenario
from simcore.campaigns.campaign import run_campaign
from simcore.campaigns.course import Outcome
from simcore.engines.gauging import GATHERED, REASONS
from simcore.judging.margins import QUANTITIES, SETUP, Margins, enter_time, no_margins
from tests.reports.running import steptally
from tests.reports.samples import Export, export_of, sample


def drawn(export: Export, width: int = 120) -> str:
    console = Console(file=io.StringIO(), width=width, color_system=None, highlight=False, markup=False)
    return page(export, console)


def rows(export: Export) -> dict[str, Export]:
    return {each["quantity"]: each for each in export["margins"]["quantities"]}


@pytest.fixture
def knob(folder: pathlib.Path) -> str:
    return str(folder / "knob.toml")


def valid(export: Export) -> None:
    schema: dict[str, Any] = json.loads(
        files("reports").joinpath("schemas", "run.schema.json").read_text(encoding="utf-8")
    )
    jsonschema.validate(json.loads(as_json(export)), schema)


def with_margins(knob: str, margins: Margins | None) -> Outcome:
    _, outcome = sample(knob, 200)
    return replace(outcome, tally=replace(outcome.tally, margins=margins))


@pytest.mark.parametrize("name", ["panel-knob", "x4-no-filter", "slow-clock", "supply-dips", "interlock"])
def test_margins_of_ready_scenarios_are_valid(name: str) -> None:
    scenario = load_scenario(name)
    valid(run_export(scenario, run_campaign(scenario.design, seed=1, runs=20), 20))


def test_every_quantity_has_its_row_and_every_gap_its_reason(knob: str) -> None:
    assert set(WHY_NOT) == set(REASONS) - {REASONS[GATHERED]}
    export = export_of(knob, 200)
    assert [each["quantity"] for each in export["margins"]["quantities"]] == list(QUANTITIES)
    for each in rows(export).values():
        assert (each["values"] == 0) == (each["worst"] is None)
        assert each["why_not"] is None


def test_the_object_says_what_the_tally_says(knob: str) -> None:
    _, outcome = sample(knob, 200)
    margins = outcome.tally.margins
    assert margins is not None
    for number, each in enumerate(rows(export_of(knob, 200)).values()):
        assert each["values"] == int(margins.counts[number].sum())
        assert each["missed"] == int(margins.missed[number])
        worst = (margins.most if each["worst_is"] == "most" else margins.least)[number]
        unit = 1e-12 if each["unit"] == "s" else 1e-6
        assert each["worst"] == pytest.approx(worst * unit, rel=1e-12)


def test_worse_quantiles_are_worse(knob: str) -> None:
    for each in rows(export_of(knob, 200)).values():
        order = [
            each[key] for key in ("worst", "one_in_1000", "one_in_100", "median") if each[key] is not None
        ]
        assert order == sorted(order, reverse=each["worst_is"] == "most")


def test_what_is_asked_is_what_the_scenario_states(knob: str) -> None:
    found = rows(export_of(knob, 50, "counter.setup=3 us", "counter.minimum_low=2 us"))
    assert found["set-up time"]["asked"] == pytest.approx(3e-6)
    assert found["clock low"]["asked"] == pytest.approx(2e-6)
    assert found["hold time"]["asked"] is None
    assert found["closest edges"]["asked"] is None
    assert found["set-up voltage"]["asked"] == 0.0
    assert (found["low level of B"]["asked"], found["high level of B"]["asked"]) == (1.2, 1.9)


@pytest.mark.parametrize(("values", "shown"), [(9999, False), (10000, True)])
def test_a_rare_quantile_is_shown_only_if_enough_values_lie_beyond(
    knob: str, values: int, shown: bool
) -> None:
    margins = no_margins()
    for time in np.linspace(1e6, 1e9, values).astype(np.int64):
        enter_time(margins, SETUP, int(time), 0)
    export = margins_export(with_margins(knob, margins))
    assert export is not None
    row = export["quantities"][SETUP]
    assert BEYOND == 10
    assert (row["one_in_1000"] is not None) == shown
    assert row["one_in_100"] is not None
    assert row["worst"] == 1e-6


def test_left_out_margins_are_null_and_said_to_be(knob: str) -> None:
    scenario, _ = sample(knob, 200)
    export = run_export(scenario, with_margins(knob, None), 200)
    valid(export)
    assert export["margins"] is None
    assert "Margins\nThey were left out." in drawn(export)


def test_the_table_names_lines_and_judges(knob: str) -> None:
    text = drawn(export_of(knob, 200, "counter.setup=1 us", "counter.minimum_low=1 s"))
    lines = [line.strip() for line in text.partition("\nMargins\n")[2].partition("\n\n")[0].splitlines()]
    found = {line.partition("  ")[0]: line for line in lines}
    assert found["B steady before A falls"].endswith("at least 1 us  met")
    assert found["A low"].endswith("at least 1 s  not met in 1,000 per 1,000")
    assert found["edges of A and B apart"].endswith("no limit stated")
    assert "at most 1.20 V" in found["A low level"]
    assert "at least 1.90 V" in found["A high level"]


def test_what_does_not_apply_is_said_once_for_each_reason(knob: str) -> None:
    export = export_of(knob, 50)
    x4 = export["margins"]
    for each in x4["quantities"][:4]:
        each["why_not"] = "the counter has no clock line"
    lines = list(not_gathered(x4))
    assert len(lines) == 1
    assert lines[0].startswith(
        "Not gathered: B steady before A falls, B steady after A falls, A low, A high;"
    )
    assert "B steady before A falls  " not in drawn(export).partition("\nMargins\n")[2]


def row(**changes: Any) -> Export:
    plain = {"unit": "s", "worst_is": "least", "values": 4000, "worst": 1e-3, "asked": 1e-6, "missed": 0}
    return {**plain, **changes}


def test_words_and_digits() -> None:
    assert judged(row()) == "met"
    assert judged(row(asked=None)) == "no limit stated"
    assert judged(row(values=0)) == "did not occur"
    assert judged(row(missed=1)) == "not met in 0.25 per 1,000"
    assert judged(row(missed=4000)) == "not met in 1,000 per 1,000"
    assert judged(row(missed=49)) == "not met in 12 per 1,000"
    assert asked_text(row()) == "at least 1 us"
    assert asked_text(row(unit="V", worst_is="most", asked=1.2)) == "at most 1.20 V"
    assert asked_text(row(asked=None)) == "-"
    assert quantity_text(0.0012345, "s") == "1.23 ms"
    assert quantity_text(0.0, "s") == "0 s"
    assert quantity_text(-0.001, "V") == "0.00 V"
    assert quantity_text(-0.126, "V") == "-0.13 V"


def test_the_command_leaves_them_out_on_request(folder: pathlib.Path) -> None:
    done = steptally(folder, "run", "knob.toml", "--runs", "20", "--no-margins", "--json", "-")
    assert json.loads(done.stdout)["margins"] is None
    done = steptally(folder, "run", "knob.toml", "--runs", "20")
    assert "B steady before A falls" in done.stdout
