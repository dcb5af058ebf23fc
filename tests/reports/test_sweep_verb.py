"""``steptally sweep``: cells, targets, ledgers, exit codes, and every error that a user can make."""

from __future__ import annotations

import html
import json
import pathlib
import re
import shlex

import pytest
from click.testing import CliRunner

from reports.cli.group import steptally as group
from reports.documents.cells import MET
from reports.results.sweep import SweepResult
from reports.words.numbers import interval_text
from simcore.statistics.stopping import ALL_RUNS, BETTER, PRECISE, WORSE
from tests.reports.running import names, steptally
from tests.reports.sweeps import CAPACITORS, KNOB, TARGET, one_key, swept, told, two_keys, untimed

NUMBERS = ("runs", "steps", "verdicts", "wrong", "wrong_rate", "spurious", "exact_runs", "causes")
ENDINGS = {BETTER: "yes", WORSE: "no", ALL_RUNS: "undecided"}


@pytest.fixture(params=["one", "two", "untold"])
def result(request: pytest.FixtureRequest) -> SweepResult:
    made = {"one": one_key, "two": two_keys, "untold": lambda: one_key("")}
    found: SweepResult = made[request.param]()
    return found


def test_cells_add_up(result: SweepResult) -> None:
    assert result.complete
    assert [cell.number for cell in result.cells] == list(range(result.cells_asked))
    for cell in result.cells:
        assert sum(cell.verdicts.export.values()) == cell.steps == 18 * cell.runs
        assert sum(cell.causes.values()) == cell.wrong
        assert sum(group.steps for group in cell.by_gesture) == cell.steps
        assert sum(group.wrong for group in cell.by_gesture) == cell.wrong
        for cause, count in cell.causes.items():
            assert sum(group.causes.get(cause, 0) for group in cell.by_gesture) == count


def test_a_cell_has_the_numbers_of_run_with_its_values(result: SweepResult) -> None:
    """By the command that it states."""
    for cell in result.cells[1::3]:
        words = shlex.split(cell.command)
        assert words[:3] == ["steptally", "run", KNOB]
        assert [f"{path}={value}" for path, value in cell.values.items()] == words[8::2]
        alone = json.loads(CliRunner().invoke(group, [*words[1:], "--json", "-", "--no-margins"]).stdout)
        own = json.loads(json.dumps(cell.export))
        assert {key: own[key] for key in NUMBERS} == {key: alone[key] for key in NUMBERS}
        for one, other in zip(own["by_gesture"], alone["by_gesture"], strict=True):
            assert {key: one[key] for key in other} == other


def decided_by(low: float | None, high: float | None, goal: float) -> str:
    """What an interval says of a target."""
    assert low is not None
    assert high is not None
    return "yes" if high <= goal else "no" if low > goal else "undecided"


def test_a_target_ends_cells_and_its_verdict_is_that_of_the_cell() -> None:
    result = one_key()
    assert result.ending.export == {"target": True, "each_gesture": False, "precision": None}
    assert {cell.ended_by for cell in result.cells} == set(ENDINGS)
    for cell in result.cells:
        assert cell.meets_target == ENDINGS[cell.ended_by]
        assert (cell.runs == 800) == (cell.ended_by == ALL_RUNS)
        if cell.meets_target != "undecided":
            assert cell.meets_target == decided_by(cell.wrong_rate.low, cell.wrong_rate.high, 1 / 300)


def test_without_a_target_a_cell_ends_once_it_is_precise() -> None:
    cells = one_key("").cells
    assert {cell.ended_by for cell in cells} == {PRECISE, ALL_RUNS}
    for cell in cells:
        low, estimate, high = cell.wrong_rate.low, cell.wrong_rate.estimate, cell.wrong_rate.high
        assert low is not None
        assert estimate is not None
        assert high is not None
        precise = max(high - estimate, estimate - low) <= 0.1 * estimate
        assert precise == (cell.ended_by == PRECISE)
        assert cell.meets_target is None
    finer = told(KNOB, "--vary", CAPACITORS, "--runs", "800", "--precision", "5 %")
    assert finer.ending.precision == 0.05
    pairs = list(zip(cells, finer.cells, strict=True))
    assert all(cell.runs <= other.runs for cell, other in pairs)
    assert any(cell.runs < other.runs for cell, other in pairs)


