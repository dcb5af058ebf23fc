"""Comparing engines with each other and with the slow implementation, integer by integer."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np

from simcore.base.records import NOTHING_MEANT, Edges, Pulses, Transitions, cause_origin, cause_transition
from simcore.base.ticks import NEVER
from simcore.design import Chain
from simcore.engines.blocks import BlockDetail, seen_by_counter
from simcore.judging.sums import CAUSES, EXCURSIONS, VERDICTS, spacing_class

from . import slow
from .slow_hand import Transition
from .slow_line import Edge

OWN_TICKS = 2
"""Ticks by which instants may differ where each side worked out the transitions on its own."""
FLOAT_SHARE = 2e-15
"""Share of an instant that its float may be wrong by, once instants may differ at all."""


def span(offsets: Any, run: int) -> range:
    """Rows of one run of a ragged array."""
    return range(int(offsets[run]), int(offsets[run + 1]))


def cause_of(packed: int) -> tuple[int | None, int]:
    """(Transition or None, origin) of an engine's packed cause."""
    index = cause_transition(packed)
    return (None if index < 0 else index), cause_origin(packed)


def near(ours: int, theirs: int, ticks: float) -> bool:
    """Whether two instants agree within ``ticks``; 0 means exactly."""
    return abs(ours - theirs) <= (ticks + FLOAT_SHARE * theirs if ticks else 0)


def transitions_of(rows: Transitions, run: int) -> list[Transition]:
    """The engine's transitions of run number ``run`` of a block."""
    return [
        Transition(
            int(rows.times[i]), int(rows.channels[i]), bool(rows.closed[i]), int(rows.steps[i]),
            int(rows.directions[i]), float(rows.speeds[i]), int(rows.until[i]), float(rows.travel[i]),
            int(rows.boundaries[i]),
        )
        for i in span(rows.offsets, run)
    ]  # fmt: skip


def wire_of(edges: Edges, run: int) -> slow.Wire:
    """The engine's edges of one run."""
    rows = span(edges.offsets, run)
    found = [Edge(int(edges.times[i]), *cause_of(int(edges.causes[i]))) for i in rows]
    return slow.Wire(int(edges.first[run]), found)


def seen_of(detail: BlockDetail, chain: Chain, run: int) -> tuple[slow.Wire, slow.Wire]:
    """What the engine's counter saw of both lines."""
    a, b = (wire_of(edges, run) for edges in seen_by_counter(chain, detail.lines))
    return a, b


def same_edges(ours: slow.Wire, theirs: slow.Wire, ticks: float, name: str) -> None:
    """Same level, number and causes; instants within ``ticks``."""
    assert ours.first == theirs.first, f"{name}: first level"
    causes = [[(e.transition, e.origin) for e in wire.edges] for wire in (ours, theirs)]
    assert causes[0] == causes[1], f"{name}: causes"
    for number, (a, b) in enumerate(zip(ours.edges, theirs.edges, strict=True)):
        assert near(a.time, b.time, ticks), f"{name}: edge {number} at {a.time}, the engine has {b.time}"


def same_truth(ours: slow.Record, rows: Transitions, run: int) -> float:
    """Same transitions but for rounding; returns the largest difference allowed (ticks)."""
    theirs = transitions_of(rows, run)
    mine = ours.truth.transitions
    first = int(rows.first[run])
    assert ours.truth.closed == (bool(first & 1), bool(first & 2)), "contacts at the start"
    plain = [
        [(t.channel, t.closed, t.step, t.direction, t.until, t.boundary) for t in them]
        for them in (mine, theirs)
    ]
    assert plain[0] == plain[1], "transitions"
    for number, (a, b) in enumerate(zip(mine, theirs, strict=True)):
        assert abs(a.time - b.time) <= OWN_TICKS + a.doubt, f"transition {number}: {a.time}, {b.time}"
        assert abs(a.speed - b.speed) <= 1e-6 * b.speed + 1e-3, f"speed at transition {number}"
        assert abs(a.travel - b.travel) <= 1e-9 * (1 + b.travel), f"travel of transition {number}"
    return max((OWN_TICKS + t.doubt for t in mine), default=0.0)


def same_steps(ours: slow.Record, detail: BlockDetail, run: int) -> None:
    """Same steps, verdicts and root causes."""
    steps = detail.truth.steps
    rows = span(steps.offsets, run)
    theirs = [(int(steps.gestures[m]), int(steps.directions[m]), int(steps.whole[m])) for m in rows]
    kinds = [NOTHING_MEANT if step.at_rest else int(step.whole) for step in ours.truth.steps]
    own = [(s.entry, s.direction, kind) for s, kind in zip(ours.truth.steps, kinds, strict=True)]
    assert own == theirs, "steps"
    judged = [(VERDICTS[int(detail.verdicts[m])], CAUSES[int(detail.causes[m])]) for m in rows]
    mine = list(zip(ours.judgement.verdicts, ours.judgement.causes, strict=True))
    assert mine == judged, "verdicts and root causes"
    assert ours.judgement.error == int(detail.result.errors[run]), "final error"


