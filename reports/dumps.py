"""One traced run as a value change dump.

In it a contact is 0 while closed and 1 while open, as its line is behind a pull-up: so ``steptally
replay`` takes the file as it is, and finds the very changes of the run again.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

from reports.output import write_file
from reports.samples import Samples, places, voltage_samples

if TYPE_CHECKING:
    from vcd.writer import Variable, VCDWriter

    from simcore.tracing.tracing import LineNode, TracedRun, Trail

LINES = ("A", "B")
LAST = 1_000
"""The depth of what comes behind all stages."""
BITS = 64
"""Of a whole number in a dump, in two's complement."""


class Change(NamedTuple):
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
    reports.samples, and the thresholds in force), ``hand`` (whole numbers ``step``, 0 before the
    first, and ``verdict``, the place of the step's verdict in simcore.judging.sums.VERDICTS, from 1).
    Raises UserError.
    """
    write_file(file, vcd_text(traced))


def vcd_text(traced: TracedRun) -> str:
    """The text of `write_vcd`."""
    from vcd import VCDWriter

    from reports.versions import versions
    from simcore.judging.sums import VERDICTS

    out = io.StringIO()
    verdicts = ", ".join(f"{number} {name}" for number, name in enumerate(VERDICTS, start=1))
    comment = (
        f"seed {traced.seed}, run {traced.run}\n"
        "contacts: 0 closed, 1 open, as a line is behind a pull-up\n"
        f"verdict of the step: {verdicts}"
    )
    version = f"steptally {versions()['steptally']}"
    writer = VCDWriter(out, timescale="1 ps", date="", comment=comment, version=version)
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
    from simcore.base.records import WATCHED

    return max([traced.end + WATCHED, *(pulse.tick for pulse in traced.pulses)])


def _wires(writer: VCDWriter, traced: TracedRun) -> Iterator[Change]:
    """Contacts, stages, and what the counter sees, in the order of the way."""
    for name, line in zip(LINES, traced.lines, strict=True):
        yield from _wire(writer, "contacts", name, line.contact, 0, 1)
    taken = {"contacts", "counter", "volts", "hand"}
    stages = places(traced)
    for depth, place in enumerate(stages, start=1):
        scope = _scope(place.name, taken)
        for name, trail in zip(LINES, place.trails, strict=True):
            if trail is not None:
                yield from _wire(writer, scope, name, trail, depth, 0)
    for name, line in zip(LINES, traced.lines, strict=True):
        yield from _wire(writer, "counter", name, line.seen, len(stages) + 1, 0)


def _wire(
    writer: VCDWriter, scope: str, name: str, trail: Trail, depth: int, turned: int
) -> Iterator[Change]:
    variable = writer.register_var((scope,), name, "wire", 1, trail.first ^ turned)
    for tick, level in zip(trail.ticks.tolist(), trail.levels.tolist(), strict=True):
        yield Change(tick, depth, variable, level ^ turned)


def _scope(name: str, taken: set[str]) -> str:
    """An identifier for a stage: letters, digits and underscores, and none twice."""
    plain = re.sub(r"[^A-Za-z0-9_]", "_", name)
    plain = plain if re.match(r"[A-Za-z_]", plain) else f"stage_{plain}"
    found, number = plain, 2
    while found in taken:
        found, number = f"{plain}_{number}", number + 1
    taken.add(found)
    return found


def _counter(writer: VCDWriter, traced: TracedRun) -> Iterator[Change]:
    position = writer.register_var(("counter",), "position", "integer", BITS, traced.start_position)
    asked = writer.register_var(("counter",), "asked", "integer", BITS, 0)
    event = writer.register_var(("counter",), "pulse", "event")
    for pulse in traced.pulses:
        yield Change(pulse.tick, LAST, asked, pulse.asked)
        yield Change(pulse.tick, LAST, position, pulse.position)
        yield Change(pulse.tick, LAST, event, 1)


def _volts(writer: VCDWriter, traced: TracedRun) -> Iterator[Change]:
    for name, line in zip(LINES, traced.lines, strict=True):
        node = line.node
        if node is None:
            continue
        samples = voltage_samples(node, 0, last_tick(traced))
        rows = {name: samples, **_thresholds(name, node)}
        for word, (ticks, volts) in rows.items():
            values = volts.tolist()
            variable = writer.register_var(("volts",), word, "real", BITS, values[0])
            for tick, value in zip(ticks.tolist(), values, strict=True):
                yield Change(tick, 0, variable, value)


def _thresholds(name: str, node: LineNode) -> dict[str, Samples]:
    """The thresholds in force at each event of the line; equal ones in a row are written once."""
    return {
        f"{name}_rising": Samples(node.knots, node.rising),
        f"{name}_falling": Samples(node.knots, node.falling),
    }


def _hand(writer: VCDWriter, traced: TracedRun) -> Iterator[Change]:
    from simcore.judging.sums import VERDICTS

    number = writer.register_var(("hand",), "step", "integer", BITS, 0)
    verdict = writer.register_var(("hand",), "verdict", "integer", BITS, 0)
    for step in sorted(traced.steps, key=lambda step: step.start):
        yield Change(step.start, 0, number, step.number)
        yield Change(step.start, 0, verdict, 1 + VERDICTS.index(step.verdict))
