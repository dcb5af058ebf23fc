"""Time filters, interlock and pick-up, slowly: each worked out from its definition over whole lines.

A line is a list of (tick, cause); a cause is (transition or None, origin).  Nothing is scheduled:
the output is read off the definition, edge by edge.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from .slow_draws import lognormal, normals, picoseconds, uniforms

PICKUP = 11
PICK_UP_ORIGIN = 8
TOO_FAR = 4.0e6

Cause = tuple[int | None, int]
Line = list[tuple[int, Cause]]
NOTHING: Cause = (None, 0)


def level_at(first: int, line: Line, tick: int) -> int:
    """The level once all edges up to and at ``tick`` have happened."""
    return (first + sum(time <= tick for time, _ in line)) % 2


def quiet(first: int, line: Line, ticks: int) -> Line:
    """The output follows once the input has stayed put for ``ticks``."""
    out: Line = []
    shown = first
    unrest: list[Cause] = []
    for number, (time, cause) in enumerate(line):
        if number and time - line[number - 1][0] > ticks:
            unrest = []
        unrest.append(cause)
        followed = number + 1 < len(line) and line[number + 1][0] <= time + ticks
        level = (first + number + 1) % 2
        if not followed and level != shown:
            moved = [each for each in unrest if each[0] is not None]
            out.append((time + ticks, (moved or unrest)[-1]))
            shown = level
    return out


def lockout(first: int, line: Line, ticks: int) -> Line:
    """The output follows at once; when ``ticks`` have passed, it follows what it then finds."""
    out: Line = []
    shown = first
    until: int | None = None
    while True:
        if until is not None and level_at(first, line, until) != shown:
            time, cause = until, [cause for at, cause in line if at <= until][-1]
        else:
            ahead = [edge for edge in line if until is None or edge[0] > until]
            if not ahead:
                return out
            time, cause = ahead[0]
        out.append((time, cause))
        shown = 1 - shown
        until = time + ticks


def one_shot(first: int, line: Line, ticks: int, trigger: int, retriggerable: bool) -> Line:
    """Beginnings and ends of pulses; the line idles and ends at its idle level."""
    pulses: list[list[tuple[int, Cause]]] = []
    for number, (time, cause) in enumerate(line):
        if (first + number + 1) % 2 != trigger:
            continue
        if not pulses or time > pulses[-1][1][0]:
            pulses.append([(time, cause), (time + ticks, cause)])
        elif retriggerable:
            pulses[-1][1] = (time + ticks, cause)
    return [edge for pulse in pulses for edge in pulse]


def interlock(firsts: tuple[int, int], lines: tuple[Line, Line], delay: int) -> tuple[Line, Line]:
    """Two latches: ``gate`` says which lines may pass, a pending line catches up after ``delay``."""
    merged = sorted((time, side, cause) for side in (0, 1) for time, cause in _keyed(lines[side]))
    inputs, outputs, gate = list(firsts), list(firsts), [True, True]
    latest: list[Cause] = [NOTHING, NOTHING]
    outs: tuple[Line, Line] = ([], [])
    pending: tuple[int, int] | None = None
    for time, side, (_, cause) in merged:
        if pending is not None and pending[0] < time:
            _catch_up(pending, inputs, outputs, latest, outs)
            pending = None
        inputs[side] = 1 - inputs[side]
        latest[side] = cause
        if not gate[side]:
            continue
        if pending is not None:
            pending = None
            continue
        outputs[side] = inputs[side]
        outs[side].append((time, cause))
        gate[side], gate[1 - side] = False, True
        if inputs[1 - side] != outputs[1 - side]:
            pending = (time + delay, 1 - side)
    if pending is not None:
        _catch_up(pending, inputs, outputs, latest, outs)
    return outs


def _keyed(line: Line) -> Iterator[tuple[int, tuple[int, Cause]]]:
    """Edges that sort by tick and then by their place in the line."""
    for number, (time, cause) in enumerate(line):
        yield time, (number, cause)


def _catch_up(
    pending: tuple[int, int], inputs: list[int], outputs: list[int], latest: list[Cause],
    outs: tuple[Line, Line],
) -> None:  # fmt: skip
    tick, side = pending
    outputs[side] = inputs[side]
    outs[side].append((tick, latest[side]))


def pulses_of(
    rate: float, width: float, spread: float, where: tuple[int, int, int], end: int
) -> list[tuple[int, int]]:
    """(Begin, end) of each pulse of pick-up that begins before ``end``; ``where`` is (seed, run, item)."""
    found: list[tuple[int, int]] = []
    now = 0
    while rate > 0.0:
        u = uniforms(where[0], where[1], PICKUP, where[2], len(found))
        gap = -math.log(1.0 - u[0]) / rate
        if gap >= TOO_FAR or now + picoseconds(gap) >= end:
            break
        begin = now + picoseconds(gap)
        now = begin + picoseconds(lognormal(width, spread, normals(u[1], u[2])[0]))
        found.append((begin, now))
    return found


def pick_up(first: int, line: Line, pulses: list[tuple[int, int]], polarity: int, end: int) -> Line:
    """The input, turned over (``polarity`` 0) or held high (1) or low (2) during the pulses.

    At one tick the input changes before a pulse begins or ends.  Pulses begin and end before ``end``.
    """
    happenings: list[tuple[int, int, int, Cause]] = [
        (time, 0, number, cause) for number, (time, cause) in enumerate(line)
    ]
    for number, (begin, close) in enumerate(pulses):
        happenings += [(begin, 1, 2 * number, NOTHING), (close, 1, 2 * number + 1, NOTHING)]
    level, shown, latest, inside, made = first, first, NOTHING, False, False
    out: Line = []
    for time, pulse, number, cause in sorted(happenings):
        if pulse and time >= end:
            continue
        if pulse:
            inside = number % 2 == 0
        else:
            level, latest = 1 - level, cause
        wanted = (1 - level if polarity == 0 else int(polarity == 1)) if inside else level
        if pulse and inside:
            made = wanted != shown
        if wanted != shown:
            shown = wanted
            out.append((time, (None, PICK_UP_ORIGIN) if pulse and made else latest))
    return out
