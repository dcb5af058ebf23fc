"""``steptally replay``: what it counts, its options, its JSON and its errors."""

from __future__ import annotations

import json
import pathlib
from typing import Any

import pytest

from reports.results.replay import ReplayResult
from tests.reports.replays import PITCH, QUARTER, exported, recording, replayed
from tests.reports.running import steptally


def test_a_clean_trace_is_counted_right(folder: pathlib.Path) -> None:
    export = exported(folder, recording(cycles=3))
    assert export["verdict"] == (
        "All 3 bounce-free counts were counted right. Net +3, bounce-free +3; the counter ends at 19, "
        "as expected."
    )
    assert export["counted"] == export["bounce_free"]
    assert export["verdicts"]["right"] == 3
    assert [pulse["burst"] for pulse in export["pulses"]] == [1, 5, 9]
    assert [pulse["time_s"] for pulse in export["bounce_free_pulses"]] == [0.02, 0.06, 0.1]
    assert export["trace"]["changes"] == {"A": 6, "B": 6}
    assert export["causes"] == {}


def test_chatter_that_passes_is_told_burst_by_burst(folder: pathlib.Path) -> None:
    export = exported(folder, recording(pairs_a=2, cycles=2), "--set", "filter.capacitor=100 pF")
    assert [count["counted"] for count in export["counts"]] == [3, -2, 3, -2]
    assert [count["bounce_free"] for count in export["counts"]] == [1, 0, 1, 0]
    assert [count["verdict"] for count in export["counts"]] == ["doubled", "extra"] * 2
    assert export["causes"] == {"chatter": 4}
    assert export["bursts"][0]["changes"] == 5
    assert export["bursts"][0]["length_s"] == pytest.approx(4e-6 * PITCH)
    assert export["counted"]["net"] == 2
    assert "2 bursts where no count was expected gave counts, -4 in sum." in export["verdict"]


def test_the_filter_swallows_the_same_chatter(folder: pathlib.Path) -> None:
    export = exported(folder, recording(pairs_a=2, pairs_b=1), "--set", "filter.capacitor=100 nF")
    assert export["verdicts"]["right"] == 3
    assert [[step["edges"] for step in export["lines"][line]] for line in "AB"] == [[30, 6], [18, 6]]


def test_the_level_of_a_closed_contact_may_be_high(folder: pathlib.Path) -> None:
    """The same trace the other way up: each cycle begins with A opening, and B still leads nothing."""
    turned = recording().replace(",1", ",x").replace(",0", ",1").replace(",x", ",0")
    low, high = exported(folder, recording()), exported(folder, turned, "--closed", "high")
    assert high["trace"]["closed"] == "high"
    assert high["pulses"] == low["pulses"]
    assert exported(folder, turned)["bursts"][0]["does"] == "A opens"


def test_the_settling_time_decides_what_is_one_burst(folder: pathlib.Path) -> None:
    text = recording(pairs_a=1, cycles=1)
    assert len(exported(folder, text)["bursts"]) == 4
    fine = exported(folder, text, "--settle", f"{PITCH} us")
    assert [burst["line"] for burst in fine["bursts"]] == ["A"] * 3 + ["B"] + ["A"] * 3 + ["B"]
    assert fine["bounce_free"]["up"] == 2
    coarse = exported(folder, text, "--settle", f"{2 * QUARTER + 1} us")
    assert [burst["transition"] for burst in coarse["bursts"]] == [False, False]
    assert coarse["bounce_free"]["up"] == 0


def test_a_drawn_unit_differs_and_is_drawn_again_alike(folder: pathlib.Path) -> None:
    knob = folder / "knob.toml"
    text = knob.read_text(encoding="utf-8").replace(
        'capacitor = "47 nF"', 'capacitor = "47 nF"\ntolerance = { capacitor = "20 %" }'
    )
    knob.write_text(text, encoding="utf-8")
    nominal, third, again, fourth, seeded = (
        exported(folder, recording(), *options)
        for options in ((), ("--run", "3"), ("--run", "3"), ("--run", "4"), ("--run", "3", "--seed", "8"))
    )
    times = [[pulse["time_s"] for pulse in export["pulses"]] for export in (nominal, third, fourth, seeded)]
    assert len({tuple(each) for each in times}) == 4
    assert third == again
    assert (nominal["parts"], nominal["run"]) == ("nominal", None)
    assert (third["parts"], third["run"], third["seed"]) == ("drawn", 3, 7)
    assert seeded["seed"] == 8


