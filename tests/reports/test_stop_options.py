"""``run`` that ends early: by errors, precision or time; its estimate, its words, its exact command."""

from __future__ import annotations

import json
import pathlib
import shlex
from typing import Any

import jsonschema
import numpy as np
import pytest
from click.testing import CliRunner

from reports.api.options import MOST_ERRORS
from reports.api.runs import ended
from reports.cli.group import steptally as group
from reports.results import schema_of
from reports.words.sentences import ENDING_NOTE
from scenarios.loading.load import load_scenario
from scenarios.schema.document import ERRORS
from simcore.campaigns.campaign import run_campaign, runs_per_block
from simcore.judging.tally import Tally
from simcore.statistics.stopping import Stop

Result = dict[str, Any]
MANY = "100000"
RARE = ("run", "knob.toml", "--runs", MANY, "--set", "filter.capacitor=220 nF")
"""Some thirty wrong steps a block."""


def invoked(folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch, *words: str) -> tuple[Result, str]:
    """The JSON of a command in this process, and what stood on standard error."""
    monkeypatch.chdir(folder)
    done = CliRunner().invoke(group, [*words, "--json", "-"])
    assert done.exit_code == 0, done.stderr
    found: Result = json.loads(done.stdout)
    jsonschema.validate(found, schema_of("run"))
    return found, done.stderr


def again(folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch, result: Result) -> Result:
    """What the command in a result gives."""
    words = shlex.split(result["command"])
    assert words[0] == "steptally"
    return invoked(folder, monkeypatch, *words[1:])[0]


def told(result: Result, *but: str) -> Result:
    return {key: value for key, value in result.items() if key not in ("seconds", *but)}


def blocks_of(path: pathlib.Path, runs: int) -> list[Tally]:
    """The tallies of the blocks of ``RARE``, one campaign each."""
    scenario = load_scenario(str(path), [RARE[-1]])
    size = runs_per_block(scenario.design)
    return [
        run_campaign(
            scenario.design, seed=scenario.seed, first_run=at, runs=min(size, runs - at), margins=False
        ).tally
        for at in range(0, runs, size)
    ]


def test_options_lie_over_the_scenario_s_rules() -> None:
    scenario = Stop(500, 10, 0.1, 30.0)
    assert ended(scenario, 700, None, None, None) == Stop(700, 10, 0.1, 30.0)
    assert ended(scenario, 500, 20, "20 %", "60 s") == Stop(500, 20, 0.2, 60.0)
    assert ended(scenario, 500, "none", "none", "none") == Stop(500)
    assert ended(Stop(500), 500, 7, None, None) == Stop(500, errors=7)
    assert ERRORS.sort.high == MOST_ERRORS


def test_an_ending_by_errors_takes_the_bias_out_of_every_rate_of_steps(
    folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By hand from the tallies of single blocks: the last block left out, averaged over those that might
    have been the last, for all steps, each verdict and each gesture.
    """
    found, _ = invoked(folder, monkeypatch, *RARE, "--errors", "66")
    assert (found["ended_by"], found["estimate_method"]) == (
        "enough wrong steps seen", "without the last block",
    )  # fmt: skip
    assert found["stop"] == {"errors": 66, "precision": None, "seconds": None}
    assert found["wrong"] >= 66
    blocks = blocks_of(folder / "knob.toml", found["runs"])
    assert sum(block.wrong for block in blocks) == found["wrong"]
    assert sum(block.wrong for block in blocks[:-1]) < 66
    last = [block for block in blocks if found["wrong"] - block.wrong < 66]
    assert 0 < len(last) < len(blocks), "or the estimate is the plain one"

    def by_hand(quantity: str, number: int) -> float:
        hits = [block.cluster(quantity, number).y for block in blocks]
        steps = [block.group_steps(number) for block in blocks]
        kept = [(sum(hits) - block.cluster(quantity, number).y) for block in last]
        of = [(sum(steps) - block.group_steps(number)) for block in last]
        return float(np.sum(kept) / np.sum(of))

    assert found["wrong_rate"]["estimate"] == pytest.approx(by_hand("wrong", 0), rel=1e-12)
    assert found["wrong_rate"]["estimate"] != pytest.approx(found["wrong"] / found["steps"], rel=1e-6)
    for verdict, rate in found["verdict_rates"].items():
        bounded = min(max(by_hand(verdict, 0), rate["low"]), rate["high"])
        assert rate["estimate"] == pytest.approx(bounded, rel=1e-12)
    for number, gesture in enumerate(found["by_gesture"], start=1):
        rate = gesture["wrong_rate"]
        bounded = min(max(by_hand("wrong", number), rate["low"]), rate["high"])
        assert rate["estimate"] == pytest.approx(bounded, rel=1e-12)


def test_estimates_stay_within_their_intervals(folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A few wrong steps end it, most of them in the last block: what is left without that is out of line."""
    found, _ = invoked(folder, monkeypatch, *RARE[:-1], "filter.capacitor=470 nF", "--errors", "5")
    assert found["estimate_method"] == "without the last block"
    groups = [*found["by_gesture"], *found["by_spacing"]]
    rates = [
        found["wrong_rate"],
        *found["verdict_rates"].values(),
        *(group["wrong_rate"] for group in groups),
    ]
    for rate in rates:
        if rate["estimate"] is not None:
            assert 0.0 <= rate["low"] <= rate["estimate"] <= rate["high"] <= 1.0


@pytest.mark.parametrize(
    ("words", "ended_by"),
    [
        (("--errors", "40"), "enough wrong steps seen"),
        (("--precision", "20 %"), "precise enough"),
        (
            ("--errors", "30", "--precision", "1%", "--seed", "5", "--first-run", "77"),
            "enough wrong steps seen",
        ),
        (("--errors", "1000000", "--runs", "700"), "all runs done"),
    ],
)
def test_the_exact_command_ends_where_it_ended(
    folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], ended_by: str
) -> None:
    first, _ = invoked(folder, monkeypatch, "run", "knob.toml", "--runs", MANY, *words)
    assert first["ended_by"] == ended_by
    assert told(again(folder, monkeypatch, first)) == told(first)


