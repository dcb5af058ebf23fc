"""Whatever is wrong with a value change dump, there is one clear message with its place, or a right trace."""

from __future__ import annotations

import pathlib
import re
import tempfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenarios.traces import dumps as dump_variables
from scenarios.traces.dumps import CUT
from scenarios.traces.rows import Threshold, TraceError
from tests.scenarios.dump_samples import LINES, dump, lists, read
from tests.scenarios.samples import says
from tests.scenarios.test_dumps import scopes
from tests.scenarios.test_worked_dump import EXAMPLE

TIMES = '#0\n1!\n1"\n#9\n'
WIDE = '$var wire 8 ! A [7:0] $end\n$var wire 1 " B $end\n'
REALS = LINES.replace("wire 1", "real 64")

MISTAKES = [
    (dump("#0\n1!\n1?\n#9\n"), 'line 7: no variable has this identifier ... got "?"'),
    (dump('#5\n1!\n1"\n#4\n'), "line 8: time runs backward, by 1e-09 s ... got #4"),
    (dump('#0\n1!\n1"\n'), "expected two times or more, got one time"),
    (dump('1!\n1"\n'), "got no time"),
    (dump("#0\n1!\n#9\n"), 'line B ("B") never has a known level'),
    (dump("#0\n1!\nx\"\n#9\n"), 'line B ("B") never has a known level'),
    (dump(TIMES + "x!\n#10\n"), 'line 9: line A ("A") had a level before; expected 0 or 1, got "x"'),
    (dump(TIMES + "Z\"\n"), 'line B ... got "Z"'),
    (dump(TIMES + "-!\n"), 'line A ... got "-"'),
    (dump("#0\n$dumpvars\n1!\n1\"\n#9\n"), "a block of values ($dumpvars and the like) has no $end"),
    (dump("#0\n$dumpvars\n$dumpall\n$end\n"), "line 7: a block of values begins within another one"),
    (dump("$end\n" + TIMES), "line 5: expected $end only behind a block of values, got $end"),
    (dump(TIMES + "$dumpoff\nx!\n$end\n1!\n"), 'line 12: expected no change while ... got "!"'),
    (dump(TIMES + "$var wire 1 x C $end\n"), "expected no declaration after $enddefinitions"),
    (dump(TIMES, timescale=""), "the file states no $timescale; --unit states one"),
    (dump(TIMES, timescale="$timescale 5 ns $end\n"), 'expected a timescale of 1, 10 ... got "5 ns"'),
    (dump(TIMES, timescale="$timescale 1 as $end\n"), 'expected a timescale of ... got "1 as"'),
    (dump(TIMES, timescale="$timescale 1 min $end\n"), "line 1: expected an entry of a value change dump"),
    (dump(TIMES, timescale="$timescale 1 ns $end\n" * 2), 'line 2: the timescale is stated ... got "1 ns"'),
    (dump(TIMES, ""), "no variable is declared"),
    (dump(TIMES, LINES + "$upscope $end\n"), "line 4: expected $upscope only within a scope, got $upscope"),
    (dump(TIMES, LINES + "$var wire 8 ! C $end\n"), 'this identifier is that of variables of 1 ... got "!"'),
    (dump(TIMES, LINES + "#0\n"), "line 4: a time or a value among the declarations"),
    ("$timescale 1 ns $end\n" + LINES, "the file ends before $enddefinitions"),
    (dump(TIMES, WIDE), "A and B are not evident"),
    (dump(TIMES, REALS), "--threshold reads reals"),
    (dump(TIMES, scopes("one", "two")), '--columns "one.A,one.B"'),
    (dump("#0\nr1.5 !\n1\"\n#9\n"), 'line 6: expected a value of the type wire ... got "1.5"'),
    (dump("#0\nsword !\n1\"\n#9\n"), 'as which "A" is declared, got "word"'),
    (dump("#0\nb101 !\n1\"\n#9\n"), '3 bits; expected at most 1 for "A", got "101"'),
    (dump("#0\n1 !\n"), "line 6: expected an entry of a value change dump"),
    (dump("#0\n#zero\n"), "line 6: expected an entry of a value change dump"),
    (dump("#-5\n"), "line 5: expected an entry"),
    (dump("#0\nrone !\n"), "line 6: expected an entry"),
    (dump("#0\n$dumpports\n$end\n"), "line 6: expected an entry"),
    (dump("#" + "9" * 5000 + "\n"), "a number of too many digits"),
    (dump("#0\n1!\n1\"\n#" + "9" * 40 + "\n"), "expected a trace of at most 46 days"),
    (dump("#0\n1\u00e9\n"), "line 6: expected an entry of a value change dump"),
    (dump(TIMES).encode() + b"\0\1", "this is not text"),
    (dump(TIMES) + "#1" + "0" * 1_100_000, "expected at most 1,000,000 characters in a word"),
    (dump(TIMES) + "#10", CUT),
    ("$", "no row of numbers"),
    ("$var", CUT),
]  # fmt: skip


