"""One traced run as CSV tables: every edge of every line at every place, and every step.

The table of edges begins with the columns of a recorded trace (time, and both lines at the
contacts, 0 while closed as behind a pull-up), so ``steptally replay`` takes it as it is.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, NamedTuple

from reports.dumps import LINES, last_tick
from reports.output import write_file
from reports.samples import places

if TYPE_CHECKING:
    from simcore.tracing.tracing import StepFacts, TracedRun, Trail

TICKS_PER_SECOND = 1_000_000_000_000
EDGE_HEAD = ("time [s]", "line A", "line B", "line", "place", "level", "cause", "step")
STEP_HEAD = (
    "step", "gesture", "direction", "meant", "expected", "received", "pulses", "verdict", "cause",
    "start [s]", "end [s]", "position",
)  # fmt: skip
MEANT = ("part of a step", "a step", "nothing")
"""Words for simcore.base.records.PART, WHOLE and NOTHING_MEANT."""


class _Edge(NamedTuple):
    """One edge, in the order of the table."""

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

    The first row is the start of the run, the last one the end of its watch.  Raises UserError.
    """
    write_file(file, edges_csv(traced))


def write_steps_csv(traced: TracedRun, file: str) -> None:
    """Write every step: what was meant, what was counted, verdict and root cause, from when to when
    it lasted, and the counter's position at its end.  Raises UserError.
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
    from simcore.base.records import ORIGIN_NAMES

    levels = [1 ^ line.contact.first for line in traced.lines]
    step_of = {facts.index: step.number for step in traced.steps for facts in step.transitions}
    yield (seconds_text(0), *levels, "", "start", "", "", "")
    # Stable: changes of one line at one tick stay in their order.
    for edge in sorted(_edges(traced), key=lambda edge: edge[:3]):
        if edge.depth == 0:
            levels[edge.line] = edge.level
        yield (
            seconds_text(edge.tick), *levels, LINES[edge.line], edge.place, edge.level,
            ORIGIN_NAMES[edge.origin], step_of.get(edge.transition, ""),
        )  # fmt: skip
    yield (seconds_text(last_tick(traced)), *levels, "", "end", "", "", "")


def _edges(traced: TracedRun) -> Iterator[_Edge]:
    stages = places(traced)
    for number, line in enumerate(traced.lines):
        yield from _of_trail(line.contact, 0, number, "contact", 1)
        yield from _of_trail(line.seen, len(stages) + 1, number, "counter", 0)
    for depth, place in enumerate(stages, start=1):
        for number, trail in enumerate(place.trails):
            if trail is not None:
                yield from _of_trail(trail, depth, number, place.name, 0)


def _of_trail(trail: Trail, depth: int, line: int, place: str, turned: int) -> Iterator[_Edge]:
    columns = (trail.ticks, trail.levels ^ turned, trail.origins, trail.transitions)
    for tick, level, origin, transition in zip(*(column.tolist() for column in columns), strict=True):
        yield _Edge(tick, depth, line, place, level, origin, transition)


def _step_row(traced: TracedRun, step: StepFacts) -> tuple[str | int, ...]:
    return (
        step.number, step.gesture, step.direction, MEANT[step.whole], step.expected, step.received,
        step.moves, step.verdict, step.cause, seconds_text(step.start), seconds_text(step.end),
        traced.position_at(step.end),
    )  # fmt: skip
