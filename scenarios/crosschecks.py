"""Checks that need more than one table: thresholds, whole steps, the size of a run, wiring."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from typing import Any

from scenarios.building import build_design
from scenarios.loading.messages import Fault, shown
from scenarios.more_markers import LevelValue
from scenarios.noise_checks import noise_faults
from scenarios.quantities import ANGLE, write_quantity
from scenarios.schema import Document
from scenarios.schema_hand import MOST_MOVES, Gesture, Rest, Spin
from scenarios.schema_inputs import Comparator, PlainInput, SchmittInput
from scenarios.schema_mix import Mix
from simcore.base.records import WATCHED
from simcore.base.ticks import TICKS_PER_SECOND
from simcore.contacts import bursts, recorded
from simcore.design import Design
from simcore.engines.chain import WiringError, wire
from simcore.engines.truth import transitions_per_run
from simcore.hand.kinds import FARTHEST, Extent
from simcore.stages.pickup import PickUp

MOST_STEPS = 20_000
MOST_BOUNDARIES = 100_000
MOST_CHANGES = 1_000_000
MOST_SECONDS = 100_000.0


def cross_check(document: Document, faulty: Collection[str]) -> list[Fault]:
    """Faults of a document whose single values are sound; stages and gestures by their names.

    ``faulty`` names the sections that have stand-ins or gaps, so that what depends on them
    cannot be judged.
    """
    faults = [] if "supply" in faulty else [*_thresholds(document)]
    if "encoder" not in faulty:
        faults += _whole_steps(document)
    if not {"encoder", "contacts"} & {*faulty}:
        faults += [*_pads(document), *_size(document)]
    if "stage" not in faulty:
        faults += _wiring(document)
    if not faults and not {"supply", "contacts", "stage"} & {*faulty}:
        faults += noise_faults(document, build_design(document))
    return faults


def _volts(level: LevelValue, document: Document) -> float:
    return level.value * document.supply.voltage if level.of_supply else level.value


def _thresholds(document: Document) -> Iterator[Fault]:
    """The lower threshold must not lie above the upper one, nor below 0 V."""
    for stage in document.stage:
        if isinstance(stage, Comparator) and stage.hysteresis > 2.0 * _volts(stage.threshold, document):
            yield Fault(
                ("stage", stage.name, "hysteresis"),
                f"{stage.hysteresis:g} V",
                "half the hysteresis must not be above the threshold, which is "
                f"{_volts(stage.threshold, document):g} V",
                wide=True,
            )
        if isinstance(stage, SchmittInput):
            low, high, names = stage.falling, stage.rising, ("falling", "rising")
        elif isinstance(stage, PlainInput):
            low, high, names = stage.low, stage.high, ("low", "high")
        else:
            continue
        if _volts(low, document) > _volts(high, document):
            yield Fault(
                ("stage", stage.name, names[0]),
                f"{_volts(low, document):g} V",
                f"{names[0]} must not be above {names[1]}, which is {_volts(high, document):g} V",
                wide=True,
            )


def _gestures(document: Document) -> Iterator[tuple[tuple[str, ...], Gesture]]:
    """All gestures with their places, those of a mix as well."""
    for gesture in document.hand:
        yield ("hand", gesture.name), gesture
        if isinstance(gesture, Mix):
            for name, member in gesture.of.items():
                yield ("hand", gesture.name, "of", name), member


def _whole_steps(document: Document) -> Iterator[Fault]:
    pitch = 360.0 / document.encoder.steps_per_turn
    for place, gesture in _gestures(document):
        if isinstance(gesture, Spin):
            steps = gesture.turns * document.encoder.steps_per_turn
            if round(steps) < 1 or not math.isclose(steps, round(steps), rel_tol=1e-9):
                yield Fault(
                    (*place, "turns"),
                    f"{gesture.turns:g}",
                    f"{gesture.turns:g} turns are {steps:g} steps of the shaft; "
                    "allowed are turns that end on a whole step, one at least",
                    wide=True,
                )
        if isinstance(gesture, Rest) and gesture.vibration >= FARTHEST * pitch:
            yield Fault(
                (*place, "vibration"),
                write_quantity(gesture.vibration, ANGLE),
                f"steps of the shaft lie {pitch:g} deg apart; allowed is a vibration that swings less than "
                "half as far to either side",
                wide=True,
            )


def _pads(document: Document) -> Iterator[Fault]:
    bad = document.contacts.bad_pad
    if bad is not None and bad.pad > document.encoder.cycles:
        yield Fault(
            ("contacts", "bad_pad", "pad"),
            f"{bad.pad}",
            f"the encoder has a pad for each of its cycles; allowed is 1 to {document.encoder.cycles}",
            wide=True,
        )


def changes_per_crossing(contact: Any) -> float:
    """Mean number of changes of one crossing, the larger of make and break."""
    if isinstance(contact, bursts.Wiping):
        return max(_wiping_changes(side) for side in (contact.make, contact.break_))
    if isinstance(contact, bursts.Telegraph):
        return 1.0 + 2.0 * min(max(contact.make.pairs, contact.break_.pairs), bursts.MOST_PAIRS)
    if isinstance(contact, recorded.Recorded):
        return max(side.times.size / (side.offsets.size - 1) for side in (contact.make, contact.break_))
    if isinstance(contact, bursts.BadPad):
        return max(changes_per_crossing(contact.sound), changes_per_crossing(contact.bad))
    return 1.0


def _wiping_changes(side: bursts.WipingSide) -> float:
    flights = 1.0
    if side.flight > bursts.SHORTEST_FLIGHT and side.restitution > 0.0:
        ratio = math.log(bursts.SHORTEST_FLIGHT / side.flight) / math.log(side.restitution)
        flights = min(ratio + 1.0, bursts.FLIGHTS)
    packets = min(side.packets, bursts.MOST_PACKETS) * max(1.0, min(side.packet_pairs, bursts.MOST_PAIRS))
    pairs = min(side.pairs, bursts.MOST_PAIRS) + side.rebound * flights + packets + side.straggler
    return 1.0 + 2.0 * pairs


def _size(document: Document) -> Iterator[Fault]:
    """A run must stay within what memory and the time base hold."""
    design = build_design(document)
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
        (_pick_ups(design) * (seconds + WATCHED / TICKS_PER_SECOND), MOST_CHANGES, "changes by pick-up"),
    )
    for found, most, what in limits:
        if found > most:
            yield Fault(
                ("hand",), f"about {found:.0f} {what} in a run",
                f"allowed are {most:.0f}; shorten the hand and raise runs instead", wide=True,
            )  # fmt: skip
            return


def _pick_ups(design: Design) -> float:
    """Changes per second that pick-up makes on both lines together."""
    items = [(entry.item, len(entry.lines)) for entry in design.stages]
    return float(sum(2.0 * item.rate * lines for item, lines in items if isinstance(item, PickUp)))


def _wiring(document: Document) -> Iterator[Fault]:
    """Whether the stages can be joined."""
    try:
        wire(build_design(document))
    except WiringError as error:
        names = [f"{stage.name} ({stage.word})" for stage in document.stage]
        path = ("stage", error.stage) if error.stage else ("stage",)
        yield Fault(path, shown(" -> ".join(names)), str(error), wide=True)
