"""Band-limited Gaussian noise as a pure function of (seed, run, line, instant).

Independent normals lie on a lattice, four to a period of the bandwidth B, each drawn at its own
address; a windowed sinc joins them, so that the noise has a value at every instant of a grid four
times as fine, 1/(16 B).  The value at an instant does not depend on what was computed before.

* The lattice is twice as dense as B needs, so the window's slow cut-off stays clear of the images of
  the spectrum: the noise is as good as stationary.  Normals at 1/(2 B) with a window this short would
  cross a level a third more often at some instants than at others.
* Each instant's weights have squares that add up to one: the variance is exact everywhere.
* How often noise crosses a level depends on the variance and on the mean square of its frequency
  alone (Rice, Bell System Technical Journal 24 (1945) 46, section 3.3).  The cut of the sinc is set
  so that the grid shows the crossings of an ideal low-pass of bandwidth B, 2 B / sqrt 3 per second.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from simcore.base.compiling import rule
from simcore.base.draws import NOISE_DRAW, four, normal_pair, purpose
from simcore.base.records import Floats

PER_PERIOD = 16
"""Instants of the grid in one period of the bandwidth."""
REACH = 8
"""Normals that count on either side of an instant."""
SPACING = 4
"""Instants from one normal to the next, and normals from one draw."""
ROWS = SPACING * SPACING
"""Instants from one draw to the next."""
COLUMNS = 2 * REACH + SPACING
"""Normals in a window, which starts with a draw and so reaches a little too far."""
CUT = 0.534503
"""Cut-off of the sinc as a share of half the lattice's rate; see the head of this file."""
SHAPE = 5.0
"""Of the Kaiser window (Kaiser, Proc. IEEE International Symposium on Circuits and Systems (1974) 20;
from memory): a compromise between a steep cut-off and little noise beyond it."""

Four = tuple[float, float, float, float]
Window = tuple[Four, Four, Four, Four, Four]


class Noise(NamedTuple):
    """Noise at an input: ``rms`` (V) and ``bandwidth`` (Hz); both 0 for none."""

    rms: float
    bandwidth: float


QUIET = Noise(0.0, 0.0)


def _bessel(x: float) -> float:
    """The modified Bessel function I0 by its series."""
    total = term = 1.0
    for k in range(1, 40):
        term *= (0.5 * x / k) ** 2
        total += term
    return total


def _weight(distance: float) -> float:
    """The kernel, not yet normalised, at a distance in units of the lattice."""
    share = distance / REACH
    if abs(share) >= 1.0:
        return 0.0
    place = math.pi * CUT * distance
    sinc = 1.0 if place == 0.0 else math.sin(place) / place
    return sinc * _bessel(SHAPE * math.sqrt(1.0 - share * share))


def _weights() -> Floats:
    """Weights (ROWS, COLUMNS) of the normals in a window, a row for each instant of a draw's span."""
    table = np.zeros((ROWS, COLUMNS))
    for row in range(ROWS):
        for column in range(COLUMNS):
            table[row, column] = _weight(row / SPACING + REACH - 1 - column)
        table[row] /= math.sqrt(math.fsum(table[row] ** 2))
    return table


WEIGHTS = _weights()


@rule
def noise_step(bandwidth: float) -> int:
    """Ticks from one instant of the grid to the next, at least one; 0 without a bandwidth."""
    if bandwidth <= 0.0:
        return 0
    return max(1, int(math.floor(1.0e12 / (PER_PERIOD * bandwidth) + 0.5)))


@rule
def noise_draw(seed: int, run: int, line: int, number: int) -> Four:
    """Draw ``number``: four standard normals, neighbours on the lattice."""
    u = four(seed, run, purpose(NOISE_DRAW, line), number)
    a, b = normal_pair(u[0], u[1])
    c, d = normal_pair(u[2], u[3])
    return a, b, c, d


@rule
def noise_window(seed: int, run: int, line: int, number: int) -> Window:
    """The normals that the instants ``ROWS * number`` and the ROWS - 1 after it need."""
    return (
        noise_draw(seed, run, line, number),
        noise_draw(seed, run, line, number + 1),
        noise_draw(seed, run, line, number + 2),
        noise_draw(seed, run, line, number + 3),
        noise_draw(seed, run, line, number + 4),
    )


@rule
def next_window(seed: int, run: int, line: int, number: int, window: Window) -> Window:
    """The window of ``number``, made of the one before."""
    return window[1], window[2], window[3], window[4], noise_draw(seed, run, line, number + 4)


@rule
def weighted(row: int, column: int, normals: Four) -> float:
    """What one draw adds at an instant."""
    return float(
        WEIGHTS[row, column] * normals[0]
        + WEIGHTS[row, column + 1] * normals[1]
        + WEIGHTS[row, column + 2] * normals[2]
        + WEIGHTS[row, column + 3] * normals[3]
    )


@rule
def noise_value(row: int, window: Window) -> float:
    """The noise, in units of its rms value, at instant ``row`` of a window."""
    return (
        weighted(row, 0, window[0])
        + weighted(row, 4, window[1])
        + weighted(row, 8, window[2])
        + weighted(row, 12, window[3])
        + weighted(row, 16, window[4])
    )


@rule
def noise_at(seed: int, run: int, line: int, instant: int) -> float:
    """The noise, in units of its rms value, at an instant of the grid, counted from 0."""
    return noise_value(instant % ROWS, noise_window(seed, run, line, instant // ROWS))
