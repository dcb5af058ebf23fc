"""What every table of a scenario has in common."""

from __future__ import annotations

import typing
from typing import Annotated, Any, Union

from pydantic import BaseModel, ConfigDict, Field

from scenarios.markers import Name

SECTIONS = (
    "title", "seed", "runs", "supply", "encoder", "contacts", "hand", "stage", "counter", "target", "stop",
)  # fmt: skip
"""The words at the top of a scenario, in the order in which they are written."""

NameText = Annotated[str, Name(60, reserved=SECTIONS)]


class Table(BaseModel):
    """A table: no keys but its own, fixed once read."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def tag_of(table: type[Table]) -> str:
    """What ``kind`` (or ``gesture``) says for a table that is one of several, "" for any other."""
    for key in ("kind", "gesture"):
        if key in table.model_fields:
            said = typing.get_args(table.model_fields[key].annotation)
            return str(said[0]) if said else ""
    return ""


def one_of(tables: tuple[type[Table], ...], tag: str = "kind") -> Any:
    """The type of a field that holds one of ``tables``, told apart by the word under ``tag``."""
    return Annotated[Union[tables], Field(discriminator=tag)]  # noqa: UP007
