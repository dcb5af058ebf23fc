"""Value change dumps written by hand, for the tests."""

from __future__ import annotations

import pathlib

from scenarios.traces.reading import read_trace
from scenarios.traces.record import Trace
from scenarios.traces.rows import Threshold

LINES = '$var wire 1 ! A $end\n$var wire 1 " B $end\n'


def dump(body: str, variables: str = LINES, timescale: str = "$timescale 1 ns $end\n") -> str:
    """A dump of a body, which ends in a whole line."""
    return f"{timescale}{variables}$enddefinitions $end\n{body}"


def read(
    folder: pathlib.Path,
    text: str | bytes,
    columns: str | None = None,
    unit: int | None = None,
    threshold: Threshold | None = None,
) -> Trace:
    """What our reader makes of a dump; its name does not say what it is."""
    path = folder / "trace"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_trace(str(path), columns=columns, unit=unit, threshold=threshold)


def lists(trace: Trace) -> tuple[tuple[int, int], list[int], list[int]]:
    """First levels, and the ticks of A and of B."""
    return trace.first, trace.times[0].tolist(), trace.times[1].tolist()
