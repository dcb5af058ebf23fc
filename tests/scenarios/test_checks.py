"""Every check passes in one scenario and fails in another; what is suggested passes when it is tried."""

from __future__ import annotations

import functools

import pytest

from reports.results.building import suggested_change
from scenarios.checks import check_scenario
from scenarios.loading.catalogue import ready_names
from scenarios.loading.load import load_scenario
from simcore.base.check import FAIL, NOT_APPLICABLE, PASS, TIGHT, VERDICTS, Check
from tests.scenarios.samples import SMALL, changed, load_text, only_problem

NOISY = ("input.noise=3 mV", "input.noise_bandwidth=300 kHz")
SHORT = ("contacts.kind=telegraph",)


@functools.cache
def checks(name: str, *sets: str) -> tuple[Check, ...]:
    return check_scenario(load_scenario(name, sets))


def verdict(check: str, name: str, *sets: str) -> str:
    """The worst verdict of a check in a scenario."""
    found = [each.verdict for each in checks(name, *sets) if each.name == check]
    assert found, check
    return min(found, key=VERDICTS.index)


TABLE = [
    ("counts per detent", ("half-cycle-x2",), ("half-cycle-misfit",)),
    ("counts per detent", ("whole-cycle-no-filter",), ("whole-cycle-no-filter", "counter.rest=low")),
    ("line to clock from", ("panel-knob",), ("panel-knob", "encoder.rest=45 deg")),
    ("peak contact current", ("panel-knob",), ("capacitor-across-contact",)),
    ("peak contact current", ("panel-knob",), ("panel-knob", "contacts.most_current=1 mA")),
    ("wetting current", ("panel-knob",), ("panel-knob", "filter.pull_up=51k")),
    ("wetting current", ("panel-knob",), ("panel-knob", "contacts.least_current=5 mA")),
    (
        "energy per closure", ("panel-knob", "contacts.most_energy=1 uJ"),
        ("panel-knob", "contacts.most_energy=100 nJ"),
    ),
    ("low level", ("panel-knob",), ("panel-knob", "filter.kind=rc at capacitor", "filter.series=2k2")),
    ("high level", ("panel-knob",), ("panel-knob", "input.leakage=500 uA")),
    (
        "steepness of edges", ("plain-input", "filter.capacitor=0 F"), ("plain-input",),
    ),
    ("noise against hysteresis", ("panel-knob", *NOISY), ("slow-edge",)),
    ("charge time", ("panel-knob",), ("large-capacitor",)),
    ("discharge time", ("panel-knob",), ("large-capacitor",)),
    ("open gap ridden through", ("well-filtered",), ("small-capacitor",)),
    ("open gap ridden through", ("well-filtered",), ("no-filter",)),
    ("set-up of the direction", ("panel-knob",), ("well-filtered",)),
    ("direction's voltage at the clock edge", ("panel-knob",), ("well-filtered",)),
    ("hold of the direction", ("panel-knob",), ("large-capacitor",)),
    ("order of A and B", ("x4-no-filter",), ("large-capacitor", "counter.part=quadrature-x4")),
    ("quiet time against chatter", ("quiet-time",), ("quiet-time", "filter.time=100 us")),
    ("quiet time against the hand", ("long-leads-quiet",), ("quiet-time",)),
    (
        "bursts against the other line's edge", ("long-leads-quiet", "contacts.part=crisp"), ("quiet-time",),
    ),
    ("lockout against chatter", ("lockout", "filter.time=5 ms"), ("lockout",)),
    ("lockout against the hand", ("lockout", "filter.time=1 ms"), ("lockout",)),
    ("pulse against chatter", ("one-shot",), ("one-shot", "timer.capacitor=1 nF")),
    ("pulse against the hand", ("one-shot", "timer.capacitor=22 nF"), ("one-shot",)),
    ("samples against the hand", ("sampled-agree",), ("sampled-agree", "sampler.period=1 ms")),
    ("samples against chatter", ("sampled-agree",), ("sampled-majority",)),
    ("counter's samples against the hand", ("slow-clock", "counter.period=100 us"), ("slow-clock",)),
    (
        "time between failures", ("synchroniser-alone", "flip-flops.settling=80 ns"), ("synchroniser-alone",),
    ),
    ("preferred value", ("panel-knob",), ("panel-knob", "filter.pull_up=5 kohm")),
]  # fmt: skip


@pytest.mark.parametrize(
    ("check", "good", "bad"), TABLE, ids=[f"{n}-{row[0]}" for n, row in enumerate(TABLE)]
)
def test_each_check_passes_here_and_fails_there(
    check: str, good: tuple[str, ...], bad: tuple[str, ...]
) -> None:
    assert verdict(check, *good) in (PASS, TIGHT)
    assert verdict(check, *bad) == FAIL


def test_no_check_is_without_a_passing_and_a_failing_scenario() -> None:
    names = {each.name for name in ready_names() for each in checks(name)}
    assert names == {row[0] for row in TABLE}


