"""The report of a sweep in the terminal: widths, bars, grids, tables."""

from __future__ import annotations

import io
import itertools
import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reports.sweep_words import BRIEF
from reports.terminal.sweep import page
from reports.terminal.window import MARKS, WIDEST_VALUE, borders, ticks, window_section
from rich.console import Console

from tests.reports.sweeps import TARGET, one_key, told, two_keys
from tests.reports.test_sweep_words import BAD, GOOD, Export, swept


def printed(export: Export, width: int, encoding: str = "utf-8") -> list[str]:
    class Sink(io.StringIO):
        @property
        def encoding(self) -> str:  # type: ignore[override]
            return encoding

    return page(export, Console(file=Sink(), width=width, color_system=None)).splitlines()


@pytest.mark.parametrize("width", [60, 80, 100, 120, 200])
@pytest.mark.parametrize("made", [one_key, two_keys])
def test_the_report_keeps_to_its_width(made: Any, width: int) -> None:
    for target in (TARGET, ""):
        lines = printed(made(target), width)
        assert max(map(len, lines)) <= width
        assert not any("…" in line for line in lines)


@pytest.mark.parametrize("width", [80, 120])
def test_each_bar_shows_how_each_value_stands(width: int) -> None:
    export = one_key()
    lines = printed(export, width)
    for window in export["window"]:
        name = window["gesture"] or "all steps"
        bar = next(line for line in lines if line.startswith(f"{name} ") and "·" in line)
        shown = [mark for mark in bar[len("all steps") :].split(" ") if mark]
        assert [part[0] for part in shown] == [MARKS[standing] for standing in window["standings"]]
        assert all(len(set(part)) == 1 for part in shown)


def test_an_output_that_knows_ascii_only_gets_ascii_only() -> None:
    assert all(line.isascii() for line in printed(one_key(), 80, "ascii"))
    assert any("###" in line for line in printed(one_key(), 80, "ascii"))


def test_many_values_have_sentences_but_no_bar() -> None:
    """A hundred values do not fit into 80 columns."""
    export = swept([(f"{i} nF", "yes", {}, GOOD) for i in range(100)])
    wide = Console(width=120, color_system=None)
    narrow = Console(width=80, color_system=None)
    rule = {"window_rule": "by hand"}
    assert len(list(window_section(export | rule, wide))) > len(list(window_section(export | rule, narrow)))


@settings(deadline=None)
@given(st.lists(st.text("0123456789 nF", min_size=1, max_size=8), min_size=1, max_size=30), st.integers(1, 9))
def test_ticks_stand_where_their_bars_begin_and_never_touch(values: list[str], width: int) -> None:
    values = [" ".join(value.split()) or "0" for value in values]
    line = ticks(values, width)
    assert len(line) <= max(len(values) * width, len(values[0]))
    found = list(re.finditer(r"\S+(?: \S+)*", line))
    for match in found:
        assert match.start() % width == 0
        assert values[match.start() // width] == match.group()
    assert all(after.start() - before.end() >= 2 for before, after in itertools.pairwise(found))


@settings(deadline=None)
@given(st.text("#.?", min_size=1, max_size=20), st.integers(1, 7), st.sampled_from(sorted(BRIEF)))
def test_what_binds_stands_at_its_border(row: str, width: int, cause: str) -> None:
    meets = {"#": "yes", ".": "no", "?": "undecided"}
    rows = [(f"{i} nF", meets[sign], {cause: 5}, BAD) for i, sign in enumerate(row)]
    export = swept(rows)
    window, values = export["window"][0], [value for value, *_ in rows]
    lines = borders(window, values, width)
    room = len(values) * width
    if window["from"] is None:
        assert "".join(lines).count("^") == 1
        return
    text = BRIEF[cause]
    assert len(lines) <= 2
    for side, edge in (("below", 1), ("above", 0)):
        outside = window[side]["outside"]
        if outside is not None:
            place = (values.index(outside) + edge) * width
            found = [line for line in lines if text in line]
            assert found
            if edge and place >= len(text):
                assert any(line[place - len(text) : place] == text for line in found)
            if not edge and place + len(text) <= room:
                assert any(line[place : place + len(text)] == text for line in found)


def test_a_grid_has_every_cell_with_its_mark() -> None:
    export = two_keys()
    lines = printed(export, 80)
    start = next(
        i for i, line in enumerate(lines) if line.startswith("Wrong steps per 1,000: filter.capacitor down")
    )
    heads = lines[start + 1].split("ohm")
    assert len(heads) == 4
    marks = {"yes": "*", "undecided": "?", "no": ""}
    for value in export["axes"][0]["values"]:
        row = next(line for line in lines[start + 3 :] if line.strip().startswith(f"{value} "))
        cells = [each for each in export["cells"] if each["values"]["filter.capacitor"] == value]
        shown = row.strip().removeprefix(value).split()
        assert [text[-1] if text[-1] in "*?" else "" for text in shown] == [
            marks[each["meets_target"]] for each in cells
        ]


def test_a_grid_that_is_too_wide_is_cut_into_parts_with_all_columns() -> None:
    export = told(
        "panel-knob",
        "--vary",
        "filter.capacitor=47n, 100n",
        "--vary",
        "filter.series=100R..10k:E12",
        "--runs",
        "20",
    )
    lines = printed(export, 80)
    assert max(map(len, lines)) <= 80
    flat = " ".join(lines)
    for value in export["axes"][1]["values"]:
        assert value in flat


def test_three_keys_give_one_table() -> None:
    export = told(
        "panel-knob", "--vary", "filter.capacitor=47n, 220n", "--vary", "filter.series=1k, 2k2",
        "--vary", "supply.voltage=3V3, 5 V", "--runs", "60",
    )  # fmt: skip
    lines = printed(export, 120)
    assert not any("down," in line for line in lines)
    rows = [line for line in lines if "nF" in line and "kohm" in line and " V " in line and ":" not in line]
    assert len(rows) == len(list(itertools.product("12", "12", "12")))


def test_a_bar_of_few_values_names_each() -> None:
    """Where the terminal has room, the last value has its name as well as the first."""
    values = ["100 nF", "220 nF", "470 nF", "4.7 kohm"]
    assert ticks(values, WIDEST_VALUE).split("  ") == ["100 nF", "", "220 nF", "", "470 nF", "", "4.7 kohm"]
