"""Which stretches of a run a timing diagram shows: what the sentences on a step speak of, and what in them is
too narrow to be seen there.

Windows are pairs of ticks.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reports.teller import Sentence
    from simcore.tracing.tracing import StepFacts

Window = tuple[int, int]
LEAST_MARGIN = 10_000_000
"""Ticks (10 us) that are shown before and behind, at least."""
SHARE = 8
"""The margin is this part of what is shown."""
WIDE = 30
"""What is shorter than this part of a window is looked at in a window of its own."""
ROOM = 1.5
"""Of such a stretch's own length, shown to either side of it."""
LEAST_ROOM = 10
"""Ticks."""


def told_window(step: StepFacts, sentences: Sequence[Sentence]) -> Window:
    """What the sentences on a step speak of, with a margin; the whole step where they speak of nothing.

    What lies further from the step than the step is long (since when a contact had been at rest) is
    left out.
    """
    length = step.end - step.start
    near = (step.start - length, step.end + length)
    ticks = [tick for sentence in sentences for tick in _ticks(sentence, near)]
    return with_margin(ticks or [step.start, step.end])


def with_margin(ticks: Sequence[int]) -> Window:
    """From the first to the last of some ticks, with a margin."""
    start, end = min(ticks), max(ticks)
    margin = max((end - start) // SHARE, LEAST_MARGIN)
    return max(start - margin, 0), end + margin


def closer_window(window: Window, sentences: Sequence[Sentence]) -> Window | None:
    """A window on the shortest stretch that a sentence speaks of, where ``window`` is too wide for it;
    None where all can be seen.
    """
    told = [ticks for ticks in (list(_ticks(sentence, window)) for sentence in sentences) if ticks]
    spans = [(min(ticks), max(ticks)) for ticks in told if min(ticks) < max(ticks)]
    start, end = min(spans, key=lambda span: span[1] - span[0], default=window)
    if end - start >= (window[1] - window[0]) // WIDE:
        return None
    room = max(int(ROOM * (end - start)), LEAST_ROOM)
    return max(start - room, 0), end + room


def _ticks(sentence: Sentence, within: Window) -> Iterator[int]:
    """The ticks that a sentence states, but for those outside of a window."""
    for stated in sentence.stated:
        for tick in (stated.since, stated.tick):
            if tick >= 0 and within[0] <= tick <= within[1]:
                yield tick
