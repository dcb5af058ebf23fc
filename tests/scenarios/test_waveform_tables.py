"""Noise, leakage, delays, comparators, gates, dips, power-up: from the file to the design, and refusals."""

from __future__ import annotations

import pytest

from simcore.base.draws import Part
from simcore.design import Design
from simcore.networks.analogue import Analogue, Resistance
from simcore.networks.inputs import Comparator, Leakage, Level
from simcore.networks.noise import Noise
from simcore.networks.supply import STEADY, Dips
from simcore.networks.waveform import Waveform
from simcore.stages.delay import GateDelay
from tests.scenarios.samples import SMALL, changed, load_text, only_problem

INPUT = 'kind = "schmitt input"\nrising = "1.9 V"\nfalling = "1.2 V"\n'
COMPARATOR = (
    'kind = "comparator"\nthreshold = "50 %"\nhysteresis = "20 mV"\ndelay = "300 ns"\n'
    'leakage = "50 nA"\nnoise = "1 mV"\nnoise_bandwidth = "1 MHz"\n'
    'tolerance = { threshold = "1 %", hysteresis = "50 %", delay = "40 %" }\n'
)
PLAIN = 'kind = "plain input"\nlow = "800 mV"\nhigh = "2 V"\n'
CLEAN = 'kind = "clean"\n'
DIPS = '[supply]\ndips = 2\ndip_depth = "30 %"\ndip_length = "1 ms"\n'


def with_input(text: str) -> str:
    """The small sample with another input."""
    return changed(INPUT, text)


def first_line(design: Design) -> object:
    """What joins contact, network and input of line A."""
    return design.chain.layers[0].line[0]


def test_comparator() -> None:
    design = load_text(with_input(COMPARATOR)).design
    late = Part(300e-9, 0.4)
    assert design.stages[1].item == Comparator(
        Level(Part(0.5, 0.01), 1), Part(0.02, 0.5), 0, Leakage(50e-9), Noise(1e-3, 1e6), GateDelay(late, late)
    )
    assert isinstance(first_line(design), Waveform)
    assert [layer.name for layer in design.chain.layers] == ["filter into comparator", "comparator delay"]


def test_delays_and_leakage_leave_the_fast_way() -> None:
    more = (
        'leakage = "1 uA"\nrise_delay = "15 ns"\nfall_delay = "12 ns"\ntolerance = { fall_delay = "50 %" }\n'
    )
    for kind in (INPUT, PLAIN):
        design = load_text(with_input(kind + more)).design
        item = design.stages[1].item
        assert item.leakage == Leakage(1e-6)
        assert item.delay == GateDelay(Part(15e-9, 0.0), Part(12e-9, 0.5))
        assert isinstance(first_line(design), Analogue)


def test_gate_delay() -> None:
    gate = '\n[[stage]]\nkind = "gate delay"\nrising = "15 ns"\nfalling = "0 s"\n'
    design = load_text(with_input(INPUT + gate)).design
    assert design.stages[2].item == GateDelay(Part(15e-9, 0.0), Part(0.0, 0.0))


@pytest.mark.parametrize(
    "more", [DIPS, "[supply]\npower_up = true\n", '[contacts]\nkind = "clean"\nresistance_per = "closure"\n']
)
def test_what_asks_for_the_general_line(more: str) -> None:
    text = changed("[contacts]\n" + CLEAN, more) if "contacts" in more else SMALL + more
    assert isinstance(first_line(load_text(text).design), Waveform)


def test_supply_and_contact() -> None:
    text = changed(CLEAN, CLEAN + 'resistance_per = "closure"\n', SMALL + DIPS + "power_up = true\n")
    design = load_text(text).design
    assert design.dips == Dips(2.0, 0.3, 1e-3)
    assert design.power_up == 1
    assert design.resistance == Resistance(0.5, 0.5, 1)


def test_defaults_ask_for_nothing() -> None:
    design = load_text(SMALL).design
    assert (design.dips, design.power_up, design.resistance.per_closure) == (STEADY, 0, 0)
    assert isinstance(first_line(design), Analogue)


