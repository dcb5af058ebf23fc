"""One traced run as files: a value change dump, and CSV tables of every edge and every step.

In the dump and in the table of edges a contact is 0 while closed and 1 while open, as its line is behind a
pull-up: so ``steptally replay`` takes either file as it is, and finds the very changes of the run again.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

from reports.output import write_file
from reports.results.trace import INTENDED
from reports.stories.samples import VoltageSamples, places, voltage_samples
from simcore.base.records import LINE_NAMES, ORIGIN_NAMES, WATCHED
from simcore.base.ticks import TICKS_PER_SECOND
from simcore.judging.sums import VERDICTS

if TYPE_CHECKING:
    from vcd.writer import Variable, VCDWriter

    from simcore.tracing.tracing import LineNode, StepFacts, TracedRun, Trail

LAST = 1_000
"""The depth of what comes behind all stages."""
BITS = 64
"""Of a whole number in a dump, in two's complement."""
EDGE_HEAD = ("time [s]", "line A", "line B", "line", "place", "level", "cause", "step")
STEP_HEAD = (
    "step", "gesture", "direction", "meant", "expected", "received", "pulses", "verdict", "cause",
    "start [s]", "end [s]", "position",
)  # fmt: skip


class DumpChange(NamedTuple):
    """A variable gets a value; at one tick, changes of lower ``depth`` come first."""

    tick: int
    depth: int
    variable: Variable[Any]
    value: Any


def write_vcd(traced: TracedRun, file: str) -> None:
    """Write a run as a value change dump (IEEE Std 1364-2005, clause 18) of 1 ps.

    Scopes: ``contacts`` (wires A, B: 0 closed, 1 open), one by the name of each stage (wires),
    ``counter`` (wires A, B as it sees them; whole numbers ``position`` and ``asked``, the counts
    of the latest pulse; an event ``pulse``), ``volts`` (reals A, B, sampled as in
    reports.stories.samples, and the thresholds in force), ``hand`` (whole numbers ``step``, 0 before the
    first, and ``verdict``, the place of the step's verdict in simcore.judging.sums.VERDICTS, from 1).
    Raises BadInput.
    """
    write_file(file, vcd_text(traced))


def vcd_text(traced: TracedRun) -> str:
    """The text of `write_vcd`."""
    from importlib.metadata import version

    from vcd import VCDWriter

    out = io.StringIO()
    verdicts = ", ".join(f"{number} {name}" for number, name in enumerate(VERDICTS, start=1))
    comment = (
        f"seed {traced.seed}, run {traced.run}\n"
        "contacts: 0 closed, 1 open, as a line is behind a pull-up\n"
        f"verdict of the step: {verdicts}"
    )
    program = f"steptally {version('steptally')}"
    writer = VCDWriter(out, timescale="1 ps", date="", comment=comment, version=program)
    changes = [*_wires(writer, traced), *_counter(writer, traced), *_volts(writer, traced)]
    changes += _hand(writer, traced)
    writer.flush()
    changes.sort(key=lambda change: change[:2])
    for change in changes:
        writer.change(change.variable, change.tick, change.value)
    writer.close(last_tick(traced))
    return out.getvalue()


def last_tick(traced: TracedRun) -> int:
    """The end of what a run shows: the end of its watch, or a pulse that comes later."""
    return max([traced.end + WATCHED, *(pulse.tick for pulse in traced.pulses)])


def _wires(writer: VCDWriter, traced: TracedRun) -> Iterator[DumpChange]:
    """Contacts, stages, and what the counter sees, in the order of the way."""
    for name, line in zip(LINE_NAMES, traced.lines, strict=True):
        yield from _wire(writer, "contacts", name, line.contact, 0, 1)
    taken = {"contacts", "counter", "volts", "hand"}
    stages = places(traced)
    for depth, place in enumerate(stages, start=1):
        scope = _scope(place.name, taken)
        for name, trail in zip(LINE_NAMES, place.trails, strict=True):
            if trail is not None:
                yield from _wire(writer, scope, name, trail, depth, 0)
    for name, line in zip(LINE_NAMES, traced.lines, strict=True):
        yield from _wire(writer, "counter", name, line.seen, len(stages) + 1, 0)


def _wire(
    writer: VCDWriter, scope: str, name: str, trail: Trail, depth: int, turned: int
) -> Iterator[DumpChange]:
    variable = writer.register_var((scope,), name, "wire", 1, trail.first ^ turned)
    for tick, level in zip(trail.ticks.tolist(), trail.levels.tolist(), strict=True):
        yield DumpChange(tick, depth, variable, level ^ turned)


def _scope(name: str, taken: set[str]) -> str:
    """An identifier for a stage: letters, digits and underscores, and none twice."""
    plain = re.sub(r"[^A-Za-z0-9_]", "_", name)
    plain = plain if re.match(r"[A-Za-z_]", plain) else f"stage_{plain}"
    found, number = plain, 2
    while found in taken:
        found, number = f"{plain}_{number}", number + 1
    taken.add(found)
    return found


