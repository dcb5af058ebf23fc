"""Value change dumps: what IEEE Std 1364-2005, clause 18, says of them, and the choice of lines.

The clauses are quoted from summaries of the standard; its text itself was not seen.
"""

from __future__ import annotations

import itertools
import pathlib
import tempfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenarios.traces.reading import read_unit
from scenarios.traces.record import ON_CHANGE
from scenarios.traces.rows import Threshold
from tests.scenarios.dump_samples import LINES, dump, lists, read

NS = 1000
CYCLE = ((1, 1), [1000 * NS, 3000 * NS], [2000 * NS, 4000 * NS])
BODY = '#0\n$dumpvars\n1!\n1"\n$end\n#1000\n0!\n#2000\n0"\n#3000\n1!\n#4000\n1"\n#9000\n'

FORMS = {
    "plain": dump(BODY),
    "every declaration keyword (18.2.1)": dump(
        BODY,
        "$date today $end $version one $end $comment\nA, B\n$end\n"
        f"$scope module top $end\n{LINES}$upscope $end\n",
    ),
    "one word a line": "\n".join(dump(BODY).split()) + "\n",
    "all on one line": " ".join(dump(BODY).split()) + " ",
    "other ends of line": dump(BODY).replace("\n", "\r\n"),
    "a mark before the first byte": "\ufeff" + dump(BODY),
    "blank lines before": "\n\n" + dump(BODY),
    "vectors of one bit": dump(BODY.replace("1!", "b1 !").replace("0!", "B0 !")),
    "unknown before the first level": dump("#0\nx!\nZ\"\n#0\n1!\n1\"\n" + BODY[BODY.index("#1000") :]),
    "no values at the first time": dump('1!\n1"\n' + BODY[BODY.index("$end") + 5 :].join(("#0\n", ""))),
    "values between other variables": dump(
        BODY.replace("#1000\n", "#500\nb1x0 %\n#1000\nr1.5 &\n"),
        LINES + "$var reg 3 % other [2:0] $end\n$var real 64 & volts $end\n",
    ),
    "comments between values": dump(BODY.replace("#2000", "$comment here # ! $end\n#2000")),
    "two names for one variable": dump(
        BODY, LINES + "$scope module x $end\n$var wire 1 ! same $end\n$upscope $end\n"
    ),
    "checkpoints of all values (18.2.1)": dump(BODY.replace("#3000", '#2500\n$dumpall\n0!\n0"\n$end\n#3000')),
}  # fmt: skip


@pytest.mark.parametrize("form", FORMS)
def test_the_same_trace_in_many_forms(tmp_path: pathlib.Path, form: str) -> None:
    trace = read(tmp_path, FORMS[form])
    assert lists(trace) == CYCLE
    assert trace.notes.duration == 9000 * NS
    assert trace.notes.kind == ON_CHANGE
    assert trace.notes.form.columns.found == "named"


@pytest.mark.parametrize("blank", ["", " ", "\n\t"])
@pytest.mark.parametrize(
    ("unit", "femtoseconds"),
    [("s", 10**15), ("ms", 10**12), ("us", 10**9), ("ns", 10**6), ("ps", 10**3), ("fs", 1)],
)
@pytest.mark.parametrize("number", [1, 10, 100])
def test_every_timescale(
    tmp_path: pathlib.Path, blank: str, unit: str, femtoseconds: int, number: int
) -> None:
    """18.2.3.5: 1, 10 or 100 of s, ms, us, ns, ps, fs, in one word or two."""
    text = dump('#7\n1!\n1"\n#3007\n0!\n#6007\n', timescale=f"$timescale {number}{blank}{unit} $end\n")
    trace = read(tmp_path, text)
    assert trace.notes.duration == round(6007 * number * femtoseconds / 1000) - trace.notes.start
    assert trace.notes.start == (2 * 7 * number * femtoseconds + 1000) // 2000
    assert trace.notes.form.unit_from == "header"
    assert trace.notes.form.unit * 1000 == number * femtoseconds


def test_a_stated_unit_overrules_the_timescale(tmp_path: pathlib.Path) -> None:
    bare = dump(BODY, timescale="")
    for text in (bare, dump(BODY)):
        trace = read(tmp_path, text, unit=read_unit("5 us"))
        assert (trace.notes.duration, trace.notes.form.unit_from) == (9000 * 5_000_000, "asked")


