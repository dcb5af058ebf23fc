"""``steptally choose`` end to end: what it recommends, what it says where nothing does, and bad input."""

from __future__ import annotations

import json
import pathlib
import shlex

import pytest

from reports.api.choices import searched
from reports.api.sweeps import Campaigns, SweepRequest
from reports.documents.choose import good_rate
from reports.output import layout
from reports.render import terminal
from reports.results.choose import ChoiceResult, WorstGesture
from reports.results.common import Rate
from reports.results.sweep import SweepCell, acceptable_ranges
from reports.words.commands import NamedScenario
from reports.words.numbers import estimate_text
from scenarios.loading.load import StatedTarget
from scenarios.loading.sweeps import load_sweep
from simcore.campaigns.options import RunOptions
from simcore.statistics.stopping import Stop, Target
from tests.reports.page_reading import read_page, words
from tests.reports.running import KNOB, names, steptally

VARY = ("--vary", "filter.capacitor=10n, 220n, 330n, 1u")
FEW = ("--target", "1 wrong in 5 steps", "--no-color")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    place = tmp_path_factory.mktemp("choose")
    (place / "knob.toml").write_text(KNOB)
    return place


def chosen(folder: pathlib.Path, *options: str, code: int = 0) -> ChoiceResult:
    """The result that the JSON holds."""
    done = steptally(folder, "choose", "knob.toml", *options, "--json", "-", "--quiet")
    assert done.returncode == code, done.stderr
    return ChoiceResult.model_validate_json(done.stdout)


@pytest.fixture(scope="module")
def good(folder: pathlib.Path) -> ChoiceResult:
    return chosen(folder, *VARY, *FEW, "--no-ledger")


@pytest.fixture(scope="module")
def bad(folder: pathlib.Path) -> ChoiceResult:
    options = (
        "--vary",
        "filter.capacitor=1n, 2n2",
        "--target",
        "1 in 20 steps",
        "--threads",
        "1",
        "--no-ledger",
    )
    return chosen(folder, *options, code=1)


def test_the_recommended_one_meets_the_target_at_every_gesture_on_new_runs(good: ChoiceResult) -> None:
    best = good.recommended
    assert best is not None
    assert best == good.ranked[0]
    assert best.verdict == "good"
    assert best.runs == good.runs_asked
    assert best.bound <= good.target.rate
    assert all((group.wrong_rate.high or 1.0) <= good.target.rate for group in best.by_gesture)
    assert f"--first-run {good.first_fresh_run}" in best.command
    assert good.first_fresh_run >= good.runs_asked
    assert best.room is not None
    assert best.margin == min(best.decades, best.room)


def test_the_command_of_a_candidate_gives_its_numbers(folder: pathlib.Path, good: ChoiceResult) -> None:
    """The new runs, simulated alone by the verb ``run``."""
    best = good.ranked[0]
    command = shlex.split(best.command)
    assert command[:3] == ["steptally", "run", "knob.toml"]
    done = steptally(folder, *command[1:], "--json", "-", "--quiet")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert (found["steps"], found["wrong"]) == (best.steps, best.wrong)
    assert found["verdicts"] == best.verdicts.export


def test_ranks_failed_checks_last_and_then_by_margin(good: ChoiceResult) -> None:
    keys = [(bool(each.checks_failed), -each.margin) for each in good.ranked if each.verdict == "good"]
    assert keys == sorted(keys)


def test_a_neighbour_is_the_first_value_that_is_not_good(good: ChoiceResult) -> None:
    key = good.axes[0]
    verdicts = {cell.values[key.path]: cell.verdict for cell in good.cells}
    for each in good.ranked:
        at = key.values.index(each.values[key.path])
        (sides,) = each.sides
        for side, outward in ((sides.below, key.values[:at][::-1]), (sides.above, key.values[at + 1 :])):
            assert side.value == next((value for value in outward if verdicts[value] != "good"), None)
    below = good.ranked[0].sides[0].below
    assert below.value == "10 nF"
    assert below.spoiler is not None
    assert below.spoiler.cause == "chatter"


def test_none_good_tells_the_closest_and_tries_others(bad: ChoiceResult) -> None:
    assert bad.recommended is None
    assert {cell.verdict for cell in bad.cells} == {"bad"}
    assert bad.closest is not None
    assert bad.closest.values == {"filter.capacitor": "2.2 nF"}
    assert bad.closest.worst.cause == "chatter"
    assert len({each.name for each in bad.alternatives}) >= 6
    assert any(each.verdict == "good" for each in bad.alternatives)
    assert all("[[stage]]" in each.toml for each in bad.alternatives)


def test_threads_ledger_and_a_second_time_change_nothing(folder: pathlib.Path, good: ChoiceResult) -> None:
    again = chosen(folder, *VARY, *FEW, "--threads", "1", "--ledger", "kept.ledger")
    third = chosen(folder, *VARY, *FEW, "--ledger", "kept.ledger")
    for other in (again, third):
        assert other.model_copy(update={"seconds": good.seconds}) == good