@pytest.mark.parametrize("name", ready_names())
def test_every_check_says_what_it_rests_on(name: str) -> None:
    for each in checks(name):
        assert each.verdict in VERDICTS
        assert each.rule.endswith(".")
        assert each.formula
        assert each.source
        assert each.subject
        if each.verdict == NOT_APPLICABLE:
            assert each.why
        else:
            assert each.result is not None
            assert each.limit is not None
        assert bool(each.advice) or not each.matters


SUGGESTING = [name for name in ready_names() if any(each.change is not None for each in checks(name))]


@pytest.mark.parametrize("name", SUGGESTING)
def test_a_suggested_value_passes_when_it_is_put_into_the_scenario(name: str) -> None:
    """By way of the options that the report prints, so through text, units and schema."""
    before = {(each.name, each.subject) for each in checks(name) if each.verdict == FAIL}
    for each in checks(name):
        if each.change is None:
            continue
        after = check_scenario(load_scenario(name, suggested_change(each.change).sets), suggest=False)
        again = next(a for a in after if a.name == each.name and a.subject == each.subject)
        assert again.verdict == PASS
        assert again.result == pytest.approx(each.change.result, rel=1e-9)
        broken = {a.name for a in after if a.verdict == FAIL and (a.name, a.subject) not in before}
        electrical = {c.name for c in checks(name)} - {"counts per detent", "line to clock from"}
        assert broken & electrical <= set(each.change.costs)


def test_some_ready_scenarios_have_suggestions() -> None:
    assert len(SUGGESTING) >= 10


def test_a_finer_series_than_the_tolerance_asks_for_is_tight() -> None:
    assert verdict("preferred value", "panel-knob", "filter.pull_up=4.75 kohm") == TIGHT
    one_per_cent = ("filter.pull_up=4.75 kohm", "filter.tolerance.pull_up=1 %")
    assert verdict("preferred value", "panel-knob", *one_per_cent) == PASS
    (check,) = (
        each
        for each in checks("panel-knob", "filter.pull_up=5 kohm")
        if each.name == "preferred value" and each.matters
    )
    assert check.change is not None
    assert (check.change.value, check.change.series) == (5.1e3, 24)


def test_the_corner_is_named_and_only_what_matters_of_it() -> None:
    (check,) = (each for each in checks("panel-knob") if each.name == "charge time")
    assert check.corner == (
        "contact resistance at its least, pull up +5 %, series +5 %, capacitor +20 %, rising +11 %"
    )
    assert {number.name: number.value for number in check.numbers}["capacitor"] == pytest.approx(120e-9)


def test_without_a_rating_the_usual_range_is_taken_and_said_to_be_that() -> None:
    (usual,) = (each for each in checks("panel-knob") if each.name == "peak contact current")
    assert (usual.limit, "common practice, no source" in usual.source) == (10e-3, True)
    rated = checks("panel-knob", "contacts.most_current=20 mA", "contacts.least_current=50 uA")
    (stated,) = (each for each in rated if each.name == "peak contact current")
    assert (stated.limit, stated.source) == (20e-3, "stated in the scenario")
    (steady,) = (each for each in rated if each.name == "wetting current")
    assert steady.limit == 50e-6


def test_ratings_change_nothing_that_is_simulated() -> None:
    plain = load_scenario("panel-knob").design
    rated = load_scenario("panel-knob", ["contacts.most_current=20 mA", "input.slowest_edge=1 us"]).design
    assert rated.contact == plain.contact
    assert [entry.item for entry in rated.stages] == [entry.item for entry in plain.stages]
    assert rated.stages[1].slowest_edge == 1e-6


def test_ratings_that_contradict_each_other_are_one_problem() -> None:
    text = changed('kind = "clean"', 'kind = "clean"\nmost_current = "1 mA"\nleast_current = "2 mA"')
    problem = only_problem(text)
    assert "expected at most most_current, which is 1 mA, got 2 mA" in str(problem)
    assert "energy" in str(only_problem(changed('kind = "clean"', 'kind = "clean"\nmost_energy = "1 mA"')))


def test_lines_with_networks_of_their_own_are_checked_apart() -> None:
    text = changed('name = "filter"', 'name = "filter"\nlines = ["A"]').replace(
        '[[stage]]\nkind = "schmitt input"',
        '[[stage]]\nname = "other"\nkind = "pull-up"\nlines = ["B"]\npull_up = "10k"\n\n'
        '[[stage]]\nkind = "schmitt input"',
    )
    found = [each.subject for each in check_scenario(load_text(text)) if each.name == "charge time"]
    assert found == ["filter, line A", "other, line B"]


def test_a_hand_that_turns_nothing_has_nothing_to_be_measured_against() -> None:
    text = changed('gesture = "click"', 'gesture = "rest"')
    found = {each.name: each for each in check_scenario(load_text(text))}
    for name in ("charge time", "discharge time", "set-up of the direction"):
        assert found[name].verdict == NOT_APPLICABLE
        assert "turns nothing" in found[name].why


def test_a_level_that_is_never_reached_fails_and_says_so() -> None:
    found = {each.name: each for each in check_scenario(load_text(SMALL, ["supply.voltage=1.5 V"]))}
    assert found["high level"].verdict == FAIL
    assert found["charge time"].verdict == FAIL
    assert "never gets to the threshold" in found["charge time"].why
