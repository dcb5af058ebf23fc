"""What the report of a run says, in a terminal of any width; the pages have the same document."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.documents.rates import ROWS, VERDICT_MEANINGS, against, error_rows, rpm_text, spacing_text
from reports.documents.run import _limit_text, _margin_text, _met_text, headline, made_line, target_line
from reports.results.common import TargetRate
from reports.results.run import Margin, RunResult
from reports.words.numbers import estimate_text, interval_text, whole
from simcore.judging import sums
from tests.reports.running import KNOB
from tests.reports.samples import NO_DATA, changed, enlarged, ran, rate, text_of


@pytest.fixture(scope="module")
def result() -> RunResult:
    return ran()


def cells(text: str, label: str) -> list[str]:
    """The cells of the first row that begins with ``label``."""
    for line in text.splitlines():
        if line.startswith(label):
            return re.split(r"\s{2,}", line.strip())
    raise AssertionError(f"no row {label!r} in\n{text}")


def test_the_table_of_verdicts_says_what_the_result_says(result: RunResult) -> None:
    text = text_of(result)
    rows = {**dict(result.verdict_rates), "wrong ": result.wrong_rate, "spurious": result.spurious_rate}
    for verdict, shown in rows.items():
        count = {**result.verdicts.export, "wrong ": result.wrong, "spurious": result.spurious}[verdict]
        assert cells(text, verdict)[1:4] == [whole(count), estimate_text(shown), interval_text(shown)]
    assert set(VERDICT_MEANINGS) == {*sums.VERDICTS, "wrong", "spurious"}


def test_the_table_of_gestures_says_what_the_result_says(result: RunResult) -> None:
    section = text_of(result).partition("By gesture")[2]
    for group in result.by_gesture:
        counts = [whole(getattr(group.verdicts, verdict)) for verdict in ("right", "flickered", "missed")]
        row = cells(section, group.name)
        assert row[1:6] == [group.kind, whole(group.steps), *counts]
        assert row[-1] == interval_text(group.wrong_rate)


def test_the_table_of_spacings_leaves_out_classes_without_steps(result: RunResult) -> None:
    section = text_of(result).partition("How fast")[2].partition("Edges apart")[0]
    for group in result.by_spacing:
        lines = [line for line in section.splitlines() if line.startswith(spacing_text(group) + "  ")]
        assert len(lines) == (1 if group.steps else 0)
        if lines:
            assert whole(group.steps) in lines[0].split()
            assert interval_text(group.wrong_rate) in lines[0]


def test_causes_stand_in_order_with_their_sentences(result: RunResult) -> None:
    two = {"chatter": 7, "swallowed": 2}
    told = dict(zip(two, ("First.", "Second."), strict=True))
    section = text_of(changed(result, causes=two, cause_sentences=told, wrong=9)).partition("Why steps")[2]
    assert cells(section, "chatter") == ["chatter", "7", "77.8 %", "First."]
    assert cells(section, "swallowed") == ["swallowed", "2", "22.2 %", "Second."]


def test_no_wrong_step_is_said_with_an_upper_bound() -> None:
    clean = ran(KNOB, 40, "contacts.kind=clean")
    text = text_of(clean)
    assert clean.wrong == 0
    assert "No step went wrong." in text
    assert "Wrong steps: under " in text
    assert cells(text, "wrong ")[2].startswith("under ")
    assert not re.search(r"(?<![\d.,])0(\.0+)? %", text)


@pytest.mark.parametrize("width", [40, 60, 80, 120, 200])
@pytest.mark.parametrize("factor", [1, 10**5])
def test_no_line_is_wider_than_the_terminal(result: RunResult, width: int, factor: int) -> None:
    for line in text_of(enlarged(result, factor), width).splitlines():
        assert len(line) <= width
        assert line == line.rstrip()


@pytest.mark.parametrize("width", [80, 120])
def test_no_number_is_cut(result: RunResult, width: int) -> None:
    large = enlarged(result, 10**4)
    text = text_of(large, width)
    for group in large.by_gesture:
        assert interval_text(group.wrong_rate) in text
        assert whole(group.steps) in text


def test_without_a_finished_run_nothing_is_claimed(result: RunResult) -> None:
    none = changed(result, runs=0, steps=0, wrong=0, wrong_rate=NO_DATA)
    assert headline(none) == "Wrong steps: no data, for no step was simulated."
    assert "What became of the steps" not in text_of(none)


@pytest.mark.parametrize(
    ("shown", "words"),
    [
        ((0.001, 0.004, 0.009), "met; the whole confidence interval lies within it."),
        ((0.02, 0.03, 0.04), "missed; the whole confidence interval lies above it."),
        ((0.005, 0.02, 0.04), "undecided; the estimate lies above it"),
        ((0.0, 0.0, 0.04), "undecided; the estimate lies within it"),
    ],
)
def test_a_target_is_met_missed_or_undecided(
    result: RunResult, shown: tuple[float, float, float], words: str
) -> None:
    goal = {"rate": 0.01, "text": "1 in 100 steps", "met": shown[2] <= 0.01}
    told = target_line(changed(result, target=goal, wrong_rate=rate(*shown).export))
    assert told.startswith(f"Target (1 in 100 steps): {words}")


@pytest.mark.parametrize(
    ("low", "high", "word"), [(0.0, 0.01, "met"), (0.02, 0.03, "missed"), (0.005, 0.02, "undecided")]
)
def test_a_class_of_spacing_is_compared_with_the_target(low: float, high: float, word: str) -> None:
    goal = TargetRate(rate=0.01, text="1 %")
    assert against(rate(low, 0.5 * (low + high), high), goal) == word
    assert against(rate(0, 0, 0).model_copy(update={"low": None}), goal) == ""


def test_words_for_spacing_and_speed(result: RunResult) -> None:
    first, last = result.by_spacing[0], result.by_spacing[-1]
    twenty = next(group for group in result.by_spacing if group.low_ms == 10.0)
    assert (spacing_text(twenty), rpm_text(twenty)) == ("10 to 20", "38 to 75")
    assert (spacing_text(first), rpm_text(first)) == ("under 0.2", "over 3,800")
    assert (spacing_text(last), rpm_text(last)) == ("50 and over", "under 15")


@given(st.dictionaries(st.integers(-40, 40), st.integers(1, 1000), min_size=1))
def test_rows_of_final_errors_lose_no_run(errors: dict[int, int]) -> None:
    rows = error_rows(errors)
    assert sum(runs for _, runs in rows) == sum(errors.values())
    assert len(rows) <= ROWS
    assert [runs for label, runs in rows if label == "0"] in ([], [errors.get(0, 0)])


def test_far_errors_are_joined() -> None:
    assert error_rows({-9: 1, -5: 2, 0: 3, 1: 4}) == [
        ("-5 or less", 3), ("-4", 0), ("-3", 0), ("-2", 0), ("-1", 0), ("0", 3), ("+1", 4),
    ]  # fmt: skip


def test_excursions_are_told_only_if_there_are_any(result: RunResult) -> None:
    assert "On the way" not in text_of(changed(result, excursions=[5, *[0] * 8]))
    text = text_of(changed(result, excursions=[5, 3, *[0] * 6, 2]))
    assert "by 1 count in 3 steps, by 8 counts or more in 2 steps." in text


def test_runs_are_numbered_from_the_first(result: RunResult) -> None:
    numbered = {1: " (number 7), ", 2: " (numbers 7 to 8), ", 0: "0 runs, "}
    for runs, words in numbered.items():
        assert words in made_line(changed(result, first_run=7, runs=runs))


def test_margins_name_lines_and_say_what_is_met() -> None:
    text = text_of(ran(KNOB, 200, "counter.setup=1 us", "counter.minimum_low=1 s"), 120)
    section = text.partition("\nMargins\n")[2].partition("\n\n")[0]
    assert cells(section, "B steady before A falls")[-2:] == ["at least 1 us", "met"]
    assert cells(section, "A low  ")[-2:] == ["at least 1 s", "not met in 1,000 per 1,000"]
    assert cells(section, "edges of A and B apart")[-1] == "no limit stated"
    assert "at most 1.20 V" in cells(section, "A low level")
    assert "at least 1.90 V" in cells(section, "A high level")


def test_margins_that_do_not_apply_are_said_once_for_each_reason(result: RunResult) -> None:
    assert result.margins is not None
    margins = result.margins.export
    for each in margins["quantities"][:4]:
        each["why_not"] = "the counter has no clock line"
    section = text_of(changed(result, margins=margins)).partition("\nMargins\n")[2]
    words = "Not applicable: B steady before A falls, B steady after A falls, A low, A high; the counter has"
    assert section.count(words) == section.count("Not applicable: ") == 1
    assert "B steady before A falls  " not in section
    assert "Margins\nMargins were left out." in text_of(changed(result, margins=None))


def margin(**changes: Any) -> Margin:
    plain = Margin.model_construct(unit="s", worst_is="least", values=4000, worst=1e-3, asked=1e-6, missed=0)
    return plain.model_copy(update=changes)


def test_words_and_digits_of_margins() -> None:
    assert _met_text(margin()) == "met"
    assert _met_text(margin(asked=None)) == "no limit stated"
    assert _met_text(margin(values=0)) == "did not occur"
    assert _met_text(margin(missed=1)) == "not met in 0.25 per 1,000"
    assert _met_text(margin(missed=4000)) == "not met in 1,000 per 1,000"
    assert _met_text(margin(missed=49)) == "not met in 12 per 1,000"
    assert _limit_text(margin()) == "at least 1 us"
    assert _limit_text(margin(unit="V", worst_is="most", asked=1.2)) == "at most 1.20 V"
    assert _limit_text(margin(asked=None)) == "-"
    assert _margin_text(0.0012345, "s") == "1.23 ms"
    assert _margin_text(0.0, "s") == "0 s"
    assert _margin_text(-0.001, "V") == "0.00 V"
    assert _margin_text(-0.126, "V") == "-0.13 V"
