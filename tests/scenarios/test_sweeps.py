"""Sweeps: the cells of all combinations, and every mistake that a user can make in asking for them."""

from __future__ import annotations

import itertools
import tempfile
from collections.abc import Sequence
from pathlib import Path

import pytest

from scenarios.loading.load import load_scenario
from scenarios.loading.messages import Problem, ScenarioError
from scenarios.loading.sweeps import MOST_AXES, MOST_CELLS, Sweep, load_sweep
from tests.scenarios.samples import SMALL


def swept(*varied: str, sets: Sequence[str] = (), text: str = SMALL) -> Sweep:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "sample.toml"
        file.write_text(text, encoding="utf-8")
        return load_sweep(str(file), varied, sets)


def refusal(*varied: str, sets: Sequence[str] = (), text: str = SMALL) -> Problem:
    with pytest.raises(ScenarioError) as caught:
        swept(*varied, sets=sets, text=text)
    assert len(caught.value.problems) == 1
    problem: Problem = caught.value.problems[0]
    assert problem.file.endswith("sample.toml")
    return problem


def test_cells_are_all_combinations_and_the_last_key_goes_first() -> None:
    sweep = swept("filter.capacitor=10n, 22n", "filter.series=1k..10k:E3", "supply.voltage=3V3, 5 V")
    cells = list(sweep.cells())
    assert sweep.count == len(cells) == 2 * 4 * 2
    assert [cell.number for cell in cells] == list(range(16))
    assert [cell.values for cell in cells] == list(itertools.product(*(axis.values for axis in sweep.axes)))
    assert cells[1].sets == ("filter.capacitor=10 nF", "filter.series=1 kohm", "supply.voltage=5 V")


def test_a_cell_is_the_scenario_with_its_values_set() -> None:
    sweep = swept("filter.capacitor=10n..47n:E3", "counter.clock=A falling, B rising", sets=["runs=7"])
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "sample.toml"
        file.write_text(SMALL, encoding="utf-8")
        for cell in sweep.cells():
            by_hand = load_scenario(str(file), ["runs=7", *cell.sets])
            assert sweep.scenario_of(cell).design == by_hand.design
            assert sweep.scenario_of(cell).resolved == by_hand.resolved


def test_parts_and_kinds_can_be_varied() -> None:
    sweep = swept("contacts.part=ordinary, tired", "counter.kind=quadrature, whole-cycle")
    kinds = {sweep.scenario_of(cell).resolved["counter"]["kind"] for cell in sweep.cells()}
    assert kinds == {"quadrature", "whole-cycle"}
    assert [axis.numbers for axis in sweep.axes] == [None, None]


def test_a_value_that_needs_another_one_to_be_varied_with_it() -> None:
    """Rising alone at 0.5 V would lie below falling; no cell does."""
    sweep = swept(
        "supply.voltage=3V3, 5 V", "input.rising=60 %, 70 %", "input.falling=40 %, 50 %", text=NAMED
    )
    assert sweep.count == 8


NAMED = SMALL.replace('kind = "schmitt input"', 'name = "input"\nkind = "schmitt input"')


