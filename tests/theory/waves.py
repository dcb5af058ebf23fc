"""Helper: general lines without tolerances, driven by the plain rules."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from simcore.base.draws import Part
from simcore.base.records import WATCHED, cause_origin, cause_transition, edges_of_runs, empty_edges
from simcore.networks.analogue import Resistance
from simcore.networks.inputs import TIGHT, Leakage, Level, PlainInput, SchmittInput
from simcore.networks.noise import QUIET, Noise
from simcore.networks.single_pole import SeriesCapacitor
from simcore.networks.supply import STEADY, Dips
from simcore.networks.waveform import Waveform
from simcore.stages.base import drive_stage

OPEN, CLOSED = 0, 1


class Out(NamedTuple):
    """One output edge: tick, level after it, and the transition and origin in its cause."""

    time: int
    level: int
    transition: int
    origin: int


def exact(value: float) -> Part:
    """A part without tolerance."""
    return Part(float(value), 0.0)


def section(pull_up: float = 10e3, series: float = 10e3, farads: float = 10e-9) -> SeriesCapacitor:
    """The suggested filter of a published encoder data sheet, unless told otherwise."""
    return SeriesCapacitor(exact(pull_up), exact(series), exact(farads))


def level(volts: float, of_supply: int = 0) -> Level:
    """A threshold without tolerance."""
    return Level(exact(volts), of_supply)


def schmitt(rising: float, falling: float, noise: Noise = QUIET, leakage: Leakage = TIGHT) -> SchmittInput:
    """Two thresholds in volts."""
    return SchmittInput(level(rising), level(falling), 0, leakage, noise)


def plain(volts: float, noise: Noise = QUIET, of_supply: int = 0) -> PlainInput:
    """One threshold."""
    return PlainInput(level(volts, of_supply), level(volts, of_supply), 0, TIGHT, noise)


def waveform(
    logic: Any, network: Any = None, *, volts: float = 5.0, dips: Dips = STEADY, power_up: int = 0,
    resistance: Resistance | None = None,
) -> Waveform:  # fmt: skip
    """A line whose contact has no resistance unless told otherwise."""
    closed = resistance or Resistance(0.0, 0.0)
    return Waveform(exact(volts), closed, network or section(), logic, dips, power_up)


def passed(
    spec: Any, first: int, times: list[int], seconds: float, *, run: int = 0, line: int = 0, seed: int = 7
) -> list[Out]:
    """The output edges of one run whose contact, closed at first or not, changes at ``times`` (ticks),
    watched for so many seconds.
    """
    source = edges_of_runs([(first, times, [16 * number for number in range(len(times))])])
    out = empty_edges(100_000, 1)
    ends = np.array([round(seconds * 1e12) - WATCHED], np.int64)
    assert drive_stage.plain(spec, seed, run, line, source, ends, out) == 1  # type: ignore[attr-defined]
    shown, found = int(out.first[0]), []
    for time, cause in zip(out.times[: out.offsets[1]], out.causes[: out.offsets[1]], strict=True):
        shown ^= 1
        found.append(Out(int(time), shown, cause_transition(int(cause)), cause_origin(int(cause))))
    return found
