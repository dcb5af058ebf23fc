"""Filters that are too slow, too weak or on one line only.

Facts from public trouble reports, common practice, no source; the expected numbers are derived here.
"""

from __future__ import annotations

import math

import pytest

from simcore.base.draws import Part
from simcore.base.ticks import ticks
from simcore.networks.analogue import Pole, start, volts_at
from simcore.networks.analogue import edge as analogue_edge
from simcore.networks.response import PoleSources, network_parts, pole_sources
from simcore.networks.single_pole import SeriesCapacitor

from .benches import STEP_DIRECTION, X4, clicks, rc, scenario, schmitt, spin, tally_of_text, threshold

SUPPLY = '[supply]\nvoltage = "5 V"\n'


def quarter_rpm(seconds: float, cycles: int = 20) -> float:
    """The even speed at which neighbouring edges are ``seconds`` apart."""
    return 60.0 / (4 * cycles * seconds)


@pytest.mark.parametrize("direction", ["up", "down"])
def test_a_big_capacitor_across_the_contact_reverses_quick_turns_one_way(direction: str) -> None:
    """10 kohm and 220 nF into a threshold of half the supply: B's rise is late by tau ln 2 = 1.52 ms, A's
    fall by nothing.  Turned up with edges closer than that, A falls before B has risen.
    """
    late = 10e3 * 220e-9 * math.log(2.0)
    stage = (
        '[[stage]]\nname = "filter"\nkind = "capacitor across contact"\npull_up = "10k"\ncapacitor = "220 nF"'
    )
    for factor, wrong in ((1.05, False), (0.95, direction == "up")):
        text = scenario(
            SUPPLY, spin(quarter_rpm(late * factor), 2.0, direction), stage, threshold(2.5), STEP_DIRECTION
        )
        tally = tally_of_text(text, 2)
        # The first cycle finds B at rest, so only the later ones can go wrong.
        assert tally.verdicts["reversed"] == (2 * 39 if wrong else 0), factor
        assert tally.verdicts["right"] == (2 * 1 if wrong else 2 * 40)
        assert set(tally.causes) == ({"swapped order"} if wrong else set())


def test_a_pulse_filter_longer_than_the_edges_of_a_fast_encoder_passes_nothing() -> None:
    """Edges 1 us apart into a filter of 3 us: none passes; without the filter none is lost."""
    hand = spin(quarter_rpm(1e-6, 1000), 0.1)
    quiet = '[[stage]]\nname = "filter"\nkind = "quiet time"\ntime = "3 us"\n'
    with_filter = tally_of_text(scenario(hand, quiet, X4, detents=0, cycles=1000), 2)
    assert with_filter.verdicts["right"] == 0
    assert set(with_filter.causes) == {"swallowed"}
    without = tally_of_text(scenario(hand, X4, detents=0, cycles=1000), 2)
    assert without.wrong == 0


def test_a_filter_of_half_a_millisecond_loses_states_of_a_quick_twist() -> None:
    """Lines that stay put for less than 500 us at a time, bursts of 10 us: 50 us of quiet time is right."""
    bounces = (
        'kind = "telegraph"\nmake = { pairs = 2, length = "10 us", length_spread = 0, most = "10 us" }\n'
        'break = { pairs = 2, length = "10 us", length_spread = 0, most = "10 us" }'
    )
    hand = spin(quarter_rpm(240e-6), 2.0)
    results = {}
    for time in ("50 us", "500 us"):
        quiet = f'[[stage]]\nname = "filter"\nkind = "quiet time"\ntime = "{time}"\n'
        results[time] = tally_of_text(scenario(hand, quiet, X4, contacts=bounces), 5)
    assert results["50 us"].wrong == 0
    assert results["500 us"].verdicts["right"] == 0
    assert "swallowed" in results["500 us"].causes


def test_a_capacitor_on_one_line_counts_one_way_whichever_way_the_knob_is_turned() -> None:
    """470 nF on A only, counting A's rise, which comes 6.2 ms late: B, whose edge is 4.6 ms away, is open
    again by then in either direction.
    """
    hand = clicks(5, "up") + clicks(5, "down")
    counter = '[counter]\nkind = "step-direction"\nclock = "A rising"\n'
    filter_a = rc("10k", "1k", "470 nF", 'lines = ["A"]')
    filtered = tally_of_text(scenario(SUPPLY, hand, filter_a, schmitt(3.5, 1.5), counter), 3)
    assert filtered.errors == {10: 3} or filtered.errors == {-10: 3}
    assert filtered.verdicts["reversed"] == 3 * 5
    bare = tally_of_text(scenario(SUPPLY, hand, schmitt(3.5, 1.5), counter), 3)
    assert bare.wrong == 0


