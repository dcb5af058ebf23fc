"""No two draws share an address: the condition under which addressed numbers are independent
(Salmon, Moraes, Dror and Shaw, SC 2011: one key and counter, one block of words).
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace

import pytest

from simcore.base import draws
from simcore.base.compiling import Kernel
from simcore.base.draws import Part
from simcore.engines.batch import BatchEngine
from simcore.networks.noise import Noise
from simcore.networks.supply import Dips
from simcore.stages.delay import GateDelay
from tests.theory.designs import busy_design

Address = tuple[int, int, int, int]
SHARED_ON_PURPOSE = (draws.HEADING, draws.SUPPLY, draws.COIN, draws.GEOMETRY)
"""One heading for all movements of a gesture, one supply for both lines; two words of one block
for the two coins of a clock edge; the unit's angles, asked for by whoever needs them."""


@pytest.fixture
def recorded(monkeypatch: pytest.MonkeyPatch) -> list[Address]:
    """Runs everything as plain Python, whole numbers widened, and notes the address of every draw."""
    seen: list[Address] = []
    genuine = draws.four

    def noting(seed: int, run: int, purpose: int, index: int) -> tuple[float, float, float, float]:
        seen.append((int(seed), int(run), int(purpose), int(index)))
        return genuine(seed, run, purpose, index)

    for name, module in list(sys.modules.items()):
        if not name.startswith("simcore"):
            continue
        if getattr(module, "four", None) is genuine:
            monkeypatch.setattr(module, "four", noting)
        if hasattr(module, "whole"):
            monkeypatch.setattr(module, "whole", int)
    monkeypatch.setattr(Kernel, "__call__", lambda self, *arguments: self.plain(*arguments))
    return seen


def kind(address: Address) -> int:
    """What a draw is for; what bears a name has items of its own, beyond those of all kinds."""
    return address[2] % draws.NAMED // draws.ITEMS


def test_addresses_are_distinct(recorded: list[Address]) -> None:
    runs = 3
    BatchEngine(busy_design(), runs).run(9, 40, runs)
    own = Counter(a for a in recorded if kind(a) not in SHARED_ON_PURPOSE)
    assert len(own) > 500
    assert [address for address, times in own.items() if times > 1] == []
    assert {address[:2] for address in recorded} == {(9, 40), (9, 41), (9, 42)}
    used = {kind(address) for address in recorded}
    assert {draws.MOVE, draws.BURST, draws.SLIDE, draws.RESISTANCE, draws.STAGE} <= used


def test_addresses_of_a_general_line_are_distinct(recorded: list[Address]) -> None:
    """Dips, a resistance per closure, noise and delays beside all that; noise is asked for again and
    again on purpose, a dip by both lines.
    """
    base = busy_design()
    filtering, reading = base.stages
    late = GateDelay(Part(1e-6, 0.1), Part(1e-6, 0.1))
    logic = reading.item._replace(noise=Noise(1e-3, 1e4), delay=late)
    design = replace(
        base, stages=(filtering, replace(reading, item=logic)), dips=Dips(10.0, 0.3, 1e-4), power_up=1,
        resistance=base.resistance._replace(per_closure=1),
    )  # fmt: skip
    BatchEngine(design, 1).run(9, 40, 1)
    again = (*SHARED_ON_PURPOSE, draws.NOISE_DRAW)
    own = Counter(a for a in recorded if kind(a) not in again)
    assert [address for address, times in own.items() if times > 1] == []
    used = {kind(address) for address in recorded}
    assert {draws.RESISTANCE, draws.STAGE, draws.SUPPLY, draws.NOISE_DRAW} <= used


def test_purposes_are_distinct() -> None:
    """A purpose's item number never reaches into the next purpose."""
    assert draws.purpose(draws.MOVE, draws.ITEMS - 1) < draws.purpose(draws.MOVE + 1, 0)
    codes = [
        draws.GEOMETRY, draws.MOVE, draws.HEADING, draws.BURST, draws.SLIDE,
        draws.RESISTANCE, draws.SUPPLY, draws.STAGE, draws.COIN,
        draws.NOISE_DRAW,
    ]  # fmt: skip
    assert len(set(codes)) == len(codes)


def test_neighbouring_addresses_give_different_numbers() -> None:
    """A bijection per key: different counters cannot give the same four words."""
    words = {draws.philox((index, purpose, 0, 0), (1, 2)) for index in range(200) for purpose in range(50)}
    assert len(words) == 200 * 50
