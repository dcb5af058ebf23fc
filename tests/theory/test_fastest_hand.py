"""The closed form of the fastest hand against the transitions of many units turned at that pace."""

from __future__ import annotations

import itertools
import math

import pytest
from scipy import stats

from simcore.base.check import FASTEST, Z
from simcore.checks.fastest import Edge, fastest, stretches
from simcore.design import Design, HandEntry
from simcore.hand.base import ALTERNATE, CLICK, SPIN, TWIST, gesture_laws
from simcore.hand.geometry import Geometry
from simcore.hand.paths import path_of
from tests.theory import designs as make
from tests.theory.looking import Move, look

RUNS = 400
LOOSE = Geometry(20.0, 1.0, 0.5, 0.04, 0.25, 0.03, 0.0, 0.04)
QUARTER = Geometry(24.0, 0.25, 0.5, 0.02, 0.25, 0.02, 0.125, 0.02)
HALF = Geometry(24.0, 0.5, 0.5, 0.03, 0.25, 0.03, 0.0, 0.02)


def design_of(kind: int, steps: float, geometry: Geometry, ripple: float = 0.0) -> Design:
    """One gesture, up and down by turns, with all durations alike."""
    gesture = make.gesture(
        kind, steps=steps, heading=ALTERNATE, duration=steps * 12e-3, dwell=20e-3, ripple=ripple
    )
    return make.design(HandEntry("hand", gesture, 6), geometry=geometry)


def seen(moves: tuple[Move, ...]) -> dict[tuple[str, object], float]:
    """The shortest times of one run (s)."""
    edges = [((move.line, move.closed), move.time * 1e-12) for move in moves]
    found: dict[tuple[str, object], float] = {}

    def keep(key: tuple[str, object], seconds: float) -> None:
        found[key] = min(seconds, found.get(key, math.inf))

    for (first, early), (second, late) in itertools.pairwise(edges):
        keep(("apart", (first, second)), late - early)
    for line in (0, 1):
        own = [(edge, time) for edge, time in edges if edge[0] == line]
        for (first, early), (_, late) in itertools.pairwise(own):
            keep(("dwell", first), late - early)
    return found


DESIGNS = [
    design_of(CLICK, 1.0, LOOSE),
    design_of(TWIST, 5.0, LOOSE, 0.4),
    design_of(TWIST, 30.0, LOOSE, 0.3),
    design_of(SPIN, 20.0, LOOSE, 0.5),
    design_of(TWIST, 4.0, HALF),
    design_of(TWIST, 4.0, QUARTER),
]


@pytest.mark.parametrize("design", DESIGNS, ids=["click", "twist", "long", "spin", "half", "quarter"])
def test_no_unit_is_faster_and_some_come_close(design: Design) -> None:
    hand = fastest(design)
    shortest: dict[tuple[str, object], float] = {}
    for run in look(design, 3, RUNS):
        for key, seconds in seen(run.moves).items():
            shortest[key] = min(seconds, shortest.get(key, math.inf))
    bounds: dict[tuple[str, object], float] = {
        ("apart", pair): found.seconds for pair, found in hand.apart.items()
    }
    bounds |= {("dwell", edge): found.seconds for edge, found in hand.dwell.items()}
    # A tick of rounding; between the rest positions that are tried a unit may be faster by a little.
    for key, seconds in shortest.items():
        assert bounds[key] <= seconds * 1.01 + 1e-12, key
    levels = [(bounds["dwell", edge], shortest["dwell", edge]) for edge in hand.dwell]
    low, high = min(levels)
    assert low <= high * 1.01
    assert low >= 0.75 * high


def test_the_quantile_is_one_in_a_thousand() -> None:
    assert pytest.approx(-stats.norm.ppf(FASTEST), rel=1e-12) == Z


def test_paces_are_taken_at_the_quantile() -> None:
    gesture = make.gesture(CLICK, duration=28e-3, spread=0.25)
    (law, _), _ = gesture_laws(gesture, -Z) or ()
    assert law.seconds == pytest.approx(stats.lognorm.ppf(FASTEST, 0.25, scale=28e-3))


def test_a_table_is_split_where_it_turns_back() -> None:
    path = path_of([0.0, 0.1, 0.2, 0.4], [0.0, 2.0, 1.0, 3.0], True, 1, 0.0, 0.1, 0.0)
    ways = gesture_laws(path, -Z)
    assert ways is not None
    assert [[law.steps for law in way] for way in ways] == [[2.0], [-1.0], [2.0]]


def test_a_steady_turn_of_exact_angles_is_reckoned_by_hand() -> None:
    """Ten milliseconds to a step: edges 2.5 ms apart, levels of 5 ms, a cycle of 10."""
    hand = fastest(make.design(make.spin(8, 10e-3)))
    pairs: list[tuple[Edge, Edge]] = [((0, 1), (1, 1)), ((1, 1), (0, 0)), ((0, 0), (1, 0)), ((1, 0), (0, 1))]
    assert [hand.apart[pair].seconds for pair in pairs] == pytest.approx([2.5e-3] * 4)
    assert [hand.dwell[edge].seconds for edge in hand.dwell] == pytest.approx([5e-3] * 4)
    assert [found.seconds for found in hand.cycle.values()] == pytest.approx([10e-3] * 4)
    assert hand.closest().gesture == "spin"


def test_a_gesture_from_elsewhere_is_named_and_left_out() -> None:
    class Elsewhere(tuple):  # type: ignore[type-arg]
        """A record that is none of ours."""

    hand = fastest(make.design(HandEntry("robot", Elsewhere(), 1, "robot")))
    assert hand.left_out == ("robot",)
    assert hand.dwell == {}


@pytest.mark.parametrize("steps", [1.0, 12.0, 13.0, 400.0])
def test_stretches_of_a_long_movement_hold_its_ends_and_its_middle(steps: float) -> None:
    parts = stretches(steps)
    assert (parts[0][0], parts[-1][1]) == (0.0, steps)
    assert any(low <= steps / 2.0 <= high for low, high in parts)
