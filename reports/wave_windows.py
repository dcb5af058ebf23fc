"""Which stretch of a run a timing diagram shows: a step as a whole, and the instants that decided it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from simcore.traced import StepFacts, TracedRun

MARGIN = 0.06
"""Share of a step's length that is shown before it and behind it."""
LEAST_MARGIN = 1_000_000
"""Ticks (1 us)."""
WIDE = 30
"""A gap shorter than this part of the overview is looked at in a window of its own."""
ROOM = 1.5
"""Gaps shown to either side of the gap that decided."""


class Window(NamedTuple):
    """A stretch of a run (ticks) and what it shows, in words."""

    start: int
    end: int
    words: str


def interesting_window(traced: TracedRun, step: StepFacts) -> tuple[int, int]:
    """From just before a step's first transition to just behind its last edge or pulse (ticks)."""
    margin = max(int(MARGIN * (step.end - step.start)), LEAST_MARGIN)
    return max(step.start - margin, 0), step.end + margin


def windows_of(traced: TracedRun, step: StepFacts) -> list[Window]:
    """The step as a whole, and, where what decided it is too narrow to be seen there, a window on it."""
    start, end = interesting_window(traced, step)
    windows = [Window(start, end, "the whole step")]
    gap = closest(traced, step)
    if gap is not None and gap.end - gap.start < (end - start) // WIDE:
        room = max(int(ROOM * (gap.end - gap.start)), 10)
        windows.append(Window(max(gap.start - room, 0), gap.end + room, gap.words))
    return windows


def closest(traced: TracedRun, step: StepFacts) -> Window | None:
    """The shortest stretch between a pulse of the step and another edge at the counter; without
    pulses, between two changes of a contact that the step caused.  None where there is none.
    """
    found = list(_around_pulses(traced, step)) or list(_in_bursts(traced, step))
    return min(found, key=lambda gap: gap.end - gap.start, default=None)


def _around_pulses(traced: TracedRun, step: StepFacts) -> Iterator[Window]:
    import numpy as np

    for pulse in step.pulses:
        for name, line in zip("AB", traced.lines, strict=True):
            ticks = line.seen.ticks
            after = int(np.searchsorted(ticks, pulse.tick, side="right"))
            before = int(np.searchsorted(ticks, pulse.tick)) - 1
            words = f"a pulse of the counter and the nearest edge of {name}"
            if before >= 0:
                yield Window(int(ticks[before]), pulse.tick, words)
            if after < ticks.size:
                yield Window(pulse.tick, int(ticks[after]), words)


def _in_bursts(traced: TracedRun, step: StepFacts) -> Iterator[Window]:
    import numpy as np

    mine = [facts.index for facts in step.transitions]
    for name, line in zip("AB", traced.lines, strict=True):
        ticks = line.contact.ticks[np.isin(line.contact.transitions, mine)].tolist()
        for before, after in zip(ticks, ticks[1:], strict=False):
            if after > before:
                yield Window(before, after, f"the closest changes of contact {name}")