def _counter(writer: VCDWriter, traced: TracedRun) -> Iterator[DumpChange]:
    position = writer.register_var(("counter",), "position", "integer", BITS, traced.start_position)
    asked = writer.register_var(("counter",), "asked", "integer", BITS, 0)
    event = writer.register_var(("counter",), "pulse", "event")
    for pulse in traced.pulses:
        yield DumpChange(pulse.tick, LAST, asked, pulse.asked)
        yield DumpChange(pulse.tick, LAST, position, pulse.position)
        yield DumpChange(pulse.tick, LAST, event, 1)


def _volts(writer: VCDWriter, traced: TracedRun) -> Iterator[DumpChange]:
    for name, line in zip(LINE_NAMES, traced.lines, strict=True):
        node = line.node
        if node is None:
            continue
        samples = voltage_samples(node, 0, last_tick(traced))
        rows = {name: samples, **_thresholds(name, node)}
        for word, (ticks, volts) in rows.items():
            values = volts.tolist()
            variable = writer.register_var(("volts",), word, "real", BITS, values[0])
            for tick, value in zip(ticks.tolist(), values, strict=True):
                yield DumpChange(tick, 0, variable, value)


def _thresholds(name: str, node: LineNode) -> dict[str, VoltageSamples]:
    """The thresholds in force at each event of the line; equal ones in a row are written once."""
    return {
        f"{name}_rising": VoltageSamples(node.knots, node.rising),
        f"{name}_falling": VoltageSamples(node.knots, node.falling),
    }


def _hand(writer: VCDWriter, traced: TracedRun) -> Iterator[DumpChange]:
    number = writer.register_var(("hand",), "step", "integer", BITS, 0)
    verdict = writer.register_var(("hand",), "verdict", "integer", BITS, 0)
    for step in sorted(traced.steps, key=lambda step: step.start):
        yield DumpChange(step.start, 0, number, step.number)
        yield DumpChange(step.start, 0, verdict, 1 + VERDICTS.index(step.verdict))


class TableEdge(NamedTuple):
    """One edge of the CSV table, in its order."""

    tick: int
    depth: int
    line: int
    place: str
    level: int
    origin: int
    transition: int


def write_edges_csv(traced: TracedRun, file: str) -> None:
    """Write every edge: its time, both lines at the contacts after it, the line and the place that
    it is of ("contact", a stage by name, "counter"), the level after it, what it comes from in
    words, and the step it belongs to, empty where no movement is behind it.

    The first row is the start of the run, the last one the end of its watch.  Raises BadInput.
    """
    write_file(file, edges_csv(traced))


def write_steps_csv(traced: TracedRun, file: str) -> None:
    """Write every step: what was intended, what was counted, verdict and root cause, when it began
    and ended, and the counter's position at its end.  Raises BadInput.
    """
    write_file(file, steps_csv(traced))


def seconds_text(tick: int) -> str:
    """A tick in seconds, to the picosecond."""
    return f"{tick // TICKS_PER_SECOND}.{tick % TICKS_PER_SECOND:012d}"


def edges_csv(traced: TracedRun) -> str:
    """The text of `write_edges_csv`."""
    return _table(EDGE_HEAD, _edge_rows(traced))


def steps_csv(traced: TracedRun) -> str:
    """The text of `write_steps_csv`."""
    return _table(STEP_HEAD, (_step_row(traced, step) for step in traced.steps))


def _table(head: tuple[str, ...], rows: Iterable[tuple[str | int, ...]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head)
    writer.writerows(rows)
    return out.getvalue()


def _edge_rows(traced: TracedRun) -> Iterator[tuple[str | int, ...]]:
    levels = [1 ^ line.contact.first for line in traced.lines]
    step_of = {facts.index: step.number for step in traced.steps for facts in step.transitions}
    yield (seconds_text(0), *levels, "", "start", "", "", "")
    # Stable: changes of one line at one tick stay in their order.
    for edge in sorted(_edges(traced), key=lambda edge: edge[:3]):
        if edge.depth == 0:
            levels[edge.line] = edge.level
        yield (
            seconds_text(edge.tick), *levels, LINE_NAMES[edge.line], edge.place, edge.level,
            ORIGIN_NAMES[edge.origin], step_of.get(edge.transition, ""),
        )  # fmt: skip
    yield (seconds_text(last_tick(traced)), *levels, "", "end", "", "", "")


def _edges(traced: TracedRun) -> Iterator[TableEdge]:
    stages = places(traced)
    for number, line in enumerate(traced.lines):
        yield from _of_trail(line.contact, 0, number, "contact", 1)
        yield from _of_trail(line.seen, len(stages) + 1, number, "counter", 0)
    for depth, place in enumerate(stages, start=1):
        for number, trail in enumerate(place.trails):
            if trail is not None:
                yield from _of_trail(trail, depth, number, place.name, 0)


def _of_trail(trail: Trail, depth: int, line: int, place: str, turned: int) -> Iterator[TableEdge]:
    columns = (trail.ticks, trail.levels ^ turned, trail.origins, trail.transitions)
    for tick, level, origin, transition in zip(*(column.tolist() for column in columns), strict=True):
        yield TableEdge(tick, depth, line, place, level, origin, transition)


def _step_row(traced: TracedRun, step: StepFacts) -> tuple[str | int, ...]:
    return (
        step.number, step.gesture, step.direction, INTENDED[step.whole], step.expected, step.received,
        step.moves, step.verdict, step.cause, seconds_text(step.start), seconds_text(step.end),
        traced.position_at(step.end),
    )  # fmt: skip
