"""The story of one step: what the hand did, why the count went wrong, and which stretches to draw."""

from __future__ import annotations

from dataclasses import dataclass

from reports.results.common import TICK
from reports.stories.causes import why
from reports.stories.edges import does
from reports.stories.evidence import Case
from reports.stories.teller import Statement, Teller, instant_text
from reports.stories.windows import Stretch, closer_window, told_window
from scenarios.loading.messages import listed
from simcore.base.records import LINE_NAMES, NOTHING_MEANT, PART
from simcore.tracing.tracing import StepFacts, TracedMovement, TracedRun


@dataclass(frozen=True)
class Story:
    """One step explained; instants count from tick ``zero``, which is ``zero_words`` in words.

    ``window`` (ticks) is what a timing diagram should show, ``closer`` what in it needs one of its own, None
    for nothing.
    """

    step: StepFacts
    zero: int
    zero_words: str
    window: Stretch
    closer: Stretch | None
    hand: tuple[Statement, ...]
    why: tuple[Statement, ...]


def story_of(case: Case) -> Story:
    step, tell = case.step, Teller(case.traced, case.step.start)
    hand = tuple(_hand(case, tell))
    reasons = tuple(why(case, tell))
    window = told_window(step, reasons)
    return Story(step, step.start, _zero_words(step), window, closer_window(window, reasons), hand, reasons)


def _zero_words(step: StepFacts) -> str:
    """Where the times of a story count from."""
    into = f"{instant_text(step.start * TICK)} into the run"
    if not step.transitions:
        return f"Times count from where the hand begins step {step.number}, {into}."
    first = step.transitions[0]
    what = f"{LINE_NAMES[first.line]} first {'closes' if first.closed else 'opens'}"
    return f"Times count from where {what} in step {step.number}, {into}."


def movements_of(traced: TracedRun, number: int) -> list[TracedMovement]:
    """The rows of the hand that belong to the movement of a step."""
    first = next(
        each for each in traced.movements if each.first_step <= number < each.first_step + each.begun
    )
    return [each for each in traced.movements if each.begun and each.first_step == first.first_step]


def _hand(case: Case, tell: Teller) -> list[Statement]:
    step, rows = case.step, movements_of(case.traced, case.step.number)
    start, end = rows[0].start, rows[-1].end
    when = f"from {tell.at(start)} to {tell.at(end)}, {tell.span(start, end)} in all"
    if step.whole == NOTHING_MEANT:
        return [tell.say(f"{step.gesture}: the knob was left alone {when}.")]
    turned = "; then ".join(_turned(each) for each in rows)
    first, last = rows[0].first_step, rows[0].first_step + rows[0].begun - 1
    which = "" if first == last else f" This is step {step.number - first + 1} of its {last - first + 1}."
    part = " It was not turned all the way." if step.whole == PART else ""
    return [tell.say(f"{step.gesture}: {turned}, {when}.{which}{part}"), *_crossed(step, tell)]


def _turned(row: TracedMovement) -> str:
    if row.direction == 0:
        return "held still"
    amount = f"{abs(row.steps):.3g}"
    return f"turned {amount} step{'' if amount == '1' else 's'} {'up' if row.direction > 0 else 'down'}"


def _crossed(step: StepFacts, tell: Teller) -> list[Statement]:
    if not step.transitions:
        return [tell.say("It crossed no boundary of the contacts.")]
    words = [f"{LINE_NAMES[each.line]} {does(each)}" for each in step.transitions]
    if len(words) > 8:
        words = [*words[:8], f"{len(words) - 8} more"]
    return [tell.say(f"On the way {listed(words, 'and')}.")]
