"""The worked example of value change dumps in IEEE Std 1364-2005, clause 18, from a summary of it."""

from __future__ import annotations

import pathlib

from tests.scenarios.dump_samples import read

NS = 1000
EXAMPLE = """$timescale 1 ns $end
$scope module top $end
$var wire 1 ! a $end
$var wire 1 " p $end
$var wire 1 # q $end
$var reg 32 $ many $end
$var reg 32 % more $end
$upscope $end
$enddefinitions $end
#500
$dumpvars
x!
x"
x#
bx $
bx %
$end
#505
0!
1"
1#
b10zx1110x11100 $
b1111000101z01x %
#510
0#
#520
1#
#530
0#
bz $
#535
$dumpall
0!
1"
0#
bz $
b1111000101z01x %
$end
#540
1#
#1000
$dumpoff
x!
x"
x#
bx $
bx %
$end
#2000
$dumpon
z!
1"
0#
b0 $
bx %
$end
#2010
1#
"""
"""The worked example of 18.2.4 (and 18.1.3) as quoted, with codes and names of our own."""


def test_the_worked_example(tmp_path: pathlib.Path) -> None:
    trace = read(tmp_path, EXAMPLE, "p,q")
    assert trace.first == (1, 1)
    assert trace.times[0].tolist() == []
    assert trace.times[1].tolist() == [t * NS for t in (10, 20, 30, 40, 1500, 1510)]
    assert trace.notes.start == 500 * NS
    assert trace.notes.pauses == (1, 1000 * NS)


def test_a_recording_that_ends_while_dumping_is_off(tmp_path: pathlib.Path) -> None:
    cut = EXAMPLE[: EXAMPLE.index("#2000")] + "#1700\n"
    trace = read(tmp_path, cut, "p,q")
    assert trace.notes.pauses == (1, 700 * NS)
    assert trace.notes.duration == 1200 * NS
