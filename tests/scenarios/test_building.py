"""What a scenario says arrives in the simulator's records."""

from __future__ import annotations

import pytest

from scenarios.loading.load import StatedTarget
from scenarios.loading.validation import tables_in
from scenarios.schema import kinds
from scenarios.schema.tables import SchemaTable
from simcore.base.description import NetworkDescription
from simcore.base.draws import Part
from simcore.contacts.bursts import Clean, Telegraph, TelegraphSide, Wiping, WipingSide
from simcore.contacts.crossing import Sliding
from simcore.counters.base import Range
from simcore.counters.quadrature import Quadrature
from simcore.counters.step_direction import StepDirection
from simcore.design import StageEntry
from simcore.hand import base
from simcore.hand.base import Gesture
from simcore.hand.geometry import Geometry
from simcore.networks.analogue import Resistance
from simcore.networks.diode import DiodeCapacitor
from simcore.networks.inputs import Level, PlainInput, SchmittInput
from simcore.networks.ladder import TwoSection
from simcore.networks.single_pole import (
    AcrossCapacitor,
    AtCapacitor,
    Direct,
    PullDownAcross,
    PullDownDirect,
    PullDownSeries,
    SeriesCapacitor,
)
from tests.scenarios.samples import SMALL, changed, load_text

COUNTER = '[counter]\nkind = "step-direction"\n'


def test_the_top_of_a_scenario() -> None:
    text = (
        'title = "t"\nseed = 7\nruns = 100000000\n'
        + changed('title = "small"\n', "")
        + ('[supply]\nvoltage = "5 V"\ntolerance = "5 %"\n[target]\nwrong = "1 in 1000 steps"\n')
    )
    scenario = load_text(text)
    assert (scenario.name, scenario.title, scenario.seed, scenario.runs) == ("sample", "t", 7, 100_000_000)
    assert scenario.text == text
    assert scenario.source.endswith("sample.toml")
    assert scenario.design.supply == Part(5.0, 0.05)
    assert scenario.target == StatedTarget(0.001, "1 in 1000 steps")


def test_defaults() -> None:
    scenario = load_text(changed('title = "small"\n', ""))
    assert (scenario.title, scenario.seed, scenario.runs, scenario.target) == ("sample", 1, 5000, None)
    assert scenario.design.geometry == Geometry(20.0, 1.0, 0.5, 0.0, 0.25, 0.0, 0.0, 0.0)
    assert scenario.design.supply == Part(3.3, 0.0)
    assert scenario.cautions == ()


def test_angles_become_shares_of_a_cycle() -> None:
    text = changed(
        "cycles = 20\n",
        'cycles = 10\nclosed = "144 deg"\nphase = "72 deg"\nrest = "-36 deg"\n'
        'tolerance = { closed = "18 deg", phase = "9 deg", rest = "3.6 deg" }\n',
    )
    assert load_text(text).design.geometry == Geometry(20.0, 0.5, 0.4, 0.05, 0.2, 0.025, -0.1, 0.01)


def test_without_detents_a_step_is_a_cycle() -> None:
    geometry = load_text(changed("detents = 20", "detents = 0")).design.geometry
    assert (geometry.steps_per_turn, geometry.cycles_per_step) == (20.0, 1.0)


