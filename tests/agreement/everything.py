"""Random designs that draw from every kind there is, alone and in chains of up to five stages."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from simcore.base.draws import Part
from simcore.contacts.bursts import Clean, Telegraph, TelegraphSide
from simcore.contacts.crossing import Sliding
from simcore.design import Design, HandEntry, StageEntry, geometric_counts
from simcore.hand.base import Gesture
from simcore.networks.supply import STEADY

from . import kinds_counters, kinds_filters, kinds_hand, kinds_networks, kinds_sampled, kinds_waveform
from .designs import (
    contacts,
    either,
    geometries,
    hands,
    inputs,
    networks,
    quadratures,
    ranges,
    slidings,
    step_directions,
)

MOST_STAGES = 5
STILL = Sliding(0.0, 50e-6, 0.5, 2e-3, 0.0)
"""No opens while sliding."""


def line_stages() -> st.SearchStrategy[Any]:
    """Whatever stands on a logic level: filters, sampled stages, gates, pick-up, the interlock."""
    return st.one_of(
        *(make() for make in kinds_filters.KINDS.values()),
        kinds_sampled.sampled_stages(),
        kinds_waveform.gate_delays(),
    )


def any_network() -> st.SearchStrategy[Any]:
    """Every network."""
    return st.one_of(networks(), *kinds_networks.KINDS.values())


def any_input() -> st.SearchStrategy[Any]:
    """Every input, quiet ones more often."""
    return st.one_of(
        inputs(),
        inputs(),
        kinds_waveform.noisy_plain_inputs(),
        kinds_waveform.noisy_schmitt_inputs(),
        kinds_waveform.comparators(),
    )


def any_counter() -> st.SearchStrategy[Any]:
    """Every counter."""
    return st.one_of(step_directions(), quadratures(), *kinds_counters.kinds().values())


LINES = st.sampled_from([(0, 1), (0, 1), (0, 1), (0,), (1,)])


@st.composite
def chains(draw: DrawFn) -> tuple[StageEntry, ...]:
    """None to five stages: maybe a network and its input first, then whatever takes a logic level."""
    items: list[tuple[Any, tuple[int, ...]]] = []
    if draw(st.booleans()):
        lines = draw(LINES)
        if draw(st.booleans()):
            items.append((draw(any_network()), lines))
        items.append((draw(any_input()), lines))
    room = MOST_STAGES - len(items)
    items += draw(st.lists(st.tuples(line_stages(), LINES), max_size=draw(st.sampled_from([1, 2, room]))))
    return tuple(StageEntry(f"stage {number}", item, lines) for number, (item, lines) in enumerate(items))


@st.composite
def short_hands(draw: DrawFn) -> tuple[HandEntry, ...]:
    """One of the usual gestures a few times, or whatever else a hand can do."""
    if draw(st.booleans()):
        return draw(kinds_hand.more_hands())
    entry = draw(hands())[0]
    moves = min(entry.moves, 4)
    return (HandEntry(entry.name, entry.gesture._replace(moves=moves), moves),)


def any_contact() -> st.SearchStrategy[Any]:
    """Every contact."""
    return st.one_of(contacts(), contacts(), kinds_hand.recorded_contacts(), kinds_hand.bad_pads())


def mild_contacts() -> st.SearchStrategy[Any]:
    """Contacts that bounce a few times at most, so that a run is short."""
    sides = st.builds(
        TelegraphSide, either(0.0, 1.0, 3.0), either(1e-3, 1e-9, 5e-3), either(0.0, 0.5), either(3e-3)
    )
    return st.one_of(st.just(Clean(1)), st.builds(Telegraph, sides, sides), kinds_hand.recorded_contacts())


@st.composite
def everything(draw: DrawFn, brief: bool = False) -> Design:
    """A design of any kinds under a short hand; mostly it wants the counts that its geometry gives.

    A ``brief`` one has few movements and bounces, so that very many runs can be compared.
    """
    hand = draw(short_hands())
    if brief:
        entry = hand[0]
        few = isinstance(entry.gesture, Gesture)
        hand = (replace(entry, gesture=entry.gesture._replace(moves=2), moves=2) if few else entry,)
    design = Design(
        geometry=draw(geometries()),
        hand=hand,
        contact=draw(mild_contacts() if brief else any_contact()),
        sliding=draw(st.just(STILL) if brief else st.one_of(slidings(), kinds_hand.slow_slides())),
        resistance=draw(kinds_waveform.resistances()),
        supply=Part(3.3, draw(either(0.0, 0.05))),
        stages=draw(chains()),
        counter=draw(any_counter()),
        range=draw(ranges()),
        dips=draw(st.one_of(st.just(STEADY), st.just(STEADY), kinds_waveform.supply_dips())),
        power_up=draw(st.sampled_from([0, 0, 1])),
    )
    given = geometric_counts(design)
    natural = given >= 1.0 and abs(given - round(given)) < 1e-9 and draw(st.integers(0, 3)) > 0
    return replace(design, counts_per_step=round(given) if natural else draw(st.integers(1, 4)))
