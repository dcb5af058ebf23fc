"""Sentences about a decoder that looks at its lines now and then, and what it missed between two looks."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reports.edge_words import MEANWHILE, signed
from reports.evidence import Case, edge_at, latest_edge
from reports.teller import Sentence, Teller
from simcore.base.records import LINE_NAMES
from simcore.counters.base import Coin
from simcore.counters.clocked import ClockedQuadrature, clock_of, sample_from
from simcore.tracing.tracing import PulseFacts, SeenEdge

MOST = 2
"""Looks that are told one by one."""


def looks_of(case: Case) -> tuple[int, int] | None:
    """Period and phase (ticks) of a decoder that looks at its lines now and then; None for others."""
    if not isinstance(case.counter, ClockedQuadrature):
        return None
    return clock_of(case.counter, Coin(case.traced.seed, case.traced.run))


def both_changed_words(case: Case, tell: Teller, pulse: PulseFacts) -> list[Sentence]:
    """A pulse at which both lines had changed."""
    looks = looks_of(case)
    if looks is None:
        return [tell.say(f"At {tell.at(pulse.tick)} both lines changed at once for the decoder.")]
    return _double(case, tell, looks[0], pulse.tick, pulse)


def _double(case: Case, tell: Teller, period: int, sample: int, pulse: PulseFacts | None) -> list[Sentence]:
    """Both lines changed between two looks, of which the second was at ``sample``."""
    edges = [latest_edge(case, line, sample) for line in (0, 1)]
    if edges[0] is None or edges[1] is None:
        return []
    first, last = sorted((edges[0], edges[1]), key=lambda edge: (edge.tick, edge.line))
    counted = (
        f"counted {signed(pulse.asked)}" if pulse is not None and pulse.asked else "counted nothing for it"
    )
    return [
        tell.say(
            f"Between its looks at {tell.at(sample - period)} and {tell.at(sample)} both lines changed: "
            f"{LINE_NAMES[first.line]} at {tell.at(first.tick)} and {LINE_NAMES[last.line]} at "
            f"{tell.at(last.tick)}, {tell.span(first.tick, last.tick)} apart, while the decoder looks only "
            f"every {tell.limit(period)}. It cannot tell the direction and {counted}."
        )
    ]


def unseen_words(case: Case, tell: Teller) -> list[Sentence]:
    """What a decoder that looks now and then has missed without a doubt of its own: between two looks that
    edges of the step itself fell between, if there is anything, else between those around it.
    """
    looks = looks_of(case)
    if looks is None:
        return [tell.say("The decoder looks at its lines only now and then, and skipped a state.")]
    groups = {sample: edges for sample, edges in edges_by_look(case, *looks).items() if _several(edges)}
    mine = {each.index for each in case.step.transitions}
    own = {sample: edges for sample, edges in groups.items() if mine & {edge.transition for edge in edges}}
    pulses = {pulse.tick: pulse for pulse in case.traced.pulses}
    said = [] if own else [Sentence(MEANWHILE, ())]
    for sample, edges in list((own or groups).items())[:MOST]:
        if _changed(edges) == {0, 1}:
            said += _double(case, tell, looks[0], sample, pulses.get(sample))
        else:
            said.append(_hidden(tell, looks[0], sample, edges))
    return said


def _several(edges: Sequence[SeenEdge]) -> bool:
    """Whether edges that one look saw belong to more than one movement of a contact."""
    return len({edge.transition for edge in edges}) > 1


def edges_by_look(case: Case, period: int, phase: int) -> dict[int, list[SeenEdge]]:
    """The edges around the step, by the look that saw them."""
    mine = {each.index for each in case.around()}
    found: dict[int, list[SeenEdge]] = {}
    for line, each in enumerate(case.traced.lines):
        for i in np.flatnonzero(np.isin(each.seen.transitions, list(mine))):
            edge = edge_at(each.seen, line, int(i))
            found.setdefault(sample_from(period, phase, edge.tick), []).append(edge)
    return dict(sorted(found.items()))


def _changed(edges: Sequence[SeenEdge]) -> set[int]:
    """The lines that look different after some edges."""
    return {line for line in (0, 1) if sum(edge.line == line for edge in edges) % 2}


def _hidden(tell: Teller, period: int, sample: int, edges: Sequence[SeenEdge]) -> Sentence:
    ticks = [edge.tick for edge in edges]
    changed = [LINE_NAMES[line] for line in sorted(_changed(edges))]
    outcome = f"only {changed[0]} had changed" if changed else "nothing had changed"
    return tell.say(
        f"From {tell.at(min(ticks))} to {tell.at(max(ticks))} {len(edges)} edges fell between two looks of "
        f"the decoder, which looks only every {tell.limit(period)}: to the next one, at {tell.at(sample)}, "
        f"{outcome}."
    )