@pytest.mark.parametrize(("text", "words"), MISTAKES, ids=range(len(MISTAKES)))
def test_every_mistake_is_told_with_its_place(tmp_path: pathlib.Path, text: str | bytes, words: str) -> None:
    with pytest.raises(TraceError) as caught:
        read(tmp_path, text)
    (problem,) = caught.value.problems
    assert says(problem, words)
    assert str(problem).startswith(str(tmp_path / "trace"))
    assert str(problem).isprintable()
    assert len(str(problem)) < 600


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("A", "expected the names of two variables"), ("A,B,bus", "expected the names of two variables"),
        ('"A,B', "expected the names of two variables"), ("A,,B", "expected the names of two variables"),
        ("A,A", "expected two different lines for A and B"), ("A,top.inner.A", "two different lines"),
        ("A,Bee", 'there is no such variable; expected ... did you mean "Bees"?'),
        ("A,top.iner.Bees", 'did you mean "top.inner.Bees"?'),
        ("A,bus", "a vector of 4 bits; expected one of them, such as \"top.inner.bus[2]\""),
        ("A,bus[1]", '"top.inner.bus" has no such bit; expected a bit from 5 to 2'),
        ("A,Bees[1]", '"top.inner.Bees" has no such bit; expected a bit from 0 to 0'),
        ("A,volts[0]", "expected a variable with bits"),
        ("A,tick", "expected a variable that has a level, not one of the type event"),
        ("A,twice", '2 variables have this name; expected one of "top.inner.twice" or "top.twice"'),
    ],
)  # fmt: skip
def test_names_that_are_no_line(tmp_path: pathlib.Path, asked: str, words: str) -> None:
    variables = (
        '$scope module top $end\n$scope module inner $end\n$var wire 1 ! A $end\n$var wire 1 " Bees $end\n'
        "$var wire 4 # bus [5:2] $end\n$var real 64 % volts $end\n$var event 1 & tick $end\n"
        "$var wire 1 ' twice $end\n$upscope $end\n$var wire 1 ( twice $end\n$upscope $end\n"
    )
    with pytest.raises(TraceError) as caught:
        read(tmp_path, dump(TIMES, variables), asked)
    assert says(caught.value, words)


@pytest.mark.parametrize(
    ("body", "columns", "words"),
    [
        ("#0\n1!\n", "A,B", "expected a variable of reals with --threshold, not one of the type wire"),
        ("#0\nrnan #\n", "V,W", 'expected a finite number of volts for "V", got "nan"'),
        ("#0\nr-inf %\n", "V,W", 'expected a finite number of volts for "W", got "-inf"'),
        ("#0\nr1.5 #\nr0 %\n#4\n", "V,W", 'line A ("V") never has a known level'),
    ],
)  # fmt: skip
def test_reals_that_are_none(tmp_path: pathlib.Path, body: str, columns: str, words: str) -> None:
    variables = LINES + "$var real 64 # V $end\n$var real 64 % W $end\n"
    with pytest.raises(TraceError) as caught:
        read(tmp_path, dump(body, variables), columns, threshold=Threshold(1.9, 1.2))
    assert says(caught.value, words)