HANDS = {
    'gesture = "click"\nclicks = 3\ndirection = "down"\nduration = "30 ms"\nduration_spread = 0.2\n'
    'dwell = "1 s"\ndwell_spread = "10 %"': (
        Gesture(base.CLICK, 3, 1.0, 1.0, base.DOWN, 0.03, 0.2, 1.0, 0.1, 0, 0.0), 3,
    ),
    'gesture = "twist"\ntwists = 2\ndetents = 4\ndirection = "alternate"\nduration = "10 ms"\n'
    'duration_spread = 0.1\ndwell = "0.5 s"\ndwell_spread = 0\nripple = 0.4': (
        Gesture(base.TWIST, 2, 4.0, 4.0, base.ALTERNATE, 0.04, 0.1, 0.5, 0.0, 0, 0.4), 2,
    ),
    'gesture = "spin"\nspeed = "120 rpm"\nturns = 1.5\ndwell = "0 s"\nripple = 0.1': (
        Gesture(base.SPIN, 1, 30.0, 30.0, base.UP, 0.75, 0.0, 0.0, 0.0, 1, 0.1), 1,
    ),
    'gesture = "creep"\ncrossings = 5\ndirection = "up"\nduration = "200 ms"\nduration_spread = 0\n'
    'dwell = "1 s"\ndwell_spread = 0': (
        Gesture(base.CREEP, 5, 1.0, 1.0, base.UP, 0.2, 0.0, 1.0, 0.0, 0, 0.0), 5,
    ),
    'gesture = "rock"\nrocks = 3\nextent = { low = "20 %", high = 0.5 }\ndirection = "either"\n'
    'duration = "50 ms"\nduration_spread = 0\ndwell = "1 s"\ndwell_spread = 0': (
        Gesture(base.ROCK, 6, 0.5, 0.2, base.EITHER, 0.05, 0.0, 1.0, 0.0, 0, 0.0), 6,
    ),
    'gesture = "rest"\nduration = "2 min"': (
        Gesture(base.REST, 1, 0.0, 0.0, base.UP, 120.0, 0.0, 0.0, 0.0, 0, 0.0), 1,
    ),
}  # fmt: skip


@pytest.mark.parametrize("text", HANDS)
def test_gestures(text: str) -> None:
    (entry,) = load_text(changed('gesture = "click"', text)).design.hand
    assert (entry.gesture, entry.moves) == HANDS[text]
    assert entry.name == entry.kind


STAGES = {
    'kind = "rc"\npull_up = "4k7"\nseries = "R47"\ncapacitor = "2n2"\n'
    'tolerance = { pull_up = "1 %", series = "5 %", capacitor = "20 %" }': SeriesCapacitor(
        Part(4700.0, 0.01), Part(0.47, 0.05), Part(2.2e-9, 0.2)
    ),
    'kind = "rc"\npull_up = "4k7"\nseries = "0 ohm"\ncapacitor = "0 F"': SeriesCapacitor(
        Part(4700.0, 0.0), Part(0.0, 0.0), Part(0.0, 0.0)
    ),
    'kind = "capacitor across contact"\npull_up = "10k"\ncapacitor = "220 nF"\n'
    'tolerance = { capacitor = "10 %" }': AcrossCapacitor(Part(1e4, 0.0), Part(220e-9, 0.1)),
    'kind = "pull-up"\npull_up = "47 kohm"\ntolerance = { pull_up = "5 %" }': Direct(Part(47e3, 0.05)),
    'kind = "rc at capacitor"\npull_up = "10k"\nseries = "1k"\ncapacitor = "100 nF"\n'
    'tolerance = { pull_up = "1 %", series = "5 %", capacitor = "20 %" }': AtCapacitor(
        Part(1e4, 0.01), Part(1e3, 0.05), Part(100e-9, 0.2)
    ),
    'kind = "rc to supply"\npull_down = "10k"\nseries = "1k"\ncapacitor = "100 nF"\n'
    'tolerance = { pull_down = "1 %", series = "5 %", capacitor = "20 %" }': PullDownSeries(
        Part(1e4, 0.01), Part(1e3, 0.05), Part(100e-9, 0.2)
    ),
    'kind = "capacitor beside pull-down"\npull_down = "10k"\ncapacitor = "100 nF"\n'
    'tolerance = { pull_down = "1 %", capacitor = "20 %" }': PullDownAcross(
        Part(1e4, 0.01), Part(100e-9, 0.2)
    ),
    'kind = "pull-down"\npull_down = "47k"\ntolerance = { pull_down = "5 %" }': PullDownDirect(
        Part(47e3, 0.05)
    ),
    'kind = "rc with diode"\npull_up = "10k"\nseries = "22k"\ncapacitor = "100 nF"\ndrop = "700 mV"\n'
    'conducts = "charging"\n'
    'tolerance = { pull_up = "1 %", series = "5 %", capacitor = "20 %", drop = "10 %" }': DiodeCapacitor(
        Part(1e4, 0.01), Part(22e3, 0.05), Part(100e-9, 0.2), Part(0.7, 0.1), 1
    ),
    'kind = "rc with diode"\npull_up = "10k"\nseries = "22k"\ncapacitor = "100 nF"\n'
    'conducts = "discharging"': DiodeCapacitor(
        Part(1e4, 0.0), Part(22e3, 0.0), Part(100e-9, 0.0), Part(0.6, 0.0), 0
    ),
    'kind = "two-section rc"\npull_up = "10k"\nfirst_series = "1k"\nfirst_capacitor = "100 nF"\n'
    'second_series = "2k2"\nsecond_capacitor = "47 nF"\n'
    'tolerance = { pull_up = "1 %", first_series = "2 %", first_capacitor = "10 %", '
    'second_series = "5 %", second_capacitor = "20 %" }': TwoSection(
        Part(1e4, 0.01), Part(1e3, 0.02), Part(100e-9, 0.1), Part(2200.0, 0.05), Part(47e-9, 0.2)
    ),
}


