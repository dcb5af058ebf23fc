"""Every mistake that a recorded trace can hold, each told with its place."""

from __future__ import annotations

import pathlib

import pytest

from scenarios.traces import rows as trace_rows
from scenarios.traces.reading import read_trace
from scenarios.traces.rows import Threshold, TraceError
from tests.scenarios.samples import says


def written(folder: pathlib.Path, text: str | bytes) -> str:
    path = folder / "trace.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return str(path)


MISTAKES = [
    ("", "the file is empty"),
    ("\n \n", "the file is empty"),
    ("# nothing\n", "nothing but comments"),
    ("time,A,B\n", "no row of numbers among the first 1 lines"),
    ("hello\nworld\n", 'no row of numbers ... got "hello"'),
    ("0,1,1\n", "expected two rows or more, got one row"),
    ("0,1\n1,0\n", "2 columns of numbers, separated by commas"),
    ("t;A\n0,5;1\n0,6;0\n", "expected a time, the level of A and the level of B in a row, got 2 columns"),
    ("time,A,C,x\n0,1,1,1\n1,0,1,1\n", "names line A but not line B"),
    ("x,y,z,time\n1,1,1,0\n1,1,1,1\n", "does not say which columns"),
    ("0,1,1\n2,0,1\n1,0,0\n", "line 3: time runs backward, by 1 s"),
    ("# c\n0,1,1\n\nx,0,1\n2,0,0\n3,0,1\n", 'line 4: expected a number as the time ... got "x"'),
    ("0,1,1\n1,x,1\n2,0,0\n3,0,1\n", 'line 2: the level of line A is no number ... got "x"'),
    ("0,1,1\n1,0,2\n2,0,0\n3,0,1\n", 'line 2: the level of line B is neither 0 nor 1 ... got "2"'),
    ("0,1,1\n1,0,\n", 'line 2: the level of line B ... got ""'),
    ("0,3.3,0.1\n1,0.1,0.1\n", "--threshold"),
    ("0,1,1\nnan,1,1\n", 'line 2: ... got "nan"'),
    ("0,1,1\ninf,1,1\n", 'line 2: ... got "inf"'),
    ("0,1,1\n1_0,1,1\n", 'line 2: ... got "1_0"'),
    ("0,1,1\n0x10,1,1\n", 'line 2: ... got "0x10"'),
    ("0,1,1\n\u0661,0,1\n", "expected a number as the time"),
    ("0,1,1\n1e999999999,0,1\n", "expected a number as the time"),
    ("0,1,1\n" + "9" * 31 + ",0,1\n", "expected a number as the time"),
    ("0,1,1\n1e99,0,1\n", "line 2: expected a trace of at most 46 days"),
    ("0,1,1\n1,0\n2,0,0\n", "line 2: line B is missing ... got 2 columns"),
    ("0,1,1\n1,0,1\nEND\n", "line 3: line A is missing ... got 1 column"),
    ('0,1,1\n1,"0,1\n2,0,0\n', "expected a quoted cell to end with a quote"),
    ("time,A,C\x1b[31m,x\n0,1,1,1\n1,0,1,1\n", 'got "time, A, C?[31m, x"'),
    ("time [min],A,B\n0,1,1\n1,0,1\n", 'unknown unit "min"'),
    (b"\x7fELF\x02\x01\x00\x00", "line 1: this is not text"),
    (b"0,1,1\n1,0,1\n\x00\x01", "line 3: this is not text"),
    (b"\xff\xfe0,1,1\n1", "this is not text"),
    ("0,1,1\n1,\x1b[31m,1\n", r'got "\x1b[31m"'),
    ("0,1,1\n" + "1" * 70_000 + "\n", "line 2: expected at most 65,536 characters in a line"),
]


@pytest.mark.parametrize(("text", "words"), MISTAKES, ids=range(len(MISTAKES)))
def test_every_mistake_is_told_with_its_place(tmp_path: pathlib.Path, text: str | bytes, words: str) -> None:
    path = written(tmp_path, text)
    with pytest.raises(TraceError) as caught:
        read_trace(path)
    (problem,) = caught.value.problems
    assert str(problem).startswith(path)
    assert says(problem, words)
    assert str(problem).isprintable()


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("1,2", "expected three names or numbers"), ("1,2,3,4", "expected three names"),
        ("1,,3", "expected three names"), ('"1,2,3', "expected three names"),
        ("1,2,2", "expected three different columns"), ("time,A,Bee", 'did you mean "Bees"?'),
        ("0,1,2", "there is no such column"), ("1,2,9", "line B is missing"),
        ("9,1,2", "expected a column of times"),
        ("time,A,Escapes", 'did you mean "Es?capes"?'),
    ],
)  # fmt: skip
def test_columns_that_are_none(tmp_path: pathlib.Path, asked: str, words: str) -> None:
    with pytest.raises(TraceError, match=r"trace\.csv") as caught:
        read_trace(written(tmp_path, "time,A,Bees,Es\x1bcapes\n0,1,1,1\n1,0,1,1\n"), columns=asked)
    assert says(caught.value, words)
    assert str(caught.value).isprintable()


def test_a_file_that_is_not_there_and_one_that_is_a_folder(tmp_path: pathlib.Path) -> None:
    with pytest.raises(TraceError, match="cannot be read: No such file"):
        read_trace(str(tmp_path / "none.csv"))
    with pytest.raises(TraceError, match="cannot be read: Is a directory"):
        read_trace(str(tmp_path))
    with pytest.raises(TraceError, match="cannot be read"):
        read_trace("a\0b")


def test_a_line_that_stays_between_the_thresholds(tmp_path: pathlib.Path) -> None:
    with pytest.raises(TraceError, match="line B never leaves the band"):
        read_trace(written(tmp_path, "0,3.3,1.5\n1,0.0,1.6\n"), threshold=Threshold(1.9, 1.2))


@pytest.mark.parametrize(
    ("limit", "words"),
    [("MOST_ROWS", "expected at most 5 rows"), ("MOST_CHANGES", "expected at most 5 changes")],
)
def test_a_trace_beyond_all_bounds(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, limit: str, words: str
) -> None:
    monkeypatch.setattr(trace_rows, limit, 5)
    with pytest.raises(TraceError, match=words):
        read_trace(written(tmp_path, "".join(f"{k},{k % 2},0\n" for k in range(9))))
