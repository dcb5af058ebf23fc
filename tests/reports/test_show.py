"""``show``: a scenario's text, and the figures that its stages compute, in words and as JSON."""

from __future__ import annotations

import json
import pathlib
import tomllib

import jsonschema
import pytest

from scenarios.loading.load import load_scenario
from tests.reports.running import KNOB, steptally
from tests.reports.test_exports import schema

FLOPS = """
[[stage]]
name = "flops"
kind = "synchroniser"
period = "62.5 ns"
settling = "42.5 ns"
settling_constant = "1.5 ns"
failure_window = "400 ms"
change_every = "10 us"
"""
SECONDS = 3.154
"""Wakerly, Digital Design (from memory): flip-flops of a low-power Schottky family, 42.5 ns at 16 MHz."""


@pytest.fixture
def flops(folder: pathlib.Path) -> pathlib.Path:
    """The folder with a scenario ``flops.toml`` that has a figure to show."""
    (folder / "flops.toml").write_text(KNOB.rstrip("\n") + FLOPS.rstrip("\n"), encoding="utf-8")
    return folder


def test_a_file_without_figures_is_shown_as_it_is(folder: pathlib.Path) -> None:
    assert steptally(folder, "show", "knob.toml").stdout == KNOB


def test_figures_follow_as_remarks_and_what_is_shown_runs(flops: pathlib.Path) -> None:
    done = steptally(flops, "show", "flops.toml")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(KNOB)
    assert f"flops: mean time between failures of one line {SECONDS} s\n" in done.stdout
    assert "exp(t_r / tau) / (T0 f a)" in done.stdout
    assert tomllib.loads(done.stdout) == tomllib.loads(KNOB + FLOPS)


def test_the_json_is_valid_and_holds_the_figures(flops: pathlib.Path) -> None:
    assert steptally(flops, "show", "flops.toml", "--json", "shown.json").returncode == 0
    shown = json.loads((flops / "shown.json").read_text(encoding="utf-8"))
    assert shown == json.loads(steptally(flops, "show", "flops.toml", "--json", "-").stdout)
    jsonschema.validate(shown, schema("show.schema.json"))
    scenario = load_scenario(str(flops / "flops.toml"))
    assert (shown["name"], shown["title"]) == ("flops", scenario.title)
    assert shown["scenario"] == scenario.resolved
    (figure,) = shown["figures"]
    assert (figure["stage"], figure["unit"]) == ("flops", "s")
    assert figure["value"] == pytest.approx(SECONDS, abs=5e-4)
    assert "Wakerly" in figure["source"]


def test_json_of_a_scenario_without_figures(folder: pathlib.Path) -> None:
    shown = json.loads(steptally(folder, "show", "knob.toml", "--json", "-").stdout)
    jsonschema.validate(shown, schema("show.schema.json"))
    assert shown["figures"] == []
    assert steptally(folder, "show", "knob.toml", "--json", "missing/shown.json").returncode == 2


def test_mistakes_in_a_shown_file_are_told(folder: pathlib.Path) -> None:
    (folder / "wrong.toml").write_text(KNOB.replace("cycles = 20", "cycles = 0"), encoding="utf-8")
    done = steptally(folder, "show", "wrong.toml")
    assert (done.returncode, done.stdout) == (2, "")
    assert "encoder.cycles" in done.stderr
