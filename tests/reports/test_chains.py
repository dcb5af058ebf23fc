"""What single wrong steps are told: the cause that made the counts, in order, in words that fit."""

from __future__ import annotations

import pytest

from reports.evidence import case_of
from reports.narrative import why
from reports.stray_words import spurious_words
from reports.teller import Teller, instant_text, telling_digits, volts_text
from scenarios.loading.load import load_scenario
from simcore.tracing.tracing import trace_run


def chain_of(name: str, run: int, step: int) -> str:
    """Why a step of a ready scenario went wrong, in one piece."""
    scenario = load_scenario(name)
    told = case_of(scenario.design, trace_run(scenario.design, scenario.seed, run), step)
    return " ".join(said.text for said in why(told, Teller(told.traced, told.step.start)))


def test_of_two_counts_the_wrong_way_each_is_told_with_its_own_clock_edge() -> None:
    text = chain_of("capacitor-across-contact", 1659, 13)
    assert "By the clock edge at 0.08 us contact B had been open for 1.62 ms, but B still stood low" in text
    assert "By the clock edge at 5.342 ms contact B had been open for 472 us, but B still stood low" in text


def test_of_chatter_only_that_is_told_which_made_the_counts() -> None:
    """B chattered as well, after the last count, and on a line that clocks nothing."""
    text = chain_of("hesitant-turn", 2296, 19)
    assert "So the counter saw 9 edges of A instead of one" in text
    assert "each time up" in text
    assert " of B" not in text


def test_a_one_shot_owes_two_edges_and_not_one() -> None:
    text = chain_of("one-shot", 47, 1)
    assert "'timer' passed on 2 of the 3 changes of the contact. So the counter saw 2 edges of A for" in text
    assert "instead of one" not in text
    assert " of B" not in text


def test_what_fell_between_two_looks_is_that_of_the_step_itself() -> None:
    """Its edges end at 1.889 ms: what a look at 4.3 ms missed is not its business."""
    text = chain_of("slow-clock", 2474, 13)
    assert text.startswith("From 761.5 us to 1.889 ms 13 edges fell between two looks of the decoder")
    assert "to the next one, at 1.943 ms, only A had changed." in text
    assert text.count(" looks ") == 2


def test_of_swapped_edges_only_the_pair_that_made_the_count_is_told() -> None:
    text = chain_of("large-capacitor", 9, 11)
    assert text.count("reached the counter first") == 1
    assert "B did not reach 1.67 V until 577 us later, at 1.138 ms, 3.57 ms after its contact moved." in text


def test_a_count_the_wrong_way_is_told_with_its_doubt_whatever_the_root_cause() -> None:
    """The root cause is a swallowed edge of B, after the count; the count itself met a changing B."""
    text = chain_of("interlock", 491, 17)
    assert "No edge of B for this reached the counter." in text
    assert "only 20 ns before A's clock edge at 5.486 ms; the counter needs 1 us (set-up)." in text


def test_a_sliding_contact_that_made_no_count_is_told_beside_what_did() -> None:
    """B slid 63 ms after the last count; chatter of A made the counts."""
    text = chain_of("tired-and-slow", 604, 4)
    assert "While it slid on its pad, contact B opened at 68.508 ms" in text
    assert "So the counter saw 5 edges of A instead of one" in text
    assert "contact A opened at" not in text


def test_a_slide_takes_the_voltage_where_an_open_contact_does() -> None:
    """A was high already, by its chatter, when it slid; opening could not let its voltage fall."""
    text = chain_of("tired-and-slow", 185, 8)
    assert "contact A opened at 36.257 ms for 178 us. A was high by then, at 1.95 V." in text
    text = chain_of("tired-and-slow", 386, 4)
    assert "opened at 9.788 ms for 727 us. A's voltage rose to 1.64 V meanwhile; its threshold lies" in text


def test_an_input_with_one_threshold_has_one() -> None:
    assert "passed its threshold of 1.78 V 5 times" in chain_of("plain-input", 8, 1)
    assert "; about the threshold of 2.081 V, the input turned over 3 times." in chain_of("slow-edge", 3, 1)


def test_one_of_a_kind_is_told_as_one() -> None:
    assert "1 more edge came to the counter" in chain_of("supply-dips", 955, 3)
    scenario = load_scenario("power-up")
    told = spurious_words(*(lambda traced: (traced, Teller(traced, 0)))(trace_run(scenario.design, 1, 0)))
    assert told[0].text.startswith("No movement caused this count: +1 at 339.9 us")


def test_a_short_pulse_and_an_end_stop_are_told_by_what_came_of_them() -> None:
    short = chain_of("capacitor-across-contact", 1249, 11)
    assert "where the counter needs 1 us: it took no notice of the clock edge at 0.06 us." in short
    stop = chain_of("no-filter", 1774, 13)
    assert "while it stood at 99; its highest position is 99, so there it stayed." in stop


@pytest.mark.parametrize(
    ("volts", "digits", "text"),
    [
        (1.6, 3, "1.60 V"), (1.0, 3, "1.00 V"), (3.3, 3, "3.30 V"), (0.5454, 3, "545 mV"),
        (0.022, 3, "22.0 mV"), (0.0, 3, "0 V"), (9.0e-7, 3, "0 V"), (-1.2, 3, "-1.20 V"),
        (1.6049, 4, "1.605 V"), (12.0, 4, "12.00 V"),
    ],
)  # fmt: skip
def test_voltages_keep_their_digits(volts: float, digits: int, text: str) -> None:
    assert volts_text(volts, digits) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.0, "0 us"), (4.0e-9, "0 us"), (-6.5e-8, "-0.07 us"), (1.5e-7, "0.15 us"), (9.994e-6, "9.99 us"),
        (9.996e-6, "10.0 us"), (5.853e-4, "585.3 us"), (9.9996e-4, "1.000 ms"), (3.5499e-3, "3.550 ms"),
        (1.4, "1.400000 s"),
    ],
)  # fmt: skip
def test_instants_are_finer_near_zero(seconds: float, text: str) -> None:
    assert instant_text(seconds) == text


def test_digits_tell_a_voltage_from_its_threshold() -> None:
    assert telling_digits(1.53, 1.61) == 3
    assert telling_digits(1.1102, 1.1098) == 5
    assert telling_digits(1.5, 1.5) == 3