def test_a_depth_without_dips_is_no_dip() -> None:
    assert load_text(SMALL + '[supply]\ndip_depth = "30 %"\n').design.dips == STEADY


MISTAKES = (
    (with_input(INPUT + 'noise = "5 mV"\n'), "noise_bandwidth", "above 0 Hz"),
    (with_input(INPUT + 'noise_bandwidth = "200 MHz"\n'), "noise_bandwidth", "to 100 MHz"),
    (with_input(INPUT + 'noise = "5 mA"\n'), "noise", "is not a unit of voltage"),
    (with_input(INPUT + 'leakage = "5 uV"\n'), "leakage", "is not a unit of current"),
    (with_input(INPUT + "leakage = 5\n"), "leakage", "no unit"),
    (with_input(INPUT + 'delay = "5 ns"\n'), "delay", "unknown key"),
    (with_input(COMPARATOR + 'rise_delay = "5 ns"\n'), "rise_delay", "unknown key"),
    (with_input(COMPARATOR.replace("20 mV", "4 V")), "hysteresis", "expected at most twice the threshold"),
    (with_input(INPUT + '[[stage]]\nkind = "gate delay"\nrising = "1 ns"\n'), "falling", "is missing"),
    (SMALL + "[supply]\ndips = 2\n", "supply.dip_depth", "a depth and a length above 0"),
    (SMALL + '[supply]\ndips = 2\ndip_depth = "5 %"\n', "supply.dip_length", "a depth and a length above 0"),
    (SMALL + "[supply]\ndips = -1\n", "supply.dips", "from 0 to 10000"),
    (SMALL + "[supply]\npower_up = 1\n", "supply.power_up", "true or false"),
    (changed(CLEAN, CLEAN + 'resistance_per = "close"\n'), "contacts.resistance_per", 'mean "closure"'),
)


@pytest.mark.parametrize(("text", "place", "words"), MISTAKES, ids=lambda each: str(each)[-30:])
def test_one_mistake_gives_one_message(text: str, place: str, words: str) -> None:
    problem = only_problem(text)
    assert problem.place.endswith(place)
    assert words in str(problem)


def noisy(volts: str, bandwidth: str = "100 kHz") -> str:
    """Lines of more noise."""
    return f'noise = "{volts}"\nnoise_bandwidth = "{bandwidth}"\n'


RESTLESS = (
    # The plain input's lowest threshold is 0.8 V, the line's low level about 0 V.
    (PLAIN + noisy("140 mV"), "line A rests at 0", "contact closed", "0.8 V"),
    (PLAIN.replace("2 V", "3.2 V") + noisy("20 mV"), "rests at 3.3 V", "contact open", "3.2 V"),
    (INPUT.replace("1.9", "3.25") + noisy("10 mV"), "rests at 3.3 V", "contact open", "rising threshold"),
    (COMPARATOR.replace('"50 %"\nhyst', '"99.8 %"\nhyst'), "rests at 3.3 V", "contact open", "threshold"),
)  # fmt: skip


@pytest.mark.parametrize(("text", *"abc"), RESTLESS)
def test_a_line_that_would_never_rest_is_refused(text: str, a: str, b: str, c: str) -> None:
    problem = only_problem(with_input(text))
    assert problem.place.endswith(".noise")
    for words in (a, b, c, "noise would toggle it"):
        assert words in str(problem)


@pytest.mark.parametrize("text", [PLAIN + noisy("130 mV"), INPUT + noisy("50 mV"), PLAIN + noisy("1 mV")])
def test_a_line_that_rests_out_of_reach_is_allowed(text: str) -> None:
    assert isinstance(first_line(load_text(with_input(text)).design), Waveform)


def test_an_edge_too_slow_to_look_at_is_refused() -> None:
    """A tenth of a second of crossing at 100 MHz."""
    text = changed('"100 nF"', '"100 uF"', with_input(PLAIN + noisy("20 mV", "100 MHz")))
    problem = only_problem(text)
    assert problem.place.endswith("noise_bandwidth")
    assert "instants; expected at most" in str(problem)
