"""What all stages have in common."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field

from scenarios.figures import Figure
from scenarios.more_markers import Lines
from scenarios.schema_table import NameText, Table
from simcore.design import StageEntry


class Stage(Table):
    """What all stages share."""

    name: NameText
    lines: Annotated[tuple[int, ...], Lines()] = Field(default=(0, 1), description="the lines that it serves")

    @property
    def word(self) -> str:
        """What ``kind`` says."""
        return str(getattr(self, "kind", ""))

    def item(self) -> Any:
        """The stage's record for the simulator."""
        raise NotImplementedError

    def build(self) -> StageEntry:
        """The stage for the simulator."""
        return StageEntry(self.name, self.item(), self.lines)

    def figures(self) -> tuple[Figure, ...]:
        """What can be computed of the stage without simulating; most kinds have nothing to say."""
        return ()
