"""Recorded traces of many habits, and every mistake that one can hold."""

from __future__ import annotations

import os
import pathlib
import tempfile
import threading

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenarios.quantities import QuantityError
from scenarios.traces.reading import contact_edges, read_threshold, read_trace, read_unit
from scenarios.traces.record import FIXED_RATE, ON_CHANGE, UNEVEN, Trace
from scenarios.traces.rows import Threshold

MS = 10**9
US = 10**6
S = 10**12


def written(folder: pathlib.Path, text: str | bytes, name: str = "trace.csv") -> str:
    path = folder / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return str(path)


def read(
    folder: pathlib.Path,
    text: str | bytes,
    columns: str | None = None,
    unit: int | None = None,
    threshold: Threshold | None = None,
) -> Trace:
    return read_trace(written(folder, text), columns=columns, unit=unit, threshold=threshold)


def lists(trace: Trace) -> tuple[tuple[int, int], list[int], list[int]]:
    return trace.first, trace.times[0].tolist(), trace.times[1].tolist()


CYCLE = ((1, 1), [1 * MS, 3 * MS], [2 * MS, 4 * MS])
"""What every file in FORMS holds."""

FORMS = {
    "bare": "0,1,1\n0.001,0,1\n0.002,0,0\n0.003,1,0\n0.004,1,1\n",
    "header with unit": "time [ms],A,B\n0,1,1\n1,0,1\n2,0,0\n3,1,0\n4,1,1\n",
    "unit after an underscore, B first": "b;time_us;a\n1;0;1\n1;1000;0\n0;2000;0\n0;3000;1\n1;4000;1\n",
    "semicolons and decimal commas": "t;A;B\n0,000;1;1\n0,001;0;1\n0,002;0;0\n0,003;1;0\n0,004;1;1\n",
    "tabs": "Time\tA\tB\n0\t1\t1\n1e-3\t0\t1\n2e-3\t0\t0\n3E-3\t1\t0\n.004\t1\t1\n",
    "tabs and decimal commas": "0,0\t1\t1\n0,001\t0\t1\n0,002\t0\t0\n0,003\t1\t0\n0,004\t1\t1\n",
    "blanks of any number": "   0  1 1\n0.001 0   1\n0.002 0 0\n0.003   1 0\n0.004 1 1  \n",
    "blanks and decimal commas": "0,000 1 1\n0,001 0 1\n0,002 0 0\n0,003 1 0\n0,004 1 1\n",
    "comma and blank": "0, 1, 1\n0.001, 0, 1\n0.002, 0, 0\n0.003, 1, 0\n0.004, 1, 1\n",
    "quotes": '"Time","A","B"\n"0","1","1"\n"0.001","0","1"\n'
    '"0.002","0","0"\n"0.003","1","0"\n"0.004","1","1"\n',
    "quoted decimal commas": '"0,000","1","1"\n"0,001","0","1"\n"0,002","0","0"\n'
    '"0,003","1","0"\n"0,004","1","1"\n',
    "comments, empty lines, no last end of line": "# a\n% b\n\n// c\n0,1,1\n# d\n"
    "0.001,0,1\n0.002,0,0\n0.003,1,0\n\n0.004,1,1",
    "other ends of line": "ms,A,B\r\n0,1,1\r\n1,0,1\r\n2,0,0\r\n3,1,0\r\n4,1,1\r\n",
    "settings above": "Maker,\nDate,2024,10,3\nSecond,Volt,Volt\n0,1,1\n"
    ".001,0,1\n.002,0,0\n.003,1,0\n.004,1,1\n",
    "unit in a row of its own": "Time,A,B\n(us),(V),(V)\n0,1,1\n1000,0,1\n2000,0,0\n3000,1,0\n4000,1,1\n",
    "extra columns": "n,Time,Channel A,note,Channel B\n1,0,1,x,1\n2,.001,0,y,1\n"
    "3,.002,0,z,0\n4,.003,1,,0\n5,.004,1,,1\n",
    "level as decimals": "0,1.0,1.0\n0.001,0.0,1.0\n0.002,0.0,0.00\n0.003,1,0\n0.004,1,1\n",
    "samples": "time [ms];A;B\n"
    + "".join(f"{k / 4};{int(not 4 <= k < 12)};{int(not 8 <= k < 16)}\n" for k in range(40)),
}


