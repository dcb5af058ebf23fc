"""Which stretches of a run timing diagrams show.

In text: what the sentences on a step speak of, and what in them is too narrow to be seen there.  On a page:
all that the step caused, and in it the moment that decided.  Stretches are pairs of ticks.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reports.stories.teller import Statement
    from simcore.tracing.tracing import StepFacts

Stretch = tuple[int, int]
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
MICROSECOND = 1_000_000
PAD = 0.06
"""Of a step's length, shown to either side of it on a page."""
LEAST_PAD = 50 * MICROSECOND


def told_window(step: StepFacts, sentences: Sequence[Statement]) -> Stretch:
    """What the sentences on a step speak of, with a margin; the whole step where they speak of nothing.

    What lies further from the step than the step is long (since when a contact had been at rest) is
    left out.
    """
    length = step.end - step.start
    near = (step.start - length, step.end + length)
    ticks = [tick for sentence in sentences for tick in _ticks(sentence, near)]
    return with_margin(ticks or [step.start, step.end])


def with_margin(ticks: Sequence[int]) -> Stretch:
    """From the first to the last of some ticks, with a margin."""
    start, end = min(ticks), max(ticks)
    margin = max((end - start) // SHARE, LEAST_MARGIN)
    return max(start - margin, 0), end + margin


def closer_window(window: Stretch, sentences: Sequence[Statement]) -> Stretch | None:
    """A window on the shortest stretch that a sentence speaks of, where ``window`` is too wide for it;
    None where all can be seen.
    """
    stated = [ticks for ticks in (list(_ticks(sentence, window)) for sentence in sentences) if ticks]
    spans = [(min(ticks), max(ticks)) for ticks in stated if min(ticks) < max(ticks)]
    start, end = min(spans, key=lambda span: span[1] - span[0], default=window)
    if end - start >= (window[1] - window[0]) // WIDE:
        return None
    room = max(int(ROOM * (end - start)), LEAST_ROOM)
    return max(start - room, 0), end + room


def _ticks(sentence: Statement, within: Stretch) -> Iterator[int]:
    """The ticks that a sentence states, but for those outside of a window."""
    for stated in sentence.stated:
        for tick in (stated.since, stated.tick):
            if tick >= 0 and within[0] <= tick <= within[1]:
                yield tick


@dataclass(frozen=True)
class TimeWindow:
    """The ticks that are drawn, and the tick that is time zero."""

    start: int
    end: int
    zero: int

    def us(self, tick: int) -> float:
        """Microseconds after zero, to the picosecond."""
        return (int(tick) - self.zero) / MICROSECOND


def window_of(step: StepFacts, zero: int, explained: Stretch) -> TimeWindow:
    """All that the step caused and all that its story states, with some room before and after."""
    start, end = _roomy(min(step.start, explained[0]), max(step.end, explained[1]))
    return TimeWindow(start, end, zero)


def moment_of(step: StepFacts, explained: Stretch) -> Stretch:
    """What the story states of the step's own time; all of it, if it states another time only."""
    start, end = _roomy(step.start, step.end)
    own = max(explained[0], start), min(explained[1], end)
    return own if own[0] < own[1] else (max(explained[0], 0), explained[1])


def _roomy(start: int, end: int) -> Stretch:
    pad = max(int(PAD * (end - start)), LEAST_PAD)
    return max(start - pad, 0), end + pad