@pytest.mark.parametrize(("rising", "delay"), [(2.5, 6.93e-3), (3.9, 15.1e-3)])
def test_a_long_constant_is_clean_until_half_a_cycle_is_shorter_than_its_rise(
    rising: float, delay: float
) -> None:
    """10 kohm and 1 uF: the rise takes 7 to 15 ms by the threshold; a shorter open half is never seen."""
    late = 10e3 * 1e-6 * math.log(5.0 / (5.0 - rising))
    assert late == pytest.approx(delay, rel=0.01)
    for factor, right in ((1.1, True), (0.9, False)):
        hand = spin(quarter_rpm(late * factor / 2.0), 2.0)
        text = scenario(SUPPLY, hand, rc("10k", "1 ohm", "1 uF"), schmitt(rising, 1.0), STEP_DIRECTION)
        tally = tally_of_text(text, 2)
        if right:
            assert tally.verdicts["missed"] == 0
        else:
            assert tally.verdicts["missed"] == 2 * 39
            assert set(tally.causes) == {"swallowed"}


def test_an_inverting_input_moves_the_rest_state_and_costs_a_click_at_every_reversal() -> None:
    """A counter that counts whole cycles between its rest state, both high, meets both low at rest."""
    hand = "".join(clicks(3, way, place) for place in ("first", "second") for way in ("up", "down"))
    counter = '[counter]\nkind = "whole-cycle"\n'
    filter_, plain = rc("10k", "1k", "22 nF"), schmitt(2.9, 1.9)
    straight = tally_of_text(scenario(SUPPLY, hand, filter_, plain, counter), 2)
    assert straight.wrong == 0
    inverted = tally_of_text(
        scenario(SUPPLY, hand, filter_, schmitt(2.9, 1.9, "inverting = true"), counter), 2
    )
    # One click at the start, whose half cycle before the first rest state is not known, and one at each
    # of the three reversals.
    assert inverted.verdicts["missed"] == 2 * 4
    assert inverted.verdicts["right"] == 2 * 8


def test_four_detents_to_a_cycle_flicker_unless_time_is_filtered() -> None:
    """A table of states cannot tell chatter from a click back; a time filter can."""
    bounces = (
        'kind = "telegraph"\nmake = { pairs = 2, length = "300 us", length_spread = 0, most = "300 us" }\n'
        'break = { pairs = 2, length = "300 us", length_spread = 0, most = "300 us" }'
    )
    hand = clicks(8) + clicks(8, "down")
    shape = {"detents": 80, "cycles": 20, "contacts": bounces}
    bare = tally_of_text(scenario(hand, X4, **shape), 50)  # type: ignore[arg-type]
    assert bare.verdicts["flickered"] > 0.5 * bare.steps
    assert bare.wrong == 0
    quiet = '[[stage]]\nname = "filter"\nkind = "quiet time"\ntime = "1 ms"\n'
    filtered = tally_of_text(scenario(hand, quiet, X4, **shape), 50)  # type: ignore[arg-type]
    assert filtered.verdicts["right"] == filtered.steps


def sources_of(network: SeriesCapacitor) -> PoleSources:
    """At 5 V, with a contact of 0.5 ohm."""
    middle = (0.5, 0.5, 0.5, 0.5)
    return pole_sources(network_parts(network, middle, middle), 5.0, 0.5, 0.0)


def test_the_low_level_does_not_creep_up() -> None:
    """10 kohm, 10 kohm, 100 nF at hand speed: every closed half ends at the same voltage."""
    network = SeriesCapacitor(Part(10e3, 0.0), Part(10e3, 0.0), Part(100e-9, 0.0))
    sources = sources_of(network)
    unit = Pole(*sources[:4], 2.9, 1.9, 0)
    state, half, lows = start(unit, 0), ticks(25e-3), []
    for turn in range(1, 41):
        state = analogue_edge(unit, state, turn * half, turn % 2)
        if turn % 2:
            lows.append(volts_at(unit, state, (turn + 1) * half))
    assert max(lows) - min(lows) < 1e-12
    assert lows[0] == pytest.approx(sources.v_closed, abs=1e-9)


def test_a_weak_pull_up_triples_the_time_constant_and_starves_the_contact() -> None:
    """50 kohm instead of 10 kohm, with 10 kohm and 10 nF."""
    usual, weak = (
        sources_of(SeriesCapacitor(Part(pull_up, 0.0), Part(10e3, 0.0), Part(10e-9, 0.0)))
        for pull_up in (10e3, 50e3)
    )
    assert weak.tau_open / usual.tau_open == pytest.approx(3.0)
    # The current that wets the closed contact is what the pull-up lets through.
    assert (5.0 - weak.v_closed) / 50e3 == pytest.approx(0.1e-3, rel=1e-4)