@pytest.mark.parametrize("text", STAGES)
def test_networks(text: str) -> None:
    old = 'kind = "rc"\npull_up = "4k7"\nseries = "1k"\ncapacitor = "100 nF"'
    stages = load_text(changed(old, text)).design.stages
    assert stages[0] == StageEntry("filter", STAGES[text], (0, 1))


NETWORKS = [table for table in kinds.STAGES if isinstance(table.description, NetworkDescription)]


@pytest.mark.parametrize("network", NETWORKS, ids=lambda table: table.description.name)
def test_every_key_of_a_network_says_what_it_is(network: type[SchemaTable]) -> None:
    for table in (network, *tables_in(network.model_fields["tolerance"].annotation)):
        keys = set(table.model_fields) - {"name", "lines", "kind", "tolerance"}
        assert keys
        assert all(table.model_fields[key].description for key in keys)


INPUTS = {
    'kind = "schmitt input"\nrising = "70 %"\nfalling = "1.2 V"\ninverting = true\n'
    'tolerance = { rising = "5 %", falling = "10 %" }': SchmittInput(
        Level(Part(0.7, 0.05), 1), Level(Part(1.2, 0.1), 0), 1
    ),
    'kind = "plain input"\nlow = "800 mV"\nhigh = "70 %"': PlainInput(
        Level(Part(0.8, 0.0), 0), Level(Part(0.7, 0.0), 1), 0
    ),
    'part = "ttl-plain"\ninverting = true': PlainInput(Level(Part(0.8, 0.0), 0), Level(Part(2.0, 0.0), 0), 1),
}


@pytest.mark.parametrize("text", INPUTS)
def test_inputs(text: str) -> None:
    old = 'kind = "schmitt input"\nrising = "1.9 V"\nfalling = "1.2 V"'
    assert load_text(changed(old, text)).design.stages[1].item == INPUTS[text]


def test_stages_serve_the_lines_they_name() -> None:
    text = changed('name = "filter"', 'name = "filter"\nlines = ["B"]')
    assert [entry.lines for entry in load_text(text).design.stages] == [(1,), (0, 1)]


def test_a_step_direction_counter() -> None:
    text = changed(
        COUNTER,
        COUNTER + 'clock = "B rising"\ndirection = "A"\nup_when = "low"\nsetup = "3 us"\nhold = "2 us"\n'
        'minimum_low = "1 us"\nminimum_high = "500 ns"\nundecided = "worst"\nshort_pulse = "coin"\n'
        'positions = 32\nstart = 31\nends = "wrap"\ncounts_per_step = 2\n',
    )
    design = load_text(text).design
    assert design.counter == StepDirection(1, 1, 0, 3_000_000, 2_000_000, 1_000_000, 500_000, 3, 1)
    assert design.range == Range(32, 31, 1)
    assert design.counts_per_step == 2


def test_defaults_of_a_counter() -> None:
    design = load_text(SMALL).design
    assert design.counter == StepDirection(0, 0, 1, 0, 0, 0, 0, 0, 0)
    assert design.range == Range(0, 0, 0)
    assert load_text(changed(COUNTER, COUNTER + "positions = 100\n")).design.range == Range(100, 50, 0)


