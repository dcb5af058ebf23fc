"""A replayed trace in the terminal: rows, widths, what is left out."""

from __future__ import annotations

import pathlib

import pytest
from rich.console import Console

from reports.documents.replay import chosen, edges_line, pulse_rows, read_line, taken_line
from reports.render import terminal
from tests.reports.replays import recording, replayed, result

PASSES = ("--set", "filter.capacitor=100 pF")
SWALLOWS = ("--set", "filter.capacitor=10 uF")


def page(folder: pathlib.Path, text: str, *options: str, width: int = 100, limit: int = 40) -> str:
    console = Console(width=width, color_system=None, markup=False, highlight=False)
    return terminal.text(result(folder, text, *options).limited(limit).document(), console)


def table(text: str, title: str) -> list[list[str]]:
    """The rows of the table below a title, as words."""
    lines = text.partition(f"\n{title}\n")[2].splitlines()
    rule = next(i for i, line in enumerate(lines) if line and set(line) <= set("\u2500-"))
    rows = []
    for line in lines[rule + 1 :]:
        if not line:
            break
        rows.append(line.split())
    return rows


def test_every_pulse_stands_beside_its_bounce_free_count(folder: pathlib.Path) -> None:
    text = page(folder, recording(pairs_a=1, cycles=2), *PASSES)
    rows = table(text, "Pulse by pulse")
    assert [row[1:] for row in rows] == [
        ["+1", "17", "+1", "17", "1", "A", "closes", "doubled"],
        ["+1", "18", "1", "A", "closes"],
        ["-1", "17", "0", "3", "A", "opens", "extra"],
        ["+1", "18", "+1", "18", "5", "A", "closes", "doubled"],
        ["+1", "19", "5", "A", "closes"],
        ["-1", "18", "0", "7", "A", "opens", "extra"],
    ]
    assert [float(row[0]) for row in rows] == sorted(float(row[0]) for row in rows)
    totals = {" ".join(row[:-3]): row[-3:] for row in table(text, "Counted, and bounce-free")}
    assert totals == {
        "counts up": ["4", "2", "+2"],
        "counts down": ["2", "0", "+2"],
        "net": ["2", "2", "0"],
        "position at the end": ["18", "18", "0"],
    }


def test_a_missed_count_has_a_row_of_its_own(folder: pathlib.Path) -> None:
    text = page(folder, recording(cycles=2), *SWALLOWS)
    assert [row[1:] for row in table(text, "Pulse by pulse")] == [
        ["+1", "17", "+1", "17", "1", "A", "closes", "right"],
        ["none", "+1", "18", "5", "A", "closes", "missed"],
    ]
    assert "An edge was swallowed on its way" in text


def test_violations_are_named_and_explained(folder: pathlib.Path) -> None:
    text = "us,A,B\n0,1,1\n20000,0,0\n40000,1,1\n90000,1,1\n"
    shown = page(folder, text, *PASSES, "--set", "counter.setup=1 ms", "--set", "counter.hold=1 ms")
    assert table(shown, "Pulse by pulse")[0][-1] in ("hold", "set-up")
    assert "Violations: " in shown
    assert "direction changed within the" in shown


def test_the_bursts_are_listed_with_their_length(folder: pathlib.Path) -> None:
    rows = table(page(folder, recording(pairs_a=2, cycles=1)), "Bursts")
    assert rows == [
        ["1", "A", "closes", "20.000", "80", "us", "5"],
        ["2", "B", "closes", "30.000", "0", "1"],
        ["3", "A", "opens", "40.000", "80", "us", "5"],
        ["4", "B", "opens", "50.000", "0", "1"],
    ]


@pytest.mark.parametrize("width", [80, 120])
def test_the_report_keeps_to_the_width(folder: pathlib.Path, width: int) -> None:
    text = page(folder, recording(pairs_a=3, pairs_b=2, cycles=4), *PASSES, width=width)
    assert max(len(line) for line in text.splitlines()) <= width
    assert ("A closes" in text) == (width == 120) or "closes" in text
    assert "\x1b" not in text


