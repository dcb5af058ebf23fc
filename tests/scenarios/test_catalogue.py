"""Ready scenarios, parts and the starter: each is sound, and shows what it says it shows."""

from __future__ import annotations

import functools
import subprocess
import sys
from typing import Any

import pytest

from scenarios.loading.catalogue import (
    PART_SECTIONS,
    list_parts,
    part_keys,
    ready_names,
    ready_text,
    ready_title,
    starter_text,
)
from scenarios.loading.load import load_scenario
from simcore.campaigns.campaign import run_campaign
from simcore.judging.tally import Tally
from simcore.statistics.exact import clopper_pearson
from tests.scenarios.samples import SMALL, changed, load_text


def test_names_and_titles() -> None:
    assert len(ready_names()) >= 8
    assert "panel-knob" in ready_names()
    titles = {ready_title(name) for name in ready_names()}
    assert len(titles) == len(ready_names())
    for name in ready_names():
        assert ready_text(name).startswith("# ")
        scenario = load_scenario(name)
        assert scenario.title == ready_title(name)
        assert scenario.runs <= 5000


@pytest.mark.parametrize("call", [ready_text, ready_title])
def test_an_unknown_name_is_a_key_error(call: object) -> None:
    with pytest.raises(KeyError, match="nothing"):
        call("nothing")  # type: ignore[operator]


def test_parts_serve_every_section() -> None:
    parts = list_parts()
    assert {part.kind for part in parts} == set(PART_SECTIONS)
    assert len({(part.name, part.kind) for part in parts}) == len(parts)
    characters = {"crisp", "ordinary", "tired", "worst-datasheet"}
    for section in ("encoder", "contacts"):
        assert characters <= {part.name for part in parts if part.kind == section}
    assert len([part for part in parts if part.kind in ("stage", "counter")]) >= 6
    assert all(part.title for part in parts)


SECTION_TEXT = {
    "encoder": "[encoder]\ndetents = 20\ncycles = 20\n",
    "contacts": '[contacts]\nkind = "clean"\n',
    "stage": '[[stage]]\nkind = "schmitt input"\nrising = "1.9 V"\nfalling = "1.2 V"\n',
    "counter": '[counter]\nkind = "step-direction"\n',
}


@pytest.mark.parametrize("part", list_parts(), ids=lambda part: f"{part.kind} {part.name}")
def test_every_part_loads_in_its_section(part: object) -> None:
    name, section = part.name, part.kind  # type: ignore[attr-defined]
    head = "[[stage]]" if section == "stage" else f"[{section}]"
    scenario = load_text(changed(SECTION_TEXT[section], f'{head}\npart = "{name}"\n'))
    assert scenario.design.counts_per_step >= 1
    assert part_keys(name, section)


def input_of(part: str) -> Any:
    """An input from the shelf, at 4.5 V."""
    stage = changed(SECTION_TEXT["stage"], f'[[stage]]\npart = "{part}"\n')
    return load_text(stage, ["supply.voltage=4.5 V"]).design.stages[1].item


def test_thresholds_of_cmos_inputs_with_hysteresis() -> None:
    """Data sheet of a CMOS inverter with hysteresis at 4.5 V: typically 2.36 and 1.53 V, 0.4 V apart
    at least, within 1.7 to 3.15 V and 0.9 to 2.0 V.
    """
    rising, falling = input_of("cmos-schmitt")[:2]
    assert rising.of_supply == falling.of_supply == 1
    high, low = rising.part.nominal * 4.5, falling.part.nominal * 4.5
    assert high == pytest.approx(2.36, abs=0.005)
    assert low == pytest.approx(1.53, abs=0.005)
    highest_low, lowest_high = low * (1 + falling.part.tolerance), high * (1 - rising.part.tolerance)
    assert lowest_high - highest_low == pytest.approx(0.4, abs=0.005)
    assert 1.7 < lowest_high < high * (1 + rising.part.tolerance) < 3.15
    assert 0.9 < low * (1 - falling.part.tolerance) < highest_low < 2.0