@pytest.mark.parametrize(
    ("varied", "place", "read", "words"),
    [
        (["filter.capacitor"], "--vary filter.capacitor", "", "PATH=VALUES"),
        (["=10n"], "--vary =10n", "", "PATH=VALUES"),
        (["filter..capacitor=10n"], "--vary filter..capacitor=10n", "", "PATH=VALUES"),
        (["filter.capasitor=10n"], "--vary filter.capasitor=10n", '"capasitor"', 'did you mean "capacitor"?'),
        (["filtr.capacitor=10n"], "--vary filtr.capacitor=10n", "", 'did you mean "filter"?'),
        (["filter=10n"], "--vary filter=10n", "", "is a table"),
        (["hand.clik.clicks=2"], "--vary hand.clik.clicks=2", "", 'did you mean "click"?'),
        (["filter.capacitor=10 nH"], "--vary filter.capacitor=10 nH", '"10 nH"', "not a unit of capacitance"),
        (["contacts.part=tyred"], "--vary contacts.part=tyred", '"tyred"', 'did you mean "tired"?'),
        (["contacts.kind=wipin"], "--vary contacts.kind=wipin", '"wipin"', 'did you mean "wiping"?'),
        (["seed=1..3"], "--vary seed=1..3", "", "--seed"),
        (["runs=1..3"], "--vary runs=1..3", "", "--runs"),
        (["title=a, b"], "--vary title=a, b", "", "changes no number"),
        (["target.wrong=1 in 10"], "--vary target.wrong=1 in 10", "", "--target"),
        (["stop.errors=10"], "--vary stop.errors=10", "", "its own rule"),
        (["filter.capacitor=1n", "filter.capacitor=2n"], "--vary filter.capacitor=2n", "", "varied twice"),
        (["filter.capacitor=1n", "filter . capacitor=2n"], "--vary filter.capacitor=2n", "", "varied twice"),
    ],
)
def test_mistakes_are_one_message_with_the_option(
    varied: list[str], place: str, read: str, words: str
) -> None:
    problem = refusal(*varied)
    assert (problem.place, problem.read) == (place, read)
    assert words in problem.message


def test_a_value_that_is_also_set() -> None:
    problem = refusal("filter.capacitor=1n, 2n", sets=["filter.capacitor=3 nF"])
    assert "also given by --set" in problem.message


def test_a_cell_that_is_no_sound_scenario_is_named() -> None:
    problem = refusal("input.falling=30 %..60 %:4", text=NAMED)
    assert problem.place == "cell input.falling=60 %"
    assert problem.read == "1.98 V"
    assert "expected at most rising" in problem.message


def test_of_a_cell_with_several_values_all_are_named() -> None:
    problem = refusal("input.rising=60 %, 30 %", "input.falling=20 %, 40 %", text=NAMED)
    assert problem.place == "cell input.rising=30 %, input.falling=40 %"


def test_what_a_cell_lacks_is_told_with_its_line() -> None:
    problem = refusal("filter.kind=rc, lockout")
    assert problem.place.startswith("cell filter.kind=lockout, line ")
    assert '"time" is missing' in problem.message


def test_no_more_cells_and_keys_than_can_be_looked_at() -> None:
    series = "filter.series=100R..10k:E192"
    problem = refusal("filter.capacitor=1n..1u:E24", series)
    assert "expected at most 2,000 cells, got 73 x 385 = 28,105" in str(problem)
    assert MOST_CELLS == 2000
    keys = ["filter.capacitor", "filter.series", "filter.pull_up", "supply.voltage", "hand.click.clicks"]
    problem = refusal(*(f"{key}=1" for key in keys))
    assert f"expected 1 to {MOST_AXES} varied keys, got 5" in str(problem)
    assert "varied keys, got 0" in str(refusal())


def test_a_scenario_that_is_wrong_by_itself_is_told_as_ever() -> None:
    with pytest.raises(ScenarioError) as caught:
        swept("filter.capacitor=1n", text=SMALL.replace('"4k7"', '"4 V"').replace("cycles", "cycels"))
    assert [problem.place for problem in caught.value.problems] != []
    assert all("line" in problem.place for problem in caught.value.problems)
    with pytest.raises(ScenarioError, match="no such file"):
        load_sweep("missing.toml", ["filter.capacitor=1n"])


def test_a_gesture_of_a_mix_can_be_varied() -> None:
    scenario = load_scenario("mixed-hand")
    path = next(path for path in scenario.paths if path.endswith(".weight"))
    sweep = load_sweep("mixed-hand", [f"{path}=1..4:3"])
    assert sweep.axes[0].values == ("1", "2.5", "4")


def test_hostile_texts_are_shown_on_one_line() -> None:
    problem = refusal("filter.\x1b[31mcapacitor=" + "9" * 500)
    assert len(str(problem)) < 600
    assert "\x1b" not in str(problem)
