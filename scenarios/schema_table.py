"""What every table of a scenario has in common."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict

from scenarios.markers import Name

SECTIONS = (
    "title", "seed", "runs", "supply", "encoder", "contacts", "hand", "stage", "counter", "target",
)  # fmt: skip
"""The words at the top of a scenario, in the order in which they are written."""

NameText = Annotated[str, Name(60, reserved=SECTIONS)]


class Table(BaseModel):
    """A table: no keys but its own, fixed once read."""

    model_config = ConfigDict(extra="forbid", frozen=True)