def test_thresholds_of_ttl_level_inputs_with_hysteresis() -> None:
    """Data sheet of a TTL-level inverter with hysteresis at 4.5 V: 1.2 to 1.9 V and 0.5 to 1.2 V,
    0.4 V apart at least.
    """
    rising, falling = input_of("ttl-schmitt")[:2]
    assert (rising.of_supply, falling.of_supply) == (0, 0)
    assert rising.part.nominal == pytest.approx((1.2 + 1.9) / 2)
    assert falling.part.nominal == pytest.approx((0.5 + 1.2) / 2)
    least = rising.part.nominal * (1 - rising.part.tolerance)
    most = falling.part.nominal * (1 + falling.part.tolerance)
    assert least - most > 0.4


def test_levels_of_plain_inputs() -> None:
    """JEDEC JESD8-C: low below 0.8 V, high above 2.0 V; high-speed CMOS at 4.5 V, from a data
    sheet: 1.35 and 3.15 V.
    """
    low, high = input_of("ttl-plain")[:2]
    assert (low.part.nominal, high.part.nominal, low.of_supply, high.of_supply) == (0.8, 2.0, 0, 0)
    low, high = input_of("hc-plain")[:2]
    assert (low.of_supply, high.of_supply) == (1, 1)
    assert low.part.nominal * 4.5 == pytest.approx(1.35)
    assert high.part.nominal * 4.5 == pytest.approx(3.15)


@functools.cache
def tally(name: str, *sets: str, runs: int = 300) -> Tally:
    scenario = load_scenario(name, sets)
    return run_campaign(scenario.design, seed=scenario.seed, runs=runs).tally


def share(found: Tally, verdict: str) -> float:
    return found.verdicts[verdict] / found.steps


def wrong(found: Tally) -> float:
    return found.wrong / found.steps


def main_cause(found: Tally) -> str:
    return next(iter(found.causes))


def test_the_common_filter_lets_a_little_through() -> None:
    found = tally("panel-knob")
    assert 0.001 < wrong(found) < 0.05
    assert main_cause(found) == "chatter"


def test_the_well_filtered_knob_meets_its_target() -> None:
    """Judged by runs with any error: a run is one unit in one hand, so runs are independent."""
    scenario = load_scenario("well-filtered")
    assert scenario.target is not None
    found = tally("well-filtered", runs=1000)
    upper = clopper_pearson(found.runs - found.exact_runs, found.runs, 0.95).high
    steps_per_run = found.steps / found.runs
    assert upper / steps_per_run < scenario.target.rate


def test_no_filter_is_worst_and_the_small_capacitor_not_much_better() -> None:
    bare, small, common = tally("no-filter"), tally("small-capacitor"), tally("panel-knob")
    assert wrong(bare) > wrong(small) > 10 * wrong(common)
    assert main_cause(bare) == main_cause(small) == "chatter"


def test_the_large_capacitor_swallows_steps() -> None:
    found = tally("large-capacitor")
    assert wrong(found) > 0.1
    assert main_cause(found) == "swallowed"


def test_an_input_without_hysteresis_is_worse_than_one_with_it() -> None:
    assert wrong(tally("plain-input")) > 2 * wrong(tally("panel-knob"))


def test_half_a_cycle_per_detent_wants_the_decoder_that_fits() -> None:
    assert wrong(tally("half-cycle-x2")) < 0.005
    assert load_scenario("half-cycle-x2").cautions == ()
    (caution,) = load_scenario("half-cycle-misfit").cautions
    assert "x2 decoding would fit" in caution
    assert 0.4 < share(tally("half-cycle-misfit"), "missed") < 0.6


def test_half_of_all_clicks_are_missed_by_geometry_alone() -> None:
    """A one-edge counter on half a cycle per detent (closed form: one edge of A in two detents)."""
    still = ("contacts.kind=clean", "encoder.tolerance.rest=0 deg", "filter.capacitor=1 nF")
    found = tally("half-cycle-misfit", *still, "hand.clicks.direction=up", "hand.twists.detents=8", runs=50)
    assert found.verdicts["missed"] * 2 == found.steps
    assert found.wrong == found.verdicts["missed"]


def test_full_decoding_flickers_but_counts_right() -> None:
    found = tally("x4-no-filter")
    assert share(found, "flickered") > 0.9
    assert wrong(found) < 0.005


