"""Short ways to build one exact line and to drive it, for the checks of this folder."""

from __future__ import annotations

import itertools

import numpy as np

from simcore.base.draws import Part
from simcore.base.records import Edges, Pulses, empty_edges, empty_pulses, empty_transitions
from simcore.base.ticks import NEVER, TICKS_PER_SECOND
from simcore.counters.base import Range, drive_counter
from simcore.networks.analogue import Analogue, Pole, Resistance
from simcore.networks.inputs import Level, PlainInput, SchmittInput
from simcore.networks.single_pole import AcrossCapacitor, SeriesCapacitor
from simcore.stages.base import drive_stage, stage_build, stage_edge, stage_start, stage_wake

OPEN, CLOSED = 0, 1
NO_CAUSE = -16


def part(value: float) -> Part:
    """A part without tolerance."""
    return Part(float(value), 0.0)


def schmitt(rising: float, falling: float) -> SchmittInput:
    """A Schmitt input with both thresholds in volts."""
    return SchmittInput(Level(part(rising), 0), Level(part(falling), 0), 0)


def threshold(volts: float) -> PlainInput:
    """A plain input whose one threshold is known."""
    return PlainInput(Level(part(volts), 0), Level(part(volts), 0), 0)


def line(volts: float, network: object, logic: object, ohms: float = 0.0) -> Analogue:
    """Supply, network, input and contact of ``ohms``, nothing with a tolerance."""
    return Analogue(part(volts), Resistance(float(ohms), 0.0), network, logic)


def series(
    volts: float, pull_up: float, resistor: float, farads: float, logic: object, ohms: float = 0.0
) -> Analogue:
    """Pull-up at the contact, series resistor into the capacitor."""
    return line(volts, SeriesCapacitor(part(pull_up), part(resistor), part(farads)), logic, ohms)


def across(volts: float, pull_up: float, farads: float, logic: object, ohms: float = 0.0) -> Analogue:
    """Pull-up at the capacitor, which the contact of ``ohms`` discharges."""
    return line(volts, AcrossCapacitor(part(pull_up), part(farads)), logic, ohms)


def built(spec: Analogue) -> Pole:
    """The one unit that a line without tolerances can be."""
    pole = stage_build(spec, 0, 0, 0)
    assert isinstance(pole, Pole)
    return pole


def crossing_time(spec: Analogue, before: int) -> float:
    """Seconds from the contact leaving its long-held state ``before`` to the input's turn; NaN for never."""
    pole = built(spec)
    state = stage_edge(pole, stage_start(pole, before), 0, 1 - before)
    wake = stage_wake(pole, state, NEVER)
    return float("nan") if wake == NEVER else wake / TICKS_PER_SECOND


def one_run(first: int, times: list[int]) -> Edges:
    """The edges of a single run, each caused by the transition of its own number."""
    causes = [16 * number for number in range(len(times))]
    return Edges(
        np.array(times, np.int64),
        np.array(causes, np.int32),
        np.array([0, len(times)], np.int64),
        np.array([first], np.uint8),
    )


def through(spec: object, source: Edges) -> Edges:
    """The edges that one line's stage makes of ``source``, spare room cut off."""
    out = empty_edges(2 * source.times.size + 16, source.first.size)
    ends = np.full(source.first.size, 2**62, np.int64)
    assert drive_stage(spec, 0, 0, 0, source, ends, out) == source.first.size
    used = int(out.offsets[-1])
    return out._replace(times=out.times[:used], causes=out.causes[:used])


def levels_after(edges: Edges) -> list[int]:
    """Level after each edge of a single run."""
    return [(int(edges.first[0]) + i + 1) & 1 for i in range(int(edges.offsets[1]))]


def times_of(durations: list[int]) -> list[int]:
    """Edge ticks from the ticks between them, the first after the first duration."""
    return list(itertools.accumulate(durations))


def counted(spec: object, a: Edges, b: Edges) -> Pulses:
    """Times, counts and flags of an unbounded counter fed with two logic lines of a single run."""
    transitions = empty_transitions(a.times.size + b.times.size + 1, 1)
    transitions.directions[:] = 1
    transitions.offsets[1] = transitions.times.size
    pulses = empty_pulses(4 * (a.times.size + b.times.size) + 16, 1)
    assert drive_counter(spec, Range(0, 0, 0), 0, 0, a, b, transitions, pulses) == 1
    used = int(pulses.offsets[1])
    return pulses._replace(times=pulses.times[:used], asked=pulses.asked[:used], flags=pulses.flags[:used])
