"""Recorded contacts repeat their library: every burst of it and no other, stretched as told."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from simcore.base.records import MAIN, RECORDED
from simcore.base.ticks import NEVER
from simcore.contacts.bursts import BadPad, Clean, Crossing, contact_burst
from simcore.contacts.recorded import MOST_CHANGES, Recorded, bursts_of

MICROSECOND = 1_000_000
MAKES = [[0.0], [0.0, 2e-6, 5e-6], [0.0, 1e-6, 3e-6, 4e-6, 9e-6]]
BREAKS = [[0.0, 7e-6, 8e-6]]


def burst(
    contact: Recorded | BadPad, transition: int, closing: int, speed: float, boundary: int = 0
) -> list[int]:
    """Changes of one crossing, in microseconds; the first is the crossing itself."""
    times, origins = np.zeros(500, np.int64), np.zeros(500, np.int32)
    crossing = Crossing(1, 0, 0, transition, closing, speed, NEVER, NEVER, boundary)
    count = contact_burst(contact, crossing, times, origins)
    assert list(origins[:count]) == [MAIN] + [RECORDED] * (count - 1)
    return [int(time) // MICROSECOND for time in times[:count]]


def test_all_bursts_are_drawn_alike_and_nothing_else() -> None:
    """3,000 makes, five standard errors about a third each: fails once in 300,000 seeds."""
    contact = Recorded(bursts_of(MAKES), bursts_of(BREAKS), 0.0, 0.1, 10.0)
    drawn = Counter(tuple(burst(contact, i, 1, 100.0)) for i in range(3000))
    assert set(drawn) == {(0,), (0, 2, 5), (0, 1, 3, 4, 9)}
    assert all(abs(count - 1000) < 5.0 * (3000 * 2 / 9) ** 0.5 for count in drawn.values())
    assert {tuple(burst(contact, i, 0, 100.0)) for i in range(50)} == {(0, 7, 8)}


def test_bursts_stretch_in_inverse_proportion_to_speed_within_bounds() -> None:
    contact = Recorded(bursts_of(BREAKS), bursts_of(BREAKS), 360.0, 0.5, 4.0)
    for speed, scale in (
        (360.0, 1.0),
        (180.0, 2.0),
        (90.0, 4.0),
        (1.0, 4.0),
        (0.0, 4.0),
        (720.0, 0.5),
        (1e6, 0.5),
    ):
        assert burst(contact, 0, 0, speed) == [0, int(7 * scale), int(8 * scale)]


def test_one_pad_in_each_revolution_is_bad() -> None:
    """Cycles -3 to 5 of an encoder with four pads, the second of them bad; both edges of a pad alike."""
    contact = BadPad(Clean(1), Recorded(bursts_of(BREAKS), bursts_of(BREAKS), 0.0, 1.0, 1.0), 1, 4)
    bad = {cycle for cycle in range(-3, 6) if len(burst(contact, 0, 1, 1.0, 4 * cycle + 2)) == 3}
    assert bad == {-3, 1, 5}
    assert [len(burst(contact, 0, 1, 1.0, boundary)) for boundary in range(3, 9)] == [1, 3, 3, 3, 3, 1]


@pytest.mark.parametrize(
    "changes",
    [
        [],
        [[0.0, 1e-6]],
        [[1e-6]],
        [[0.0, 2e-6, 2e-6]],
        [[0.0, *(i * 1e-6 for i in range(1, MOST_CHANGES + 2))]],
    ],
)
def test_libraries_that_are_none(changes: list[list[float]]) -> None:
    with pytest.raises(ValueError, match="burst"):
        bursts_of(changes)
