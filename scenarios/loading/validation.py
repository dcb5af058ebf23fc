"""Raw tables to a checked ScenarioDocument, with every mistake found."""

from __future__ import annotations

import functools
import typing
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from scenarios.loading.messages import Fault, KeyPath, hint, listed, quoted, shown
from scenarios.loading.overrides import VARIANT
from scenarios.quantities import QuantityError
from scenarios.schema.document import ScenarioDocument
from scenarios.schema.readers import Reader
from scenarios.schema.tables import SchemaTable, fields_of, reader_at, tag_of

STAND_INS: Mapping[str, Any] = {
    "encoder": {"detents": 20, "cycles": 20},
    "contacts": {"kind": "clean"},
    "counter": {"kind": "quadrature"},
    "hand": [{"gesture": "rest", "name": "rest"}],
}
"""What takes the place of a faulty section, so that the others can be checked to the end."""
LISTS = ("stage", "hand")


def validate(raw: dict[str, Any]) -> tuple[ScenarioDocument, list[Fault]]:
    """The document and no faults, or a document with stand-ins for the faulty sections."""
    try:
        return ScenarioDocument.model_validate(raw), []
    except ValidationError as error:
        faults = [_fault(each) for each in error.errors(include_url=False)]
    faulty = {fault.path[0] for fault in faults}
    sound = {
        key: _without_faulty(key, value, faults)
        for key, value in raw.items()
        if key in ScenarioDocument.model_fields and (key in LISTS or key not in faulty)
    }
    filled = {key: value for key, value in STAND_INS.items() if not sound.get(key)}
    return ScenarioDocument.model_validate(sound | filled), faults


def _without_faulty(section: str, value: Any, faults: list[Fault]) -> Any:
    """A list of tables without those that have a fault."""
    if section not in LISTS:
        return value
    if any(fault.path == (section,) for fault in faults):
        return []
    faulty = {fault.path[1] for fault in faults if fault.path[0] == section}
    return [item for number, item in enumerate(value) if number not in faulty]


def tables_in(annotation: Any) -> Iterator[type[SchemaTable]]:
    if isinstance(annotation, type) and issubclass(annotation, SchemaTable):
        yield annotation
    for inner in typing.get_args(annotation):
        yield from tables_in(inner)


@functools.cache
def readers_of(table: type[SchemaTable]) -> dict[str, Reader | None]:
    """What reads and writes each key of a table; None for a key that holds tables, or a kind."""
    return {key: reader_at(info) for key, info in fields_of(table).items()}


def _follow(loc: KeyPath) -> tuple[KeyPath, type[SchemaTable], list[type[SchemaTable]]]:
    """A pydantic place as a path without tags, the table that its last key is in, and those of which
    one may stand there.
    """
    path: KeyPath = ()
    choices: list[type[SchemaTable]] = [ScenarioDocument]
    table: type[SchemaTable] = ScenarioDocument
    named = False
    for part in loc:
        tagged = [each for each in choices if len(choices) > 1 and tag_of(each) == part]
        if tagged and not named:
            choices = tagged
            continue
        path = (*path, part)
        if isinstance(part, int) or named:
            named = False
            continue
        table = choices[0] if choices else table
        info = fields_of(table).get(part)
        choices = list(tables_in(info.annotation)) if info is not None else []
        named = info is not None and typing.get_origin(info.annotation) is dict
    return path, table, choices


def _fault(error: Any) -> Fault:
    path, table, choices = _follow(error["loc"])
    value, kind = error.get("input"), error["type"]
    own = error.get("ctx", {}).get("error")
    if isinstance(own, QuantityError):
        return Fault((*path, own.key) if own.key else path, own.read, own.message, wide=bool(own.key))
    if kind == "missing":
        return Fault(path, "", _missing(str(path[-1]), table))
    if kind == "extra_forbidden":
        keys = [key for key in fields_of(table) if len(path) > 1 or key != "part"]
        keys += [VARIANT] if len(path) == 1 else []
        return Fault(
            path, shown(path[-1]), f"unknown key; expected {listed(keys)}{hint(str(path[-1]), keys)}"
        )
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        return _wrong_tag(path, value, error["ctx"], choices)
    if kind == "list_type":
        return Fault(path, shown(value), f"expected tables, each begun with [[{path[-1]}]]")
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        return Fault(path, shown(value), "expected a table")
    return Fault(path, shown(value), str(error["msg"]))


def _missing(key: str, table: type[SchemaTable]) -> str:
    """A key that has no default: what its reader expects is what it says when it reads nothing."""
    info = fields_of(table)[key]
    reader = reader_at(info)
    if reader is not None:
        try:
            reader.read(None)
        except QuantityError as error:
            return f'"{key}" is missing; {error.message}'
    return f"the table [{key}] is missing" if table is ScenarioDocument else f'"{key}" is missing'


def _wrong_tag(
    path: KeyPath, value: Any, context: Mapping[str, Any], choices: list[type[SchemaTable]]
) -> Fault:
    """A kind (or gesture) that does not exist, or is not given."""
    key = str(context["discriminator"]).strip("'")
    tags = [tag_of(each) for each in choices]
    kinds = quoted(tags)
    found = value.get(key) if isinstance(value, dict) else value
    if found is None:
        return Fault((*path, key), "", f'"{key}" is missing; expected {kinds}')
    near = hint(found, tags) if isinstance(found, str) else ""
    return Fault((*path, key), shown(found), f"expected {kinds}{near}")