def test_times_beyond_what_a_float_holds_exactly(tmp_path: pathlib.Path) -> None:
    start = 2**60
    text = dump(f'#{start}\n1!\n1"\n#{start + 1}\n0!\n#{start + 3}\n0"\n', timescale="$timescale 1 ps $end\n")
    assert lists(read(tmp_path, text)) == ((1, 1), [1], [3])


def test_every_identifier_code(tmp_path: pathlib.Path) -> None:
    """18.2.1: the printable characters ! to ~ (33 to 126), one or more."""
    codes = [chr(number) for number in range(33, 127)] + ["#0", "$end2", "1!", "~" * 40]
    variables = "".join(f"$var wire 1 {code} n{place} $end\n" for place, code in enumerate(codes))
    body = "#0\n" + "".join(f"{place % 2}{code}\n" for place, code in enumerate(codes)) + "#5\n"
    for place in range(len(codes) - 1):
        trace = read(tmp_path, dump(body, variables), f"n{place},n{place + 1}")
        assert trace.first == (place % 2, (place + 1) % 2)


def test_values_in_either_case(tmp_path: pathlib.Path) -> None:
    """18.2.2: 0 1 x X z Z, b or B, r or R."""
    bits = '$var wire 2 ! a [1:0] $end\n$var wire 1 " B $end\n'
    text = dump('#0\nB1X !\nX"\n#1\nbz1 !\nb0 "\n#2\n', bits)
    assert lists(read(tmp_path, text, "a[0],B")) == ((1, 0), [], [])
    volts = LINES.replace("wire 1", "real 64")
    trace = read(
        tmp_path, dump('#0\nR3.25 !\nr-1e-3 "\n#1\nr0 !\nR5 "\n#2\n', volts), threshold=Threshold(1.9, 1.2)
    )
    assert lists(trace) == ((1, 0), [NS], [NS])
    assert trace.notes.volts == ((0.0, 3.25), (-0.001, 5.0))


SHORTENED = [
    ("0010", "b10"), ("xx10", "bX10"), ("zzx0", "bZX0"), ("0x10", "b0X10"), ("0000", "b0"),
    ("zzzz", "bz"), ("1000", "b1000"),
]  # fmt: skip


@pytest.mark.parametrize(("bits", "written"), SHORTENED)
@pytest.mark.parametrize("place", range(4))
def test_shortened_vectors_are_extended_on_the_left(
    tmp_path: pathlib.Path, bits: str, written: str, place: int
) -> None:
    """18.2.2, Tables 18-1 and 18-2: by 0 after a 0 or 1, else by the leftmost x or z."""
    variables = '$var reg 4 ! bus [3:0] $end\n$var wire 1 " B $end\n'
    bit = bits[3 - place]
    for later in "01":
        body = f'#0\n1"\n{written} !\n#1\nb{later * 4} !\n#2\n'
        first, times, _ = lists(read(tmp_path, dump(body, variables), f"bus[{place}],B"))
        known = bit if bit in "01" else later
        assert first[0] == int(known)
        assert times == ([NS] if known != later else [])


def test_bits_are_numbered_as_declared(tmp_path: pathlib.Path) -> None:
    for declared, names in (("[3:0]", "3210"), ("[0:3]", "0123"), ("[7:4]", "7654"), ("", "3210")):
        variables = f'$var reg 4 ! bus {declared} $end\n$var wire 1 " B $end\n'
        body = '#0\n1"\nb1000 !\n#1\n'
        for name, level in zip(names, (1, 0, 0, 0), strict=True):
            trace = read(tmp_path, dump(body, variables), f"bus[{name}],B")
            assert trace.first == (level, 1)
            assert trace.notes.form.columns.names[1] == f"bus[{name}]"


TYPES = """integer parameter reg supply0 supply1 time tri triand trior trireg tri0 tri1 wand wire wor"""


@pytest.mark.parametrize("kind", TYPES.split())
def test_types_of_variables_that_have_levels(tmp_path: pathlib.Path, kind: str) -> None:
    """18.2.1: the types of variables."""
    assert lists(read(tmp_path, dump(BODY, LINES.replace("wire", kind)))) == CYCLE


@pytest.mark.parametrize("kind", ["begin", "fork", "function", "module", "task"])
def test_kinds_of_scopes(tmp_path: pathlib.Path, kind: str) -> None:
    """18.2.1: the kinds of scopes."""
    variables = f"$scope {kind} one $end\n$scope {kind} two $end\n{LINES}$upscope $end\n$upscope $end\n"
    trace = read(tmp_path, dump(BODY, variables))
    assert lists(trace) == CYCLE
    assert trace.notes.form.columns.names[1:] == ("one.two.A", "one.two.B")