def test_no_precision_is_no_rule_of_ending() -> None:
    """Then the target ends a cell, and without one it does all its runs."""
    few = (KNOB, "--vary", "filter.capacitor=100n, 220n", "--runs", "200", "--precision", "none")
    whole = told(*few)
    assert whole.ending.export == {"target": False, "each_gesture": False, "precision": None}
    assert whole.rule == "Every cell does all its 200 runs."
    assert "--all-runs" in whole.command
    assert told(*few, "--target", "1 in 10").ending.target


def test_all_runs_if_asked() -> None:
    result = told(KNOB, "--vary", CAPACITORS, "--runs", "200", "--all-runs", "--target", "1 in 10")
    assert {(cell.runs, cell.ended_by) for cell in result.cells} == {(200, ALL_RUNS)}
    for cell in result.cells:
        assert cell.meets_target == decided_by(cell.wrong_rate.low, cell.wrong_rate.high, 0.1)


def test_each_gesture_is_decided_if_asked() -> None:
    more = told(KNOB, "--vary", CAPACITORS, "--runs", "800", "--target", TARGET, "--each-gesture")
    for less, cell in zip(one_key().cells, more.cells, strict=True):
        decided = all(group.meets_target != "undecided" for group in cell.by_gesture)
        assert cell.runs == 800 or decided
        assert cell.runs >= less.runs


def test_the_scenario_s_own_target_and_rules_are_taken(folder: pathlib.Path) -> None:
    text = (folder / "knob.toml").read_text(encoding="utf-8")
    own = folder / "own.toml"
    own.write_text(text + '\n[target]\nwrong = "1 in 10 steps"\n\n[stop]\nerrors = 3\n', encoding="utf-8")
    result = told(str(own), "--vary", "filter.capacitor=100n, 220n")
    assert result.target is not None
    assert result.target.export == {"rate": 0.1, "text": "1 in 10 steps"}
    assert result.seed == 7
    assert "--errors none" in result.cells[0].command
    assert "[stop] says of errors does not hold" in result.cautions[0]
    other = told(str(own), "--vary", "filter.capacitor=100n, 220n", "--target", "2 %")
    assert other.target is not None
    assert other.target.export == {"rate": 0.02, "text": "2 %"}


def test_a_varied_part_is_told_without_the_values_of_one_of_them() -> None:
    """52.4 % is the threshold of the first alone, so it must not be said of all."""
    result = told(KNOB, "--vary", "input.part=cmos-schmitt, ttl-schmitt", "--runs", "20", "--all-runs")
    assert "; input (cmos-schmitt, ttl-schmitt); " in result.simulated
    assert "52.4" not in result.simulated
    box = next(box for box in result.signal_path if box.name == "input")
    assert (box.kind, box.values, box.lines) == ("cmos-schmitt, ttl-schmitt", (), ("A", "B"))


@pytest.mark.parametrize(("target", "code"), [("50 %", 0), ("1 in 1000000 steps", 1)])
def test_the_exit_code_says_whether_any_cell_meets_the_target(target: str, code: int) -> None:
    assert (
        swept(KNOB, "--vary", "filter.capacitor=47n, 68n", "--runs", "60", "--target", target).exit_code
        == code
    )
    assert swept(KNOB, "--vary", "filter.capacitor=47n, 68n", "--runs", "60").exit_code == 0


def test_threads_change_nothing() -> None:
    for threads in ("1", "5"):
        made = told(KNOB, "--vary", CAPACITORS, "--runs", "800", "--target", TARGET, "--threads", threads)
        assert untimed(made) == untimed(one_key())


