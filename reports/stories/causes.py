"""Why a step went wrong, as a chain of plain sentences: for each root cause its own, all from the record."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from reports.stories.counting import counted_words, order_words, outcome_words, violation_words
from reports.stories.edges import (
    MEANWHILE,
    bounce_words,
    reach_words,
    stray_words,
    swallowed_words,
    to_and_fro_words,
)
from reports.stories.evidence import Case, EdgeEvidence, seen_edges
from reports.stories.teller import Statement, Teller
from reports.words.numbers import counted, signed
from simcore.base.records import LINE_NAMES, NOISE, NOTHING_MEANT, SLIDING
from simcore.counters.base import AT_STOP, HOLD, ILLEGAL, SETUP, SHORT
from simcore.judging.sums import CAUSES
from simcore.tracing.tracing import TransitionFacts

Chain = list[Statement]
MOST = 2
"""Transitions of one kind that are described one by one."""


def why(case: Case, tell: Teller) -> Chain:
    """The chain of causes of a wrong step; nothing for one that was counted right or only flickered."""
    if case.step.cause == CAUSES[0]:
        return []
    return [*CHAINS[case.step.cause](case, tell), *outcome_words(case, tell)]


def _chosen(case: Case, has: Callable[[EdgeEvidence], bool]) -> tuple[EdgeEvidence, Chain]:
    """The evidence of the step itself, or else that of its neighbourhood, with a word on that."""
    own, near = case.own_and_near()
    if has(own) or not has(near):
        return own, []
    return near, [Statement(MEANWHILE, ())]


def _has_origin(case: Case, transition: TransitionFacts, origin: int) -> bool:
    return any(edge.origin == origin for edge in seen_edges(case.traced, transition))


def _extra(case: Case, origin: int | None = None) -> tuple[tuple[TransitionFacts, ...], Chain]:
    """Transitions with edges too many, in order: those of one ``origin``, if there are any, and those that
    made counts which they should not.
    """
    found, said = _chosen(case, lambda evidence: bool(evidence.extra))
    guilty = [each for each in found.extra if _miscounted(case, each)]
    if origin is None:
        return _ranked(case, guilty or found.extra), said
    fit = [each for each in found.extra if _has_origin(case, each, origin)]
    shown = _ranked(case, [each for each in fit if each in guilty] or fit or found.extra)
    others = () if any(each in guilty for each in shown) else _ranked(case, guilty)
    return tuple(sorted({*shown, *others}, key=lambda each: each.index)), said


def _ranked(case: Case, transitions: Sequence[TransitionFacts]) -> tuple[TransitionFacts, ...]:
    """The few with most edges, in order."""
    ranked = sorted(transitions, key=lambda each: -len(seen_edges(case.traced, each)))
    return tuple(sorted(ranked[:MOST], key=lambda each: each.index))


def _miscounted(case: Case, transition: TransitionFacts) -> bool:
    """Whether a transition gave the step several counts, or one against its direction."""
    counts = [
        pulse.asked for pulse in case.step.pulses if pulse.asked and pulse.transition == transition.index
    ]
    return len(counts) > 1 or any(count * case.step.expected < 0 for count in counts)


def _chatter(case: Case, tell: Teller) -> Chain:
    transitions, said = _extra(case)
    for each in transitions:
        said += [bounce_words(case, tell, each), *to_and_fro_words(case, tell, each)]
    return [*said, *counted_words(case, tell)]


def _sliding(case: Case, tell: Teller) -> Chain:
    transitions, said = _extra(case, SLIDING)
    for each in transitions:
        origin = SLIDING if _has_origin(case, each, SLIDING) else None
        said += [bounce_words(case, tell, each), *to_and_fro_words(case, tell, each, origin)]
    return [*said, *counted_words(case, tell)]


def _slow_edge(case: Case, tell: Teller) -> Chain:
    transitions, said = _extra(case, NOISE)
    for each in transitions:
        origin = NOISE if _has_origin(case, each, NOISE) else None
        said += [bounce_words(case, tell, each), *to_and_fro_words(case, tell, each, origin)]
    return [*said, *counted_words(case, tell)]


def _swallowed(case: Case, tell: Teller) -> Chain:
    found, said = _chosen(case, lambda evidence: bool(evidence.swallowed))
    for each in found.swallowed[:MOST]:
        said += swallowed_words(case, tell, each)
    if len(found.swallowed) > MOST:
        names = _named(found.swallowed[MOST:])
        said.append(tell.say(f"Nor did anything reach the counter from {names}."))
    return [*said, *counted_words(case, tell)]


def _named(transitions: tuple[TransitionFacts, ...]) -> str:
    """The transitions in words, without times."""
    words = [f"{LINE_NAMES[each.line]}'s {'closing' if each.closed else 'opening'}" for each in transitions]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _swapped(case: Case, tell: Teller) -> Chain:
    found, said = _chosen(case, lambda evidence: bool(evidence.swapped))
    causes = {pulse.transition for pulse in case.step.pulses if pulse.asked}
    own = [pair for pair in found.swapped if causes & {each.index for each in pair}]
    for first, second in (own or found.swapped)[:MOST]:
        said += [*reach_words(case, tell, first, second), *order_words(case, tell, first, second)]
    return [*said, *counted_words(case, tell)]


def _flagged(flag: int) -> Callable[[Case, Teller], Chain]:
    """The chain of a cause that the counter itself flags."""

    def chain(case: Case, tell: Teller) -> Chain:
        return [*violation_words(case, tell, flag), *counted_words(case, tell)]

    return chain


def _misfit(case: Case, tell: Teller) -> Chain:
    step = case.step
    clean, expected = signed(step.clean_net), signed(step.expected)
    if step.whole == NOTHING_MEANT:
        said = tell.say(
            "No step was intended here, but as the shaft shook it crossed a boundary of the contacts "
            f"{counted(len(step.transitions), 'time')}, and even bounce-free contacts give {clean} for that."
        )
    else:
        said = tell.say(
            f"Even bounce-free contacts give this decoder {clean} in this step, where {expected} is "
            "expected; encoder and decoder do not match."
        )
    return [said, *counted_words(case, tell)]


def _stray(case: Case, tell: Teller) -> Chain:
    found, said = _chosen(case, lambda evidence: bool(evidence.strays))
    counts = [pulse for pulse in case.step.pulses if pulse.asked]
    return [*said, *stray_words(case.traced, tell, found.strays, counts), *counted_words(case, tell)]


def _unexplained(case: Case, tell: Teller) -> Chain:
    return [
        tell.say("None of the causes that the program looks for shows in the edges of this step."),
        *counted_words(case, tell),
    ]


CHAINS: dict[str, Callable[[Case, Teller], Chain]] = {
    "chatter": _chatter,
    "swallowed": _swallowed,
    "late direction": _flagged(SETUP),
    "early direction": _flagged(HOLD),
    "swapped order": _swapped,
    "misfit": _misfit,
    "short pulse": _flagged(SHORT),
    "sliding": _sliding,
    "end stop": _flagged(AT_STOP),
    "skipped state": _flagged(ILLEGAL),
    "slow edge": _slow_edge,
    "pick-up": _stray,
    "power-up": _stray,
    "supply dip": _stray,
    "unexplained": _unexplained,
}
"""A chain for every root cause but "none"."""
