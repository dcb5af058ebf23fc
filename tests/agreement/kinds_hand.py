"""Random gestures of several rows, recorded contacts, bad pads, and opens that grow as speed falls."""

from __future__ import annotations

import itertools

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from simcore.contacts.bursts import BadPad, Clean, Telegraph
from simcore.contacts.crossing import Sliding
from simcore.contacts.recorded import Bursts, Recorded, bursts_of
from simcore.design import HandEntry
from simcore.hand.base import CLICK, CREEP, TWIST, Gesture
from simcore.hand.gestures import ROWS_OF_REVERSAL, Member, Reversing, Vibration
from simcore.hand.paths import Path, path_of

from .designs import either, headings, telegraph_sides


@st.composite
def plain_gestures(draw: DrawFn) -> Gesture:
    """Clicks, twists and creeps, of which a hand may turn back."""
    kind = draw(st.sampled_from([CLICK, TWIST, CREEP]))
    steps = float(draw(st.integers(2, 6))) if kind == TWIST else 1.0
    return Gesture(
        kind, draw(st.integers(1, 4)), steps, steps, draw(headings()),
        steps * draw(either(0.02, 0.004, 0.2, 1e-9)), draw(either(0.0, 0.3)),
        draw(either(0.05, 0.0)), 0.2, 0, draw(either(0.0, 0.4)),
    )  # fmt: skip


@st.composite
def reversals(draw: DrawFn) -> HandEntry:
    """A plain gesture that turns back never, at times or always, by little or by more than it went."""
    inner = draw(plain_gestures())
    low, high = draw(st.sampled_from([(0.1, 0.5), (0.0, 0.999), (0.9, 1.8)]))
    gesture = Reversing(inner, draw(either(0.0, 0.3, 1.0)), low, high)
    return HandEntry("reversing", gesture, ROWS_OF_REVERSAL * inner.moves, "click")


@st.composite
def vibrations(draw: DrawFn) -> HandEntry:
    """Small and wide swings, few and many, slow and fast."""
    swings = draw(st.sampled_from([2, 3, 11, 40]))
    gesture = Vibration(
        swings, draw(either(0.02, 0.1, 0.4)), draw(either(0.0, 0.5)), swings * draw(either(0.02, 0.001)),
        draw(either(0.0, 0.3)),
    )  # fmt: skip
    return HandEntry("shaking", gesture, swings * draw(st.integers(1, 2)), "rest")


@st.composite
def path_gestures(draw: DrawFn) -> Path:
    """Tables with holds and turns back, straight and smooth; places on a grid, some on a boundary."""
    pieces = draw(st.integers(1, 8))
    spans = draw(st.lists(either(0.01, 0.002, 0.1, 1e-6), min_size=pieces, max_size=pieces))
    ways = draw(st.lists(either(0.0, 0.5, 1.0, -0.5, 2.25, -1.125), min_size=pieces, max_size=pieces))
    if not any(ways):
        ways[0] = 1.0
    times, places = [0.0], [0.0]
    for span, way in zip(spans, ways, strict=True):
        times.append(times[-1] + span)
        places.append(places[-1] + way)
    return path_of(
        times, places, draw(st.booleans()), draw(headings()), draw(either(0.0, 0.3)),
        draw(either(0.0, 0.05)), 0.2,
    )  # fmt: skip


@st.composite
def paths(draw: DrawFn) -> HandEntry:
    """A table once or twice."""
    gesture = draw(path_gestures())
    return HandEntry("path", gesture, gesture.ends.size * draw(st.integers(1, 2)), "path")


@st.composite
def mixes(draw: DrawFn, place: int) -> tuple[HandEntry, ...]:
    """Two to three gestures that take turns, of which some have no share; first at ``place``."""
    turns = draw(st.integers(1, 5))
    bounds = draw(st.sampled_from([(0.0, 0.5, 2.0), (0.0, 0.2, 0.2, 2.0), (0.0, 0.0, 0.7, 2.0)]))
    entries = []
    for number, (low, high) in enumerate(itertools.pairwise(bounds)):
        inner = draw(st.one_of(plain_gestures().map(_once), reversals(), vibrations(), paths()))
        rows = inner.moves
        gesture = Member(inner.gesture, rows, place, low, high)
        entries.append(HandEntry(f"mix: {number}", gesture, turns * rows, inner.kind, "mix"))
    return tuple(entries)


def _once(gesture: Gesture) -> HandEntry:
    return HandEntry("plain", gesture, gesture.moves)


@st.composite
def more_hands(draw: DrawFn) -> tuple[HandEntry, ...]:
    """One or two of these gestures, and a mix at times."""
    entries = draw(st.lists(st.one_of(reversals(), vibrations(), paths()), min_size=1, max_size=2))
    if draw(st.booleans()):
        entries += draw(mixes(len(entries)))
    return tuple(entries)


@st.composite
def libraries(draw: DrawFn) -> Bursts:
    """One to four bursts of up to eleven changes, microseconds to milliseconds long."""
    bursts = []
    for _ in range(draw(st.integers(1, 4))):
        gaps = draw(st.lists(either(3e-6, 60e-6, 5e-4), min_size=0, max_size=5))
        times = [0.0]
        for gap in gaps:
            times += [times[-1] + gap, times[-1] + 2.5 * gap]
        bursts.append(times)
    return bursts_of(bursts, draw(either(1.0, 5.0)))


@st.composite
def recorded_contacts(draw: DrawFn) -> Recorded:
    """Never stretched, and stretched within narrow and wide bounds."""
    least, most = draw(st.sampled_from([(1.0, 1.0), (0.2, 5.0), (0.001, 1000.0)]))
    return Recorded(draw(libraries()), draw(libraries()), draw(either(0.0, 360.0)), least, most)


@st.composite
def bad_pads(draw: DrawFn) -> BadPad:
    """A clean or recorded contact with a chattering pad somewhere."""
    bad = Telegraph(draw(telegraph_sides()), draw(telegraph_sides()))
    sound = draw(st.one_of(st.just(Clean(1)), recorded_contacts()))
    pads = draw(st.sampled_from([1, 2, 20]))
    return BadPad(sound, bad, draw(st.integers(0, pads - 1)), pads)


@st.composite
def slow_slides(draw: DrawFn) -> Sliding:
    """Opens that last longer the slower the shaft turns."""
    return Sliding(draw(either(40.0, 400.0)), draw(either(1e-6, 50e-6)), 0.5, 2e-3, draw(either(0.001, 0.1)))