def test_volts_columns_and_units_reach_the_reader(folder: pathlib.Path) -> None:
    text = "n;B;t;A\n1;3,3;0;3,2\n2;3,3;20;0,1\n3;0,1;30;0,2\n4;0,1;40;3,2\n5;3,3;50;3,2\n6;3,3;80;3,2\n"
    export = exported(folder, text, "--unit", "ms", "--columns", "t,A,B", "--threshold", "1.9 V,1.2 V")
    trace = export["trace"]
    assert [column["number"] for column in trace["columns"]] == [3, 4, 2]
    assert trace["threshold"] == {"rising": 1.9, "falling": 1.2}
    assert trace["volts"] == {"A": {"low": 0.1, "high": 3.2}, "B": {"low": 0.1, "high": 3.3}}
    assert (trace["unit_s"], trace["unit_from"], trace["columns_from"]) == (0.001, "asked", "asked")
    assert export["counted"]["net"] == 1


def cautions(folder: pathlib.Path, text: str, *options: str) -> str:
    return "\n".join(exported(folder, text, *options)["cautions"])


def test_limitations_are_said_where_they_hold(folder: pathlib.Path) -> None:
    plain = cautions(folder, recording())
    for words in (
        "same instant",
        "--unit us",
        "sampled",
        "never changes",
        "depends on --settle",
        "begin within",
    ):
        assert words not in plain
    bare = recording().partition("\n")[2]
    assert "whole numbers without a unit" in cautions(folder, bare, "--settle", "100 s")
    assert "4 columns and no names" in cautions(folder, bare.replace("\n", ",0\n"), "--settle", "100 s")
    together = "ms,A,B\n0,1,1\n20,0,0\n40,1,1\n90,1,1\n"
    assert "at the same instant 2 times, first 20 ms after" in cautions(folder, together)
    sampled = "ms,A,B\n" + "".join(f"{k},{int(not 20 <= k < 40)},1\n" for k in range(80))
    assert "sampled, up to 1 ms apart" in cautions(folder, sampled)
    assert "Line B never changes." in cautions(folder, sampled)
    volts = sampled.replace("1\n", "3.3\n")
    assert "Line B never changes: it stays between 3.3 V and 3.3 V." in cautions(
        folder, volts, "--threshold", "0.5 V"
    )
    assert "the longest time without a change inside a burst is 20 us" in cautions(
        folder, recording(1), "--settle", "30 us"
    )
    assert "before the line has settled" in cautions(folder, "ms,A,B\n0,1,1\n0.1,0,1\n9,0,1\n")
    assert "ends before every line has settled" in cautions(folder, "ms,A,B\n0,1,1\n9,0,1\n9.1,0,1\n")


def test_a_plain_input_switches_halfway_and_that_is_said(folder: pathlib.Path) -> None:
    knob = folder / "knob.toml"
    text = knob.read_text(encoding="utf-8")
    plain = (
        text.replace('"schmitt input"', '"plain input"')
        .replace("rising = ", "high = ")
        .replace("falling =", "low =")
    )
    knob.write_text(plain, encoding="utf-8")
    assert "halfway between" in cautions(folder, recording())
    assert "halfway between" not in cautions(folder, recording(), "--run", "0")


DUMP = """$timescale 10 us $end
$scope module knob $end
$var wire 1 ! A $end
$var wire 1 % B $end
$upscope $end
$scope module spare $end
$var wire 1 & A $end
$upscope $end
$enddefinitions $end
#0 1! 1% 1& #2000 0! #4000 0% #6000 1!
#6100 $dumpoff x! x% x& $end #6150 $dumpon 1! 0% 1& $end
#8000 1% #12000
"""


def test_a_value_change_dump_is_replayed(folder: pathlib.Path) -> None:
    """IEEE Std 1364-2005, 18.2: entries may share a line."""
    export = exported(folder, DUMP)
    trace = export["trace"]
    assert (trace["format"], trace["unit_s"], trace["columns_from"]) == ("value change dump", 1.0e-5, "named")
    assert [(each["role"], each["number"], each["name"]) for each in trace["columns"]] == [
        ("A", 1, "knob.A"), ("B", 2, "knob.B"),
    ]  # fmt: skip
    assert (trace["pauses"], trace["paused_s"], trace["width"], trace["duration_s"]) == (1, 0.0005, 3, 0.12)
    assert export["counted"]["net"] == export["bounce_free"]["net"] == 1
    assert "pauses once ($dumpoff), 500 us in all" in "\n".join(export["cautions"])
    page = " ".join(replayed(folder, DUMP).stdout.split())
    assert "8 times over 120 ms (recorded on change); changes: A 2, B 2." in page
    assert "Variables: A 1 (knob.A), B 2 (knob.B); time in 10 us (header);" in page