def same_spacings(ours: slow.Record, detail: BlockDetail, run: int) -> None:
    """Same closest transitions of each step."""
    rows = span(detail.truth.steps.offsets, run)
    theirs = [int(detail.truth.steps.spacings[m]) for m in rows]
    assert [NEVER if s.spacing is None else s.spacing for s in ours.truth.steps] == theirs


def same_pulses(ours: slow.Record, rows: Pulses, run: int, ticks: float) -> None:
    """Same pulses, instants within ``ticks``."""
    numbers = span(rows.offsets, run)
    theirs = [
        (int(rows.asked[i]), int(rows.moved[i]), *cause_of(int(rows.causes[i])), int(rows.flags[i]))
        for i in numbers
    ]
    mine = [(p.asked, p.moved, p.transition, p.origin, p.flags) for p in ours.pulses]
    assert mine == theirs, "pulses"
    for pulse, i in zip(ours.pulses, numbers, strict=True):
        assert near(pulse.time, int(rows.times[i]), ticks), "instant of a pulse"


def same_sums(runs: list[slow.Record], detail: BlockDetail) -> None:
    """The block's table of steps, its excursions and its spurious pulses, added up by hand."""
    table: Counter[tuple[int, ...]] = Counter()
    astray: Counter[int] = Counter()
    for ours in runs:
        judged = zip(ours.truth.steps, ours.judgement.verdicts, ours.judgement.causes, strict=True)
        for step, verdict, cause in judged:
            spacing = spacing_class(NEVER if step.spacing is None else step.spacing)
            down = int(step.direction < 0)
            table[step.entry, down, spacing, VERDICTS.index(verdict), CAUSES.index(cause)] += 1
        astray.update(min(far, EXCURSIONS - 1) for far in ours.judgement.excursions)
    sums = detail.result.sums
    filled = {
        tuple(int(i) for i in place): int(sums.steps[tuple(place)]) for place in np.argwhere(sums.steps)
    }
    assert filled == dict(table), "table of steps"
    assert list(sums.excursions) == [astray[far] for far in range(EXCURSIONS)], "excursions"
    assert int(sums.cut[0]) == sum(ours.cut for ours in runs), "bursts cut off"
    spurious = [ours.judgement.spurious for ours in runs]
    assert list(sums.spurious) == [sum(spurious), sum(n * n for n in spurious)], "spurious pulses"


def same_rows(name: str, ours: Any, theirs: Any, run: int) -> int:
    """Rows of run ``run`` of a block equal those of a block of one run; returns their number."""
    count = int(theirs.offsets[1])
    first = int(ours.offsets[run])
    assert int(ours.offsets[run + 1]) - first == count, f"{name}: number of rows"
    for field in theirs._fields:
        x, y = getattr(ours, field), getattr(theirs, field)
        if field in ("first", "ends"):
            assert int(x[run]) == int(y[0]), f"{name}: {field}"
        elif field != "offsets":
            assert np.array_equal(x[first : first + count], y[:count]), f"{name}: {field}"
    return count


def same_run(block: BlockDetail, single: BlockDetail, run: int) -> Counter[str]:
    """Run ``run`` of a block equals a block of one in everything; returns what was compared."""
    seen: Counter[str] = Counter(runs=1)
    seen["transitions"] = same_rows("transitions", block.truth.transitions, single.truth.transitions, run)
    seen["steps"] = same_rows("steps", block.truth.steps, single.truth.steps, run)
    for line in (0, 1):
        for depth, (x, y) in enumerate(zip(block.lines[line], single.lines[line], strict=True)):
            seen["edges"] += same_rows(f"line {line} after {depth} stages", x, y, run)
    seen["pulses"] = same_rows("pulses", block.pulses, single.pulses, run)
    rows = span(block.truth.steps.offsets, run)
    assert np.array_equal(block.verdicts[rows.start : rows.stop], single.verdicts), "verdicts"
    assert np.array_equal(block.causes[rows.start : rows.stop], single.causes), "root causes"
    assert int(block.result.errors[run]) == int(single.result.errors[0]), "final error"
    seen.update(CAUSES[int(cause)] for cause in single.causes if cause)
    return seen
