"""Checks that need more than one table: thresholds, whole steps, the size of a run, wiring, and noisy inputs,
whose lines must rest out of reach of the noise and cross it within a finite amount of work.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from typing import Any

from scenarios.loading.messages import Fault, shown
from scenarios.quantities import FREQUENCY, VOLTAGE, write_quantity
from scenarios.schema.document import ScenarioDocument
from scenarios.schema.kinds import GestureTable
from scenarios.schema.tables import SchemaTable, words_of
from simcore.base.description import Conflict, InputDescription
from simcore.base.draws import named_address
from simcore.base.records import LINE_NAMES, WATCHED
from simcore.base.ticks import TICKS_PER_SECOND
from simcore.contacts.chatter import changes_per_crossing
from simcore.design import Design, WiringError, without_tolerances
from simcore.engines.truth import transitions_per_run
from simcore.hand.base import MOST_MOVES, Extent
from simcore.networks.inputs import Thresholds, input_thresholds
from simcore.networks.noise import PER_PERIOD
from simcore.networks.response import NEVER_SECONDS, node_reaches, node_rest
from simcore.networks.waveform import SIGMAS, BuiltLine, Waveform, drive_of
from simcore.stages.base import stage_build
from simcore.stages.facts import own_changes

MOST_STEPS = 20_000
MOST_BOUNDARIES = 100_000
MOST_CHANGES = 1_000_000
MOST_SECONDS = 100_000.0
MOST_INSTANTS = 1_000_000
"""Instants of the noise's grid that one edge may pass while it is near the threshold."""

JUST_BELOW_ONE = math.nextafter(1.0, 0.0)


def cross_check(document: ScenarioDocument, design: Design, faulty: Collection[str]) -> list[Fault]:
    """Faults of a document, and of the design that it describes, whose single values are sound; stages and
    gestures by their names.

    ``faulty`` names the sections that have stand-ins or gaps, so that what depends on them
    cannot be judged.
    """
    faults = [] if "supply" in faulty else [*_thresholds(document)]
    if "encoder" not in faulty:
        faults += _on_shaft(document)
    if not {"encoder", "contacts"} & {*faulty}:
        faults += [*_pads(document), *_size(design)]
    if "stage" not in faulty:
        faults += _wiring(document, design)
    if not faults and not {"supply", "contacts", "stage"} & {*faulty}:
        faults += _noisy_inputs(design)
    return faults


def _fault(place: tuple[str, ...], conflict: Conflict | None, table: SchemaTable) -> Iterator[Fault]:
    if conflict is not None:
        yield Fault((*place, conflict.key), *words_of(conflict, table), wide=True)


def _thresholds(document: ScenarioDocument) -> Iterator[Fault]:
    """Thresholds of inputs that do not go together under the supply."""
    for stage in document.stage:
        kind = stage.description
        if isinstance(kind, InputDescription):
            conflict = kind.levels(stage, document.supply.voltage)
            yield from _fault(("stage", stage.name), conflict, stage)


def _gestures(document: ScenarioDocument) -> Iterator[tuple[tuple[str, ...], GestureTable]]:
    for gesture in document.hand:
        yield ("hand", gesture.name), gesture
        for name, member in getattr(gesture, "of", {}).items():
            yield ("hand", gesture.name, "of", name), member


def _on_shaft(document: ScenarioDocument) -> Iterator[Fault]:
    for place, gesture in _gestures(document):
        conflict = gesture.description.on_shaft(gesture, document.encoder.steps_per_turn)
        yield from _fault(place, conflict, gesture)


def _pads(document: ScenarioDocument) -> Iterator[Fault]:
    bad = document.contacts.bad_pad
    if bad is not None and bad.pad > document.encoder.cycles:
        yield Fault(
            ("contacts", "bad_pad", "pad"),
            f"{bad.pad}",
            f"the encoder has a pad for each of its cycles; expected 1 to {document.encoder.cycles}",
            wide=True,
        )


def _size(design: Design) -> Iterator[Fault]:
    """Limits of memory and of the time base on one run."""
    extents = [Extent(0.0, 0.0, 0.0, 0.0), *(entry.extent for entry in design.hand)]
    moves, steps, travel, seconds = (sum(column) for column in zip(*extents, strict=True))
    slides = min(design.sliding.rate, 100_000.0) * travel / design.geometry.steps_per_turn
    boundaries = transitions_per_run(design)
    changes = boundaries * changes_per_crossing(design.contact) + 4.0 * slides
    limits = (
        (moves, MOST_MOVES, "movements"),
        (steps, MOST_STEPS, "steps"),
        (boundaries, MOST_BOUNDARIES, "crossings of contact boundaries"),
        (round(changes), MOST_CHANGES, "changes of the contacts"),
        (seconds, MOST_SECONDS, "seconds"),
        (_own_changes(design) * (seconds + WATCHED / TICKS_PER_SECOND), MOST_CHANGES, "changes by pick-up"),
    )
    for found, most, what in limits:
        if found > most:
            yield Fault(
                ("hand",), f"about {found:.0f} {what} in a run",
                f"expected at most {most:.0f}; shorten the hand and raise runs instead", wide=True,
            )  # fmt: skip
            return


def _own_changes(design: Design) -> float:
    """Changes per second that stages make of their own on both lines together."""
    return float(sum(own_changes(entry.item) * len(entry.lines) for entry in design.stages))


def _wiring(document: ScenarioDocument, design: Design) -> Iterator[Fault]:
    try:
        design.chain  # noqa: B018  it is wired here, once
    except WiringError as error:
        names = [f"{stage.name} ({stage.description.name})" for stage in document.stage]
        path = ("stage", error.stage) if error.stage else ("stage",)
        yield Fault(path, shown(" -> ".join(names)), str(error), wide=True)


def _noisy_inputs(design: Design) -> Iterator[Fault]:
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
    """The ranges (V) of the rising and the falling threshold over all units."""
    ends: list[Thresholds] = [
        input_thresholds(spec.logic, spec.supply.nominal, (u, 0.5, 0.5, 0.5)) for u in (0.0, JUST_BELOW_ONE)
    ]
    return (ends[0].rising, ends[1].rising), (ends[0].falling, ends[1].falling)


def _restless(unit: BuiltLine, spec: Waveform, line: int) -> tuple[str, str, str] | None:
    """A line whose level at rest lies within the noise of a threshold."""
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


def _endless(unit: BuiltLine, spec: Waveform, line: int) -> tuple[str, str, str] | None:
    """An edge that stays within the noise of a threshold for too many instants."""
    seconds = max(_time_near(unit, spec, closed) for closed in (0, 1))
    instants = seconds * PER_PERIOD * spec.logic.noise.bandwidth
    if instants <= MOST_INSTANTS:
        return None
    return "noise_bandwidth", write_quantity(spec.logic.noise.bandwidth, FREQUENCY), (
        f"an edge of line {LINE_NAMES[line]} stays within {SIGMAS:g} times the noise of a threshold for "
        f"{seconds:.2g} s, which are {instants:.2g} instants; expected at most {MOST_INSTANTS:.0e} "
        "instants, by less noise, less bandwidth or a faster edge"
    )  # fmt: skip


def _time_near(unit: BuiltLine, spec: Waveform, closed: int) -> float:
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