@pytest.mark.parametrize("form", FORMS)
def test_the_same_trace_in_many_forms(tmp_path: pathlib.Path, form: str) -> None:
    assert lists(read(tmp_path, FORMS[form])) == CYCLE


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "latin-1"])
def test_the_micro_sign_in_every_common_encoding(tmp_path: pathlib.Path, encoding: str) -> None:
    mark = "\ufeff" if encoding == "utf-16-be" else ""
    trace = read(tmp_path, f"{mark}time [\u00b5s],A,B\n0,1,1\n7,0,1\n".encode(encoding))
    assert lists(trace) == ((1, 1), [7 * US], [])
    assert trace.notes.form.columns.names[0] == "time [\u00b5s]"


@pytest.mark.parametrize(
    ("head", "ticks"),
    [
        ("Time (seconds)", S), ("t/s", S), ("time in ms", MS), ("Time_Milliseconds", MS), ("usec", US),
        ("TIME [US]", US), ("timestamp, ns", 1000), ("t [ps]", 1), ("\u03bcs", US), ("time", S),
    ],
)  # fmt: skip
def test_units_in_headers(tmp_path: pathlib.Path, head: str, ticks: int) -> None:
    trace = read(tmp_path, f'"{head}",A,B\n0,1,1\n3,0,1\n')
    assert trace.notes.duration == 3 * ticks
    assert trace.notes.form.unit_from == ("assumed" if head == "time" else "header")


def test_a_stated_unit_overrules_the_header_and_may_be_a_sampling_period(tmp_path: pathlib.Path) -> None:
    text = "sample,A,B\n0,1,1\n3,0,1\n"
    assert read(tmp_path, text, unit=read_unit("ms")).notes.duration == 3 * MS
    assert (
        read(tmp_path, text.replace("sample", "time [s]"), unit=read_unit("5 us")).notes.duration == 15 * US
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("uss", 'did you mean "us"'), ("fortnight", "expected a unit of time"), ("2 V", "not a unit of time"),
        ("5", "the unit is missing"), ("0 s", "from 1 ps to 46 d"), ("9999 h", "from 1 ps to 46 d"),
    ],
)  # fmt: skip
def test_units_that_are_none(text: str, words: str) -> None:
    with pytest.raises(QuantityError, match=words):
        read_unit(text)


def test_times_count_from_the_first_row_to_the_picosecond(tmp_path: pathlib.Path) -> None:
    trace = read(tmp_path, "1700000000.000000000001,1,1\n1700000000.000000000004,0,1\n1700000000.5,0,0\n")
    assert lists(trace) == ((1, 1), [3], [S // 2 - 1])
    assert trace.notes.start == 1_700_000_000 * S + 1


row = st.tuples(st.integers(0, 10**9), st.integers(0, 1), st.integers(0, 1))


@given(st.lists(row, min_size=2, max_size=40), st.integers(-(10**9), 10**9))
@settings(max_examples=60, deadline=None)
def test_what_is_written_is_read(rows: list[tuple[int, int, int]], start: int) -> None:
    rows.sort(key=lambda row: row[0])
    text = "ns,A,B\n" + "".join(f"{start + time},{a},{b}\n" for time, a, b in rows)
    with tempfile.TemporaryDirectory() as folder:
        trace = read(pathlib.Path(folder), text)
    assert trace.notes.rows == len(rows)
    assert trace.notes.start == 1000 * (start + rows[0][0])
    for line in (0, 1):
        levels = [row[1 + line] for row in rows]
        changed = [i for i in range(1, len(rows)) if levels[i] != levels[i - 1]]
        assert trace.first[line] == levels[0]
        assert trace.times[line].tolist() == [1000 * (rows[i][0] - rows[0][0]) for i in changed]


@pytest.mark.parametrize(
    ("asked", "expected"),
    [("1,2,3", ([1 * S], [2 * S])), ("1,3,2", ([2 * S], [1 * S])), ("when, right ,left", ([2 * S], [1 * S])),
     ("1,Left,right", ([1 * S], [2 * S])), ("when,left,4", ([1 * S], []))],
)  # fmt: skip
def test_columns_by_name_and_number(
    tmp_path: pathlib.Path, asked: str, expected: tuple[list[int], list[int]]
) -> None:
    text = "when,left,right,middle\n0,1,1,0\n1,0,1,0\n2,0,0,0\n"
    trace = read(tmp_path, text, asked)
    assert (trace.times[0].tolist(), trace.times[1].tolist()) == expected
    assert trace.notes.form.columns.found == "asked"
    assert trace.notes.form.width == 4


def test_volts_are_read_at_one_threshold_or_two(tmp_path: pathlib.Path) -> None:
    text = "ms,A,B\n0,3.3,0.0\n1,1.6,0.0\n2,1.4,1.3\n3,1.6,2.0\n4,1.1,1.3\n5,-0.1,1.1\n"
    one = read(tmp_path, text, threshold=read_threshold("1.5 V"))
    assert lists(one) == ((1, 0), [2 * MS, 3 * MS, 4 * MS], [3 * MS, 4 * MS])
    two = read(tmp_path, text, threshold=read_threshold("1.9 V, 1.2 V"))
    assert lists(two) == ((1, 0), [4 * MS], [3 * MS, 5 * MS])
    assert two.notes.volts == ((-0.1, 3.3), (0.0, 2.0))


def test_millivolts_in_the_header(tmp_path: pathlib.Path) -> None:
    text = "ms,A [mV],B (V)\n0,3300,3.3\n1,100,0.1\n"
    assert lists(read(tmp_path, text, threshold=Threshold(1.5, 1.5))) == ((1, 1), [MS], [MS])


def test_a_line_that_begins_between_thresholds_has_the_level_it_reaches_first(
    tmp_path: pathlib.Path,
) -> None:
    text = "ms,A,B\n0,1.5,1.5\n1,1.6,1.6\n2,3.0,0.5\n3,0.1,3.0\n"
    assert lists(read(tmp_path, text, threshold=Threshold(1.9, 1.2))) == ((1, 0), [3 * MS], [3 * MS])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1.5", "the unit is missing"), ("1 V,2 V", "not below the falling one"),
        ("3 V,2 V,1 V", "expected one voltage"), ("2 ms", "not a unit of voltage"), ("", "a voltage"),
    ],
)  # fmt: skip
def test_thresholds_that_are_none(text: str, words: str) -> None:
    with pytest.raises(QuantityError, match=words):
        read_threshold(text)