def test_mistakes_in_a_value_change_dump_are_one_message(folder: pathlib.Path) -> None:
    for options, words in (
        (("--columns", "knob.A,nob.B"), 'got --columns "nob.B"; did you mean "knob.B"?'),
        (("--threshold", "1.5 V"), "got variables of reals: none"),
    ):
        done = replayed(folder, DUMP, *options)
        assert (done.exit_code, done.stdout) == (2, "")
        assert words in done.stderr
    done = replayed(folder, DUMP[:-8])
    assert (done.exit_code, done.stdout) == (2, "")
    assert "so it was cut off" in done.stderr


@pytest.mark.parametrize(
    ("text", "verdict"),
    [
        ("ms,A,B\n0,1,1\n90,1,1\n", "Neither line changes, so there is nothing to count."),
        (
            "ms,A,B\n0,1,1\n20,1,0\n90,1,0\n",
            "There is nothing to count in this recording, and nothing was counted.",
        ),
        (recording(cycles=1), "The one bounce-free count was counted right. Net +1, bounce-free +1;"),
    ],
)
def test_small_traces_have_their_own_words(folder: pathlib.Path, text: str, verdict: str) -> None:
    assert exported(folder, text)["verdict"].startswith(verdict)


def test_the_report_and_the_json_file_agree(folder: pathlib.Path) -> None:
    done = replayed(folder, recording(2), "--json", str(folder / "out.json"))
    assert done.exit_code == 0
    text = (folder / "out.json").read_text(encoding="utf-8")
    assert ReplayResult.model_validate_json(text).json() == text
    export: dict[str, Any] = json.loads(text)
    assert export["verdict"] in " ".join(done.stdout.split())
    quiet = replayed(folder, recording(2), "--quiet")
    assert " ".join(quiet.stdout.split()) == export["verdict"]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--settle", "3"), "Error: --settle: the unit is missing"),
        (
            ("--settle", "0 s"),
            'Error: --settle: expected a settling time between 1 ps and 46 days, got "0 s"',
        ),
        (("--settle", "2 V"), 'Error: --settle: "V" is not a unit of time'),
        (
            ("--unit", "uss"),
            'Error: --unit: expected a unit of time, s, ms, us, ns or ps, got "uss"; did you mean "us"?',
        ),
        (("--threshold", "1 V,2 V"), "Error: --threshold: expected the rising threshold first"),
        (("--columns", "1,2"), "expected three names or numbers, for time, A and B"),
        (("--closed", "shut"), 'Error: --closed: expected low or high, got "shut"'),
        (("--run", "-1"), "Error: --run: expected a whole number from 0 to"),
        (("--limit", "-1"), "Error: --limit: expected a whole number from 0 to"),
        (("--set", "filter.capacitr=1 nF"), 'did you mean "capacitor"?'),
        (("--json", "no/such/file"), "no/such/file: cannot be written"),
    ],
)
def test_every_mistake_is_one_message_and_exit_code_2(
    folder: pathlib.Path, options: tuple[str, ...], words: str
) -> None:
    done = replayed(folder, recording(), *options)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert words in done.stderr
    assert "Traceback" not in done.stderr


def test_a_process_reads_reports_and_fails_alike(folder: pathlib.Path) -> None:
    (folder / "trace.csv").write_text(recording(1), encoding="utf-8")
    done = steptally(folder, "replay", "trace.csv", "knob.toml")
    assert done.returncode == 0
    assert not [line for line in done.stderr.splitlines() if not line.startswith("First use on this machine")]
    assert done.stdout.startswith("Volume knob [bold]in brackets[/bold]\ntrace.csv: ")
    for arguments, words in (
        (("none.csv", "knob.toml"), "Error: none.csv: cannot be read: No such file or directory\n"),
        (("trace.csv", "none.toml"), "none.toml"),
        (("knob.toml", "trace.csv"), "comes before the scenario: steptally replay trace.csv knob.toml\n"),
        (("panel-knob", "trace.csv"), "comes before the scenario: steptally replay trace.csv panel-knob\n"),
        (("knob.toml", "knob.toml"), "Error: knob.toml: "),
    ):
        failed = steptally(folder, "replay", *arguments)
        assert (failed.returncode, failed.stdout) == (2, "")
        assert words in failed.stderr
        assert "Traceback" not in failed.stderr
