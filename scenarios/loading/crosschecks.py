"""Checks that need more than one table: thresholds, whole steps, the size of a run, wiring."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from scenarios.loading.messages import Fault, shown
from scenarios.loading.noise_checks import noise_faults
from scenarios.schema.document import Document
from scenarios.schema.kinds import GestureTable
from scenarios.schema.tables import Table, words_of
from simcore.base.description import Conflict, InputDescription
from simcore.base.records import WATCHED
from simcore.base.ticks import TICKS_PER_SECOND
from simcore.contacts.chatter import changes_per_crossing
from simcore.design import Design, WiringError
from simcore.engines.truth import transitions_per_run
from simcore.hand.base import MOST_MOVES, Extent
from simcore.stages.facts import own_changes

MOST_STEPS = 20_000
MOST_BOUNDARIES = 100_000
MOST_CHANGES = 1_000_000
MOST_SECONDS = 100_000.0


def cross_check(document: Document, design: Design, faulty: Collection[str]) -> list[Fault]:
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
        faults += noise_faults(design)
    return faults


def _fault(place: tuple[str, ...], conflict: Conflict | None, table: Table) -> Iterator[Fault]:
    if conflict is not None:
        yield Fault((*place, conflict.key), *words_of(conflict, table), wide=True)


def _thresholds(document: Document) -> Iterator[Fault]:
    """Thresholds of inputs that do not go together under the supply."""
    for stage in document.stage:
        kind = stage.description
        if isinstance(kind, InputDescription):
            conflict = kind.levels(stage, document.supply.voltage)
            yield from _fault(("stage", stage.name), conflict, stage)


def _gestures(document: Document) -> Iterator[tuple[tuple[str, ...], GestureTable]]:
    """All gestures with their places, those of a mix as well."""
    for gesture in document.hand:
        yield ("hand", gesture.name), gesture
        for name, member in getattr(gesture, "of", {}).items():
            yield ("hand", gesture.name, "of", name), member


def _on_shaft(document: Document) -> Iterator[Fault]:
    for place, gesture in _gestures(document):
        conflict = gesture.description.on_shaft(gesture, document.encoder.steps_per_turn)
        yield from _fault(place, conflict, gesture)


def _pads(document: Document) -> Iterator[Fault]:
    bad = document.contacts.bad_pad
    if bad is not None and bad.pad > document.encoder.cycles:
        yield Fault(
            ("contacts", "bad_pad", "pad"),
            f"{bad.pad}",
            f"the encoder has a pad for each of its cycles; expected 1 to {document.encoder.cycles}",
            wide=True,
        )


def _size(design: Design) -> Iterator[Fault]:
    """A run must stay within what memory and the time base hold."""
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


def _wiring(document: Document, design: Design) -> Iterator[Fault]:
    """Whether the stages can be joined."""
    try:
        design.chain  # noqa: B018  it is wired here, once
    except WiringError as error:
        names = [f"{stage.name} ({stage.description.name})" for stage in document.stage]
        path = ("stage", error.stage) if error.stage else ("stage",)
        yield Fault(path, shown(" -> ".join(names)), str(error), wide=True)
