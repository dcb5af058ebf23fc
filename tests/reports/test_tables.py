"""What the report on the terminal says, and that it keeps to its width."""

from __future__ import annotations

import io
import pathlib
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reports.terminal.grid import Column, fitted
from reports.terminal.page import page
from reports.terminal.prose import headline, target_line
from reports.terminal.rates import against, rpm_text, spacing_text
from reports.terminal.runs import ROWS, error_rows, stray_line
from rich.console import Console

from reports.numbers import estimate_text, interval_text, whole
from tests.reports.samples import Export, enlarged, export_of

WIDE = 160


def drawn(export: Export, width: int = WIDE, *, colour: bool = False) -> str:
    console = Console(
        file=io.StringIO(),
        width=width,
        force_terminal=colour,
        color_system="truecolor" if colour else None,
        highlight=False,
        markup=False,
        emoji=False,
    )
    return page(export, console)


def row(text: str, label: str) -> list[str]:
    """The cells of the first row that begins with ``label``."""
    for line in text.splitlines():
        if line.startswith(label):
            return re.split(r"\s{2,}", line.strip())
    raise AssertionError(f"no row {label!r} in\n{text}")


@pytest.fixture
def export(folder: pathlib.Path) -> Export:
    return export_of(str(folder / "knob.toml"), 200)


def test_the_table_of_verdicts_says_what_the_export_says(export: Export) -> None:
    text = drawn(export)
    for verdict, count in export["verdicts"].items():
        rate = export["verdict_rates"][verdict]
        assert row(text, verdict)[1:4] == [whole(count), estimate_text(rate), interval_text(rate)]
    rate = export["wrong_rate"]
    assert row(text, "wrong ")[1:4] == [whole(export["wrong"]), estimate_text(rate), interval_text(rate)]


def test_the_table_of_gestures_says_what_the_export_says(export: Export) -> None:
    section = drawn(export).partition("By gesture")[2]
    for group in export["by_gesture"]:
        counts = [whole(group["verdicts"][verdict]) for verdict in ("right", "flickered", "missed")]
        cells = row(section, group["name"])
        assert cells[1] == group["kind"]
        assert cells[2:6] == [whole(group["steps"]), *counts]
        assert cells[-1] == interval_text(group["wrong_rate"])


def test_the_table_of_spacings_leaves_out_classes_without_steps(export: Export) -> None:
    section = drawn(export).partition("How fast")[2].partition("Edges apart")[0]
    for group in export["by_spacing"]:
        lines = [line for line in section.splitlines() if line.startswith(spacing_text(group) + "  ")]
        assert len(lines) == (1 if group["steps"] else 0)
        if lines:
            assert whole(group["steps"]) in lines[0].split()
            assert interval_text(group["wrong_rate"]) in lines[0]


def test_causes_stand_most_frequent_first_with_their_sentences(export: Export) -> None:
    export["causes"] = {"chatter": 7, "swallowed": 2}
    export["cause_sentences"] = {"chatter": "First.", "swallowed": "Second."}
    export["wrong"] = 9
    lines = drawn(export).partition("Why steps went wrong")[2].splitlines()
    assert lines[1].split() == ["7", "77.8", "%", "First."]
    assert lines[2].split() == ["2", "22.2", "%", "Second."]


def test_no_wrong_step_is_said_with_an_upper_bound(folder: pathlib.Path) -> None:
    export = export_of(str(folder / "knob.toml"), 40, "contacts.kind=clean")
    text = drawn(export)
    assert export["wrong"] == 0
    assert "No step went wrong." in text
    assert "Wrong steps: under " in text
    assert row(text, "wrong ")[2].startswith("under ")
    assert not re.search(r"(?<![\d.,])0(\.0+)? %", text)


@pytest.mark.parametrize("width", [60, 72, 80, 100, 120, 200])
@pytest.mark.parametrize("factor", [1, 10**5])
def test_no_line_is_wider_than_the_terminal(export: Export, width: int, factor: int) -> None:
    for line in drawn(enlarged(export, factor), width).splitlines():
        assert len(line) <= width
        assert line == line.rstrip()


