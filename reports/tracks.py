"""The tracks of a timing diagram, from the facts of one run: levels, voltages and the count."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from simcore.edges import Floats, Ints
    from simcore.traced import LineNode, TracedLine, TracedRun, Trail

Export = dict[str, Any]
MICROSECOND = 1_000_000
NANOSECOND = 1_000
MOST_CHANGES = 3_000
"""Of one track; what lies further from the deciding moment is left out."""
EVEN = 160
CLOSE = 160
AFTER = (0.02, 0.06, 0.12, 0.2, 0.3, 0.45, 0.6, 0.8)
MOST_KNOTS = 150
FLAT = 5.0e-4
"""Volts; a point that lies this close to the line between its neighbours is left out."""
MOST_EVENTS = 80


@dataclasses.dataclass(frozen=True)
class Window:
    """The ticks that are drawn, and the tick that is time zero."""

    start: int
    end: int
    zero: int

    def us(self, tick: int) -> float:
        """Microseconds after zero, to the picosecond."""
        return (int(tick) - self.zero) / MICROSECOND


def tracks(run: TracedRun, window: Window, moment: tuple[int, int]) -> list[Export]:
    """Contacts, voltages, lines at the counter, count, from top to bottom."""
    found = [_contact(line, name, window, moment) for line, name in zip(run.lines, "AB", strict=True)]
    for line, name in zip(run.lines, "AB", strict=True):
        if line.node is not None:
            found.append(_voltage(line.node, name, window, moment))
    found += [
        _track(f"line {name} at the counter", name, "level", *_levels(line.seen, window, moment))
        for line, name in zip(run.lines, "AB", strict=True)
    ]
    return [*found, _count(run, window)]


def _track(name: str, line: str, sort: str, times: list[float], values: list[Any]) -> Export:
    return {
        "name": name, "line": line, "sort": sort, "times_us": times, "values": values, "thresholds": [],
    }  # fmt: skip


def _contact(line: TracedLine, name: str, window: Window, moment: tuple[int, int]) -> Export:
    return _track(f"contact {name}", name, "contact", *_levels(line.contact, window, moment))


def _levels(trail: Trail, window: Window, moment: tuple[int, int]) -> tuple[list[float], list[int]]:
    """Times and levels, with the level at both ends of the window."""
    within = trail.between(window.start, window.end)
    ticks, levels = trail.ticks[within], trail.levels[within]
    before = trail.level_at(window.start - 1)
    if ticks.size > MOST_CHANGES:
        nearest = np.argsort(np.abs(ticks - (moment[0] + moment[1]) // 2), kind="stable")[:MOST_CHANGES]
        kept = np.sort(nearest)
        ticks, levels = ticks[kept], levels[kept]
    times = [window.us(window.start), *(window.us(tick) for tick in ticks), window.us(window.end)]
    values = [before, *(int(level) for level in levels)]
    return times, [*values, values[-1]]


def _voltage(node: LineNode, name: str, window: Window, moment: tuple[int, int]) -> Export:
    ticks = _instants(node.knots, window, moment)
    before, after = node.volts_before(ticks), node.volts(ticks)
    times = np.repeat((ticks - window.zero) / MICROSECOND, 2)
    volts = np.stack([before, after], axis=1).ravel()
    kept = _telling(times, volts)
    track = _track(
        f"voltage {name}",
        name,
        "voltage",
        [float(t) for t in times[kept]],
        [round(float(v), 4) for v in volts[kept]],
    )
    track["thresholds"] = [
        _threshold(node, word, values, window)
        for word, values in (("rising", node.rising), ("falling", node.falling))
    ]
    return track


def _instants(knots: Ints, window: Window, moment: tuple[int, int]) -> Ints:
    """Ticks at which a voltage is asked for: evenly, closer about the moment, and after each knot."""
    inside = knots[(knots > window.start) & (knots < window.end)]
    if inside.size > MOST_KNOTS:
        middle = (moment[0] + moment[1]) // 2
        inside = np.sort(inside[np.argsort(np.abs(inside - middle), kind="stable")[:MOST_KNOTS]])
    following = np.append(inside[1:], window.end)
    after = [inside + ((following - inside) * part).astype(np.int64) for part in AFTER]
    even = np.linspace(window.start, window.end, EVEN).astype(np.int64)
    close = np.linspace(moment[0], moment[1], CLOSE).astype(np.int64)
    coarse = np.concatenate([even, close, *after]) // NANOSECOND * NANOSECOND
    return np.unique(np.concatenate([coarse, inside, [window.start, window.end]]))


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


def _threshold(node: LineNode, word: str, values: Floats, window: Window) -> Export:
    """A threshold over the window: two points while it keeps still, its changes otherwise."""
    first = max(int(np.searchsorted(node.knots, window.start, side="right")) - 1, 0)
    last = max(int(np.searchsorted(node.knots, window.end, side="right")) - 1, first)
    times, volts = [window.us(window.start)], [float(values[first])]
    for i in range(first + 1, min(last, first + MOST_CHANGES) + 1):
        if values[i] != values[i - 1]:
            times.append(window.us(int(node.knots[i])))
            volts.append(float(values[i]))
    times.append(window.us(window.end))
    return {"name": word, "times_us": times, "volts": [round(v, 4) for v in (*volts, volts[-1])]}


def _count(run: TracedRun, window: Window) -> Export:
    inside = [pulse for pulse in run.pulses if window.start <= pulse.tick < window.end and pulse.moved]
    before = run.position_at(window.start - 1)
    times = [window.us(window.start), *(window.us(pulse.tick) for pulse in inside), window.us(window.end)]
    values = [before, *(pulse.position for pulse in inside)]
    return _track("count", "", "count", times, [*values, values[-1]])


def events(run: TracedRun, window: Window) -> list[Export]:
    """What happened in the window, in order and in words; the first MOST_EVENTS of them."""
    found: list[tuple[int, int, str]] = []
    for name, line in zip("AB", run.lines, strict=True):
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
    return [{"time_us": window.us(tick), "what": what} for tick, _, what in found[:MOST_EVENTS]]


def _changes(trail: Trail, window: Window) -> list[tuple[int, int]]:
    within = trail.between(window.start, window.end)
    return list(zip(trail.ticks[within].tolist(), trail.levels[within].tolist(), strict=True))


def _pulse_words(asked: int, moved: int, position: int) -> str:
    if asked == 0:
        return f"the counter takes no count; it stays at {position}"
    if moved == 0:
        return f"the counter is asked for {asked:+d} and is held at {position}"
    return f"the counter counts {moved:+d}, to {position}"