@pytest.mark.parametrize(("decoding", "counts"), [("x1", 1), ("x2", 2), ("x4", 4)])
def test_a_quadrature_counter_wants_what_its_geometry_gives(decoding: str, counts: int) -> None:
    text = changed(COUNTER, f'[counter]\nkind = "quadrature"\ndecoding = "{decoding}"\nup_when = "B leads"\n')
    design = load_text(text).design
    assert design.counter == Quadrature(counts, -1)
    assert design.counts_per_step == counts


def side(**values: float) -> WipingSide:
    ordinary = {
        "zone": 0.25, "pairs": 0.8, "rebound": 0.5, "flight": 60e-6, "restitution": 0.35, "pause": 20e-6,
        "packets": 0.05, "packet_pairs": 2.0, "packet_length": 100e-6, "gap_low": 150e-6, "gap_high": 640e-6,
        "straggler": 0.003, "straggler_low": 2e-3, "straggler_high": 4e-3, "straggler_length": 60e-6,
    }  # fmt: skip
    return WipingSide(**{**ordinary, **values})


@pytest.mark.parametrize("text", ["", '[contacts]\nkind = "wiping"\n', '[contacts]\npart = "ordinary"\n'])
def test_contacts_are_ordinary_by_default(text: str) -> None:
    design = load_text(changed('[contacts]\nkind = "clean"\n', text)).design
    assert design.contact == Wiping(side(), side(pairs=1.2, rebound=0.0))
    assert design.resistance == Resistance(0.5, 0.5)
    assert design.sliding.rate == 0.0


def test_keys_beside_a_part_win() -> None:
    text = '[contacts]\npart = "ordinary"\nresistance = "3 ohm"\n[contacts.break]\npairs = 7\n'
    design = load_text(changed('[contacts]\nkind = "clean"\n', text)).design
    assert design.contact == Wiping(side(), side(pairs=7.0, rebound=0.0))
    assert design.resistance == Resistance(3.0, 0.5)


def test_wear_multiplies_numbers_and_lengths_but_not_gaps() -> None:
    text = (
        '[contacts]\nkind = "wiping"\nwear = 2\n'
        'sliding = { rate = 3, length = "100 us", spread = 0.5, most = "1 ms" }\n'
    )
    design = load_text(changed('[contacts]\nkind = "clean"\n', text)).design
    worn = side(
        zone=0.5, pairs=1.6, flight=120e-6, packets=0.1, packet_pairs=4.0, packet_length=200e-6,
        straggler=0.006, straggler_length=120e-6,
    )  # fmt: skip
    assert design.contact.make == worn
    assert design.sliding == Sliding(6.0, 200e-6, 0.5, 2e-3)


def test_a_chance_that_wear_raises_stays_a_chance() -> None:
    text = '[contacts]\nkind = "wiping"\nwear = 10\nmake = { straggler = 0.5 }\n'
    assert load_text(changed('[contacts]\nkind = "clean"\n', text)).design.contact.make.straggler == 1.0


def test_clean_and_telegraph_contacts() -> None:
    assert load_text(SMALL).design.contact == Clean(1)
    text = '[contacts]\nkind = "telegraph"\n'
    text += 'make = { pairs = 5, length = "1 ms", length_spread = 0, most = "3 ms" }\n'
    contact = load_text(changed('[contacts]\nkind = "clean"\n', text)).design.contact
    assert contact == Telegraph(TelegraphSide(5.0, 1e-3, 0.0, 3e-3), TelegraphSide(3.0, 1e-3, 0.5, 2e-3))


def test_a_decoder_that_does_not_fit_is_a_caution() -> None:
    text = changed("cycles = 20", "cycles = 10")
    (caution,) = load_text(text).cautions
    assert "0.5 counts" in caution
    assert "1 is wanted" in caution
    assert "x2 decoding would fit" in caution
    (caution,) = load_text(text, ["encoder.cycles=30"]).cautions
    assert "no decoder fits (x1 gives 1.5, x2 gives 3, x4 gives 6)" in caution
    assert load_text(text, ["counter.part=quadrature-x2"]).cautions == ()


def test_titles_may_hold_any_script_and_markup() -> None:
    title = "<b>[bold]\u65cb\u94ae \U0001f39b\ufe0f \u202eabc {{7*7}}"
    scenario = load_text(changed('"small"', f'"{title}"'))
    assert scenario.title == title
    assert scenario.resolved["title"] == title