def test_what_time_ended_is_told_by_its_runs(folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = (folder / "knob.toml").read_text(encoding="utf-8")
    (folder / "timed.toml").write_text(text + '[stop]\ntime = "1 us"\nerrors = 100000\n', encoding="utf-8")
    first, _ = invoked(folder, monkeypatch, "run", "timed.toml")
    assert first["ended_by"] == "time is up"
    assert first["runs"] == min(300, runs_per_block(load_scenario(str(folder / "timed.toml")).design))
    assert first["command"].endswith("--errors none --time none")
    second = again(folder, monkeypatch, first)
    assert second["ended_by"] == "all runs done"
    differing = ("ended_by", "stop", "runs_asked")
    assert told(second, *differing) == told(first, *differing)


def test_options_put_the_scenario_s_rules_aside(
    folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = (folder / "knob.toml").read_text(encoding="utf-8")
    (folder / "ruled.toml").write_text(text + "[stop]\nerrors = 5\n", encoding="utf-8")
    ruled, _ = invoked(folder, monkeypatch, "run", "ruled.toml")
    assert ruled["stop"]["errors"] == 5
    free, _ = invoked(folder, monkeypatch, "run", "ruled.toml", "--errors", "none")
    assert (free["stop"]["errors"], free["runs"]) == (None, 300)
    plain, _ = invoked(folder, monkeypatch, "run", "knob.toml")
    differing = ("name", "command", "scenario")
    assert told(free, *differing) == told(plain, *differing)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--errors", "0"), '--errors: expected a whole number from 1 to 1,000,000,000, or none, got "0"'),
        (("--errors", "3.5"), "--errors: expected a whole number"),
        (("--precision", "10"), """--precision: the unit is missing"""),
        (("--precision", "200 %"), """--precision: expected a share from 0.0001 to 1"""),
        (("--time", "30"), """--time: the unit is missing"""),
        (("--time", "30 rpm"), """"rpm" is not a unit of time"""),
        (("--time", "-1 s"), "expected a time above 0 s"),
    ],
)
def test_mistakes(words: tuple[str, ...], message: str) -> None:
    done = CliRunner().invoke(group, ["run", "panel-knob", *words])
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr.count("Error: ") == 1
    assert message in done.stderr


def test_the_report_and_the_page_say_how_it_ended(
    folder: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    words = [*RARE, "--errors", "66", "--precision", "1 %", "--time", "1 h"]
    done = CliRunner().invoke(group, [*words, "--html", "out.html"])
    text = " ".join(done.stdout.split())
    assert "per 1,000 without the bias of the ending (95 % confidence interval" in text
    assert ENDING_NOTE in text
    assert (
        "to end early at 66 wrong steps or at a rate known within 1 % of it or after 60 min 0 s; "
        "ended by: enough wrong steps seen." in text
    )
    assert ENDING_NOTE in (folder / "out.html").read_text(encoding="utf-8")
    plain = CliRunner().invoke(group, ["run", "knob.toml"]).stdout
    assert "bias" not in plain
    assert "to end early" not in plain