def test_a_ledger_changes_nothing_and_what_it_has_is_not_simulated_again(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A part first, with fewer runs and fewer values, as after an interruption; then all; then all again."""
    place = ["--ledger", str(tmp_path / "own.sqlite")]
    first = swept(KNOB, "--vary", "filter.capacitor=100n, 220n", "--runs", "300", "--all-runs", *place)
    assert first.stderr.endswith("0 of 600 runs were in the ledger.\n")
    arguments = [KNOB, "--vary", CAPACITORS, "--runs", "800", "--target", TARGET, *place]
    second = swept(*arguments, "--json", "-")
    assert untimed(SweepResult.model_validate_json(second.stdout)) == untimed(one_key())
    given = int(second.stderr.splitlines()[-1].partition(" of ")[0].replace(",", ""))
    assert 187 <= given <= 600
    monkeypatch.setattr("simcore.campaigns.campaign.compute", lambda job: pytest.fail("simulated"))
    third = swept(*arguments, "--json", "-")
    assert untimed(SweepResult.model_validate_json(third.stdout)) == untimed(one_key())


def test_the_user_s_own_ledger_is_used_unless_it_cannot_be(tmp_path: pathlib.Path) -> None:
    arguments = ["sweep", KNOB, "--vary", "filter.capacitor=100n", "--runs", "50", "-q"]
    mine = {"STEPTALLY_LEDGER": str(tmp_path / "mine.sqlite")}
    assert steptally(tmp_path, *arguments, changes=mine).returncode == 0
    assert (tmp_path / "mine.sqlite").exists()
    listed = json.loads(steptally(tmp_path, "ledger", "--json", "-", changes=mine).stdout)
    assert [cell["differs"] for cell in listed["cells"]] == [{}]
    assert listed["cells"][0]["title"] == one_key().title
    other = tmp_path / "other.txt"
    other.write_text("a text that is no ledger, and long enough not to be taken for one")
    without = steptally(tmp_path, *arguments, changes={"STEPTALLY_LEDGER": str(other)})
    assert (without.returncode, len(without.stderr.splitlines())) == (0, 1)
    assert without.stderr.startswith("Without a ledger: ")
    refused = steptally(tmp_path, *arguments, "--ledger", str(other))
    assert (refused.returncode, refused.stdout) == (2, "")


@pytest.mark.parametrize(
    ("arguments", "messages"),
    [
        ([KNOB], ["--vary"]),
        ([], ["SCENARIO"]),
        (["panel-knop", "--vary", "a=1"], ["panel-knop", "panel-knob"]),
        ([KNOB, "--vary", "filter.capasitor=1n..1u:E3"], ["--vary filter.capasitor=", "capacitor"]),
        ([KNOB, "--vary", "filter.capacitor=1n..1u"], ["--vary filter.capacitor=1n..1u", ":E6"]),
        ([KNOB, "--vary", "filter.capacitor=1u..1n:E3"], ["the range falls"]),
        (
            [KNOB, "--vary", "filter.capacitor=1n..1u:2000", "--vary", "filter.series=1k, 2k"],
            ["at most 2,000 cells", "got 2000 x 2 = 4,000"],
        ),
        ([KNOB, "--vary", "input.falling=30 %..60 %:4"], ["cell input.falling=60 %", "at most rising"]),
        ([KNOB, "--vary", CAPACITORS, "--set", "filter.capacitor=1n"], ["also given by --set"]),
        ([KNOB, "--vary", CAPACITORS, "--target", "1 in"], ["--target", '"1 in"', "1 in 1000 steps"]),
        ([KNOB, "--vary", CAPACITORS, "--target", "200 %"], ["--target", "below 1"]),
        ([KNOB, "--vary", CAPACITORS, "--runs", "0"], ["--runs", "0"]),
        ([KNOB, "--vary", CAPACITORS, "--precision", "much"], ["--precision", "much"]),
        ([KNOB, "--vary", CAPACITORS, "--each-gesture"], ["--each-gesture", "--target"]),
        ([KNOB, "--vary", CAPACITORS, "--all-runs", "--precision", "5 %"], ["--all-runs and --precision"]),
        ([KNOB, "--vary", CAPACITORS, "--ledger", "x", "--no-ledger"], ["--ledger and --no-ledger"]),
        ([KNOB, "--vary", CAPACITORS, "--json", "missing/out.json"], ["missing/out.json", "no folder"]),
        ([KNOB, "--vary", CAPACITORS, "--html", "-"], ["--html", "got -"]),
        ([KNOB, "--vary", CAPACITORS, "--html", "x", "--json", "x"], ["a file of its own"]),
        ([KNOB, "--vary", CAPACITORS, "--ledger", "x", "--json", "x"], ["a file of its own"]),
        ([KNOB, "--vary", CAPACITORS, "--threads", "none"], ["--threads", '"none"']),
    ],
)
def test_bad_input_is_one_message_and_nothing_is_simulated(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], messages: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("reports.api.sweeps.Campaigns.outcome", lambda *_: pytest.fail("simulated"))
    result = CliRunner().invoke(group, ["sweep", *arguments])
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.count("Error: ") == 1
    for message in messages:
        assert message in result.stderr
    assert names(tmp_path) == []


def test_the_command_on_the_page_gives_the_same_bytes(folder: pathlib.Path) -> None:
    done = steptally(
        folder, "sweep", "knob.toml", "--vary", "filter.capacitor=47n..220n:log 3", "--set",
        "supply.voltage=5 V", "--runs", "200", "--target", "1 in 100", "--threads", "1", "--no-ledger",
        "--html", "one.html",
    )  # fmt: skip
    assert done.returncode in (0, 1), done.stderr
    text = (folder / "one.html").read_text(encoding="utf-8")
    words = shlex.split(html.unescape(re.findall(r"<code>(steptally sweep [^<]*)</code>", text)[0]))
    again = steptally(folder, *words[1:], "--threads", "2", "--ledger", "kept.sqlite")
    assert again.returncode == done.returncode, again.stderr
    assert (folder / "report.html").read_bytes() == (folder / "one.html").read_bytes()


def test_quiet_is_the_headline_alone(folder: pathlib.Path) -> None:
    done = steptally(
        folder, "sweep", "knob.toml", "--vary", "filter.capacitor=47n, 100n", "--runs", "50", "-q",
        changes={"STEPTALLY_LEDGER": str(folder / "own.sqlite")},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("filter.capacitor ")
    assert len(done.stdout.splitlines()) <= 4


def test_report_and_json_agree() -> None:
    lines = swept(KNOB, "--vary", CAPACITORS, "--runs", "800", "--target", TARGET).stdout.splitlines()
    for cell in one_key().cells:
        value, interval = cell.values["filter.capacitor"], interval_text(cell.wrong_rate)
        row = next(line for line in lines if interval in line and f" {value} " in line)
        assert f" {MET[cell.meets_target]}" in row


def test_a_hand_that_never_moves_has_no_window(folder: pathlib.Path) -> None:
    head, _, rest = (folder / "knob.toml").read_text(encoding="utf-8").partition("[[hand]]")
    tail = rest[rest.index("[[stage]]") :]
    (folder / "rest.toml").write_text(f'{head}[[hand]]\ngesture = "rest"\n\n{tail}', encoding="utf-8")
    result = swept(
        str(folder / "rest.toml"), "--vary", "filter.capacitor=47n, 100n", "--html", str(folder / "x.html")
    )
    assert result.exit_code == 0, result.stderr
    assert "no step was simulated" in " ".join(result.stdout.split())


def test_a_cell_s_own_cautions_are_told_with_the_cell(folder: pathlib.Path) -> None:
    """X1 fits the encoder of one cycle a detent, x2 and x4 do not."""
    knob = (folder / "knob.toml").read_text(encoding="utf-8")
    head = knob[: knob.index("[counter]")]
    (folder / "quad.toml").write_text(
        head + '[counter]\nkind = "quadrature"\ndecoding = "x1"\ncounts_per_step = 1\n'
    )
    result = swept(str(folder / "quad.toml"), "--vary", "counter.decoding=x1, x2, x4", "--runs", "40")
    text = " ".join(result.stdout.split())
    assert "At counter.decoding x2: By its geometry one step" in text
    assert "At counter.decoding x1" not in text
