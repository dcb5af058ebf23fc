"""What a counter drives: the taps of a potentiometer, and the resistance at each position.

Nothing here is simulated; a position or an error in counts is translated into ohms.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from simcore.base.draws import DRIVEN, Part, four, purpose, toleranced
from simcore.base.records import Floats

WHOLE, STEPS = 0, 1
"""Items of the purpose DRIVEN: end-to-end and wiper resistance; the errors of the steps."""


class Driven(NamedTuple):
    """A tapped potentiometer: ``end_to_end`` and ``wiper`` resistance (ohm, with tolerances), and a
    ``step`` in even shares of the whole: nominally 1, with how far it may differ as its tolerance.
    """

    end_to_end: Part
    wiper: Part
    step: Part = Part(1.0, 0.0)


class Ohms(NamedTuple):
    """A resistance: with every part at its nominal value, and the least and most within tolerances."""

    nominal: float
    low: float
    high: float


def resistances(driven: Driven, positions: int, seed: int, run: int) -> Floats:
    """From the end at position 0 to the wiper at each position (positions,), in ohm, of one unit.

    wiper + the steps below; a step is end_to_end / (positions - 1), give or take its own error.
    ``positions`` must be 2 or more (ValueError).
    """
    _require(positions)
    u = four(seed, run, purpose(DRIVEN, WHOLE), 0)
    share = toleranced(driven.end_to_end, u[0]) / (positions - 1)
    shares = [
        toleranced(driven.step, one)
        for index in range((positions + 2) // 4)
        for one in four(seed, run, purpose(DRIVEN, STEPS), index)
    ]
    steps = share * np.array(shares[: positions - 1])
    return toleranced(driven.wiper, u[1]) + np.concatenate(([0.0], np.cumsum(steps)))


def counts_in_ohms(driven: Driven, positions: int, counts: int) -> Ohms:
    """What ``counts`` steps are in ohm, for any unit within tolerances; the wiper cancels out.

    ``positions`` must be 2 or more (ValueError).
    """
    _require(positions)
    nominal = abs(counts) * driven.end_to_end.nominal / (positions - 1)
    whole, step = driven.end_to_end.tolerance, driven.step.tolerance
    return Ohms(nominal, nominal * (1.0 - whole) * (1.0 - step), nominal * (1.0 + whole) * (1.0 + step))


def _require(positions: int) -> None:
    if positions < 2:
        raise ValueError(f"a tapped potentiometer has 2 positions or more, not {positions}")