def test_too_few_runs_are_told_and_never_good(folder: pathlib.Path) -> None:
    options = ("--vary", "filter.capacitor=47n, 68n", "--target", "1 in 1000000 steps", "--runs", "20")
    done = steptally(folder, "choose", "knob.toml", *options, "--no-ledger", "--json", "few.json")
    assert done.returncode == 1
    assert "20 runs can never show a rate of 1 in 1000000 steps" in done.stderr
    found = ChoiceResult.model_validate_json((folder / "few.json").read_text())
    (folder / "few.json").unlink()
    assert not found.can_be_shown
    assert all(cell.verdict != "good" for part in (found.cells, found.alternatives) for cell in part)


@pytest.mark.parametrize("columns", [80, 120])
def test_reports_fit_the_terminal(good: ChoiceResult, bad: ChoiceResult, columns: int) -> None:
    for result in (good, bad):
        text = terminal.text(result.document(), layout(columns, "utf-8"))
        assert max(map(len, text.splitlines())) <= columns
        assert "Measured:" in text
    text = terminal.text(good.document(), layout(columns, "utf-8"))
    assert estimate_text(good.ranked[0].wrong_rate) in text
    assert "chatter at" in text


def test_the_page_holds_it_all(good: ChoiceResult, bad: ChoiceResult) -> None:
    text = good.page()
    assert text == ChoiceResult.model_validate_json(good.json()).page()
    tree, other = read_page(text), read_page(bad.page())
    assert "Limiting causes" in [words(head) for head in tree.all("h3")]
    captions = [words(each) for page in (tree, other) for each in page.all("caption")]
    assert any(each.startswith("Candidates tried again") for each in captions)
    assert any(each.startswith("Other kinds of stage") for each in captions)
    assert len([each for each in other.all("summary") if "to paste" in each.text]) == len(bad.alternatives)


HOSTILE = [
    (("--target", "often"), "--target: "),
    (("--target", "1 in 0 steps"), "--target: "),
    (("--vary", "filter.capacitr=10n"), "unknown key"),
    (("--vary", "filter.capacitor=10n..1p:E6"), "the range falls"),
    (("--vary", "seed=1, 2"), "cannot be varied"),
    (("--runs", "0"), "--runs"),
    (("--ledger", "a", "--no-ledger"), "expected one of the two"),
    (("--json", "nowhere/x.json"), "nowhere"),
    (("--set", "filter.capacitor=big"), "big"),
]


@pytest.mark.parametrize(("options", "said"), HOSTILE)
def test_bad_input_is_told_in_a_line(folder: pathlib.Path, options: tuple[str, ...], said: str) -> None:
    before = names(folder)
    target = () if "--target" in options else ("--target", "1 in 5")
    vary = () if "--vary" in options or "--set" in options else ("--vary", "filter.capacitor=10n, 22n")
    done = steptally(folder, "choose", "knob.toml", *options, *target, *vary)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert names(folder) == before


def test_no_target_and_nothing_to_vary(folder: pathlib.Path) -> None:
    done = steptally(folder, "choose", "knob.toml", *VARY)
    assert done.returncode == 2
    assert "states no target" in done.stderr
    done = steptally(folder, "choose", "no-filter", "--target", "1 in 5")
    assert done.returncode == 2
    assert "say what to vary" in done.stderr


def test_the_range_of_all_steps_is_that_of_all_steps() -> None:
    """Clicks miss the target, all steps together meet it: the candidate is bad, its bar is not."""
    cells = load_sweep("panel-knob", ["filter.capacitor=100n"])
    goal = StatedTarget(0.01, "1 %")
    stop = Stop(5000, target=Target(goal.rate, each=True, joint=True))
    options = RunOptions(1, stop, threads=2, margins=False)
    request = SweepRequest(cells, NamedScenario("panel-knob"), (), options, goal)
    (cell,) = Campaigns(request, searched).outcome(lambda done, asked: None).cells
    assert (cell.wrong_rate.high or 1.0) < goal.rate < (cell.by_gesture[0].wrong_rate.low or 0.0)
    assert (cell.verdict, cell.meets_target) == ("bad", "no")
    ranges = acceptable_ranges(cells.axes, [cell], goal.rate)
    assert [found.standings for found in ranges] == [("within",), ("outside",), ("within",)]


def test_the_gesture_that_may_be_worst_is_told_by_its_bound() -> None:
    """Few runs: its estimate can be below that of all steps, so it is no "worst rate"."""

    def rate(estimate: float, low: float, high: float) -> Rate:
        return Rate(estimate=estimate, low=low, high=high, level=0.95, method="by hand")

    worst = WorstGesture(gesture="twists", wrong_rate=rate(0.7e-3, 0.1e-3, 7.0e-3), cause=None)
    cell = SweepCell.model_construct(wrong_rate=rate(1.5e-3, 0.4e-3, 5.5e-3))
    text = good_rate(cell, worst)
    assert text.endswith("highest bound at twists (0.1 to 7.0)")
    assert "at worst" not in text
