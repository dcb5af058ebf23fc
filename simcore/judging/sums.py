"""Whole-number tallies as arrays, and the scratch room of one run.

Verdicts, root causes and classes of edge spacing have their names here.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from simcore.base.compiling import rule
from simcore.base.records import ORIGINS, Ints, fill

RIGHT, FLICKERED, MISSED, DOUBLED, REVERSED = range(5)
VERDICTS = ("right", "flickered", "missed", "doubled", "reversed")
WRONG = 5
"""Column of the sum of missed, doubled and reversed in the sums over runs."""
QUANTITIES = (*VERDICTS, "wrong")

(
    NO_CAUSE,
    CHATTER,
    SWALLOWED,
    LATE_DIRECTION,
    EARLY_DIRECTION,
    ORDER,
    MISFIT,
    SHORT_PULSE,
    SLIDING_NOISE,
    END_STOP,
    SKIPPED,
    SLOW_EDGE,
    PICK_UP,
    POWER_UP,
    SUPPLY_DIP,
    UNEXPLAINED,
) = range(16)
CAUSES = (
    "none",
    "chatter",
    "swallowed",
    "late direction",
    "early direction",
    "swapped order",
    "misfit",
    "short pulse",
    "sliding",
    "end stop",
    "skipped state",
    "slow edge",
    "pick-up",
    "power-up",
    "supply dip",
    "unexplained",
)

MILLISECOND = 1_000_000_000
SPACING_MS = (0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
"""Borders (ms) between the classes of edge spacing; the last class has no upper border."""
SPACING_TICKS = tuple(int(border * MILLISECOND) for border in SPACING_MS)
SPACINGS = len(SPACING_MS) + 1
EXCURSIONS = 9
"""Classes of excursion: 0 to 7 counts astray, and 8 or more."""


class Sums(NamedTuple):
    """Tallies of whole numbers.  Shapes, with G gestures, S spacings, Q quantities:

    ``steps`` (G, 2 directions, S, 5 verdicts, causes); over runs and groups (all, each
    gesture, each spacing): ``size`` and ``size_squared`` (groups,) of steps per run, ``total``,
    ``squared``, ``product`` (groups, Q) of y, y^2, x y per run, ``runs_with`` (groups, Q);
    ``excursions`` (EXCURSIONS,); ``spurious`` (2,) sum and sum of squares per run, ``strays``
    (ORIGINS,) the same pulses by origin;
    ``cut`` (1,) bursts cut off at the same contact's next boundary.
    """

    steps: Ints
    size: Ints
    size_squared: Ints
    present: Ints
    total: Ints
    squared: Ints
    product: Ints
    runs_with: Ints
    excursions: Ints
    spurious: Ints
    strays: Ints
    cut: Ints


class Scratch(NamedTuple):
    """Room for one run: per step and per transition."""

    net: Ints
    asked: Ints
    moves: Ints
    flags: Ints
    low: Ints
    high: Ints
    start: Ints
    verdict: Ints
    cause: Ints
    outs: Ints
    firsts: Ints
    origins: Ints
    strays: Ints
    here: Ints


def empty_sums(gestures: int) -> Sums:
    groups, width = 1 + gestures + SPACINGS, len(QUANTITIES)

    def zeros(*shape: int) -> npt.NDArray[np.int64]:
        return np.zeros(shape, np.int64)

    return Sums(
        zeros(gestures, 2, SPACINGS, len(VERDICTS), len(CAUSES)),
        zeros(groups),
        zeros(groups),
        zeros(groups),
        zeros(groups, width),
        zeros(groups, width),
        zeros(groups, width),
        zeros(groups, width),
        zeros(EXCURSIONS),
        zeros(2),
        zeros(ORIGINS),
        zeros(1),
    )


def empty_scratch(steps: int, transitions: int, gestures: int) -> Scratch:
    """Room for a run of at most so many steps and transitions."""
    per_step = [np.zeros(steps, np.int64) for _ in range(9)]
    per_transition = [np.zeros(transitions, np.int64) for _ in range(4)]
    here = np.zeros((1 + gestures + SPACINGS) * (len(QUANTITIES) + 1), np.int64)
    net, asked, moves, flags, low, high, start, verdict, cause = per_step
    outs, firsts, origins, strays = per_transition
    return Scratch(
        net, asked, moves, flags, low, high, start, verdict, cause, outs, firsts, origins, strays, here
    )


@rule
def spacing_class(spacing: int) -> int:
    found = 0
    for border in SPACING_TICKS:
        if spacing >= border:
            found += 1
    return found


@rule
def count_step(
    sums: Sums, scratch: Scratch, gestures: int, gesture: int, direction: int, spacing: int, s: int
) -> None:
    """Enter step ``s`` of a run in the tally and in the run's own counts."""
    verdict = scratch.verdict[s]
    sums.steps[gesture, 0 if direction > 0 else 1, spacing, verdict, scratch.cause[s]] += 1
    width = WRONG + 2
    for group in (0, 1 + gesture, 1 + gestures + spacing):
        scratch.here[group * width + verdict] += 1
        if verdict >= MISSED:
            scratch.here[group * width + WRONG] += 1
        scratch.here[group * width + WRONG + 1] += 1


@rule
def close_run(sums: Sums, scratch: Scratch) -> None:
    """Add the run's own counts to the sums over runs, and clear them."""
    width = WRONG + 2
    for group in range(sums.size.size):
        x = scratch.here[group * width + WRONG + 1]
        if x == 0:
            continue
        sums.size[group] += x
        sums.size_squared[group] += x * x
        sums.present[group] += 1
        for q in range(WRONG + 1):
            y = scratch.here[group * width + q]
            if y:
                sums.total[group, q] += y
                sums.squared[group, q] += y * y
                sums.product[group, q] += x * y
                sums.runs_with[group, q] += 1
        fill(scratch.here, group * width, (group + 1) * width, 0)