def test_reals_without_a_threshold_are_0_and_1(tmp_path: pathlib.Path) -> None:
    assert lists(read(tmp_path, dump('#0\nr1 !\nr0 "\n#1\nr0 !\n#2\n', REALS), "A,B")) == ((1, 0), [1000], [])
    with pytest.raises(TraceError, match=r'the level of line A is neither 0 nor 1; .*got "3\.3"'):
        read(tmp_path, dump('#0\nr3.3 !\nr0 "\n#1\n', REALS), "A,B")


def test_a_small_file_cut_off_at_every_byte(tmp_path: pathlib.Path) -> None:
    """A cut between two entries cannot be seen, and gives what was recorded up to it."""
    data = EXAMPLE.encode()
    whole = lists(read(tmp_path, data, "p,q"))
    outcomes = set()
    for end in range(len(data)):
        try:
            first, a, b = lists(read(tmp_path, data[:end], "p,q"))
        except TraceError as error:
            (problem,) = error.problems
            assert len(str(problem).splitlines()) == 1
            outcomes.add("refused")
            continue
        assert data[end - 1 : end] == b"\n"
        assert (first, a, b) == (whole[0], whole[1][: len(a)], whole[2][: len(b)])
        outcomes.add("read")
    assert outcomes == {"refused", "read"}


@given(st.binary(max_size=300), st.integers(0, len(EXAMPLE)), st.integers(0, 60))
@settings(max_examples=300, deadline=None)
def test_random_bytes_in_a_sound_file(noise: bytes, place: int, lost: int) -> None:
    data = EXAMPLE.encode()
    with tempfile.TemporaryDirectory() as folder:
        try:
            trace = read(pathlib.Path(folder), data[:place] + noise + data[place + lost :], "p,q")
        except TraceError as error:
            (problem,) = error.problems
            assert str(problem).isprintable()
        else:
            assert all((times[1:] >= times[:-1]).all() for times in trace.times)


WORDS = """#0 #5 #9 1! 0! x! 1" 0" b10 ! b1 " r1.5 $dumpvars $dumpall $dumpoff $dumpon $end $comment $var wire
1 A $scope module $upscope $enddefinitions $timescale ns $date # $ b r s -! ! " $attrbegin"""
entry = st.sampled_from(WORDS.split())


@given(st.lists(entry, max_size=30))
@settings(max_examples=300, deadline=None)
def test_random_words_behind_a_sound_head(words: list[str]) -> None:
    text = dump(TIMES) + " ".join(words) + "\n"
    with tempfile.TemporaryDirectory() as folder:
        try:
            trace = read(pathlib.Path(folder), text)
        except TraceError as error:
            (problem,) = error.problems
            assert re.search(r"line \d+: |: ", str(problem))
        else:
            assert trace.first == (1, 1)


def test_huge_vectors(tmp_path: pathlib.Path) -> None:
    """18.2.2 asks for no limit; 65,536 bits are the least that a vector may have in Verilog."""
    bits = 65_536
    variables = f'$var wire {bits} ! bus [{bits - 1}:0] $end\n$var wire 1 " B $end\n'
    body = f'#0\n1"\nb{"10" * (bits // 2)} !\n#1\nb{"01" * (bits // 2)} !\n#2\nb0 !\n#3\n'
    assert lists(read(tmp_path, dump(body, variables), f"bus[{bits - 1}],B")) == ((1, 1), [1000], [])
    assert lists(read(tmp_path, dump(body, variables), "bus[0],B")) == ((0, 1), [1000, 2000], [])
    with pytest.raises(TraceError, match="65537 bits"):
        read(tmp_path, dump(body.replace("b0 !", f"b{'1' * (bits + 1)} !"), variables), "bus[0],B")


def test_too_many_variables(tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dump_variables, "MOST_VARIABLES", 1)
    with pytest.raises(TraceError, match="expected at most 1 variables"):
        read(tmp_path, dump(TIMES))
