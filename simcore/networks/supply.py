"""The supply of pull-ups and inputs: its dips, common to both lines.

After an undisturbed time, exponential with mean 1 / rate, the supply falls by a share of itself for a
fixed time, and so on.  Dip number k has an address of its own, so both lines meet the same dips, and one
design meets the same as another under the same seed.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from simcore.base.compiling import rule
from simcore.base.draws import SUPPLY, four, purpose
from simcore.base.ticks import NEVER, later

DIP_ITEM = 1
"""Item of the purpose SUPPLY under which dips are drawn; 0 is the supply's tolerance."""


class Dips(NamedTuple):
    """``rate`` per second of undisturbed supply, ``depth`` as a share of the supply, ``length`` (s)."""

    rate: float
    depth: float
    length: float


STEADY = Dips(0.0, 0.0, 0.0)
"""A supply without dips."""


class SupplyState(NamedTuple):
    """Whether the supply is ``low`` now, the number of the present or coming ``dip``, and the tick of
    the next ``turn``, up or down.
    """

    low: int
    dip: int
    turn: int


@rule
def dip_after(dips: Dips, seed: int, run: int, number: int, time: int) -> int:
    """The tick at which dip ``number`` begins when the supply is undisturbed from ``time`` on."""
    if dips.rate <= 0.0:
        return NEVER
    u = four(seed, run, purpose(SUPPLY, DIP_ITEM), number)[0]
    return later(time, -math.log(1.0 - u) / dips.rate)


@rule
def supply_start(dips: Dips, seed: int, run: int) -> SupplyState:
    return SupplyState(0, 0, dip_after(dips, seed, run, 0, 0))


@rule
def supply_after_turn(dips: Dips, seed: int, run: int, supply: SupplyState) -> SupplyState:
    if supply.low:
        return SupplyState(0, supply.dip + 1, dip_after(dips, seed, run, supply.dip + 1, supply.turn))
    return SupplyState(1, supply.dip, later(supply.turn, dips.length))