def rows_at(times: list[float], every: int) -> str:
    """Rows of A at these times (ms), a change in every so many."""
    return "ms,A,B\n" + "".join(f"{t},{k // every % 2},0\n" for k, t in enumerate(times))


@pytest.mark.parametrize(
    ("times", "every", "kind"),
    [
        ([0.1 * k for k in range(20)], 5, FIXED_RATE),
        ([0.333 * k for k in range(20)], 5, FIXED_RATE),
        ([k + 0.4 * (k % 3) for k in range(20)], 5, UNEVEN),
        ([0.1 * k for k in range(20)], 1, ON_CHANGE),
        ([0, 1, 2, 30, 31, 200, 201, 500], 1, ON_CHANGE),
        ([0, 1, 2, 30, 31, 200, 201, 500], 3, ON_CHANGE),
    ],
)
def test_samples_are_told_from_changes(
    tmp_path: pathlib.Path, times: list[float], every: int, kind: str
) -> None:
    assert read(tmp_path, rows_at([round(t, 6) for t in times], every)).notes.kind == kind


def test_changes_at_the_same_instant_are_noted_in_one_row_or_two(tmp_path: pathlib.Path) -> None:
    trace = read(tmp_path, "ms,A,B\n0,1,1\n1,0,1\n2,1,0\n3,1,1\n3,0,1\n")
    assert lists(trace) == ((1, 1), [1 * MS, 2 * MS, 3 * MS], [2 * MS, 3 * MS])
    assert (trace.notes.together, trace.notes.together_at) == (2, 2 * MS)


def test_the_contact_is_closed_at_the_level_that_is_said(tmp_path: pathlib.Path) -> None:
    trace = read(tmp_path, "ms,A,B\n0,1,0\n1,0,0\n2,0,1\n")
    low, high = contact_edges(trace, 0), contact_edges(trace, 1)
    assert [edges.first.tolist() for edges in low] == [[0], [1]]
    assert [edges.first.tolist() for edges in high] == [[1], [0]]
    assert [edges.times.tolist() for edges in low] == [[MS], [2 * MS]]
    assert [edges.offsets.tolist() for edges in high] == [[0, 1], [0, 1]]


def test_a_pipe_is_read_once_and_to_its_end(tmp_path: pathlib.Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    text = "us,A,B\n" + "".join(f"{k},{k // 7 % 2},1\n" for k in range(50_000))
    writer = threading.Thread(target=pipe.write_text, args=(text,))
    writer.start()
    trace = read_trace(str(pipe))
    writer.join()
    assert trace.notes.rows == 50_000
    assert trace.times[0].size == 49_999 // 7
