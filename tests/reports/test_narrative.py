"""Every sentence of a narrative against the closed forms and against the other engine's record."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, cast
from unittest import mock

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reports.evidence import Case, case_of
from reports.looking_words import looks_of
from reports.narrative import CHAINS, why
from reports.story import story_of
from reports.stray_words import dips, spurious_words
from reports.teller import (
    FALLING,
    INSTANT,
    LIMIT,
    NOISE,
    RISING,
    SPAN,
    VOLTS,
    Sentence,
    Stated,
    Teller,
)
from simcore.base.compiling import Kernel
from simcore.design import Design
from simcore.judging.sums import CAUSES
from simcore.tracing.tracing import trace_run
from simcore.tracing.worst import search
from tests.agreement.everything import everything
from tests.reports.by_hand import record_of, run_of, unit_of, volts_at
from tests.reports.traces import SCENARIOS, case, scenario_of, wrong_steps

QUANTITY = re.compile(r"(?<![\w.])-?\d[\d.]*(?:e-?\d+)? (?:[munp]?s|[mun]?V)\b")
SCALE = {"": 1.0, "m": 1e-3, "u": 1e-6, "n": 1e-9, "p": 1e-12}
OCCURRING = {
    "chatter", "swallowed", "late direction", "early direction", "swapped order", "misfit", "short pulse",
    "sliding", "end stop", "skipped state", "slow edge", "pick-up", "power-up", "supply dip",
}  # fmt: skip
"""Root causes that the scenarios of these tests bring about; "unexplained" has no example."""


def read(written: str) -> tuple[float, float]:
    """A quantity as written, and half of its last digit."""
    number, unit = written.split()
    scale = SCALE[unit[:-1]]
    places = len(number.partition(".")[2])
    digits = number.lstrip("-").replace(".", "").lstrip("0")
    # "2460 us" is never written, but "250 us" may stand for 250.4 us: three digits hold.
    last = max(10.0**-places, 10.0 ** (len(number.lstrip("-").partition(".")[0]) - 3) if digits else 0.0)
    return float(number) * scale, 0.5 * last * scale


def as_written(stated: Stated) -> None:
    """The text gives the value, to its last digit."""
    value, half = read(stated.written)
    assert value == pytest.approx(stated.value, abs=half * 1.001 + 6e-8 * (stated.what == INSTANT) + 1e-15)


def instants(stated: Stated) -> list[int]:
    """The ticks that a time speaks of."""
    return (
        [tick for tick in (stated.since, stated.tick) if tick >= 0] if stated.what in (INSTANT, SPAN) else []
    )


def known_ticks(name: str, told: Case, sentence: Sentence) -> set[int]:
    """Every tick of which a sentence may speak: the batch engine's, and what is no edge at all."""
    traced = told.traced
    known = set(run_of(name, traced.seed, traced.run).ticks) | {traced.end}
    known |= {tick for line in (0, 1) for dip in dips(traced, line) for tick in dip}
    looks = looks_of(told)
    if looks is not None and "looks" in sentence.text:
        period, phase = looks
        known |= {tick for each in sentence.stated for tick in instants(each) if (tick - phase) % period == 0}
    return known


def check_voltage(name: str, told: Case, stated: Stated) -> None:
    """A voltage or threshold by the exponential and the parts drawn by hand."""
    traced = told.traced
    unit = unit_of(name, traced.seed, traced.run, stated.line)
    if unit is None:
        return
    if stated.what == RISING:
        assert stated.value == pytest.approx(unit.rising, rel=1e-12)
    if stated.what == FALLING:
        assert stated.value == pytest.approx(unit.falling, rel=1e-12)
    if stated.what == VOLTS:
        by_hand = volts_at(name, traced.seed, traced.run, stated.line, stated.tick)
        assert stated.value == pytest.approx(by_hand, abs=1e-9)


def check_crossings(name: str, told: Case, sentence: Sentence) -> None:
    """Where a voltage is said to pass a threshold at an instant, it has that voltage there."""
    if unit_of(name, told.traced.seed, told.traced.run, 0) is None:
        return
    pairs = list(zip(sentence.stated, sentence.stated[1:], strict=False))
    for threshold, when in pairs:
        if " through " in sentence.text and threshold.what in (RISING, FALLING) and when.what == INSTANT:
            seed, run = told.traced.seed, told.traced.run
            by_hand = volts_at(name, seed, run, threshold.line, when.tick)
            assert by_hand == pytest.approx(threshold.value, abs=2e-6)