@pytest.mark.parametrize("width", [80, 120])
def test_no_number_is_cut(export: Export, width: int) -> None:
    text = drawn(enlarged(export, 10**4), width)
    for group in enlarged(export, 10**4)["by_gesture"]:
        assert interval_text(group["wrong_rate"]) in text
        assert whole(group["steps"]) in text


def test_colour_changes_nothing_but_colour(export: Export) -> None:
    coloured = drawn(export, 80, colour=True)
    assert "\x1b[" in coloured
    bare = "\n".join(line.rstrip() for line in re.sub(r"\x1b\[[0-9;]*m", "", coloured).splitlines())
    assert bare == drawn(export, 80).rstrip("\n")


def test_a_title_is_text_and_not_markup(export: Export) -> None:
    export["title"] = "[bold]loud[/bold] :warning: [link=x]y[/link]"
    assert drawn(export).startswith(export["title"])


def test_an_interrupted_run_without_a_finished_block_claims_nothing(export: Export) -> None:
    export.update(runs=0, steps=0, wrong=0)
    export["wrong_rate"] = dict.fromkeys(("estimate", "low", "high")) | {"level": 0.95, "method": "no data"}
    assert headline(export) == "Wrong steps: no data, for no step was simulated."
    assert "What became of the steps" not in drawn(export)


def target(rate: float, low: float, estimate: float, high: float) -> str:
    wrong = {"low": low, "estimate": estimate, "high": high, "level": 0.95, "method": "by hand"}
    goal = {"rate": rate, "text": "1 in 100 steps", "met": high <= rate}
    return target_line({"target": goal, "wrong_rate": wrong})


def test_a_target_is_judged_in_words() -> None:
    assert target(0.01, 0.001, 0.004, 0.009).endswith("met; the whole interval lies within it.")
    assert target(0.01, 0.02, 0.03, 0.04).endswith("missed; the whole interval lies above it.")
    assert "missed; the estimate lies above it" in target(0.01, 0.005, 0.02, 0.04)
    assert "not shown to be met" in target(0.01, 0.0, 0.0, 0.04)


@pytest.mark.parametrize(
    ("low", "high", "word"), [(0.0, 0.01, "met"), (0.02, 0.03, "missed"), (0.005, 0.02, "open")]
)
def test_a_class_of_spacing_is_held_against_the_target(low: float, high: float, word: str) -> None:
    assert against({"estimate": 0.5 * (low + high), "low": low, "high": high}, 0.01) == word
    assert against({"estimate": None, "low": None, "high": None}, 0.01) == ""


def test_spacing_and_speed_of_even_turning(export: Export) -> None:
    """20 cycles a turn: 12.5 ms between edges at 60 rpm (arithmetic: 60 s / 60 / 80 edges)."""
    twenty = next(group for group in export["by_spacing"] if group["low_ms"] == 10.0)
    assert twenty["slowest_rpm"] < 60.0 < twenty["fastest_rpm"]
    assert twenty["fastest_rpm"] == pytest.approx(60.0 * 12.5 / 10.0)
    assert spacing_text(twenty) == "10 to 20"
    assert rpm_text(twenty) == "38 to 75"
    first, last = export["by_spacing"][0], export["by_spacing"][-1]
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


def test_excursions_are_told_only_if_there_are_any() -> None:
    assert stray_line({"excursions": [5, 0, 0, 0, 0, 0, 0, 0, 0]}) == ""
    assert "by 1 count in 3 steps, by 8 counts or more in 2 steps." in stray_line(
        {"excursions": [5, 3, 0, 0, 0, 0, 0, 0, 2]}
    )


def test_columns_of_one_rank_are_left_out_together() -> None:
    console = Console(file=io.StringIO(), width=20, color_system=None)
    columns = [
        Column("first", ["1"], side="left"),
        Column("second", ["2"], rank=1),
        Column("third", ["3"], rank=2),
        Column("fourth", ["4"], rank=2),
    ]
    assert [str(column.header) for column in fitted(columns, console).columns] == ["first", "second"]
    console.width = 40
    assert len(fitted(columns, console).columns) == 4
