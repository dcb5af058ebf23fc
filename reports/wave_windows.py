"""Which stretch of a run a timing diagram shows: a step as a whole, and the instants that decided it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from simcore.traced import StepFacts, TracedRun

LINES = ("A", "B")
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
    """The shortest stretch between two edges at the counter, of which one gave a pulse of the step
    (or, without pulses, is the step's); where no edge came so far, between two changes of a
    contact.  None where there is none.

    A doubt about set-up or hold lies between edges of different lines.
    """
    from simcore.counters.base import HOLD, SETUP

    doubtful = [pulse for pulse in step.pulses if pulse.flags & (SETUP | HOLD)]
    mine = {pulse.transition for pulse in doubtful or step.pulses} or {
        each.index for each in step.transitions
    }
    found = list(_at_counter(traced, mine, bool(doubtful)))
    if not step.edges:
        found = list(_at_contacts(traced, mine))
    return min(found, key=lambda gap: gap.end - gap.start, default=None)


def _at_counter(traced: TracedRun, mine: set[int], across: bool) -> Iterator[Window]:
    """Neighbouring edges, of which one is of ``mine``; ``across``: on different lines."""
    edges = sorted(
        (tick, number, transition)
        for number, line in enumerate(traced.lines)
        for tick, transition in zip(line.seen.ticks.tolist(), line.seen.transitions.tolist(), strict=True)
    )
    for (before, one, cause), (after, other, later) in itertools.pairwise(edges):
        if after > before and (one != other or not across) and not mine.isdisjoint((cause, later)):
            lines = (
                f"edges of {LINES[one]} and {LINES[other]}" if one != other else f"two edges of {LINES[one]}"
            )
            yield Window(before, after, f"{lines} at the counter")


def _at_contacts(traced: TracedRun, mine: set[int]) -> Iterator[Window]:
    import numpy as np

    for name, line in zip(LINES, traced.lines, strict=True):
        ticks = line.contact.ticks[np.isin(line.contact.transitions, list(mine))].tolist()
        for before, after in itertools.pairwise(ticks):
            if after > before:
                yield Window(before, after, f"two changes of contact {name}")