def check_shortfall(name: str, told: Case, sentence: Sentence) -> None:
    """A voltage that came "no further" did not, at a thousand instants by hand."""
    if "no further than to" not in sentence.text or "its voltage" not in sentence.text:
        return
    span, volts, _, threshold = sentence.stated
    seed, run = told.traced.seed, told.traced.run
    if unit_of(name, seed, run, volts.line) is None:
        return
    up = threshold.what == RISING
    step = max((span.tick - span.since) // 200, 1)
    for tick in range(span.since, span.tick, step):
        by_hand = volts_at(name, seed, run, volts.line, tick)
        assert by_hand is not None
        assert (by_hand <= volts.value + 1e-6) if up else (by_hand >= volts.value - 1e-6)
    assert (volts.value < threshold.value) if up else (volts.value > threshold.value)
    assert volts.written != threshold.written


def check(name: str, told: Case, sentence: Sentence, zero: int) -> None:
    """All that a sentence states."""
    assert QUANTITY.findall(sentence.text) == [stated.written for stated in sentence.stated]
    known = known_ticks(name, told, sentence)
    for stated in sentence.stated:
        as_written(stated)
        if stated.what == INSTANT:
            assert stated.value == pytest.approx((stated.tick - zero) * 1e-12, abs=1e-15)
        if stated.what == SPAN:
            assert 0 <= stated.since <= stated.tick
            assert stated.value == pytest.approx((stated.tick - stated.since) * 1e-12, abs=1e-15)
        if stated.what == LIMIT:
            assert stated.value > 0.0
        if stated.what == NOISE:
            assert stated.value == told.traced.lines[stated.line].node.noise  # type: ignore[union-attr]
        if "no further than to" not in sentence.text and "meanwhile" not in sentence.text:
            assert set(instants(stated)) <= known, (stated, sentence.text)
        check_voltage(name, told, stated)
    check_crossings(name, told, sentence)
    check_shortfall(name, told, sentence)


def sentences(told: Case) -> Iterator[Sentence]:
    """The chain of a wrong step."""
    yield from why(told, Teller(told.traced, told.step.start))


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(sorted(SCENARIOS)), st.integers(0, 4), st.integers(0, 10**6))
def test_every_time_and_voltage_of_random_wrong_steps_holds(name: str, seed: int, pick: int) -> None:
    wrong = wrong_steps(name, seed)
    if not wrong:
        return
    run, number, cause = wrong[pick % len(wrong)]
    told = case(name, seed, run, number)
    assert told.step.cause == cause
    chain = list(sentences(told))
    assert len(chain) >= 2
    for sentence in chain:
        check(name, told, sentence, told.step.start)
    expected, received = told.step.expected, told.step.received
    net = f"Net count {received:+d} where {expected:+d}".replace("+0", "0")
    assert chain[-1].text.startswith(net)


def test_every_root_cause_has_a_chain_and_nearly_all_are_told_and_checked() -> None:
    assert set(CHAINS) == set(CAUSES[1:])
    found: dict[str, tuple[str, int, int, int]] = {}
    for name in SCENARIOS:
        for seed in range(3):
            for run, number, cause in wrong_steps(name, seed):
                found.setdefault(cause, (name, seed, run, number))
    assert set(found) == OCCURRING
    for name, seed, run, number in found.values():
        told = case(name, seed, run, number)
        for sentence in sentences(told):
            check(name, told, sentence, told.step.start)


def plainly(kernel: Kernel, *arguments: Any) -> Any:
    """A kernel without compiling it."""
    return cast(Any, kernel).plain(*arguments)


def quiet(design: Design) -> bool:
    """Without noise on its inputs, which takes plain Python minutes; slow-edge has some above."""
    noises = [getattr(entry.item, "noise", None) for entry in design.stages]
    return all(noise is None or noise.rms == 0.0 for noise in noises)


@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(everything().filter(quiet), st.integers(0, 3))
def test_any_design_can_be_told_and_every_time_is_one_of_the_record(design: Design, run: int) -> None:
    """Of the other engine's record, and in plain Python, for each design would be compiled anew."""
    with mock.patch.object(Kernel, "__call__", plainly):
        traced = trace_run(design, 1, run)
        known = set(record_of(design, 1, run).ticks) | {traced.end}
        known |= {tick for line in (0, 1) for dip in dips(traced, line) for tick in dip}
        for step in [step for step in traced.steps if step.cause != "none"][:6]:
            told = case_of(design, traced, step.number)
            story = story_of(told)
            for sentence in story.why:
                assert QUANTITY.findall(sentence.text) == [each.written for each in sentence.stated]
                if not any(words in sentence.text for words in ("no further than", "meanwhile", "its looks")):
                    assert {tick for each in sentence.stated for tick in instants(each)} <= known
            assert len(story.contacts) == len(step.transitions)
            assert len(story.counter) == len(step.pulses)


def test_voltages_are_told_and_known_by_hand() -> None:
    """So that the check of random steps cannot pass for want of voltages."""
    kinds: set[str] = set()
    for run, number, _ in wrong_steps("capacitor-across-contact", 1)[:20]:
        told = case("capacitor-across-contact", 1, run, number)
        assert unit_of("capacitor-across-contact", 1, run, 0) is not None
        for sentence in sentences(told):
            check("capacitor-across-contact", told, sentence, told.step.start)
            kinds |= {stated.what for stated in sentence.stated}
    assert {VOLTS, RISING, INSTANT, SPAN} <= kinds


@pytest.mark.parametrize("name", ["supply-dips", "long-leads", "power-up"])
def test_counts_without_a_movement_are_told_by_what_is_behind_them(name: str) -> None:
    scenario = scenario_of(name)
    run = search(scenario.design, scenario.seed, 60).spurious
    assert run is not None
    told = case(name, scenario.seed, run, 1)
    said = spurious_words(told.traced, Teller(told.traced, 0))
    assert len(said) >= 2
    for sentence in said:
        check(name, told, sentence, 0)


def test_a_sentence_bears_all_that_it_states() -> None:
    tell = Teller(case("panel-knob", 1, 2, 1).traced, 0)
    later, sooner = tell.at(9_000_000), tell.at(2_000_000)
    assert [each.tick for each in tell.say(f"{sooner}, then {later}").stated] == [2_000_000, 9_000_000]
    tell.at(5_000_000)
    with pytest.raises(ValueError, match=r"'5\.00 us' is stated but not written"):
        tell.say("Nothing.")


def test_a_line_without_an_input_has_no_voltage_to_tell() -> None:
    told = case("no-filter", 1, 0, 1)
    with pytest.raises(ValueError, match="line A has no voltage"):
        Teller(told.traced, 0).volts(0, 0)


def test_a_step_that_was_counted_right_has_no_chain() -> None:
    told = case("panel-knob", 1, 2, 1)
    assert told.step.verdict == "right"
    assert list(sentences(told)) == []