def test_long_tables_leave_out_what_is_dull_and_then_the_rest(folder: pathlib.Path) -> None:
    clean = page(folder, recording(cycles=15), limit=5)
    assert "... 10 more rows (--limit 0 shows all)" in clean
    assert len(table(clean, "Pulse by pulse")) == 6
    stopped = page(folder, recording(cycles=20), limit=5)
    assert "15 pulses counted right are left out (--limit 0 shows all)" in stopped
    assert [row[-2:] for row in table(stopped, "Pulse by pulse")[:5]] == [["end", "stop"]] * 5
    noisy = page(folder, recording(pairs_a=1, cycles=20), limit=5)
    assert "40 clean transitions without bounce are left out; ... 35 more rows" in noisy
    everything = page(folder, recording(cycles=15), limit=0)
    assert len(table(everything, "Pulse by pulse")) == 15
    assert "more rows" not in everything


def test_rows_are_chosen_dull_ones_last() -> None:
    rows = list(range(10))
    assert chosen(rows, 10, lambda row: row < 8, "are") == (rows, "")
    assert chosen(rows, 0, lambda row: True, "are") == (rows, "")
    assert chosen(rows, 5, lambda row: row < 8, "dull are") == (
        [8, 9],
        "8 dull are left out (--limit 0 shows all)",
    )
    assert chosen(rows, 5, lambda row: True, "dull are") == (
        rows[:5],
        "... 5 more rows (--limit 0 shows all)",
    )
    kept, words = chosen(rows, 5, lambda row: row < 2, "dull are")
    assert (kept, words) == ([2, 3, 4, 5, 6], "2 dull are left out; ... 3 more rows (--limit 0 shows all)")


def test_the_lines_on_what_was_read(folder: pathlib.Path) -> None:
    found = result(folder, recording(pairs_a=1, cycles=1))
    read = found.trace.model_copy(update={"file": "knob\x1b[31m.csv"})
    assert read_line(read) == "knob?[31m.csv: 10 rows over 70 ms (recorded on change); changes: A 6, B 2."
    assert taken_line(found) == (
        "Columns: time 1 (time [us]), A 2, B 3; time in us (header); low is closed; settled after 1 ms; "
        "every part nominal."
    )
    assert edges_line(found, "A").startswith("Edges on A: 6 at the contact, 2 after filter into ")
    drawn = taken_line(result(folder, recording(), "--run", "2", "--unit", "5 us", "--seed", "3"))
    assert "time in 5 us (asked)" in drawn
    assert drawn.endswith("the parts of unit 2, seed 3.")


def test_times_are_those_of_the_recorder_unless_its_clock_is_far_off(folder: pathlib.Path) -> None:
    near = page(folder, recording(cycles=1, start=5_000_000))
    assert table(near, "Bursts")[0][3] == "5020.000"
    far = page(folder, recording(cycles=1, start=1_700_000_000_000_000))
    assert table(far, "Bursts")[0][3] == "20.000"
    assert "first row" in far


def test_all_pulses_have_a_row(folder: pathlib.Path) -> None:
    found = result(folder, recording(pairs_a=2, pairs_b=2, cycles=2), *PASSES)
    rows = pulse_rows(found)
    assert [row.time for row in rows] == sorted(pulse.time_s for pulse in found.pulses)
    assert sum(int(row.counted) for row in rows) == found.counted.net
    assert sum(int(row.bounce_free or 0) for row in rows) == found.bounce_free.net


def test_a_trace_without_a_change_has_no_tables(folder: pathlib.Path) -> None:
    text = page(folder, "ms,A,B\n0,1,1\n90,1,1\n")
    assert "Pulse by pulse" not in text
    assert "Bursts" not in text
    assert "Limitations" in text


def test_colour_stays_out_of_a_pipe(folder: pathlib.Path) -> None:
    assert "\x1b" not in replayed(folder, recording()).stdout
