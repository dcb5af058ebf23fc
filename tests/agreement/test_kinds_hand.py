"""Gestures of several rows, recorded contacts and bad pads in both engines."""

from __future__ import annotations

import dataclasses
from collections import Counter
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from simcore.base.records import empty_steps, empty_transitions
from simcore.design import Design, HandEntry
from simcore.engines.batch import BatchEngine
from simcore.engines.truth import TruthMaker, columns_of, steps_per_run, transitions_per_run
from simcore.hand.base import MOVE_COLUMNS, fill_moves
from simcore.hand.shaft import cross
from tests.simcore.builders import CLEAN, CLICKS, design

from . import comparing
from .designs import addresses, geometries
from .kinds_hand import bad_pads, more_hands, recorded_contacts, slow_slides
from .test_engines import compare_engines
from .test_slow import compare_alone, compare_given

COLUMNS = (
    "times", "channels", "closed", "steps", "directions", "speeds", "until", "travel", "boundaries",
)  # fmt: skip
PLAIN = HandEntry("clicks", CLICKS, CLICKS.moves)


@st.composite
def hand_designs(draw: st.DrawFn) -> Design:
    """A clean contact under a hand of many rows."""
    made = design(hand=draw(more_hands()), contact=CLEAN)
    return dataclasses.replace(made, geometry=draw(geometries()))


def agree(designs: st.SearchStrategy[Design], examples: int) -> Counter[str]:
    """Compare both engines on a reproducible choice."""
    done: Counter[str] = Counter()

    @seed(1)
    @settings(max_examples=examples, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(designs, addresses(), st.integers(1, 2))
    def compare(made: Design, address: tuple[int, int], runs: int) -> None:
        done.update(compare_engines(made, address, runs))

    compare()
    return done


def test_gestures() -> None:
    done = agree(hand_designs(), 20)
    assert done["transitions"] > 500


def of_contact(contact: Any) -> Design:
    """A contact under a few clicks."""
    return design(hand=(PLAIN,), contact=contact)


@pytest.mark.parametrize("contacts", [recorded_contacts(), bad_pads()], ids=["recorded", "bad pad"])
def test_contacts(contacts: st.SearchStrategy[Any]) -> None:
    done = agree(contacts.map(of_contact), 20)
    assert done["edges"] > done["transitions"]


def test_slides() -> None:
    made = slow_slides().map(lambda sliding: dataclasses.replace(of_contact(CLEAN), sliding=sliding))
    assert agree(made, 20)["edges"] > 500


@seed(2)
@settings(max_examples=20, deadline=None, database=None, suppress_health_check=list(HealthCheck))
@given(hand_designs(), addresses())
def test_compiled_equals_plain(made: Design, address: tuple[int, int]) -> None:
    """The compiled rules of hand and shaft give what the plain ones do, to the last bit."""
    runs = 2
    maker = TruthMaker(made, made.chain, runs)
    truth = maker.make(*address, runs)
    moves = np.zeros((runs, sum(entry.moves for entry in made.hand), MOVE_COLUMNS))
    for slot, (entry, columns) in enumerate(zip(made.hand, columns_of(made.hand), strict=True)):
        fill_moves.plain(entry.gesture, slot, columns, *address, moves)  # type: ignore[attr-defined]
    assert np.array_equal(moves, maker.moves)
    out = empty_transitions(4 * runs * transitions_per_run(made), runs)
    steps = empty_steps(4 * runs * steps_per_run(made), runs)
    done = cross.plain(made.geometry, maker.gestures, moves, *address, out, steps)  # type: ignore[attr-defined]
    assert done == runs
    count, opened = int(out.offsets[-1]), int(steps.offsets[-1])
    assert np.array_equal(out.offsets, truth.transitions.offsets)
    assert np.array_equal(steps.offsets, truth.steps.offsets)
    for name in COLUMNS:
        one, other = getattr(out, name), getattr(truth.transitions, name)
        assert np.array_equal(one[:count], other[:count]), name
    for name in ("gestures", "directions", "whole", "spacings"):
        assert np.array_equal(getattr(steps, name)[:opened], getattr(truth.steps, name)[:opened]), name


def test_the_slow_implementation_agrees() -> None:
    """Hands of many rows under clean contacts, and recorded ones and bad pads under clicks, alone and
    from the engine's own transitions.
    """
    done: Counter[str] = Counter()
    of_contacts = st.one_of(recorded_contacts(), bad_pads()).map(of_contact)

    @seed(3)
    @settings(max_examples=120, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(st.one_of(hand_designs(), of_contacts), addresses())
    def compare(made: Design, address: tuple[int, int]) -> None:
        engine = BatchEngine(made, 1)
        detail = engine.detail(*address, 1)
        done[compare_alone(made, address, detail, engine.chain, 0)] += 1
        record = compare_given(made, address, detail, engine.chain, 0)
        comparing.same_sums([record], detail)
        done.update(record.judgement.verdicts)

    compare()
    assert done["all"] > 60
    assert {"right", "flickered", "missed", "doubled"} <= set(done)