def scopes(*names: str) -> str:
    """Lines A and B in each scope, with codes of their own."""
    codes = iter("!\"%&'()*+,-./")
    return "".join(
        f"$scope module {name} $end\n"
        + "".join(f"$var wire 1 {next(codes)} {line} $end\n" for line in "AB")
        + "$upscope $end\n"
        for name in names
    )


@pytest.mark.parametrize(
    ("variables", "columns", "names", "found"),
    [
        (scopes("contacts", "input"), None, ("contacts.A", "contacts.B"), "named"),
        (scopes("input", "Contacts"), None, ("Contacts.A", "Contacts.B"), "named"),
        (scopes("only"), None, ("only.A", "only.B"), "named"),
        (scopes("one", "two"), "two.A,two.B", ("two.A", "two.B"), "asked"),
        (scopes("one", "two"), "time,ONE.b,Two.A", ("one.B", "two.A"), "asked"),
        (LINES.replace("A", "left").replace("B", "right"), None, ("left", "right"), "order"),
        (LINES.replace("A", "left").replace("B", "right"), "right,left", ("right", "left"), "asked"),
        (LINES.replace("A", "channel_a").replace("B", "CH_B"), None, ("channel_a", "CH_B"), "named"),
    ],
)
def test_lines_are_found_by_their_names(
    tmp_path: pathlib.Path, variables: str, columns: str | None, names: tuple[str, str], found: str
) -> None:
    codes = [line.split()[3] for line in variables.splitlines() if line.startswith("$var")]
    body = "#0\n" + "".join(f"1{code}\n" for code in codes) + "#1\n"
    trace = read(tmp_path, dump(body, variables), columns)
    assert trace.notes.form.columns.names[1:] == names
    assert trace.notes.form.columns.found == found


def test_reals_are_read_at_thresholds(tmp_path: pathlib.Path) -> None:
    variables = LINES.replace("wire 1", "real 64") + scopes("contacts").replace("!", "c").replace('"', "d")
    body = '#0\nr3.3 !\nr1.5 "\n1c\n1d\n#10\nr1.6 !\nr1.1 "\n#20\nr1.19 !\nr2 "\n#30\nr3 !\n#40\n'
    trace = read(tmp_path, dump(body, variables), threshold=Threshold(1.9, 1.2))
    assert lists(trace) == ((1, 0), [20 * NS, 30 * NS], [20 * NS])
    assert trace.notes.volts == ((1.19, 3.3), (1.1, 2.0))


def test_changes_at_one_time_are_all_kept(tmp_path: pathlib.Path) -> None:
    trace = read(tmp_path, dump('#0\n1!\n1"\n#5\n0!\n1!\n0!\n0"\n#9\n'))
    assert lists(trace) == ((1, 1), [5 * NS] * 3, [5 * NS])
    assert (trace.notes.together, trace.notes.together_at) == (1, 5 * NS)


change = st.tuples(st.integers(0, 10**6), st.integers(0, 1))


@given(
    st.lists(change, max_size=40), st.integers(0, 1), st.integers(0, 1), st.integers(0, 10**12),
    st.sampled_from([1, 10, 100]), st.sampled_from(["ps", "ns", "us"]),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_what_is_written_is_read(
    changes: list[tuple[int, int]], a: int, b: int, start: int, number: int, unit: str
) -> None:
    changes.sort(key=lambda each: each[0])
    levels, body = [a, b], f'#{start}\n{a}!\n{b}"\n'
    for time, group in itertools.groupby(changes, key=lambda each: each[0]):
        body += f"#{start + time}\n"
        for _, line in group:
            levels[line] ^= 1
            body += f"{levels[line]}{'!' if line == 0 else chr(34)}\n"
    body += f"#{start + 10**6}\n"
    size = number * {"ps": 1, "ns": 1000, "us": 10**6}[unit]
    with tempfile.TemporaryDirectory() as folder:
        trace = read(pathlib.Path(folder), dump(body, timescale=f"$timescale {number}{unit} $end\n"))
    assert lists(trace) == ((a, b), *([size * t for t, each in changes if each == line] for line in (0, 1)))
    assert trace.notes.duration == size * 10**6
