"""What every table of a scenario has in common, and how one is made from keys."""

from __future__ import annotations

import typing
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, ClassVar, Literal, Union

from pydantic import BaseModel, ConfigDict, Field, create_model, model_validator
from pydantic.fields import FieldInfo

from scenarios.quantities import QuantityError
from scenarios.schema.readers import Name, QuantityReader, Reader, reader_of
from simcore.base.description import REQUIRED, Conflict, FindConflict, GestureTables, Key, Subtable

SECTIONS = (
    "title", "seed", "runs", "supply", "encoder", "contacts", "hand", "stage", "counter", "target", "stop",
)  # fmt: skip
"""The words at the top of a scenario, in the order in which they are written."""

NameText = Annotated[str, reader_of(Name(60, reserved=SECTIONS))]


class SchemaTable(BaseModel):
    """A table: no keys but its own, fixed once read.  ``checks`` find values that do not go together."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    checks: ClassVar[tuple[FindConflict, ...]] = ()

    @model_validator(mode="after")
    def _go_together(self) -> SchemaTable:
        for check in self.checks:
            conflict = check(self)
            if conflict is not None:
                raise QuantityError(*words_of(conflict, self), conflict.key)
        return self


def fields_of(table: type[SchemaTable]) -> dict[str, FieldInfo]:
    """A table's fields under the keys that the file uses."""
    return {info.alias or name: info for name, info in table.model_fields.items()}


def reader_at(info: FieldInfo) -> Any:
    """What reads and writes a field's value, None if it is no single value."""
    return next((each for each in info.metadata if isinstance(each, Reader)), None)


def words_of(conflict: Conflict, table: SchemaTable) -> tuple[str, str]:
    """What was read and the message, values written as in a file."""
    readers: dict[str, Any] = {}
    written: dict[str, Any] = {}
    for key, info in fields_of(type(table)).items():
        reader, value = reader_at(info), getattr(table, attribute_of(type(table), key))
        if reader is not None and value is not None:
            readers[key], written[key] = reader, reader.write(value)
    for name, (key, number) in conflict.like.items():
        reader = readers[key]
        written[name] = (
            reader.write(number, 6) if isinstance(reader, QuantityReader) else reader.write(number)
        )
    read = conflict.read
    return str(written.get(conflict.key, "")) if read is None else read, conflict.message.format_map(written)


def attribute_of(table: type[SchemaTable], key: str) -> str:
    return next(name for name, info in table.model_fields.items() if (info.alias or name) == key)


def table_of(
    name: str,
    keys: Sequence[Key],
    base: type[SchemaTable] = SchemaTable,
    *,
    checks: Sequence[FindConflict] = (),
    tag: tuple[str, str] | None = None,
    gestures: Any = None,
) -> Any:
    """A table class with these keys after those of ``base``; ``tag`` is the key that tells it apart with the
    word there, and ``gestures`` the type of a gesture where a key holds such tables.
    """
    fields: dict[str, Any] = {}
    if tag is not None:
        fields[tag[0]] = (Literal[tag[1]], ...)
    for key in keys:
        fields[key.attribute] = _field(f"{name} {key.name}", key, gestures)
    made = create_model(name, __base__=base, **fields)
    made.checks = (*base.checks, *checks)
    return made


def _field(name: str, key: Key, gestures: Any) -> tuple[Any, Any]:
    alias = None if key.attribute == key.name else key.name
    default: Mapping[str, Any] = {} if key.default is REQUIRED else {"default": key.default}
    annotation: Any
    if isinstance(key.sort, Subtable):
        annotation = table_of(name, key.sort.keys, checks=(key.sort.check,))
        if key.default is REQUIRED:
            default = {"default": annotation()}
        elif key.default is None:
            annotation = annotation | None
    elif isinstance(key.sort, GestureTables):
        annotation = dict[str, gestures]
    else:
        annotation = Annotated[Any, reader_of(key.sort)]
    return annotation, Field(**default, alias=alias, description=key.meaning)


def tag_of(table: type[SchemaTable]) -> str:
    """What ``kind`` (or ``gesture``) says for a table that is one of several, "" for any other."""
    for key in ("kind", "gesture"):
        if key in table.model_fields:
            said = typing.get_args(table.model_fields[key].annotation)
            return str(said[0]) if said else ""
    return ""


def one_of(tables: Sequence[type[SchemaTable]], tag: str = "kind") -> Any:
    """The type of a field that holds one of ``tables``, distinguished by the word under ``tag``."""
    return Annotated[Union[tuple(tables)], Field(discriminator=tag)]  # noqa: UP007