def test_a_tired_encoder_turned_slowly_defeats_the_filter_that_served_the_new_one() -> None:
    assert wrong(tally("tired-and-slow")) > 100 * wrong(tally("well-filtered"))


@pytest.mark.parametrize("name", ["fast-twist", "capacitor-across-contact"])
def test_quick_turns_swap_the_order_of_the_edges(name: str) -> None:
    found = tally(name, runs=600)
    assert main_cause(found) == "swapped order"
    assert share(found, "reversed") > 0.001


def test_a_diode_that_evens_out_the_two_ways_saves_most_quick_steps() -> None:
    """Against one that never conducts; the same hands, contacts and parts."""
    with_it, without = (tally("steering-diode", *sets, runs=1000) for sets in ((), ("filter.drop=100 V",)))
    assert 0 < wrong(with_it) < 0.5 * wrong(without)


def test_two_sections_do_what_one_does_not() -> None:
    """Against the first section alone: the second has neither resistor nor capacitor."""
    one = tally("two-section-filter", "filter.second_series=0 ohm", "filter.second_capacitor=0 F", runs=1000)
    assert main_cause(one) == "chatter"
    assert 10 * tally("two-section-filter", runs=1000).wrong < one.wrong


def test_contacts_to_the_supply_are_not_the_same_circuit_upside_down() -> None:
    """The slow edge, now the fall, has further to go: thresholds of 52 and 34 per cent."""
    turned = tally("contact-to-supply", runs=1000)
    assert main_cause(turned) == "swapped order"
    assert turned.wrong > 10 * tally("well-filtered", runs=1000).wrong
    mirrored = ("input.rising=66 %", "input.falling=47.6 %", "counter.up_when=low")
    assert tally("contact-to-supply", *mirrored, runs=1000).wrong < 0.2 * turned.wrong


def test_chatter_at_the_limits_of_a_data_sheet_is_no_small_matter() -> None:
    found = tally("data-sheet-limits")
    assert wrong(found) > 0.05
    assert found.causes["sliding"] > 0


def test_a_slow_edge_counts_more_than_once_without_any_bounce() -> None:
    found = tally("slow-edge")
    assert 0.02 < wrong(found) < 0.5
    assert set(found.causes) == {"slow edge"}
    assert tally("slow-edge", "input.part=cmos-schmitt").wrong == 0
    assert tally("slow-edge", "input.noise=0 V").wrong == 0


def test_power_up_counts_once() -> None:
    """Once in every run, one way or the other, before the hand has begun; all steps are right."""
    found = tally("power-up")
    assert found.wrong == 0
    assert found.spurious == found.runs
    assert found.exact_runs == 0
    assert tally("power-up", "supply.power_up=false").exact_runs == found.runs


def test_dips_count_unless_the_thresholds_follow_them() -> None:
    found = tally("supply-dips", runs=1000)
    assert found.spurious > 100
    assert tally("supply-dips", "input.part=cmos-schmitt", runs=1000).spurious < found.spurious / 20
    assert tally("supply-dips", "supply.dips=0").exact_runs == 300


def test_the_starter_loads_runs_and_meets_its_target() -> None:
    text = starter_text()
    assert text.count("#") > 20
    scenario = load_text(text)
    assert scenario.target is not None
    found = run_campaign(scenario.design, seed=scenario.seed, runs=500).tally
    assert wrong(found) < scenario.target.rate


def test_the_small_sample_makes_no_error_with_clean_contacts() -> None:
    found = run_campaign(load_text(SMALL).design, seed=1, runs=20).tally
    assert found.wrong == 0
    assert found.steps == 160


def test_listing_needs_no_heavy_library_and_loading_no_compiler() -> None:
    code = (
        "import sys, scenarios.loading.load as load, scenarios.loading.catalogue as catalogue\n"
        "[catalogue.ready_title(name) for name in catalogue.ready_names()]\n"
        "catalogue.list_parts(), catalogue.starter_text()\n"
        "heavy = {'pydantic', 'numpy', 'quantiphy', 'numba', 'scipy'} & set(sys.modules)\n"
        "load.load_scenario('panel-knob')\n"
        "print(sorted(heavy), sorted({'numba', 'scipy', 'simpy'} & set(sys.modules)))\n"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[] []"
