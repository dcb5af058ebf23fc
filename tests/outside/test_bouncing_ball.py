"""A rebounding contact as a bouncing ball.

Styer and Besson, Journal of Online Mathematics and its Applications 7 (2007): flight k lasts
t1 e^(k-1), all flights together t1 / (1 - e) (read).
"""

from __future__ import annotations

import numpy as np
import pytest

from simcore.base.records import REBOUND
from simcore.base.ticks import TICKS_PER_SECOND
from simcore.contacts.bursts import FLIGHTS, SHORTEST_FLIGHT, WipingSide, rebound
from simcore.contacts.crossing import SCRATCH


def flights(first: float, restitution: float, pause: float = 0.0) -> list[float]:
    """Seconds of each flight of one rebound."""
    times, origins = np.zeros(SCRATCH, np.int64), np.zeros(SCRATCH, np.int32)
    side = WipingSide(
        0.0, 0.0, 1.0, first, restitution, pause, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0,
    )  # fmt: skip
    n = rebound(side, 1.0, 1.0, 1, times, origins)
    assert n % 2 == 1
    assert (origins[1:n] == REBOUND).all()
    assert (np.diff(times[:n]) >= 0).all()
    return [float(t) / TICKS_PER_SECOND for t in times[2:n:2] - times[1:n:2]]


def left_out(first: float, restitution: float, count: int) -> float:
    """The geometric rest of the series after ``count`` flights."""
    return first * restitution**count / (1.0 - restitution)


# The ball of the source: first flight 0.63 s, 0.9; 6.3 s by the formula, 6.42 s measured.
@pytest.mark.parametrize(("first", "restitution", "total"), [(0.63, 0.9, 6.3), (1.0, 0.8, 5.0)])
def test_total_of_the_published_balls(first: float, restitution: float, total: float) -> None:
    """We stop at FLIGHTS flights; what the series has beyond them is added."""
    seen = flights(first, restitution)
    assert len(seen) == FLIGHTS
    assert sum(seen) + left_out(first, restitution, len(seen)) == pytest.approx(total, rel=1e-9)
    assert sum(seen) == pytest.approx(total, rel=0.01)


def test_measured_ball() -> None:
    """6.42 s by the stop watch: the formula is 2 % short of it, and so are we."""
    assert sum(flights(0.63, 0.9)) == pytest.approx(6.42, rel=0.03)


def test_flights_until_one_in_a_hundred() -> None:
    seen = flights(1.0, 0.8)
    assert sum(flight >= 0.01 for flight in seen) == 21


@pytest.mark.parametrize(("first", "restitution"), [(60e-6, 0.55), (20e-6, 0.7), (200e-6, 0.3), (1e-3, 0.85)])
def test_contact_sized_rebounds(first: float, restitution: float) -> None:
    """At a contact's size the series ends with the first flight shorter than SHORTEST_FLIGHT."""
    seen = flights(first, restitution, pause=10e-6)
    ratios = np.array(seen[1:]) / np.array(seen[:-1])
    assert seen[0] == pytest.approx(first, abs=1e-12)
    assert ratios == pytest.approx(restitution, abs=1e-6)
    assert min(seen) >= SHORTEST_FLIGHT
    assert seen[-1] * restitution < SHORTEST_FLIGHT
    total = first / (1.0 - restitution)
    assert sum(seen) + left_out(first, restitution, len(seen)) == pytest.approx(total, abs=1e-10)
