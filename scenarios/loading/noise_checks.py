"""Checks of noisy inputs: the line must rest out of reach of the noise, and cross it in finite work."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from scenarios.loading.messages import Fault
from scenarios.quantities import FREQUENCY, VOLTAGE, write_quantity
from simcore.base.draws import named_address
from simcore.base.records import LINE_NAMES
from simcore.design import Design, without_tolerances
from simcore.networks.inputs import Thresholds, input_thresholds
from simcore.networks.noise import PER_PERIOD
from simcore.networks.response import NEVER_SECONDS, node_reaches, node_rest
from simcore.networks.waveform import SIGMAS, Line, Waveform, drive_of
from simcore.stages.base import stage_build

MOST_INSTANTS = 1_000_000
"""Instants of the noise's grid that one edge may pass while it is near the threshold."""

JUST_BELOW_ONE = math.nextafter(1.0, 0.0)


def noise_faults(design: Design) -> Iterator[Fault]:
    """One fault at most for each noisy input of a design that can be wired."""
    if not any(_is_noisy(spec) for layer in design.chain.layers for spec in layer.line):
        return
    names = {named_address(stage.name): stage.name for stage in design.stages}
    for layer in without_tolerances(design).chain.layers:
        for line, spec in enumerate(layer.line):
            if not _is_noisy(spec):
                continue
            unit = stage_build(spec, 0, 0, layer.address + line)
            found = _restless(unit, spec, line) or _endless(unit, spec, line)
            if found:
                yield Fault(("stage", names[layer.address], found[0]), found[1], found[2], wide=True)
                break


def _is_noisy(spec: Any) -> bool:
    return isinstance(spec, Waveform) and bool(spec.logic.noise.rms > 0.0)


def _spans(spec: Waveform) -> tuple[tuple[float, float], tuple[float, float]]:
    """Between what volts the rising and the falling threshold of a unit may lie."""
    ends: list[Thresholds] = [
        input_thresholds(spec.logic, spec.supply.nominal, (u, 0.5, 0.5, 0.5)) for u in (0.0, JUST_BELOW_ONE)
    ]
    return (ends[0].rising, ends[1].rising), (ends[0].falling, ends[1].falling)


def _restless(unit: Line, spec: Waveform, line: int) -> tuple[str, str, str] | None:
    """A line at rest that noise would toggle, or have to be looked at, for ever."""
    reach = SIGMAS * spec.logic.noise.rms
    for closed, what in ((0, "open"), (1, "closed")):
        volts = node_rest(unit.parts, drive_of(unit, closed, unit.ohms, 0)).x
        for (low, high), name in zip(_spans(spec), ("rising", "falling"), strict=True):
            if low - reach <= volts <= high + reach:
                near = min(max(volts, low), high)
                return "noise", write_quantity(spec.logic.noise.rms, VOLTAGE), (
                    f"line {LINE_NAMES[line]} rests at {volts:.3g} V with its contact {what}, within "
                    f"{SIGMAS:g} times the noise of the {name} threshold, which may be {near:.3g} V: "
                    "noise would toggle it as long as it rests; expected less noise, another threshold "
                    "or another level"
                )  # fmt: skip
    return None


def _endless(unit: Line, spec: Waveform, line: int) -> tuple[str, str, str] | None:
    """An edge so slow beside the noise that it would take for ever."""
    seconds = max(_time_near(unit, spec, closed) for closed in (0, 1))
    instants = seconds * PER_PERIOD * spec.logic.noise.bandwidth
    if instants <= MOST_INSTANTS:
        return None
    return "noise_bandwidth", write_quantity(spec.logic.noise.bandwidth, FREQUENCY), (
        f"an edge of line {LINE_NAMES[line]} stays within {SIGMAS:g} times the noise of a threshold for "
        f"{seconds:.2g} s, which are {instants:.2g} instants; expected at most {MOST_INSTANTS:.0e} "
        "instants, by less noise, less bandwidth or a faster edge"
    )  # fmt: skip


def _time_near(unit: Line, spec: Waveform, closed: int) -> float:
    """Seconds that the voltage stays near a threshold after the contact changed to ``closed``."""
    reach = SIGMAS * spec.logic.noise.rms
    node = node_rest(unit.parts, drive_of(unit, 1 - closed, unit.ohms, 0))
    drive = drive_of(unit, closed, unit.ohms, 0)
    longest = 0.0
    for span in _spans(spec):
        for volts in span:
            times = [node_reaches(unit.parts, drive, node, volts + side) for side in (-reach, reach)]
            if NEVER_SECONDS not in times:
                longest = max(longest, abs(times[0] - times[1]))
    return longest
