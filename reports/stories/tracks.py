"""The tracks of a timing diagram, from the facts of one run: levels, voltages and the count."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np

from reports.results.common import LINES
from reports.results.gallery import DiagramEvent, DiagramThreshold, DiagramTrack
from reports.stories.windows import MICROSECOND

if TYPE_CHECKING:
    from reports.results.common import LineName
    from reports.stories.windows import TimeWindow
    from simcore.base.records import Floats, Ints
    from simcore.tracing.tracing import LineNode, TracedRun, Trail

NANOSECOND = 1_000
MOST_CHANGES = 1_000
"""Of one track; what lies further from the deciding moment is left out."""
EVEN = 64
MOST_INSTANTS = 1_500
HALVINGS = 24
FLAT = 5.0e-4
"""Volts by which a straight piece of a drawn voltage may miss the true one halfway."""
MOST_EVENTS = 80


def tracks(run: TracedRun, window: TimeWindow, moment: tuple[int, int]) -> tuple[DiagramTrack, ...]:
    """Contacts, voltages, lines at the counter, count, from top to bottom."""
    named = list(zip(LINES, run.lines, strict=True))
    contacts = [
        _track(f"contact {name}", name, "contact", *_levels(line.contact, window, moment))
        for name, line in named
    ]
    voltages = [_voltage(line.node, name, window, moment) for name, line in named if line.node is not None]
    levels = [
        _track(f"line {name} at the counter", name, "level", *_levels(line.seen, window, moment))
        for name, line in named
    ]
    return (*contacts, *voltages, *levels, _count(run, window, moment))


def _track(
    name: str,
    line: LineName | Literal[""],
    sort: Literal["contact", "voltage", "level", "count"],
    times: Sequence[float],
    values: Sequence[float],
    thresholds: tuple[DiagramThreshold, ...] = (),
) -> DiagramTrack:
    return DiagramTrack(
        name=name, line=line, sort=sort, times_us=tuple(times), values=tuple(values), thresholds=thresholds
    )


def _levels(trail: Trail, window: TimeWindow, moment: tuple[int, int]) -> tuple[list[float], list[int]]:
    """Times and levels, with the level at both ends of the window."""
    within = trail.between(window.start, window.end)
    ticks, levels = trail.ticks[within], trail.levels[within]
    before = trail.level_at(window.start - 1)
    kept = np.isin(ticks, _nearest(ticks, moment))
    ticks, levels = ticks[kept], levels[kept]
    times = [window.us(window.start), *(window.us(tick) for tick in ticks), window.us(window.end)]
    values = [before, *(int(level) for level in levels)]
    return times, [*values, values[-1]]


def _voltage(node: LineNode, name: LineName, window: TimeWindow, moment: tuple[int, int]) -> DiagramTrack:
    ticks = _instants(node, window, moment)
    before, after = node.volts_before(ticks), node.volts(ticks)
    times = np.repeat((ticks - window.zero) / MICROSECOND, 2)
    volts = np.stack([before, after], axis=1).ravel()
    kept = _telling(times, volts)
    return _track(
        f"voltage {name}",
        name,
        "voltage",
        times[kept].tolist(),
        [round(volt, 4) for volt in volts[kept].tolist()],
        (_threshold(node, "rising", node.rising, window), _threshold(node, "falling", node.falling, window)),
    )


def _instants(node: LineNode, window: TimeWindow, moment: tuple[int, int]) -> Ints:
    """Ticks at which a voltage is drawn: evenly, at each change of its law, and wherever a straight piece
    between two of them would miss it, halved until it does not.
    """
    knots = _nearest(node.knots[(node.knots > window.start) & (node.knots < window.end)], moment)
    even = np.linspace(window.start, window.end, EVEN).astype(np.int64)
    ticks = np.unique(np.concatenate([even, knots, [window.start, window.end]]))
    for _ in range(HALVINGS):
        middle = (ticks[:-1] + ticks[1:]) // 2
        straight = 0.5 * (node.volts(ticks)[:-1] + node.volts_before(ticks)[1:])
        bent = np.abs(node.volts(middle) - straight) > FLAT
        more = middle[bent & (np.diff(ticks) > 2 * NANOSECOND)]
        if not more.size or ticks.size + more.size > MOST_INSTANTS:
            break
        ticks = np.union1d(ticks, more)
    return ticks


def _nearest(ticks: Ints, moment: tuple[int, int]) -> Ints:
    """At most MOST_CHANGES of some ticks, those nearest to the moment, in order."""
    if ticks.size <= MOST_CHANGES:
        return ticks
    far = np.abs(ticks - (moment[0] + moment[1]) // 2)
    return np.sort(ticks[np.argsort(far, kind="stable")[:MOST_CHANGES]])


def _telling(times: Floats, volts: Floats) -> Ints:
    """Indices of points that a line through the others would miss by more than FLAT (as Douglas and
    Peucker thin a line, with the distance taken upright).
    """
    kept = {0, times.size - 1}
    open_pieces = [(0, times.size - 1)]
    while open_pieces:
        lo, hi = open_pieces.pop()
        if hi - lo < 2:
            continue
        span = times[hi] - times[lo]
        share = (times[lo + 1 : hi] - times[lo]) / span if span > 0.0 else np.zeros(hi - lo - 1)
        off = np.abs(volts[lo + 1 : hi] - (volts[lo] + share * (volts[hi] - volts[lo])))
        worst = int(np.argmax(off))
        if off[worst] > FLAT:
            middle = lo + 1 + worst
            kept.add(middle)
            open_pieces += [(lo, middle), (middle, hi)]
    return np.array(sorted(kept), np.int64)


def _threshold(
    node: LineNode, name: Literal["rising", "falling"], values: Floats, window: TimeWindow
) -> DiagramThreshold:
    """A threshold over the window: two points while it keeps still, its changes otherwise."""
    first = max(int(np.searchsorted(node.knots, window.start, side="right")) - 1, 0)
    last = max(int(np.searchsorted(node.knots, window.end, side="right")) - 1, first)
    times, volts = [window.us(window.start)], [float(values[first])]
    for i in range(first + 1, min(last, first + MOST_CHANGES) + 1):
        if values[i] != values[i - 1]:
            times.append(window.us(int(node.knots[i])))
            volts.append(float(values[i]))
    times.append(window.us(window.end))
    return DiagramThreshold(
        name=name, times_us=tuple(times), volts=tuple(round(v, 4) for v in (*volts, volts[-1]))
    )


def _count(run: TracedRun, window: TimeWindow, moment: tuple[int, int]) -> DiagramTrack:
    inside = [pulse for pulse in run.pulses if window.start <= pulse.tick < window.end and pulse.moved]
    kept = set(_nearest(np.array([pulse.tick for pulse in inside], np.int64), moment).tolist())
    inside = [pulse for pulse in inside if pulse.tick in kept]
    before = run.position_at(window.start - 1)
    times = [window.us(window.start), *(window.us(pulse.tick) for pulse in inside), window.us(window.end)]
    values = [before, *(pulse.position for pulse in inside)]
    return _track("count", "", "count", times, [*values, values[-1]])


def events(run: TracedRun, window: TimeWindow) -> tuple[DiagramEvent, ...]:
    """What happened in the window, in order and in words; the first MOST_EVENTS of them."""
    found: list[tuple[int, int, str]] = []
    for name, line in zip(LINES, run.lines, strict=True):
        found += [
            (tick, 0, f"contact {name} {('opens', 'closes')[level]}")
            for tick, level in _changes(line.contact, window)
        ]
        found += [
            (tick, 1, f"the counter sees {name} {('fall', 'rise')[level]}")
            for tick, level in _changes(line.seen, window)
        ]
    for pulse in run.pulses:
        if window.start <= pulse.tick < window.end:
            found.append((pulse.tick, 2, _pulse_words(pulse.asked, pulse.moved, pulse.position)))
    found.sort(key=lambda each: each[:2])
    return tuple(DiagramEvent(time_us=window.us(tick), what=what) for tick, _, what in found[:MOST_EVENTS])


def _changes(trail: Trail, window: TimeWindow) -> list[tuple[int, int]]:
    within = trail.between(window.start, window.end)
    return list(zip(trail.ticks[within].tolist(), trail.levels[within].tolist(), strict=True))


def _pulse_words(asked: int, moved: int, position: int) -> str:
    if asked == 0:
        return f"an active edge gives no count; the position stays {position}"
    if moved == 0:
        return f"a count of {asked:+d} is held at {position} by an end stop"
    return f"the counter counts {moved:+d}, to {position}"
