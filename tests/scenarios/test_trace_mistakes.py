"""Every mistake that a recorded trace can hold, each told with its place."""

from __future__ import annotations

import pathlib

import pytest

from scenarios.traces import rows as trace_rows
from scenarios.traces.reading import Threshold, TraceError, read_trace


def written(folder: pathlib.Path, text: str | bytes) -> str:
    path = folder / "trace.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return str(path)


MISTAKES = [
    ("", "the file is empty"),
    ("\n \n", "the file is empty"),
    ("# nothing\n", "nothing but comments"),
    ("time,A,B\n", "no row of numbers among the first 1 lines"),
    ("hello\nworld\n", 'read "hello"; no row of numbers'),
    ("0,1,1\n", "one row; a trace has two rows or more"),
    ("0,1\n1,0\n", "2 columns of numbers, separated by commas"),
    ("t;A\n0,5;1\n0,6;0\n", "what counts needs both lines"),
    ("time,A,C,x\n0,1,1,1\n1,0,1,1\n", "names line A but not line B"),
    ("x,y,z,time\n1,1,1,0\n1,1,1,1\n", "does not tell which columns"),
    ("0,1,1\n2,0,1\n1,0,0\n", "line 3: time runs backward, by 1 s"),
    ("# c\n0,1,1\n\nx,0,1\n2,0,0\n3,0,1\n", 'line 4: read "x"; the time is no number'),
    ("0,1,1\n1,x,1\n2,0,0\n3,0,1\n", 'line 2: read "x"; the level of line A is no number'),
    ("0,1,1\n1,0,2\n2,0,0\n3,0,1\n", 'line 2: read "2"; the level of line B is neither 0 nor 1'),
    ("0,1,1\n1,0,\n", 'line 2: read ""; the level of line B'),
    ("0,3.3,0.1\n1,0.1,0.1\n", "--threshold"),
    ("0,1,1\nnan,1,1\n", 'line 2: read "nan"'),
    ("0,1,1\ninf,1,1\n", 'line 2: read "inf"'),
    ("0,1,1\n1_0,1,1\n", 'line 2: read "1_0"'),
    ("0,1,1\n0x10,1,1\n", 'line 2: read "0x10"'),
    ("0,1,1\n\u0661,0,1\n", "the time is no number"),
    ("0,1,1\n1e999999999,0,1\n", "the time is no number"),
    ("0,1,1\n" + "9" * 31 + ",0,1\n", "the time is no number"),
    ("0,1,1\n1e99,0,1\n", "line 2: the trace is longer than 46 days"),
    ("0,1,1\n1,0\n2,0,0\n", "line 2: read 2 columns; line B is missing"),
    ("0,1,1\n1,0,1\nEND\n", "line 3: read 1 column; line A is missing"),
    ('0,1,1\n1,"0,1\n2,0,0\n', "a quoted cell ends with a quote"),
    ("time,A,C\x1b[31m,x\n0,1,1,1\n1,0,1,1\n", 'read "time, A, C?[31m, x"'),
    ("time [min],A,B\n0,1,1\n1,0,1\n", 'unit "min" is not known'),
    (b"\x7fELF\x02\x01\x00\x00", "line 1: this is not text"),
    (b"0,1,1\n1,0,1\n\x00\x01", "line 3: this is not text"),
    (b"\xff\xfe0,1,1\n1", "this is not text"),
    ("0,1,1\n1,\x1b[31m,1\n", r'read "\x1b[31m"'),
    ("0,1,1\n" + "1" * 70_000 + "\n", "line 2: the line is longer than 65,536 characters"),
]


@pytest.mark.parametrize(("text", "words"), MISTAKES, ids=range(len(MISTAKES)))
def test_every_mistake_is_told_with_its_place(tmp_path: pathlib.Path, text: str | bytes, words: str) -> None:
    path = written(tmp_path, text)
    with pytest.raises(TraceError) as caught:
        read_trace(path)
    (problem,) = caught.value.problems
    assert str(problem).startswith(path)
    assert words in str(problem)
    assert str(problem).isprintable()


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("1,2", "write three names or numbers"), ("1,2,3,4", "write three names"),
        ("1,,3", "write three names"), ('"1,2,3', "write three names"),
        ("1,2,2", "three different columns"), ("time,A,Bee", 'did you mean "Bees"?'),
        ("0,1,2", "no column is called that"), ("1,2,9", "line B is missing"),
        ("9,1,2", "the column of times is missing"),
        ("time,A,Escapes", 'did you mean "Es?capes"?'),
    ],
)  # fmt: skip
def test_columns_that_are_none(tmp_path: pathlib.Path, asked: str, words: str) -> None:
    with pytest.raises(TraceError, match=r"trace\.csv") as caught:
        read_trace(written(tmp_path, "time,A,Bees,Es\x1bcapes\n0,1,1,1\n1,0,1,1\n"), columns=asked)
    assert words in str(caught.value)
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
    ("limit", "words"), [("MOST_ROWS", "more than 5 rows"), ("MOST_CHANGES", "more than 5 changes")]
)
def test_a_trace_beyond_all_bounds(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, limit: str, words: str
) -> None:
    monkeypatch.setattr(trace_rows, limit, 5)
    with pytest.raises(TraceError, match=words):
        read_trace(written(tmp_path, "".join(f"{k},{k % 2},0\n" for k in range(9))))
