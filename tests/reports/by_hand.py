"""What a told voltage or threshold ought to be, by hand: parts drawn by the slow implementation of the
tests, the exponential of any text on circuits, and the contact's edges of the batch engine.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

from simcore.design import Design
from simcore.engines.batch import BatchEngine
from simcore.networks.inputs import PlainInput, SchmittInput
from simcore.networks.single_pole import AcrossCapacitor, Direct, SeriesCapacitor
from tests.agreement.slow_line import Unit, build, parts_of
from tests.reports.traces import scenario_of

PLAIN = (Direct, SeriesCapacitor, AcrossCapacitor, SchmittInput, PlainInput)


@dataclass(frozen=True)
class Run:
    """One run by the batch engine: every tick at which anything happened, and per line the first
    state and the ticks of the contact, and what the counter saw.
    """

    ticks: frozenset[int]
    contacts: tuple[tuple[int, tuple[int, ...]], ...]
    seen: tuple[tuple[int, tuple[int, ...]], ...]


@functools.cache
def run_of(name: str, seed: int, run: int) -> Run:
    """The run, computed without the event engine."""
    return record_of(scenario_of(name).design, seed, run)


def record_of(design: Design, seed: int, run: int) -> Run:
    """The same for any design."""
    detail = BatchEngine(design, 1).detail(seed, run, 1)
    trails = [
        [(int(edges.first[0]), tuple(edges.times[: edges.offsets[1]].tolist())) for edges in line]
        for line in detail.lines
    ]
    ticks = {tick for line in trails for _, times in line for tick in times}
    ticks |= set(detail.pulses.times[: detail.pulses.offsets[1]].tolist())
    rows = detail.truth.transitions
    ticks |= set(rows.times[: rows.offsets[1]].tolist())
    return Run(frozenset(ticks), (trails[0][0], trails[1][0]), (trails[0][-1], trails[1][-1]))


@functools.cache
def unit_of(name: str, seed: int, run: int, line: int) -> Unit | None:
    """One built line, or None where the slow implementation does not know its parts."""
    design = scenario_of(name).design
    if design.dips.rate or design.power_up or design.resistance.per_closure:
        return None
    mine = [entry.item for entry in design.stages if line in entry.lines]
    analogue = [item for item in mine if hasattr(item, "leakage") or hasattr(item, "pull_up")]
    if not analogue or not all(isinstance(item, PLAIN) for item in analogue):
        return None
    if any(getattr(item, "leakage", None) and item.leakage.most for item in analogue):
        return None
    parts = parts_of(design, line)
    return None if parts is None else build(design, parts, seed, run, line)


def volts_at(name: str, seed: int, run: int, line: int, tick: int) -> float | None:
    """The voltage of a line at a tick: one exponential after the other from the run's start."""
    unit = unit_of(name, seed, run, line)
    if unit is None:
        return None
    closed, ticks = run_of(name, seed, run).contacts[line]
    volts, since = (unit.closed_volts if closed else unit.open_volts), 0
    for at in (*(each for each in ticks if each <= tick), tick):
        goal, tau = (unit.closed_volts, unit.closed_tau) if closed else (unit.open_volts, unit.open_tau)
        volts = goal + (volts - goal) * math.exp(-(at - since) * 1e-12 / tau) if tau > 0.0 else goal
        closed, since = 1 - closed, at
    if unit.open_tau == 0.0 or unit.closed_tau == 0.0:
        # Without a capacitor the line is where the contact puts it at once.
        now = run_of(name, seed, run).contacts[line][0] ^ (sum(each <= tick for each in ticks) & 1)
        volts = unit.closed_volts if now else unit.open_volts
    return volts
