"""What is varied where nobody says so, and the other kinds of stage that are tried."""

from __future__ import annotations

import pytest

from scenarios.choosing.alternatives import alternatives_of
from scenarios.choosing.choices import USUAL_CELLS, picked, times_of, usual_ranges
from scenarios.loading.catalogue import ready_names
from scenarios.loading.load import load_scenario
from scenarios.loading.pipeline import read_scenario
from scenarios.loading.sources import Source
from scenarios.loading.sweeps import MOST_AXES, load_sweep
from scenarios.loading.written import as_toml
from scenarios.quantities import CAPACITANCE, RESISTANCE, TIME, QuantityError, read_quantity, read_rate
from simcore.base.preferred import is_preferred


@pytest.mark.parametrize("name", ready_names())
def test_usual_ranges_are_sweeps_of_preferred_values(name: str) -> None:
    """IEC 60063: every value but the stated one is in E6, and the stated one is always there."""
    scenario = load_scenario(name)
    ranges = usual_ranges(scenario, ())
    if not ranges:
        return
    assert len(ranges) <= MOST_AXES
    cells = 1
    stages = {stage["name"]: stage for stage in scenario.resolved["stage"]}
    for text in ranges:
        path, _, values = text.partition("=")
        stage, key = path.split(".")
        texts = [value.strip() for value in values.split(",")]
        cells *= len(texts)
        if key == "samples":
            assert str(stages[stage]["samples"]) in texts
            continue
        dimension = CAPACITANCE if "capacitor" in key else TIME if key in ("time", "period") else RESISTANCE
        stated = read_quantity(stages[stage][key], dimension)
        numbers = [read_quantity(value, dimension) for value in texts]
        assert numbers == sorted(numbers)
        assert stated in numbers
        assert all(is_preferred(number, 6) for number in numbers if number != stated)
    assert cells <= USUAL_CELLS


def test_every_usual_cell_loads() -> None:
    ranges = usual_ranges(load_scenario("sampled-agree"), ())
    assert load_sweep("sampled-agree", ranges).count > 10


def test_the_bounds_lie_about_the_times_of_contact_and_hand() -> None:
    """(pull-up + series) x C from half the longest return to twice the shortest level, to the nearest of
    E6: within 21 % at either end (a step of E6 is 1.47).
    """
    scenario = load_scenario("panel-knob")
    times = times_of(scenario.design)
    assert times.back is not None
    assert times.level is not None
    text = next(each for each in usual_ranges(scenario, ()) if each.startswith("filter.capacitor="))
    values = [read_quantity(each.strip(), CAPACITANCE) for each in text.partition("=")[2].split(",")]
    assert 5700.0 * values[0] == pytest.approx(0.5 * times.back, rel=0.25)
    assert 5700.0 * values[-1] == pytest.approx(2.0 * times.level, rel=0.25)


def test_what_is_set_is_not_varied() -> None:
    sets = ("filter.series=470 ohm", "filter.capacitor = 10 nF")
    paths = [each.partition("=")[0] for each in usual_ranges(load_scenario("panel-knob", sets), sets)]
    assert paths == ["filter.pull_up"]


def test_picked_cells_keep_their_numbers() -> None:
    sweep = load_sweep("panel-knob", ["filter.capacitor=10n, 22n, 47n", "filter.series=470R, 1k"])
    chosen = picked(sweep, [4, 1])
    assert [cell.number for cell in chosen.cells()] == [4, 1]
    assert [cell.values for cell in chosen.cells()] == [("47 nF", "470 ohm"), ("10 nF", "1 kohm")]
    assert chosen.count == 2


@pytest.mark.parametrize("name", ready_names())
def test_other_stages_load_as_they_would_be_pasted(name: str) -> None:
    """The TOML of an alternative, with the rest of the scenario, is a scenario of the same design."""
    scenario = load_scenario(name)
    others = alternatives_of(scenario)
    rest = as_toml({key: value for key, value in scenario.resolved.items() if key != "stage"})
    for cell in others.cells():
        other = others.others[cell.number]
        # Top-level keys come first, so that they belong to no stage.
        whole = rest + "\n" + other.toml
        assert read_scenario(Source("pasted", "pasted", whole)).design == other.scenario.design
        assert other.scenario.design.stages != scenario.design.stages
    assert others.refused == ()


def test_values_of_other_stages_lie_between_contact_and_hand() -> None:
    scenario = load_scenario("panel-knob")
    times = times_of(scenario.design)
    assert times.back is not None
    assert times.level is not None
    quiet = next(o for o in alternatives_of(scenario).others if o.name == "quiet time alone")
    stage = next(s for s in quiet.scenario.resolved["stage"] if s["kind"] == "quiet time")
    assert times.back < read_quantity(stage["time"], TIME) < times.level


def test_a_plain_input_gets_hysteresis() -> None:
    names = [other.name for other in alternatives_of(load_scenario("plain-input")).others]
    assert names[0] == "input with hysteresis"
    assert "input with hysteresis" not in [
        o.name for o in alternatives_of(load_scenario("panel-knob")).others
    ]


@pytest.mark.parametrize(
    "text", ["1 in 10000 steps", "1 wrong in 10000 steps", " 1  wrong in 10000", "0.01 %"]
)
def test_rates_as_people_write_them(text: str) -> None:
    assert read_rate(text) == pytest.approx(1.0e-4)


@pytest.mark.parametrize("text", ["1 right in 10 steps", "wrong 1 in 10", "1 wrong 10 steps", "1wrongin10"])
def test_what_is_no_rate(text: str) -> None:
    with pytest.raises(QuantityError):
        read_rate(text)
