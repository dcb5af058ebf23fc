"""Smooth paths through a table against SciPy's monotone interpolation.

SciPy's PchipInterpolator takes its speeds at inner points from F. N. Fritsch and J. Butland,
SIAM J. Sci. Stat. Comput. 5 (1984) 300, as `simcore.hand.paths.table_speeds` does; at both ends our paths
are at rest.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator
from scipy.optimize import brentq

from simcore.design import HandEntry
from simcore.hand.base import UP
from simcore.hand.geometry import boundaries, boundary_place
from simcore.hand.paths import cubic_share, cubic_speed, cubic_time, path_of, table_speeds
from simcore.hand.shaft import LEAD
from tests.theory.turning import WHOLE_CYCLE, turned

TIMES = [0.0, 0.02, 0.05, 0.06, 0.1, 0.16, 0.2, 0.31]
PLACES = [0.0, 0.6, 2.3, 2.3, 1.7, 4.0, 4.4, 9.0]


def test_speeds_at_inner_points() -> None:
    theirs = PchipInterpolator(TIMES, PLACES).derivative()(TIMES)
    assert table_speeds(TIMES, PLACES)[1:-1] == pytest.approx(list(theirs[1:-1]), rel=1e-12, abs=1e-12)


def test_crossing_times() -> None:
    """Every boundary is crossed when SciPy's spline reaches it, to 1 ps and a rounding of the root."""
    spline = CubicHermiteSpline(TIMES, PLACES, table_speeds(TIMES, PLACES))
    angles = boundaries(WHOLE_CYCLE, 0, 0)
    gesture = path_of(TIMES, PLACES, True, UP, 0.0, 0.0, 0.0)
    found = turned((HandEntry("path", gesture, len(TIMES) - 1, "path"),), 0, 0)
    expected = []
    for begins, ends in itertools.pairwise(TIMES):
        low, high = sorted((float(spline(begins)), float(spline(ends))))
        places = [boundary_place(angles, 1.0, j) for j in range(-4, 40)]
        within = [place for place in places if low < place <= high]
        instants = [
            brentq(lambda t, place=place: spline(t) - place, begins, ends, xtol=1e-15) for place in within
        ]
        expected += sorted((instant, float(abs(spline(instant, 1)))) for instant in instants)
    assert len(found.crossed) == len(expected) > 30
    for crossed, (instant, speed) in zip(found.crossed, expected, strict=True):
        assert abs(crossed.time - LEAD - instant * 1e12) <= 1.5 + 1e3 / max(speed, 1.0)
        assert crossed.speed == pytest.approx(speed * 18.0, rel=1e-6, abs=1e-3)


@pytest.mark.parametrize("speeds", [(0.0, 0.0), (1.0, 1.0), (0.0, 3.0), (3.0, 3.0), (2.9, 0.1), (0.0, 1.5)])
def test_the_inverse_of_the_cubic(speeds: tuple[float, float]) -> None:
    """Time of a share and share of a time undo each other, and the speed is the derivative."""
    for s in np.linspace(0.0, 1.0, 101):
        f = cubic_share(float(s), *speeds)
        back = cubic_time(f, *speeds)
        assert cubic_share(back, *speeds) == pytest.approx(f, abs=2e-15)
        if cubic_speed(float(s), *speeds) > 1e-3:
            assert back == pytest.approx(s, abs=1e-12)
    step = 1e-6
    slope = (cubic_share(0.3 + step, *speeds) - cubic_share(0.3 - step, *speeds)) / (2 * step)
    assert cubic_speed(0.3, *speeds) == pytest.approx(slope, rel=1e-8)
