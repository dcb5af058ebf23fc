"""Troubled designs from practice, and what the checks say of them: common practice, no source."""

from __future__ import annotations

import pytest

from scenarios.checks import check_scenario
from simcore.base.check import FAIL, NOT_APPLICABLE, PASS, Check
from tests.practice.benches import STEP_DIRECTION, clicks, rc, scenario, schmitt, spin
from tests.scenarios.samples import load_text

SUPPLY = '[supply]\nvoltage = "5 V"\n'
DATA_SHEET = schmitt(3.5, 1.5)
CHATTER = (
    'kind = "telegraph"\nmake = { pairs = 3, length = "3 ms", length_spread = 0, most = "3 ms" }\n'
    'break = { pairs = 3, length = "3 ms", length_spread = 0, most = "3 ms" }'
)


def checks(
    *tables: str, contacts: str = 'kind = "clean"', detents: int = 20, cycles: int = 20
) -> dict[str, Check]:
    """Checks by their names."""
    text = scenario(*tables, contacts=contacts, detents=detents, cycles=cycles)
    return {check.name: check for check in check_scenario(load_text(text))}


def result(check: Check) -> float:
    assert check.result is not None
    return check.result


def test_a_weak_pull_up_triples_the_charge_time_and_starves_the_contact() -> None:
    """50 kohm within a chip instead of 10 kohm beside the contact, with 10 kohm and 10 nF: the time constant
    goes from 200 to 600 us, the wetting current from 0.5 to 0.1 mA.
    """
    hand = clicks(4)
    good = checks(SUPPLY, hand, rc("10k", "10k", "10 nF"), DATA_SHEET, STEP_DIRECTION)
    weak = checks(SUPPLY, hand, rc("50k", "10k", "10 nF"), DATA_SHEET, STEP_DIRECTION)
    assert result(weak["charge time"]) / result(good["charge time"]) == pytest.approx(3.0, rel=1e-3)
    assert result(good["wetting current"]) == pytest.approx(0.5e-3, rel=1e-3)
    assert result(weak["wetting current"]) == pytest.approx(0.1e-3, rel=1e-3)
    assert (good["wetting current"].verdict, weak["wetting current"].verdict) == (PASS, FAIL)
    change = weak["wetting current"].change
    assert change is not None
    assert (change.key, change.value, change.series) == ("pull_up", 43e3, 24)


def test_a_slow_edge_on_a_plain_clock_input_is_objected_to() -> None:
    """The edge takes 439 us where a high-speed CMOS inverter wants 500 ns: 879 times too slow."""
    plain = '[[stage]]\nname = "input"\npart = "hc-plain"\n'
    found = checks(SUPPLY, clicks(4), rc("10k", "10k", "10 nF"), plain, STEP_DIRECTION)["steepness of edges"]
    assert found.verdict == FAIL
    assert result(found) / 500e-9 == pytest.approx(879, abs=0.5)
    assert 'kind "schmitt input"' in found.advice
    cured = checks(SUPPLY, clicks(4), rc("10k", "10k", "10 nF"), DATA_SHEET, STEP_DIRECTION)
    assert cured["steepness of edges"].verdict == NOT_APPLICABLE


@pytest.mark.parametrize("kind", ["quiet time", "lockout"])
def test_without_a_window_there_is_no_safe_setting(kind: str) -> None:
    """Bursts of 3 ms, a shortest dwell of 2.5 ms: 20 cycles a turn at 600 rpm."""
    stage = f'[[stage]]\nname = "filter"\nkind = "{kind}"\ntime = "2.6 ms"\n'
    found = checks(spin(600.0), stage, STEP_DIRECTION, contacts=CHATTER)
    failing = [check for name, check in found.items() if name.startswith(kind) and check.verdict == FAIL]
    assert failing
    for check in failing:
        assert check.why.startswith("no safe setting: the longest burst, 3 ms, outlasts the shortest level")
        assert "2.5 ms" in check.why
        assert "no setting helps" in check.advice


def test_a_burst_that_outlasts_the_way_to_the_other_line_loses_the_order() -> None:
    """At 300 rpm a level lasts 5 ms, and edges of A and B are 2.5 ms apart: 3 ms of burst are too many for
    any quiet time on both lines, though each line alone would have its window.
    """
    stage = '[[stage]]\nname = "filter"\nkind = "quiet time"\ntime = "1.6 ms"\n'
    found = checks(spin(300.0), stage, STEP_DIRECTION, contacts=CHATTER)
    assert found["quiet time against chatter"].verdict != FAIL
    assert found["quiet time against the hand"].verdict != FAIL
    order = found["bursts against the other line's edge"]
    assert order.verdict == FAIL
    assert order.limit == pytest.approx(2.5e-3)
    one = checks(spin(300.0), stage + 'lines = ["A"]\n', STEP_DIRECTION, contacts=CHATTER)
    assert one["bursts against the other line's edge"].verdict == NOT_APPLICABLE


@pytest.mark.parametrize(("detents", "cycles"), [(24, 12), (30, 15)])
def test_half_a_cycle_per_detent_on_a_counter_of_one_edge(detents: int, cycles: int) -> None:
    """Half the clicks are missed by geometry; the decoder that fits is named."""
    found = checks(clicks(4), STEP_DIRECTION + "counts_per_step = 1\n", detents=detents, cycles=cycles)
    check = found["counts per detent"]
    assert (check.verdict, check.result, check.limit) == (FAIL, 0.5, 1.0)
    assert check.advice == "x2 decoding would fit"


def test_twice_as_many_counts_as_detents() -> None:
    """12 detents, 24 countable events."""
    found = checks(clicks(4), STEP_DIRECTION + "counts_per_step = 1\n", detents=12, cycles=24)
    assert (found["counts per detent"].verdict, found["counts per detent"].result) == (FAIL, 2.0)


def test_a_capacitor_straight_across_the_contact_is_objected_to() -> None:
    """Half an ohm of contact is all that limits the current: ten amperes, where makers allow 10 mA."""
    stage = '[[stage]]\nname = "filter"\nkind = "capacitor across contact"\npull_up = "10k"\n'
    stage += 'capacitor = "100 nF"\n'
    found = checks(SUPPLY, clicks(4), stage, DATA_SHEET, STEP_DIRECTION)["peak contact current"]
    assert found.verdict == FAIL
    assert result(found) == pytest.approx(5.0 / 0.5, rel=1e-9)
    assert found.change is not None
    assert (found.change.kind, found.change.key) == ("rc", "series")
    # 5 V over 560 ohm and over 10 kohm besides: 9.4 mA would be tight, so it is 680 ohm.
    assert found.change.value == 680.0
    assert found.change.result == pytest.approx(5.0 / 680.0 + 5.0 / 10e3, rel=1e-3)


def test_a_line_that_may_be_undecided_at_rest_is_not_to_be_clocked_from() -> None:
    """A whole-cycle encoder whose B boundary lies at the rest position: clock from A, read B."""
    encoder = '[encoder]\ndetents = 20\ncycles = 20\nrest = "-45 deg"\n[contacts]\nkind = "clean"\n'
    for clock, verdict in (("A falling", PASS), ("B falling", FAIL)):
        text = f'{encoder}{clicks(4)}[counter]\nkind = "step-direction"\nclock = "{clock}"\n'
        found = {check.name: check for check in check_scenario(load_text(text))}["line to clock from"]
        assert found.verdict == verdict
        if verdict == FAIL:
            assert (found.result, found.advice) == (0.0, "clock from line A")
