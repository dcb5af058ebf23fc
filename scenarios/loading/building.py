"""A checked document to the simulator's Design, and to its resolved tables and their paths."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from scenarios.loading.catalogue import list_parts, part_keys
from scenarios.loading.validation import readers_of
from scenarios.schema.document import ScenarioDocument
from scenarios.schema.tables import SECTIONS, SchemaTable
from simcore.counters.base import counter_rate
from simcore.design import Design, HandEntry

UNWRITTEN = {"target": ("target.wrong",), "stop": ("stop.errors", "stop.precision", "stop.time")}
"""Tables that a scenario may leave out, with the paths of their keys."""


def build_design(document: ScenarioDocument) -> Design:
    encoder, counter = document.encoder, document.counter
    built = counter.build()
    wanted = counter.counts_per_step
    if wanted is None:
        given = counter_rate(built) * encoder.cycles_per_step
        wanted = round(given) if given >= 1.0 and abs(given - round(given)) < 1.0e-9 else 1
    return Design(
        geometry=encoder.build(),
        hand=_hand(document),
        contact=document.contacts.build(encoder.cycles),
        sliding=document.contacts.build_sliding(),
        resistance=document.contacts.build_resistance(),
        supply=document.supply.build(),
        stages=tuple(stage.build() for stage in document.stage),
        counter=built,
        range=counter.build_range(),
        counts_per_step=wanted,
        dips=document.supply.build_dips(),
        power_up=int(document.supply.power_up),
        driven=counter.build_driven(),
        ratings=document.contacts.build_ratings(),
    )


def _hand(document: ScenarioDocument) -> tuple[HandEntry, ...]:
    """The hand for the simulator; a mix is several entries."""
    entries: list[HandEntry] = []
    for gesture in document.hand:
        entries += gesture.entries(len(entries), document.encoder.steps_per_turn)
    return tuple(entries)


def resolve(document: ScenarioDocument, design: Design) -> dict[str, Any]:
    """The document with all defaults and parts written out, every quantity as text with its unit.

    Plain tables, lists, texts and numbers: fit for JSON, and as TOML for reading again.
    """
    settled: dict[str, Any] = {
        "start": document.counter.start_position,
        "counts_per_step": design.counts_per_step,
        **document.counter.description.settled(document.counter),
    }
    counter = document.counter.model_copy(update=settled)
    return _written(document.model_copy(update={"counter": counter}))


def _written(table: SchemaTable) -> dict[str, Any]:
    """A table as in a file, ``name`` and ``kind`` first."""
    names = {info.alias or name: name for name, info in type(table).model_fields.items()}
    found: dict[str, Any] = {}
    for key in sorted(names, key=lambda key: key not in ("name", "kind", "gesture")):
        value = getattr(table, names[key])
        reader = readers_of(type(table))[key]
        if value is None:
            continue
        if isinstance(value, SchemaTable):
            found[key] = _written(value)
        elif isinstance(value, list):
            found[key] = [_written(each) for each in value]
        elif isinstance(value, dict):
            found[key] = {name: _nameless(each) for name, each in value.items()}
        else:
            found[key] = value if reader is None else reader.write(value)
    return found


def _nameless(table: SchemaTable) -> dict[str, Any]:
    found = _written(table)
    del found["name"]
    return found


def paths_of(resolved: dict[str, Any]) -> tuple[str, ...]:
    """Every path that ``--set`` takes for a scenario, in the order of the file."""
    paths: list[str] = []
    for section in SECTIONS:
        value = resolved.get(section)
        if section in UNWRITTEN:
            paths += UNWRITTEN[section]
        elif isinstance(value, list):
            prefix = "hand." if section == "hand" else ""
            for item in value:
                paths += _leaves(prefix + item["name"], item, section)
        elif isinstance(value, dict):
            paths += _leaves(section, value, section)
        else:
            paths.append(section)
    return tuple(paths)


def _leaves(prefix: str, table: dict[str, Any], section: str) -> Iterator[str]:
    """Paths of a table; ``part`` where there is a part of its kind."""
    shelf = [part_keys(part.name, section) for part in list_parts() if part.kind == section]
    if any(keys is not None and keys.get("kind") == table.get("kind") for keys in shelf):
        yield f"{prefix}.part"
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _leaves(f"{prefix}.{key}", value, "")
        elif key not in ("name", "gesture") and not (key == "kind" and "name" in table):
            yield f"{prefix}.{key}"
